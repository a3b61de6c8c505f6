mod aiff;
mod text;
mod wav;

use super::super::{Edit, Sections};
use super::*;

fn marker(at_s: f64, name: &str) -> Marker {
    Marker { at_s, length_s: None, name: name.to_owned() }
}

#[test]
fn markers_become_sections_that_reach_to_the_next() {
    let markers = [
        marker(61.0, "Chorus"),
        marker(0.0, "Intro"),
        Marker { length_s: Some(10.0), ..marker(20.0, "Verse") },
        Marker { length_s: Some(500.0), ..marker(90.0, "") },
        marker(120.0, "End"),
    ];
    let import = MarkerImport::new(&markers, 0.0);
    assert_eq!(import.left_out, []);
    let mut sections = Sections::default();
    sections.follow_song_end(Some(200.0));
    sections.replace_all(Edit::TakeMarkers, import.sections).unwrap();
    let shape: Vec<(f64, f64, &str)> = sections
        .as_slice()
        .iter()
        .map(|section| (section.start_s, section.end_s, section.name.as_str()))
        .collect();
    assert_eq!(
        shape,
        [
            (0.0, 20.0, "Intro"),
            (20.0, 30.0, "Verse"),
            (61.0, 90.0, "Chorus"),
            (90.0, 120.0, "Section 1"),
            (120.0, 200.0, "End")
        ]
    );
}

#[test]
fn markers_that_cannot_be_sections_are_left_out_and_said() {
    let markers = [
        marker(0.0, "a"),
        marker(0.2, "b"),
        marker(0.4, "c"),
        marker(-55.0, "d"),
        marker(7_199.9, "e"),
        marker(f64::NAN, "f"),
    ];
    let import = MarkerImport::new(&markers, -10.0);
    let names: Vec<_> = import.sections.iter().map(|new| new.name.clone().unwrap()).collect();
    assert_eq!(names, ["a", "c", "e"]);
    assert_eq!(import.sections[0].start, Place::at(-10.0));
    let why: Vec<_> =
        import.left_out.iter().map(|left| (left.marker.name.as_str(), left.why)).collect();
    assert_eq!(
        why,
        [("d", WhyLeftOut::OutOfRange), ("b", WhyLeftOut::TooClose), ("f", WhyLeftOut::OutOfRange)]
    );
    let many: Vec<Marker> = (0..502_u32).map(|at| marker(f64::from(at), "x")).collect();
    let import = MarkerImport::new(&many, 0.0);
    assert_eq!((import.sections.len(), import.left_out.len()), (500, 2));
    assert_eq!(import.left_out[0].why, WhyLeftOut::TooMany);
    let mut sections = Sections::default();
    sections.replace_all(Edit::TakeMarkers, import.sections).unwrap();
}

#[test]
fn names_are_made_plain_and_cut() {
    assert_eq!(clean_name(" a\tb\r\n"), "a b");
    assert_eq!(clean_name(&"é".repeat(200)).chars().count(), 80);
    assert_eq!(clean_name("\0\u{7}"), "");
}
