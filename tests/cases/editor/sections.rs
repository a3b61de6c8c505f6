//! Sections, their log and the peaks, used as a user does.

use crate::interaction::{actions, bench, click, retype};
use crate::scenes;
use egui::{Key, Modifiers, PointerButton, Pos2, Role, pos2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use plimsoll::editor::Leaf;
use plimsoll::editor::model::{Action, SongEdit};
use plimsoll::editor::view::TimeWindow;
use plimsoll::section::{Delete, Proposal, Side};
use plimsoll::snapshot::{Export, Format, SnapshotOrder};

type Harness = egui_kittest::Harness<'static, crate::interaction::Bench>;

fn sectioned() -> Harness {
    bench(scenes::sectioned())
}

fn button(button: PointerButton, at: Pos2, pressed: bool) -> egui::Event {
    egui::Event::PointerButton { pos: at, button, pressed, modifiers: Modifiers::NONE }
}

fn press(harness: &mut Harness, at: Pos2, down: bool) {
    harness.event(button(PointerButton::Primary, at, down));
    harness.run();
}

/// Drags in frames so slow that the way to `to`, letting go and what the hand does next come in one.
fn drag_in_slow_frames(harness: &mut Harness, held: PointerButton, from: Pos2, to: Pos2) {
    let halfway = from + (to - from) * 0.5;
    let moved = egui::Event::PointerMoved;
    let frames = [
        vec![moved(from)],
        vec![button(held, from, true)],
        vec![moved(halfway)],
        vec![moved(to), button(held, to, false), moved(from)],
    ];
    for events in frames {
        harness.input_mut().events.extend(events);
        harness.run();
    }
}

fn drag(harness: &mut Harness, from: Pos2, to: Pos2) {
    harness.hover_at(from);
    harness.run();
    press(harness, from, true);
    for share in [0.3, 0.6, 1.0] {
        harness.hover_at(from + (to - from) * share);
        harness.run();
    }
    press(harness, to, false);
}

fn open_menu(harness: &mut Harness) {
    click(harness, "Sections");
}

#[test]
fn one_press_marks_a_section_at_the_playhead() {
    let mut harness = sectioned();
    click(&mut harness, "Mark: a new section starts at the playhead");
    assert_eq!(actions(&mut harness), [Action::Song(SongEdit::Mark)]);
    // Without a position there is nothing to mark.
    harness.state_mut().model.playhead_hop = None;
    harness.run();
    click(&mut harness, "Mark: a new section starts at the playhead");
    assert_eq!(actions(&mut harness), []);
}

#[test]
fn a_section_is_selected_in_the_chart_and_in_the_log_alike() {
    let mut harness = sectioned();
    click(&mut harness, "Chorus 1, 0:24 to 0:36");
    assert_eq!(harness.state().view.selected, Some(3));
    click(&mut harness, "Log");
    assert_eq!(harness.state().view.prefs.leaf, Leaf::Log);
    let rows: Vec<_> = harness.query_all_by_role(Role::Row).collect();
    assert_eq!(rows.len(), 8);
    let selected: Vec<_> = rows
        .iter()
        .map(|row| row.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True))
        .collect();
    assert_eq!(selected.iter().position(|is| *is), Some(2));
    assert_eq!(selected.iter().filter(|is| **is).count(), 1);
    let place = rows[4].rect().center();
    drop(rows);
    press(&mut harness, place, true);
    press(&mut harness, place, false);
    assert_eq!(harness.state().view.selected, Some(5));
}

#[test]
fn an_edge_is_dragged_and_moved_by_keys() {
    let mut harness = sectioned();
    let edge = "start of Chorus 1, 0:24.0";
    let from = harness.get_by_label(edge).rect().center();
    // Bars of 2 s lie on the axis: bar 13 at 24 s, bar 21 at 40 s; a tenth of that further right.
    let to = from + egui::vec2(40.0, 0.0);
    drag(&mut harness, from, to);
    let seen = actions(&mut harness);
    let moves: Vec<f64> = seen
        .iter()
        .filter_map(|action| match action {
            Action::Song(SongEdit::MoveEdge(3, Side::Start, to_s)) => Some(*to_s),
            _ => None,
        })
        .collect();
    assert!(moves.windows(2).all(|pair| pair[0] <= pair[1]), "{moves:?}");
    assert!(moves.last().is_some_and(|to_s| (24.5..30.0).contains(to_s)), "{moves:?}");
    assert_eq!(seen.last(), Some(&Action::Song(SongEdit::EndDrag)));

    harness.get_by_label(edge).focus();
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    let expected = Action::Song(SongEdit::MoveEdge(3, Side::Start, 26.0));
    assert_eq!(actions(&mut harness), [expected], "to the next bar line");
    harness.state_mut().view.prefs.snap_to_bars = false;
    harness.key_press(Key::ArrowLeft);
    harness.run();
    match actions(&mut harness).as_slice() {
        [Action::Song(SongEdit::MoveEdge(3, Side::Start, to_s))] => {
            assert!((to_s - 23.9).abs() < 1e-9, "{to_s}");
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_drag_across_the_chart_selects_a_range_and_makes_a_section() {
    let mut harness = sectioned();
    let strip = harness.get_by_label("Song strip").rect();
    let y = strip.center().y;
    let at = |share: f32| pos2(strip.left() + strip.width() * share, y);
    drag(&mut harness, at(0.25), at(0.4));
    let (start_s, end_s) = harness.state().view.range_s.unwrap();
    assert!(start_s < end_s);
    let asked = harness.state().view.asked().range.unwrap();
    assert_eq!(asked.start, (start_s * 100.0).round() as i32);
    // The reader answers; the box shows it.
    let measured = plimsoll::section::Measured::default();
    harness.state_mut().model.song.range = Some((asked, measured));
    harness.run();
    click(&mut harness, "Make section");
    assert_eq!(actions(&mut harness), [Action::Song(SongEdit::AddRange(start_s, end_s))]);
    assert_eq!(harness.state().view.range_s, None);
    // A drag too short for a section, and a click, select nothing.
    drag(&mut harness, at(0.5), at(0.5) + egui::vec2(3.0, 0.0));
    assert_eq!(harness.state().view.range_s, None);
}

#[test]
fn a_drag_ends_where_it_is_let_go_in_slow_frames_too() {
    let mut harness = sectioned();
    let strip = harness.get_by_label("Song strip").rect();
    let at = |share: f32| pos2(strip.left() + strip.width() * share, strip.center().y);
    let both = [drag, |harness: &mut Harness, from, to| {
        drag_in_slow_frames(harness, PointerButton::Primary, from, to);
    }];
    let [range, in_slow_frames] = both.map(|drag| {
        harness.state_mut().view.range_s = None;
        drag(&mut harness, at(0.25), at(0.4));
        harness.state().view.range_s.unwrap()
    });
    assert_eq!(range, in_slow_frames);

    let from = harness.get_by_label("start of Chorus 1, 0:24.0").rect().center();
    let [moved_to, in_slow_frames] = both.map(|drag| {
        drag(&mut harness, from, from + egui::vec2(40.0, 0.0));
        actions(&mut harness).into_iter().rev().find_map(|action| match action {
            Action::Song(SongEdit::MoveEdge(3, Side::Start, to_s)) => Some(to_s),
            _ => None,
        })
    });
    assert!(moved_to.is_some());
    assert_eq!(moved_to, in_slow_frames);

    // The middle button moves the view along, by as much as the pointer went.
    let window = TimeWindow { start_hop: 2_000.0, end_hop: 4_000.0 };
    harness.state_mut().view.window = Some(window);
    harness.run();
    drag_in_slow_frames(&mut harness, PointerButton::Middle, at(0.5), at(0.25));
    let moved = harness.state().view.window.unwrap();
    let expected = f64::from((at(0.5) - at(0.25)).x) * 2_000.0 / f64::from(strip.width());
    // A tenth of a point is 0.2 hops.
    assert!((moved.start_hop - window.start_hop - expected).abs() < 0.2, "{moved:?}: {expected}");
}

#[test]
fn a_name_is_typed() {
    let mut harness = sectioned();
    harness.state_mut().view.selected = Some(2);
    open_menu(&mut harness);
    click(&mut harness, "Rename …");
    let field = harness.get_by_role(Role::TextInput);
    field.focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness.get_by_role(Role::TextInput).type_text("Verse one");
    harness.run();
    click(&mut harness, "Save");
    let expected = Action::Song(SongEdit::Rename(2, "Verse one".to_owned()));
    assert_eq!(actions(&mut harness), [expected]);
}

#[test]
fn the_menu_does_what_it_says() {
    for (item, edit) in [
        ("Undo: add section", SongEdit::Undo),
        ("Make a section of the host's loop", SongEdit::AddLoop),
        ("Merge with the next one", SongEdit::MergeWithNext(7)),
        ("Split at the playhead", SongEdit::Split(7, 83.5)),
        ("Delete; its neighbour takes the time", SongEdit::Delete(7, Delete::NeighbourTakesOver)),
        ("Delete; leave the time without a section", SongEdit::Delete(7, Delete::LeaveGap)),
    ] {
        let mut harness = sectioned();
        harness.state_mut().view.selected = Some(7);
        open_menu(&mut harness);
        click(&mut harness, item);
        assert_eq!(actions(&mut harness), [Action::Song(edit)], "{item}");
    }
}

#[test]
fn a_song_that_was_cut_shorter_is_trimmed_and_that_can_be_undone() {
    let mut harness = sectioned();
    open_menu(&mut harness);
    click(&mut harness, "Forget what lies behind the playhead");
    assert_eq!(actions(&mut harness), [Action::Trim]);
    harness.state_mut().model.can_undo_reset = true;
    harness.run();
    click(&mut harness, "Bring it back");
    assert_eq!(actions(&mut harness), [Action::UndoReset]);
}

#[test]
fn markers_are_pasted_and_a_wrong_line_is_named() {
    let mut harness = sectioned();
    open_menu(&mut harness);
    click(&mut harness, "Take markers from a list or a file …");
    let list = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    list.focus();
    harness.run();
    let list = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    list.type_text("0:00 Intro\n0:99 Verse");
    harness.run();
    assert!(harness.query_by_label_contains("line 2").is_some());
    click(&mut harness, "Use them");
    assert_eq!(actions(&mut harness), [], "a list with a mistake is not taken");
    let list = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    list.focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    let list = harness.query_all_by_role(Role::MultilineTextInput).next().unwrap();
    list.type_text("0:00 Intro\n0:09 Verse");
    harness.run();
    click(&mut harness, "Use them");
    match actions(&mut harness).as_slice() {
        [Action::Song(SongEdit::TakeMarkers(markers))] => assert_eq!(markers.len(), 2),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_proposal_is_taken_or_thrown_away() {
    let mut harness = sectioned();
    open_menu(&mut harness);
    click(&mut harness, "Propose sections from what was measured …");
    assert_eq!(actions(&mut harness), [Action::Propose]);
    let border = |at_s: f64, sure: f64| plimsoll::section::Border {
        place: plimsoll::section::Place::at(at_s),
        measured_s: at_s,
        sure,
    };
    harness.state_mut().model.song.proposal = Some(Proposal {
        start: Some(plimsoll::section::Place::at(0.0)),
        borders: vec![border(10.0, 0.8), border(24.0, 0.2)],
    });
    harness.run();
    assert!(harness.query_by_label("0:10.0: 0.80, taken").is_some());
    assert!(harness.query_by_label("0:24.0: 0.20, left out").is_some());
    click(&mut harness, "Use them");
    assert_eq!(actions(&mut harness), [Action::Song(SongEdit::TakeProposal(0.3))]);
}

#[test]
fn the_log_is_sorted_by_its_headings_and_copied() {
    let mut harness = sectioned();
    harness.state_mut().view.prefs.leaf = Leaf::Log;
    harness.run();
    let names = |harness: &Harness| -> Vec<String> {
        let rows = harness.query_all_by_role(Role::Row);
        let label = |row: egui_kittest::Node<'_>| row.accesskit_node().label().unwrap_or_default();
        rows.map(|row| label(row).split(',').next().unwrap_or_default().to_owned()).collect()
    };
    assert_eq!(names(&harness)[0], "Section Intro");
    click(&mut harness, "Column Integrated");
    assert_eq!(names(&harness)[0], "Section Last chorus");
    click(&mut harness, "Column Integrated");
    assert_eq!(names(&harness)[0], "Section Outro");
    click(&mut harness, "Column Integrated");
    assert_eq!(names(&harness)[0], "Section Intro");
    harness.get_by_label("Copy").click();
    harness.step();
    let copied =
        harness.output().platform_output.commands.iter().find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        });
    let copied = copied.unwrap();
    assert_eq!(copied.lines().count(), 9);
    assert!(
        copied
            .starts_with("Section\tFrom\tIntegrated (LUFS)\tStep (LU)\tChange (LU)\tPeak by (dB)")
    );
    let chorus = copied.lines().find(|line| line.starts_with("Last chorus")).unwrap();
    let cells: Vec<&str> = chorus.split('\t').collect();
    assert_eq!((cells[4], cells[5]), ("+0.8", "+0.8"), "louder, and so are its peaks: {chorus}");
}

#[test]
fn a_peak_of_the_ledger_is_shown_in_the_chart() {
    let mut harness = sectioned();
    click(&mut harness, "Peaks");
    assert!(harness.state().view.asked().ledger);
    let first = harness.query_all_by_role(Role::Row).next().unwrap().rect().center();
    press(&mut harness, first, true);
    press(&mut harness, first, false);
    let highest = harness.state().model.song.ledger.as_ref().unwrap().events()[0].hop;
    let window = harness.state().view.window.unwrap();
    assert!(window.start_hop < f64::from(highest) && f64::from(highest) < window.end_hop);
    assert!(harness.query_all_by_label_contains("Taming the highest place").next().is_some());
}

#[test]
fn a_pin_is_named_and_a_refusal_is_read_away() {
    let mut harness = sectioned();
    click(&mut harness, "Log");
    click(&mut harness, "Changes since playthrough 1");
    harness.query_all_by_label("Pin …").next().unwrap().click();
    harness.run();
    harness.get_by_role(Role::TextInput).type_text("less 250 Hz");
    harness.run();
    click(&mut harness, "Save");
    // Newest first in the list.
    let expected = Action::Song(SongEdit::Pin(2, "less 250 Hz".to_owned()));
    assert_eq!(actions(&mut harness), [expected]);
    harness.state_mut().model.song.refusal = Some("too short".to_owned());
    harness.run();
    click(&mut harness, "OK");
    assert_eq!(actions(&mut harness), [Action::ForgetRefusal]);
}

#[test]
fn the_song_is_named_in_the_header_or_in_the_menu() {
    let mut harness = sectioned();
    click(&mut harness, "Song: Unnamed song");
    harness.get_by_role(Role::TextInput).type_text("Lantern Tide");
    harness.run();
    click(&mut harness, "Save");
    let named = Action::Song(SongEdit::NameSong("Lantern Tide".to_owned()));
    assert_eq!(actions(&mut harness), [named]);
    harness.state_mut().model.song.name = "Lantern Tide".to_owned();
    harness.run();
    assert!(harness.query_by_label("Song: Lantern Tide").is_some());
    open_menu(&mut harness);
    click(&mut harness, "Name the song …");
    assert!(harness.query_by_role(Role::TextInput).is_some());
}

#[test]
fn bars_that_moved_can_be_followed_or_not() {
    let mut harness = sectioned();
    harness.state_mut().model.song.moved_edges = 2;
    harness.run();
    click(&mut harness, "Follow the bars");
    click(&mut harness, "Keep the times");
    let expected = [Action::Song(SongEdit::FollowBars), Action::Song(SongEdit::KeepTimes)];
    assert_eq!(actions(&mut harness), expected);
}

#[test]
fn a_snapshot_is_asked_for_with_name_folder_and_forms() {
    let mut harness = sectioned();
    click(&mut harness, "Snapshot");
    retype(&mut harness, "Name of the song", "Lantern Tide");
    retype(&mut harness, "Folder", "somewhere");
    click(&mut harness, "Loudness series (CSV)");
    click(&mut harness, "Save");
    let order = SnapshotOrder {
        song: "Lantern Tide".to_owned(),
        folder: "somewhere".to_owned(),
        formats: vec![Format::Json, Format::Html, Format::SectionsCsv, Format::Text],
        copy: false,
    };
    assert_eq!(actions(&mut harness), [Action::Snapshot(order)]);
    // What became of it stands in a note until it was read.
    let why = "“somewhere”: there is no such folder".to_owned();
    harness.state_mut().model.export = Export::Failed(why);
    harness.run();
    assert!(harness.query_by_label_contains("press Snapshot to save it elsewhere").is_some());
    click(&mut harness, "Drop it");
    assert_eq!(actions(&mut harness), [Action::ForgetExport]);
    // With nothing measured there is nothing to save.
    let mut harness = bench(scenes::empty());
    click(&mut harness, "Snapshot");
    assert!(harness.state().view.dialog.is_none());
}
