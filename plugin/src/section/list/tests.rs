mod bars;
mod history;

use super::*;

fn place(at_s: f64) -> Place {
    Place::at(at_s)
}

/// Start, end and name of every section.
fn shape(sections: &Sections) -> Vec<(f64, f64, &str)> {
    let list = sections.as_slice().iter();
    list.map(|section| (section.start_s, section.end_s, section.name.as_str())).collect()
}

fn saved(id: u32, name: &str, start_s: f64, end_s: f64) -> Section {
    let (start_bar, end_bar, open) = (None, None, false);
    Section { id, name: name.to_owned(), start_s, end_s, start_bar, end_bar, open }
}

/// A 0–10, B 10–20, gap, C 30–40.
fn song() -> Sections {
    let list = vec![saved(1, "A", 0.0, 10.0), saved(2, "B", 10.0, 20.0), saved(3, "C", 30.0, 40.0)];
    Sections::from_saved(list).unwrap()
}

fn refused<T: std::fmt::Debug>(result: Result<T, SectionError>) -> String {
    result.unwrap_err().to_string()
}

fn shape_of(sections: &Sections) -> Vec<Section> {
    sections.as_slice().to_vec()
}

#[test]
fn marking_while_the_song_plays_ends_the_section_before() {
    let mut sections = Sections::default();
    sections.follow_song_end(Some(0.02));
    let first = sections.mark(place(0.02)).unwrap();
    // Open, and not shorter than it may be.
    assert_eq!(shape(&sections), [(0.02, 0.02 + MIN_SECTION_S, "Section 1")]);
    assert!(sections.follow_song_end(Some(20.3)));
    assert_eq!(shape(&sections), [(0.02, 20.3, "Section 1")]);
    let second = sections.mark(place(20.0)).unwrap();
    sections.follow_song_end(Some(61.5));
    let third = sections.mark(place(61.5)).unwrap();
    sections.follow_song_end(Some(180.0));
    assert_eq!(
        shape(&sections),
        [(0.02, 20.0, "Section 1"), (20.0, 61.5, "Section 2"), (61.5, 180.0, "Section 3")]
    );
    let open: Vec<bool> = sections.as_slice().iter().map(|section| section.open).collect();
    assert_eq!(open, [false, false, true]);
    assert!(first != second && second != third && first != third);
    // The song was cut shorter in the host.
    assert!(sections.follow_song_end(Some(170.0)));
    assert!(!sections.follow_song_end(Some(170.0)));
    assert_eq!(sections.get(third).unwrap().end_s, 170.0);
}

#[test]
fn a_mark_inside_splits_and_a_mark_in_a_gap_reaches_to_the_next() {
    let mut sections = song();
    sections.mark(place(4.0)).unwrap();
    sections.mark(place(25.0)).unwrap();
    assert_eq!(
        shape(&sections),
        [
            (0.0, 4.0, "A"),
            (4.0, 10.0, "Section 1"),
            (10.0, 20.0, "B"),
            (25.0, 30.0, "Section 2"),
            (30.0, 40.0, "C")
        ]
    );
}

#[test]
fn a_mark_in_a_gap_before_the_open_section_leaves_that_alone() {
    let mut sections = Sections::default();
    sections.follow_song_end(Some(100.0));
    let open = sections.mark(place(50.0)).unwrap();
    sections.mark(place(10.0)).unwrap();
    assert_eq!(shape(&sections), [(10.0, 50.0, "Section 2"), (50.0, 100.0, "Section 1")]);
    assert!(sections.get(open).unwrap().open);
}

#[test]
fn a_mark_too_near_to_an_edge_is_refused_with_value_and_rule() {
    let mut sections = song();
    let rule = "must be at least 0.4 s, one gating block";
    assert_eq!(refused(sections.mark(place(10.0))), format!("section of 0.000 s: {rule}"));
    assert_eq!(refused(sections.mark(place(10.399))), format!("section of 0.399 s: {rule}"));
    assert_eq!(refused(sections.mark(place(29.75))), format!("section of 0.250 s: {rule}"));
    assert_eq!(
        refused(sections.mark(place(7_200.5))),
        "mark 7200.5 s: must lie from -60 to 7200 s of song time"
    );
    assert!(sections.mark(place(f64::NAN)).is_err());
    assert_eq!(sections.next_undo(), None);
    assert_eq!(sections.revision(), 0);
    assert!(sections.mark(place(10.4)).is_ok());
}

#[test]
fn a_new_range_cuts_its_neighbours_back() {
    let mut sections = song();
    sections.add_range(place(5.0), place(32.0), Some(" Bridge ")).unwrap();
    assert_eq!(shape(&sections), [(0.0, 5.0, "A"), (5.0, 32.0, "Bridge"), (32.0, 40.0, "C")]);
}

#[test]
fn a_new_range_inside_of_a_section_splits_it() {
    let mut sections = song();
    let id = sections.add_range(place(12.0), place(14.0), None).unwrap();
    assert_eq!(
        shape(&sections),
        [
            (0.0, 10.0, "A"),
            (10.0, 12.0, "B"),
            (12.0, 14.0, "Section 1"),
            (14.0, 20.0, "Section 2"),
            (30.0, 40.0, "C")
        ]
    );
    assert_eq!(sections.at(13.0).map(|section| section.id), Some(id));
    assert_eq!(sections.at(14.0).map(|section| section.id), Some(5));
    assert_eq!(sections.at(20.0), None);
}

#[test]
fn a_new_range_beyond_the_open_section_ends_that() {
    let mut sections = Sections::default();
    sections.follow_song_end(Some(60.0));
    sections.mark(place(30.0)).unwrap();
    sections.add_range(place(100.0), place(110.0), None).unwrap();
    assert_eq!(shape(&sections), [(30.0, 100.0, "Section 1"), (100.0, 110.0, "Section 2")]);
    assert!(!sections.follow_song_end(Some(120.0)));
    // Inside of it, what is left after the range stays open.
    sections.undo();
    sections.add_range(place(40.0), place(50.0), None).unwrap();
    assert!(sections.follow_song_end(Some(70.0)));
    assert_eq!(
        shape(&sections),
        [(30.0, 40.0, "Section 1"), (40.0, 50.0, "Section 2"), (50.0, 70.0, "Section 3")]
    );
}

#[test]
fn remains_shorter_than_a_gating_block_go() {
    let mut sections = song();
    sections.add_range(place(0.3), place(9.7), None).unwrap();
    assert_eq!(shape(&sections)[0], (0.3, 9.7, "Section 1"));
    assert_eq!(shape(&sections)[1], (10.0, 20.0, "B"));
    let message = refused(sections.add_range(place(5.0), place(5.2), None));
    assert_eq!(message, "section of 0.200 s: must be at least 0.4 s, one gating block");
    assert!(sections.add_range(place(6.0), place(5.0), None).is_err());
}

#[test]
fn neighbours_that_share_an_edge_follow_it() {
    let mut sections = song();
    let to = Place { at_s: 8.0, bar: Some(4.0) };
    assert_eq!(sections.move_edge(1, Side::End, to), Ok(to));
    assert_eq!(shape(&sections)[..2], [(0.0, 8.0, "A"), (8.0, 20.0, "B")]);
    assert_eq!(sections.get(1).unwrap().end_bar, Some(4.0));
    assert_eq!(sections.get(2).unwrap().start_bar, Some(4.0));
    // No further than leaves the neighbour a gating block, either way.
    assert_eq!(sections.move_edge(2, Side::Start, place(-5.0)), Ok(place(0.4)));
    assert_eq!(sections.move_edge(2, Side::Start, place(99.0)), Ok(place(19.6)));
}

#[test]
fn an_edge_does_not_pass_a_neighbour_over_a_gap_but_joins_it() {
    let mut sections = song();
    assert_eq!(sections.move_edge(2, Side::End, place(35.0)), Ok(place(30.0)));
    assert_eq!(shape(&sections)[1..], [(10.0, 30.0, "B"), (30.0, 40.0, "C")]);
    // From here on they share it.
    sections.move_edge(2, Side::End, place(33.0)).unwrap();
    assert_eq!(shape(&sections)[1..], [(10.0, 33.0, "B"), (33.0, 40.0, "C")]);
    // The outermost edges stop at the ends of the record.
    assert_eq!(sections.move_edge(1, Side::Start, place(-100.0)), Ok(place(-60.0)));
    assert_eq!(sections.move_edge(3, Side::End, place(1e9)), Ok(place(7_200.0)));
    assert!(sections.move_edge(3, Side::End, place(f64::NAN)).is_err());
}

#[test]
fn moving_the_end_of_the_open_section_closes_it() {
    let mut sections = Sections::default();
    sections.follow_song_end(Some(100.0));
    let id = sections.mark(place(0.0)).unwrap();
    sections.move_edge(id, Side::End, place(90.0)).unwrap();
    assert!(!sections.follow_song_end(Some(120.0)));
    assert_eq!(sections.get(id).unwrap().end_s, 90.0);
}

#[test]
fn names_are_checked_and_the_value_said() {
    let mut sections = song();
    sections.rename(1, "  Verse 1 ").unwrap();
    assert_eq!(sections.get(1).unwrap().name, "Verse 1");
    assert_eq!(refused(sections.rename(1, "  ")), "a section needs a name");
    assert_eq!(
        refused(sections.rename(1, &"é".repeat(81))),
        "name of 81 characters: at most 80 are allowed"
    );
    assert!(sections.rename(1, &"é".repeat(80)).is_ok());
    assert_eq!(
        refused(sections.rename(1, "a\nb")),
        "name with the control character \\u{a}: names are plain text"
    );
    assert_eq!(refused(sections.rename(9, "x")), "section 9: there is none with this number");
}

#[test]
fn split_and_merge_are_each_others_reverse_but_for_the_ids() {
    let mut sections = song();
    let before = shape_of(&sections);
    let id = sections.split(2, place(15.0)).unwrap();
    assert_eq!(shape(&sections)[1..3], [(10.0, 15.0, "B"), (15.0, 20.0, "Section 1")]);
    assert!(sections.get(id).is_some());
    sections.merge_with_next(2).unwrap();
    assert_eq!(shape_of(&sections), before);
    // The gap goes into the merged section.
    sections.merge_with_next(2).unwrap();
    assert_eq!(shape(&sections), [(0.0, 10.0, "A"), (10.0, 40.0, "B")]);
    assert_eq!(
        refused(sections.merge_with_next(2)),
        "section \"B\" is the last: there is none to merge it with"
    );
    assert_eq!(
        refused(sections.split(1, place(10.0))),
        "split at 10 s: must lie inside of the section, from 0 to 10 s"
    );
}

#[test]
fn the_time_of_a_deleted_section_goes_where_it_should() {
    let delete = |id, choice| {
        let mut sections = song();
        sections.delete(id, choice).unwrap();
        shape(&sections).into_iter().map(|(start, end, _)| (start, end)).collect::<Vec<_>>()
    };
    assert_eq!(delete(2, Delete::LeaveGap), [(0.0, 10.0), (30.0, 40.0)]);
    // The one before takes over; the first goes to the one after; with a gap around, to none.
    assert_eq!(delete(2, Delete::NeighbourTakesOver), [(0.0, 20.0), (30.0, 40.0)]);
    assert_eq!(delete(1, Delete::NeighbourTakesOver), [(0.0, 20.0), (30.0, 40.0)]);
    assert_eq!(delete(3, Delete::NeighbourTakesOver), [(0.0, 10.0), (10.0, 20.0)]);
}

#[test]
fn what_is_saved_comes_back_and_what_breaks_a_rule_does_not() {
    let mut sections = song();
    sections.mark(Place { at_s: 1.0 / 3.0 + 50.0, bar: Some(25.0 + 1.0 / 6.0) }).unwrap();
    let text = serde_json::to_string(sections.as_slice()).unwrap();
    let back = Sections::from_saved(serde_json::from_str(&text).unwrap()).unwrap();
    assert_eq!(back.as_slice(), sections.as_slice());
    assert_eq!(back.next_undo(), None);
    // Bars and the open end may be missing.
    let text = r#"[{"id":7,"name":"A","start_s":0,"end_s":2.5}]"#;
    let list: Vec<Section> = serde_json::from_str(text).unwrap();
    assert_eq!(list, [saved(7, "A", 0.0, 2.5)]);

    let message = |list: Vec<Section>| refused(Sections::from_saved(list));
    assert_eq!(
        message(vec![saved(1, "A", 0.0, 10.0), saved(1, "B", 10.0, 20.0)]),
        "section 1: two sections have this number"
    );
    assert_eq!(
        message(vec![saved(1, "A", 0.0, 10.0), saved(2, "B", 9.0, 20.0)]),
        "section \"B\" starts at 9 s, before the one before it ends at 10 s: sections must not \
         overlap"
    );
    assert_eq!(
        message(vec![saved(1, "A", -61.0, 10.0)]),
        "start -61 s: must lie from -60 to 7200 s of song time"
    );
    assert!(message(vec![saved(1, "A", 0.0, f64::NAN)]).starts_with("end NaN s"));
    assert!(message(vec![saved(1, "A", 0.0, 0.3)]).starts_with("section of 0.300 s"));
    assert!(message(vec![saved(1, "", 0.0, 1.0)]).contains("needs a name"));
    let bar = Section { end_bar: Some(f64::INFINITY), ..saved(1, "A", 0.0, 1.0) };
    assert_eq!(message(vec![bar]), "bar inf: must be a number");
    let open = Section { open: true, ..saved(1, "A", 0.0, 1.0) };
    assert!(message(vec![open, saved(2, "B", 1.0, 2.0)]).contains("only the last section may"));
    let many = (0..501_u32).map(|n| saved(n, "A", f64::from(n), f64::from(n) + 1.0)).collect();
    assert_eq!(message(many), "501 sections: at most 500 fit in a song");
}
