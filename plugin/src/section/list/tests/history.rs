use super::super::super::testing::Dice;
use super::super::super::{BarGrid, HISTORY_STEPS, NewSection};
use super::super::*;
use super::{place, saved, shape_of, song};

#[test]
fn a_drag_is_one_step_of_undo() {
    let mut sections = song();
    let before = shape_of(&sections);
    for step in 1..=20_u32 {
        sections.move_edge(1, Side::End, place(10.0 - 0.1 * f64::from(step))).unwrap();
    }
    sections.end_drag();
    let between = shape_of(&sections);
    sections.move_edge(1, Side::End, place(3.0)).unwrap();
    sections.move_edge(3, Side::End, place(50.0)).unwrap();
    assert_eq!(sections.undo(), Some(Edit::MoveEdge));
    assert_eq!(sections.undo(), Some(Edit::MoveEdge));
    assert_eq!(shape_of(&sections), between);
    assert_eq!(sections.undo(), Some(Edit::MoveEdge));
    assert_eq!(shape_of(&sections), before);
    assert_eq!(sections.undo(), None);
}

#[test]
fn every_edit_is_undone_and_redone_under_its_name() {
    let mut sections = song();
    let grid = BarGrid::steady(0.0, 120.0, 4.0).unwrap();
    let mut stages = vec![shape_of(&sections)];
    let mut names = Vec::new();
    let mut done = |sections: &Sections, name: &str| {
        assert_eq!(sections.next_undo().map(|edit| edit.to_string()).as_deref(), Some(name));
        stages.push(shape_of(sections));
        names.push(name.to_owned());
    };
    sections.mark(Place { at_s: 50.0, bar: Some(25.0) }).unwrap();
    done(&sections, "mark section");
    sections.add_range(place(60.0), place(70.0), None).unwrap();
    done(&sections, "add section");
    sections.rename(1, "Intro").unwrap();
    done(&sections, "rename");
    sections.move_edge(1, Side::Start, place(1.0)).unwrap();
    done(&sections, "move edge");
    sections.split(1, place(5.0)).unwrap();
    done(&sections, "split");
    sections.merge_with_next(1).unwrap();
    done(&sections, "merge");
    sections.delete(2, Delete::LeaveGap).unwrap();
    done(&sections, "delete");
    let slower = BarGrid::steady(0.0, 100.0, 4.0).unwrap();
    sections.follow_bars(&slower).unwrap();
    done(&sections, "follow bars");
    sections.keep_times(&grid).unwrap();
    done(&sections, "keep times");
    let new = vec![NewSection { name: None, start: place(0.0), end: None }];
    sections.replace_all(Edit::TakeMarkers, new.clone()).unwrap();
    done(&sections, "take markers");
    sections.replace_all(Edit::TakeProposal, new).unwrap();
    done(&sections, "take proposal");

    for (stage, name) in stages.iter().rev().skip(1).zip(names.iter().rev()) {
        assert_eq!(sections.undo().map(|edit| edit.to_string()).as_ref(), Some(name));
        assert_eq!(sections.as_slice(), stage);
    }
    for (stage, name) in stages.iter().skip(1).zip(&names) {
        assert_eq!(sections.redo().map(|edit| edit.to_string()).as_ref(), Some(name));
        assert_eq!(sections.as_slice(), stage);
    }
    assert_eq!(sections.redo(), None);
    // A new edit after an undo: what was undone is gone.
    sections.undo();
    sections.mark(place(100.0)).unwrap();
    assert_eq!(sections.next_redo(), None);
}

#[test]
fn an_edit_that_changes_nothing_is_no_step() {
    let mut sections = song();
    sections.rename(1, "A").unwrap();
    sections.move_edge(1, Side::End, place(10.0)).unwrap();
    assert_eq!((sections.next_undo(), sections.revision()), (None, 0));
}

#[test]
fn a_hundred_steps_are_kept() {
    let mut sections = song();
    for number in 0..HISTORY_STEPS + 5 {
        sections.rename(1, &format!("name {number}")).unwrap();
    }
    let mut count = 0;
    while sections.undo().is_some() {
        count += 1;
    }
    assert_eq!(count, HISTORY_STEPS);
    assert_eq!(sections.get(1).unwrap().name, "name 4");
}

#[test]
fn an_id_is_never_given_twice_not_even_after_an_undo() {
    let mut sections = song();
    let first = sections.mark(place(50.0)).unwrap();
    sections.undo();
    let second = sections.mark(place(50.0)).unwrap();
    assert_ne!(first, second);
    // Also where a saved list used up the highest number.
    let mut sections = Sections::from_saved(vec![saved(u32::MAX, "A", 0.0, 10.0)]).unwrap();
    for at in 1..9_u32 {
        sections.mark(place(f64::from(at))).unwrap();
    }
    assert_eq!(sections.as_slice().len(), 9);
}

#[test]
fn random_edits_keep_every_rule_and_undo_restores_every_list() {
    let mut dice = Dice(4);
    for _ in 0..200 {
        let mut sections = song();
        sections.follow_song_end(Some(60.0));
        let mut stages = vec![shape_of(&sections)];
        for _ in 0..60 {
            let ids: Vec<u32> = sections.as_slice().iter().map(|section| section.id).collect();
            let id = ids.get(usize::try_from(dice.below(8)).unwrap()).copied().unwrap_or(99);
            let at = place((dice.between(-3.0, 70.0) * 10.0).round() / 10.0);
            let to = place(at.at_s + (dice.between(-1.0, 20.0) * 10.0).round() / 10.0);
            let before = shape_of(&sections);
            let result = match dice.below(8) {
                0 => sections.mark(at).map(|_| ()),
                1 => sections.add_range(at, to, None).map(|_| ()),
                2 => sections.rename(id, &format!("name {}", dice.below(5))),
                3 => sections.move_edge(id, Side::Start, at).map(|_| ()),
                4 => sections.move_edge(id, Side::End, at).map(|_| ()),
                5 => sections.split(id, at).map(|_| ()),
                6 => sections.merge_with_next(id),
                _ if dice.below(2) == 0 => sections.delete(id, Delete::LeaveGap),
                _ => sections.delete(id, Delete::NeighbourTakesOver),
            };
            sections.end_drag();
            check(sections.as_slice()).unwrap();
            if let Err(error) = result {
                assert_eq!(sections.as_slice(), before);
                // An edit is never refused for what another rule should have prevented.
                let foreseen = !matches!(
                    error,
                    SectionError::Overlap { .. }
                        | SectionError::SameId { .. }
                        | SectionError::OpenInside { .. }
                );
                assert!(foreseen, "{error}");
            }
            if sections.as_slice() != before {
                stages.push(shape_of(&sections));
            }
        }
        for stage in stages.iter().rev().skip(1) {
            assert!(sections.undo().is_some());
            assert_eq!(sections.as_slice(), stage);
        }
        assert_eq!(sections.undo(), None);
        for stage in stages.iter().skip(1) {
            sections.redo();
            assert_eq!(sections.as_slice(), stage);
        }
    }
}
