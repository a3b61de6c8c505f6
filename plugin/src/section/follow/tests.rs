use super::super::testing::{Sound, Tape};
use super::super::{Place, Playthroughs, Sections};
use super::*;
use crate::record::Hop;

fn sections() -> Sections {
    let mut sections = Sections::default();
    sections.add_range(Place::at(0.0), Place::at(10.0), Some("Verse")).unwrap();
    sections.add_range(Place::at(10.0), Place::at(20.0), Some("Chorus")).unwrap();
    sections
}

fn integrated(playthrough: &Playthrough, section: usize) -> f64 {
    playthrough.sections[section].figures.as_ref().unwrap().integrated_lufs.unwrap()
}

#[test]
fn a_playthrough_is_given_once_when_it_is_over() {
    let list = sections();
    let mut tape = Tape::new();
    let mut follower = RunFollower::new(tape.reader.clone());
    assert_eq!(follower.poll(false, list.as_slice()), None);
    let number = tape.play(0..2_000, |_| Sound::at(-18.0).hop());
    assert_eq!(follower.poll(true, list.as_slice()), None);
    let finished = follower.poll(false, list.as_slice()).unwrap();
    assert_eq!((finished.playthrough.number, finished.goes_on), (number, false));
    assert_eq!(follower.poll(false, list.as_slice()), None);
    assert!((integrated(&finished.playthrough, 1) + 18.0).abs() < 1e-3);
}

#[test]
fn a_loop_that_wraps_does_not_take_the_start_of_the_run_before() {
    let list = sections();
    let mut tape = Tape::new();
    let mut follower = RunFollower::new(tape.reader.clone());
    let first = tape.play(1_000..2_000, |_| Sound::at(-14.0).hop());
    follower.poll(true, list.as_slice());
    // Half a second of the second turn is written before anybody looks again.
    let second = tape.play(1_000..1_050, |_| Sound::at(-30.0).hop());
    let finished = follower.poll(true, list.as_slice()).unwrap();
    assert_eq!(finished.playthrough.number, first);
    let chorus = finished.playthrough.sections[1].figures.as_ref().unwrap();
    assert_eq!(chorus.coverage, 1.0);
    assert!((integrated(&finished.playthrough, 1) + 14.0).abs() < 1e-3);
    // And the second turn is followed from its first hop.
    tape.goes_on(second, 1_050..2_000, |_| Sound::at(-30.0).hop());
    follower.poll(true, list.as_slice());
    let finished = follower.poll(false, list.as_slice()).unwrap();
    assert!((integrated(&finished.playthrough, 1) + 30.0).abs() < 1e-3);
}

#[test]
fn a_run_that_goes_on_is_one_entry_of_the_log_and_keeps_its_pin() {
    let list = sections();
    let mut tape = Tape::new();
    let mut follower = RunFollower::new(tape.reader.clone());
    let mut log = Playthroughs::default();
    let number = tape.play(0..1_000, |_| Sound::at(-18.0).hop());
    let id = log.log(follower.poll(false, list.as_slice()).unwrap());
    log.pin(id, "less 250 Hz").unwrap();
    tape.goes_on(number, 1_000..2_000, |_| Sound::at(-12.0).hop());
    follower.poll(true, list.as_slice());
    let finished = follower.poll(false, list.as_slice()).unwrap();
    assert!(finished.goes_on);
    assert_eq!(log.log(finished), id);
    assert_eq!(log.as_slice().len(), 1);
    let newest = log.newest().unwrap();
    assert_eq!(newest.pinned_as.as_deref(), Some("less 250 Hz"));
    assert!((integrated(newest, 1) + 12.0).abs() < 1e-3);
}

#[test]
fn short_runs_runs_from_before_and_runs_that_were_reset_are_not_logged() {
    let list = sections();
    let mut tape = Tape::new();
    tape.play(0..2_000, |_| Sound::default().hop());
    let mut follower = RunFollower::new(tape.reader.clone());
    assert_eq!(follower.poll(false, list.as_slice()), None);
    tape.play(500..799, |_| Sound::default().hop());
    follower.poll(true, list.as_slice());
    assert_eq!(follower.poll(false, list.as_slice()), None);
    tape.play(0..2_000, |_| Sound::default().hop());
    follower.poll(true, list.as_slice());
    tape.reader.reset();
    assert_eq!(follower.poll(false, list.as_slice()), None);
    assert_eq!(follower.poll(false, list.as_slice()), None);
}

#[test]
fn at_a_seam_the_hop_that_the_record_kept_is_taken() {
    let list = sections();
    let mut tape = Tape::new();
    let mut follower = RunFollower::new(tape.reader.clone());
    tape.play(0..2_000, |_| Sound::at(-18.0).hop());
    follower.poll(false, list.as_slice());
    // The first and the last hop of a run are edges, which replace nothing better.
    tape.play(1_000..2_000, |hop| Hop {
        edge: hop == 1_000 || hop == 1_999,
        ..Sound::at(-12.0).hop()
    });
    let playthrough = follower.poll(false, list.as_slice()).unwrap().playthrough;
    assert_eq!((playthrough.start_hop, playthrough.end_hop), (1_000, 2_000));
    assert!(playthrough.sections[0].figures.is_none());
    assert_eq!(playthrough.sections[1].figures.as_ref().unwrap().coverage, 1.0);
    // On new ground edges are written, and what stands beside them is no part of the run.
    tape.play(2_001..2_500, |hop| Hop {
        edge: hop == 2_001 || hop == 2_499,
        ..Sound::at(-12.0).hop()
    });
    let playthrough = follower.poll(false, list.as_slice()).unwrap().playthrough;
    assert_eq!((playthrough.start_hop, playthrough.end_hop), (2_001, 2_500));
}
