use super::super::testing::{Dice, Sound, Tape, near};
use super::super::{Place, SectionLog, Sections};
use super::*;
use crate::record::Hop;
use crate::units::amplitude_to_db;

/// −20 LUFS with peaks of −12 dBTP, and these peaks.
fn song(peaks: &[(i32, f64)]) -> Tape {
    let mut tape = Tape::new();
    tape.play(0..3_000, |hop| {
        let special = peaks.iter().find(|(at, _)| *at == hop);
        Sound { peak_dbtp: special.map_or(-12.0, |(_, peak)| *peak), ..Sound::default() }.hop()
    });
    tape
}

fn log(tape: &Tape) -> SectionLog {
    let mut sections = Sections::default();
    sections.add_range(Place::at(0.0), Place::at(10.0), Some("Verse")).unwrap();
    sections.add_range(Place::at(10.0), Place::at(20.0), Some("Chorus")).unwrap();
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), &mut tape.analysis());
    log
}

fn ledger(tape: &Tape, floor_dbtp: f64) -> PeakLedger {
    PeakLedger::new(&tape.analysis(), 0..3_000, Dbtp(floor_dbtp), log(tape).entries())
}

/// Hop and dBTP, to a thousandth.
fn places(ledger: &PeakLedger) -> Vec<(i32, f64)> {
    let events = ledger.events().iter();
    events.map(|event| (event.hop, (event.peak.0 * 1e3).round() / 1e3)).collect()
}

#[test]
fn peaks_within_200_ms_are_one_event_and_the_highest_comes_first() {
    let tape = song(&[(100, -3.0), (120, -2.0), (141, -3.5), (160, -4.0), (1_500, -1.0)]);
    let ledger = ledger(&tape, -6.0);
    // 100 belongs to 120; 141 is 210 ms from it; 160 belongs to 141.
    assert_eq!(places(&ledger), [(1_500, -1.0), (120, -2.0), (141, -3.5)]);
}

#[test]
fn of_equal_peaks_the_first_in_the_song_comes_first() {
    let tape = song(&[(900, -1.0), (300, -1.0), (310, -1.0)]);
    assert_eq!(places(&ledger(&tape, -6.0)), [(300, -1.0), (900, -1.0)]);
}

#[test]
fn an_event_knows_its_section_and_how_far_it_stands_above_that() {
    let tape = song(&[(999, -1.0), (1_000, -0.5), (2_500, -2.0)]);
    let ledger = ledger(&tape, -6.0);
    assert_eq!(places(&ledger), [(1_000, -0.5), (2_500, -2.0)]);
    let [chorus, outside] = ledger.events() else { panic!() };
    assert_eq!(chorus.section, Some(2));
    near(chorus.above_section.unwrap().0, 19.5, 1e-5);
    assert_eq!(chorus.at_s(), 10.0);
    let grid = BarGrid::steady(0.0, 120.0, 4.0).unwrap();
    assert_eq!(chorus.bar(&grid), Some(5.0));
    assert_eq!((outside.section, outside.above_section), (None, None));
}

#[test]
fn the_curve_says_what_taming_frees() {
    let tape = song(&[(100, -1.0), (500, -2.5), (900, -2.5), (1_300, -3.5)]);
    let ledger = ledger(&tape, -6.0);
    let curve: Vec<_> = ledger.curve().collect();
    let expected = [(1, -2.5, 1.5), (2, -2.5, 1.5), (3, -3.5, 2.5), (4, -12.0, 11.0)];
    assert_eq!(curve.len(), expected.len());
    for (taming, (events, to, frees)) in curve.iter().zip(expected) {
        assert_eq!(taming.events, events);
        near(taming.to.0, to, 1e-5);
        near(taming.frees.0, frees, 1e-5);
    }
    let frees = |events: usize, to: f64| ledger.taming(events, Dbtp(to)).map(|t| t.frees.0);
    near(frees(1, -2.0).unwrap(), 1.0, 1e-5);
    // Brought down further than the next: that one stands in the way.
    near(frees(1, -4.0).unwrap(), 1.5, 1e-5);
    near(frees(3, -3.0).unwrap(), 2.0, 1e-5);
    // The third stands at −2.5 dBTP already: it cannot be brought down to −2.
    assert_eq!(frees(3, -2.0), None);
    assert_eq!(frees(1, -0.5), None);
    assert_eq!(frees(0, -2.0), None);
    assert_eq!(frees(5, -12.0), None);
    let to = |to: f64| ledger.taming_to(Dbtp(to)).map(|taming| taming.events);
    assert_eq!((to(-0.5), to(-1.5), to(-2.6), to(-6.0)), (None, Some(1), Some(3), Some(4)));
    // Below what the ledger lists it cannot say.
    assert_eq!(to(-12.5), None);
    let three = ledger.taming_to(Dbtp(-3.0)).unwrap();
    near(ledger.mean_reduction(&three).unwrap().0, (2.0 + 0.5 + 0.5) / 3.0, 1e-5);
}

#[test]
fn the_curve_is_what_the_record_measures_after_the_taming() {
    let mut dice = Dice(3);
    for _ in 0..20 {
        let peaks: Vec<f64> = (0..2_000).map(|_| dice.between(-14.0, 0.0)).collect();
        let mut tape = Tape::new();
        tape.play(0..2_000, |hop| {
            let peak_dbtp = peaks[usize::try_from(hop).unwrap()];
            Sound { peak_dbtp, ..Sound::default() }.hop()
        });
        let analysis = tape.analysis();
        let ledger = PeakLedger::new(&analysis, 0..2_000, Dbtp(-3.0), &[]);
        let highest = |tamed: &[PeakEvent], to: Dbtp| {
            analysis
                .hops(0..2_000)
                .map(|(hop, kept)| {
                    let peak = amplitude_to_db(f64::from(kept.true_peak));
                    let is_tamed = tamed.iter().any(|event| (event.hop - hop).abs() <= 20);
                    if is_tamed { peak.min(to.0) } else { peak }
                })
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let untouched = highest(&[], Dbtp(0.0));
        for taming in ledger.curve() {
            let after = highest(&ledger.events()[..taming.events], taming.to);
            near(taming.frees.0, untouched - after, 1e-12);
        }
        for pair in ledger.events().windows(2) {
            assert!(pair[0].peak.0 >= pair[1].peak.0);
        }
    }
}

#[test]
fn places_over_a_ceiling_at_the_present_gain_and_at_another() {
    let tape = song(&[(100, -1.0), (500, -2.5), (900, -4.0)]);
    let ledger = ledger(&tape, -6.0);
    let over = |ceiling: f64, gain: f64| {
        let over = ledger.over_ceiling(Dbtp(ceiling), Db(gain));
        let places: Vec<i32> = over.places.iter().map(|(event, _)| event.hop).collect();
        (places, over.complete)
    };
    assert_eq!(over(-1.0 + 1e-6, 0.0), (vec![], true));
    assert_eq!(over(-2.0, 0.0), (vec![100], true));
    assert_eq!(over(-1.0, 2.0), (vec![100, 500], true));
    assert_eq!(over(-1.0, 5.0), (vec![100, 500, 900], true));
    // 12 dB up, peaks at −12 dBTP are over too, and the ledger begins at −6.
    assert_eq!(over(-1.0, 12.0), (vec![100, 500, 900], false));
    let places = ledger.over_ceiling(Dbtp(-1.0), Db(2.0)).places;
    near(places[0].1.0, 2.0, 1e-5);
    near(places[1].1.0, 0.5, 1e-5);
}

#[test]
fn partly_covered_hops_count_and_what_was_not_measured_does_not() {
    let mut tape = Tape::new();
    tape.play(50..60, |_| Sound::default().hop());
    tape.play(100..101, |_| Hop { full: false, frames: 7, ..Sound::default().hop() });
    let ledger = PeakLedger::new(&tape.analysis(), -100..3_000, Dbtp(-7.0), &[]);
    assert_eq!(places(&ledger), [(50, -6.0), (100, -6.0)]);
    // All peaks belong to events: nothing is left to say what the last taming frees.
    assert_eq!(ledger.curve().count(), 1);
    let empty = PeakLedger::new(&Tape::new().analysis(), 0..100, Dbtp(-7.0), &[]);
    assert_eq!(empty.events(), []);
    assert_eq!(empty.curve().count(), 0);
    assert!(empty.over_ceiling(Dbtp(-1.0), Db(0.0)).complete);
    let mut silent = Tape::new();
    silent.play(0..100, |_| Hop { true_peaks: [0.0; 8], ..Sound::default().hop() });
    let silent = PeakLedger::new(&silent.analysis(), 0..100, Dbtp(f64::NEG_INFINITY), &[]);
    assert_eq!(silent.events(), []);
}
