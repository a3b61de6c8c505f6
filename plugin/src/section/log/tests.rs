use super::super::testing::{Dice, Sound, Tape, near, noisy};
use super::super::{Place, Sections};
use super::*;

/// Single precision in the record: 2^-24 is 5e-7 dB, and a few roundings come together.
const ROUNDING_DB: f64 = 5e-6;

/// Sections of `length_s` seconds each, one after the other.
fn rows(count: u32, length_s: f64) -> Sections {
    let mut sections = Sections::default();
    for number in 0..count {
        let start_s = f64::from(number) * length_s;
        sections.add_range(Place::at(start_s), Place::at(start_s + length_s), None).unwrap();
    }
    sections
}

#[test]
fn each_section_is_held_against_the_one_before() {
    let mut tape = Tape::new();
    let wide = Sound { correlation: 0.0, ..Sound::at(-17.5) };
    let mono = Sound { correlation: 1.0, ..Sound::at(-30.0) };
    tape.play_sounds(&[(1_000, Sound::default()), (1_000, wide), (1_000, mono)]);
    let mut log = SectionLog::default();
    log.update(rows(4, 10.0).as_slice(), &mut tape.analysis());
    let by = |index: usize| {
        let entry = &log.entries()[index];
        (entry.louder_by.map(|by| by.0), entry.wider_by.map(|by| by.0))
    };
    assert_eq!(by(0), (None, None));
    near(by(1).0.unwrap(), 2.5, ROUNDING_DB);
    near(by(1).1.unwrap(), 4.771_2, 1e-4);
    near(by(2).0.unwrap(), -12.5, ROUNDING_DB);
    // Mono is infinitely narrower, and nothing was measured after it.
    assert_eq!(by(2).1, None);
    assert_eq!(by(3), (None, None));
}

#[test]
fn only_what_changed_is_measured_anew_and_the_result_is_the_same_to_the_bit() {
    let mut dice = Dice(7);
    let sounds: Vec<Sound> = (0..12_000).map(|_| noisy(&mut dice)).collect();
    let mut tape = Tape::new();
    tape.play(0..12_000, |hop| sounds[usize::try_from(hop).unwrap()].hop());
    let mut analysis = tape.analysis();
    let mut sections = rows(12, 10.0);
    let mut log = SectionLog::default();
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 12);
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 0);
    for round in 0..40 {
        // One second somewhere in the middle of a section.
        let section = i32::try_from(dice.below(12)).unwrap();
        let start = section * 1_000 + 300 + i32::try_from(dice.below(300)).unwrap();
        let sound = noisy(&mut dice);
        tape.play(start..start + 100, |_| sound.hop());
        analysis.update();
        assert_eq!(log.update(sections.as_slice(), &mut analysis), 1, "round {round}");
        let mut cold = SectionLog::default();
        cold.update(sections.as_slice(), &mut tape.analysis());
        assert_eq!(log.entries(), cold.entries(), "round {round}");
    }
    // A hop near the start of a section also touches the last bits of none but its own and what
    // lies up to a chunk after it.
    tape.play(4_999..5_000, |_| Sound::default().hop());
    analysis.update();
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 2);
    // Names are not measured, edges are.
    sections.rename(3, "Chorus").unwrap();
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 0);
    assert_eq!(log.entries()[2].name, "Chorus");
    sections.move_edge(3, super::super::Side::End, Place::at(32.0)).unwrap();
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 2);
    let mut cold = SectionLog::default();
    cold.update(sections.as_slice(), &mut analysis);
    assert_eq!(log.entries(), cold.entries());
}

#[test]
fn a_reset_its_undo_and_another_record_are_seen() {
    let mut tape = Tape::new();
    tape.play_sounds(&[(2_000, Sound::default())]);
    let mut analysis = tape.analysis();
    let sections = rows(2, 10.0);
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), &mut analysis);
    let before = log.entries().to_vec();
    let first = analysis.record().reset();
    analysis.update();
    assert_eq!(log.update(sections.as_slice(), &mut analysis), 2);
    assert_eq!(log.entries()[0].measured.figures.integrated, None);
    analysis.record().undo_reset(first);
    analysis.update();
    log.update(sections.as_slice(), &mut analysis);
    assert_eq!(log.entries(), before);
    let mut other = Tape::new();
    other.play_sounds(&[(1_000, Sound::default()), (1_000, Sound::at(-19.0))]);
    assert_eq!(log.update(sections.as_slice(), &mut other.analysis()), 1);
    assert_eq!(log.update(&[], &mut other.analysis()), 0);
    assert!(log.entries().is_empty());
}
