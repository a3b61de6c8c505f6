use super::super::testing::{Sound, Tape, near};
use super::super::{Place, Sections};
use super::*;

fn song_sections() -> Sections {
    let mut sections = Sections::default();
    for (number, name) in (0_u32..).zip(["Verse", "Chorus", "Bridge", "Last chorus"]) {
        let start_s = f64::from(number) * 10.0;
        sections.add_range(Place::at(start_s), Place::at(start_s + 10.0), Some(name)).unwrap();
    }
    sections
}

/// Verse, chorus, bridge, chorus: −20, −16, −22, −16 LUFS.
fn played() -> Tape {
    let mut tape = Tape::new();
    let sounds = [-20.0, -16.0, -22.0, -16.0].map(|lufs| (1_000, Sound::at(lufs)));
    tape.play_sounds(&sounds);
    tape
}

const ROUNDING_DB: f64 = 5e-6;

#[test]
fn the_log_of_a_run_holds_what_that_run_measured_and_nothing_else() {
    let mut tape = played();
    let sections = song_sections();
    let louder = Sound { peak_dbtp: -5.0, ..Sound::at(-15.2) };
    let number = tape.play(2_500..4_000, |_| louder.hop());
    let log = Playthrough::of(&tape.reader, number, sections.as_slice()).unwrap();
    assert_eq!((log.number, log.start_hop, log.end_hop), (2, 2_500, 4_000));
    near(log.whole.integrated_lufs.unwrap(), -15.2, ROUNDING_DB);
    assert_eq!(log.whole.coverage, 1.0);
    let figures: Vec<_> = log.sections.iter().map(|section| section.figures.as_ref()).collect();
    assert_eq!(&figures[..2], [None, None]);
    let (bridge, chorus) = (figures[2].unwrap(), figures[3].unwrap());
    assert_eq!(bridge.coverage, 0.5);
    // The bridge's own −22 LUFS of the first run is not in it.
    near(bridge.integrated_lufs.unwrap(), -15.2, ROUNDING_DB);
    near(chorus.max_true_peak_dbtp.unwrap(), -5.0, ROUNDING_DB);
    near(chorus.plr_lu.unwrap(), 10.2, ROUNDING_DB);
    // And of the first run, what the second did not replace.
    let first = Playthrough::of(&tape.reader, 1, sections.as_slice()).unwrap();
    assert_eq!(first.sections[2].figures.as_ref().unwrap().coverage, 0.5);
    assert_eq!(first.sections[3].figures, None);
    assert_eq!(Playthrough::of(&tape.reader, 3, sections.as_slice()), None);
}

#[test]
fn the_log_of_a_whole_run_is_that_of_the_record() {
    let tape = played();
    let sections = song_sections();
    let one_run = Playthrough::of(&tape.reader, 1, sections.as_slice()).unwrap();
    let all = Playthrough::of_analysis(&mut tape.analysis(), 1, sections.as_slice()).unwrap();
    assert_eq!(one_run, all);
}

#[test]
fn two_playthroughs_are_compared_section_by_section() {
    let sections = song_sections();
    let before = Playthrough::of(&played().reader, 1, sections.as_slice()).unwrap();
    let mut tape = played();
    let wider = Sound { peak_dbtp: -5.5, correlation: 0.0, ..Sound::at(-15.2) };
    let number = tape.play(3_000..4_000, |_| wider.hop());
    let after = Playthrough::of(&tape.reader, number, sections.as_slice()).unwrap();

    let changes = compare(&before, &after);
    assert_eq!(changes.len(), 4);
    for change in &changes[..3] {
        assert!(change.before.is_some() && change.after.is_none());
        assert_eq!((change.change, change.same_time), (None, false));
    }
    let chorus = &changes[3];
    assert_eq!((chorus.name.as_str(), chorus.same_time), ("Last chorus", true));
    let by = chorus.change.unwrap();
    near(by.louder_by.unwrap().0, 0.8, 2.0 * ROUNDING_DB);
    near(by.max_short_term_by.unwrap().0, 0.8, 2.0 * ROUNDING_DB);
    near(by.max_momentary_by.unwrap().0, 0.8, 2.0 * ROUNDING_DB);
    near(by.true_peak_by.unwrap().0, 0.5, 2.0 * ROUNDING_DB);
    near(by.plr_by.unwrap().0, -0.3, 2.0 * ROUNDING_DB);
    near(by.min_psr_by.unwrap().0, -0.3, 2.0 * ROUNDING_DB);
    near(by.correlation_by.unwrap(), -0.5, 1e-6);
    near(by.wider_by.unwrap().0, 4.771_2, 1e-4);
    // Nothing changed against itself.
    for change in compare(&before, &before) {
        assert_eq!(change.change.unwrap().louder_by.map(|by| by.0), Some(0.0));
        assert!(change.same_time);
    }
}

#[test]
fn a_section_that_was_moved_deleted_or_added_is_said_to_be() {
    let mut sections = song_sections();
    let tape = played();
    let before = Playthrough::of(&tape.reader, 1, sections.as_slice()).unwrap();
    let bridge = sections.as_slice()[2].id;
    sections.delete(bridge, super::super::Delete::LeaveGap).unwrap();
    sections.move_edge(1, super::super::Side::End, Place::at(9.0)).unwrap();
    let outro = sections.add_range(Place::at(22.0), Place::at(25.0), Some("Break")).unwrap();
    let after = Playthrough::of(&tape.reader, 1, sections.as_slice()).unwrap();
    let changes = compare(&before, &after);
    let names: Vec<&str> = changes.iter().map(|change| change.name.as_str()).collect();
    assert_eq!(names, ["Verse", "Chorus", "Break", "Last chorus", "Bridge"]);
    let same: Vec<bool> = changes.iter().map(|change| change.same_time).collect();
    assert_eq!(same, [false, false, false, true, false]);
    assert_eq!((changes[2].id, changes[2].before.clone()), (outro, None));
    assert_eq!((changes[4].id, changes[4].after.clone()), (bridge, None));
    assert!(changes[0].change.is_some());
}

fn empty(number: u32) -> Playthrough {
    let mut log = Playthrough::of(&played().reader, 1, &[]).unwrap();
    log.number = number;
    log
}

#[test]
fn the_last_32_and_the_pinned_ones_are_kept() {
    let log = empty(0);
    let mut list = Playthroughs::default();
    for number in 1..=10 {
        assert_eq!(list.add(Playthrough { number, ..log.clone() }), number);
    }
    list.pin(3, " less 250 Hz ").unwrap();
    for number in 11..=50 {
        list.add(Playthrough { number, ..log.clone() });
    }
    let numbers: Vec<u32> = list.as_slice().iter().map(|log| log.number).collect();
    let expected: Vec<u32> = std::iter::once(3).chain(19..=50).collect();
    assert_eq!(numbers, expected);
    assert_eq!(list.get(3).unwrap().pinned_as.as_deref(), Some("less 250 Hz"));
    assert_eq!(list.newest().map(|log| log.number), Some(50));
    // Without its pin it is too old.
    list.unpin(3).unwrap();
    assert_eq!(list.get(3), None);
    assert_eq!(list.as_slice().len(), KEPT_PLAYTHROUGHS);
    let message = |result: Result<(), PlaythroughError>| result.unwrap_err().to_string();
    assert_eq!(message(list.unpin(3)), "playthrough 3: there is none with this number");
    assert_eq!(message(list.pin(50, " ")), "name \"\": must be plain text of 1 to 80 characters");
}

#[test]
fn pins_are_bounded() {
    let log = empty(0);
    let mut list = Playthroughs::default();
    for _ in 0..MAX_PINS {
        let id = list.add(log.clone());
        list.pin(id, "pin").unwrap();
    }
    let id = list.add(log);
    assert_eq!(list.pin(id, "one more"), Err(PlaythroughError::TooManyPins));
    assert_eq!(list.pin(1, "renamed"), Ok(()));
}

#[test]
fn what_is_saved_comes_back_with_silence_and_mono_too() {
    let mut tape = Tape::new();
    let silence =
        Sound { peak_dbtp: f64::NEG_INFINITY, mean_square: 0.0, ..Sound::at(f64::NEG_INFINITY) };
    tape.play_sounds(&[(1_000, silence), (1_000, Sound { correlation: 1.0, ..Sound::default() })]);
    let mut list = Playthroughs::default();
    list.add(Playthrough::of(&tape.reader, 1, song_sections().as_slice()).unwrap());
    list.pin(1, "first").unwrap();
    let text = serde_json::to_string(list.as_slice()).unwrap();
    let saved: Vec<Playthrough> = serde_json::from_str(&text).unwrap();
    assert_eq!(Playthroughs::from_saved(saved.clone()), Ok(list));
    let twice = vec![saved[0].clone(), saved[0].clone()];
    assert_eq!(
        Playthroughs::from_saved(twice).unwrap_err().to_string(),
        "playthrough 1: numbers must be above 0 and all different"
    );
    let mut bad = saved;
    bad[0].whole.plr_lu = Some(f64::NAN);
    assert_eq!(Playthroughs::from_saved(bad), Err(PlaythroughError::BadFigure { id: 1 }));
}
