use super::super::super::BarGrid;
use super::super::*;
use super::{place, refused, saved};

#[test]
fn a_moved_tempo_map_is_seen_and_can_be_followed() {
    // 120 quarters a minute in 4/4: a bar is 2 s.
    let old = BarGrid::steady(0.0, 120.0, 4.0).unwrap();
    let mut sections = Sections::default();
    sections.add_range(old.place(8.0), old.place(24.0), Some("A")).unwrap();
    sections.add_range(old.place(24.0), place(30.0), Some("B")).unwrap();
    sections.add_range(old.place(40.0), old.place(48.0), Some("C")).unwrap();
    assert_eq!(sections.moved_edges(&old), []);
    // 100 quarters a minute: a bar is 2.4 s.
    let new = BarGrid::steady(0.0, 100.0, 4.0).unwrap();
    let moved = sections.moved_edges(&new);
    assert_eq!(moved.len(), 5);
    let first = MovedEdge { id: 1, side: Side::Start, at_s: 8.0, bar: 4.0, bar_at_s: 9.6 };
    assert!((moved[0].bar_at_s - first.bar_at_s).abs() < 1e-9);
    assert_eq!((moved[0].id, moved[0].side, moved[0].bar), (first.id, first.side, first.bar));

    sections.follow_bars(&new).unwrap();
    // Bars 4, 12, 20, 24; the edge without a bar was 6/16 of the way from bar 12 to bar 20.
    let expected = [(9.6, 28.8), (28.8, 36.0), (48.0, 57.6)];
    for (section, (start_s, end_s)) in sections.as_slice().iter().zip(expected) {
        assert!((section.start_s - start_s).abs() < 1e-9, "{section:?}");
        assert!((section.end_s - end_s).abs() < 1e-9, "{section:?}");
    }
    assert_eq!(sections.moved_edges(&new), []);
    assert_eq!(sections.as_slice()[0].end_s, sections.as_slice()[1].start_s);

    sections.undo();
    sections.keep_times(&new).unwrap();
    assert_eq!(sections.moved_edges(&new), []);
    assert_eq!(sections.as_slice()[0].start_s, 8.0);
    assert!((sections.as_slice()[0].start_bar.unwrap() - 8.0 / 2.4).abs() < 1e-9);
    assert_eq!(sections.as_slice()[1].end_bar, None);
}

#[test]
fn bars_that_contradict_song_time_move_nothing() {
    let a = Section { start_bar: Some(9.0), ..saved(1, "A", 0.0, 10.0) };
    let b = Section { start_bar: Some(5.0), ..saved(2, "B", 10.0, 20.0) };
    let mut sections = Sections::from_saved(vec![a, b]).unwrap();
    let grid = BarGrid::steady(0.0, 120.0, 4.0).unwrap();
    assert_eq!(
        refused(sections.follow_bars(&grid)),
        "bar 9 stands before bar 5: bars must rise with song time"
    );
    assert_eq!(sections.next_undo(), None);
}
