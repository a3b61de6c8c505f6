use super::super::testing::{Dice, Sound, Tape, near, noisy, single};
use super::*;
use crate::record::Hop;
use crate::units::{Lufs, db_to_amplitude};
use std::f64::consts::SQRT_2;

fn measured(tape: &Tape, range: HopRange) -> Measured {
    measure(&mut tape.analysis(), range)
}

/// Single precision in the record: 2^-24 is 5e-7 dB, and a few roundings come together.
const ROUNDING_DB: f64 = 5e-6;

#[test]
fn a_steady_section_measures_what_it_was_made_of() {
    let mut tape = Tape::new();
    tape.play_sounds(&[(1_000, Sound::default())]);
    let section = measured(&tape, 0..1_000);
    near(section.figures.integrated.unwrap().0, -20.0, ROUNDING_DB);
    near(section.figures.max_short_term.unwrap().0, -20.0, ROUNDING_DB);
    near(section.plr().unwrap().0, 14.0, ROUNDING_DB);
    near(section.min_psr.unwrap().0, 14.0, ROUNDING_DB);
    near(section.correlation.unwrap(), 0.5, 1e-6);
    near(section.lowest_correlation.unwrap(), 0.5, 1e-6);
    // ((1 − r)/(1 + r)) = 1/3: 10 log10(1/3) = −4.7712.
    near(section.side_to_mid.unwrap().0, -4.771_2, 1e-4);
    assert_eq!((section.oldest_playthrough, section.newest_playthrough), (Some(1), Some(1)));
    assert_eq!(section.figures.loudness_range.map(|range| range.0), Some(0.0));
    assert!(!section.loudness_range_stable);
}

#[test]
fn a_loudness_range_needs_three_seconds_and_is_stable_after_sixty() {
    let mut tape = Tape::new();
    tape.play_sounds(&[(7_000, Sound::default())]);
    let range = |end: i32| {
        let section = measured(&tape, 0..end);
        section.figures.loudness_range.map(|_| section.loudness_range_stable)
    };
    assert_eq!(range(299), None);
    assert_eq!(range(300), Some(false));
    assert_eq!(range(5_999), Some(false));
    assert_eq!(range(6_000), Some(true));
}

#[test]
fn the_lowest_psr_is_that_of_the_densest_three_seconds() {
    let mut tape = Tape::new();
    let dense = Sound::at(-14.0);
    tape.play_sounds(&[(500, Sound::default()), (300, dense), (500, Sound::default())]);
    let section = measured(&tape, 0..1_300);
    // −6 dBTP less −14 LUFS.
    near(section.min_psr.unwrap().0, 8.0, ROUNDING_DB);
    assert_eq!(section.min_psr_hop, Some(799));
    // A peak of −3 dBTP in the dense stretch's middle lifts that window to 11 LU; the next best
    // ends just before the peak: 150 dense hops and 150 others.
    let mut tape = Tape::new();
    tape.play(0..1_300, |hop| {
        let sound = if (500..800).contains(&hop) { dense } else { Sound::default() };
        Sound { peak_dbtp: if hop == 650 { -3.0 } else { -6.0 }, ..sound }.hop()
    });
    let section = measured(&tape, 0..1_300);
    let half_dense = -20.0 + 10.0 * f64::midpoint(10.0_f64.powf(0.6), 1.0).log10();
    near(section.min_psr.unwrap().0, -6.0 - half_dense, ROUNDING_DB);
    // The window that ends at 649 holds dense hops 500 to 649.
    assert_eq!(section.min_psr_hop, Some(649));
    // Windows reach over no edge of the section, and silence has no PSR.
    assert_eq!(measured(&tape, 0..299).min_psr, None);
    let mut tape = Tape::new();
    tape.play_sounds(&[(400, Sound { peak_dbtp: -80.0, ..Sound::at(-75.0) })]);
    assert_eq!(measured(&tape, 0..400).min_psr, None);
}

#[test]
fn the_lowest_psr_is_the_lowest_of_all_windows_taken_one_by_one() {
    let mut dice = Dice(11);
    let sounds: Vec<Sound> = (0..1_200).map(|_| noisy(&mut dice)).collect();
    let mut tape = Tape::new();
    tape.play(0..1_200, |hop| sounds[usize::try_from(hop).unwrap()].hop());
    let mut analysis = tape.analysis();
    // Many short ranges, so that first and last windows are the lowest of some.
    for _ in 0..60 {
        let start = i32::try_from(dice.below(800)).unwrap();
        let end = start + 300 + i32::try_from(dice.below(60)).unwrap();
        let lowest = (start + 300..=end)
            .map(|window_end| {
                let hops = || analysis.hops(window_end - 300..window_end);
                let peak = hops().map(|(_, kept)| kept.true_peak).fold(0.0, f32::max);
                let energy: f64 = hops().map(|(_, kept)| f64::from(kept.energy)).sum();
                let loudness = Lufs::from_energy(energy / 300.0).0;
                (amplitude_to_db(f64::from(peak)) - loudness, window_end - 1)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap();
        let section = measure(&mut analysis, start..end);
        near(section.min_psr.unwrap().0, lowest.0, 1e-9);
        assert_eq!(section.min_psr_hop, Some(lowest.1));
    }
}

#[test]
fn a_peak_leaves_the_psr_window_with_its_hop() {
    let mut tape = Tape::new();
    tape.play(0..301, |hop| {
        let peak_dbtp = if hop == 0 { -3.0 } else { -6.0 };
        Sound { peak_dbtp, ..Sound::default() }.hop()
    });
    let with_peak = measured(&tape, 0..300);
    near(with_peak.min_psr.unwrap().0, 17.0, ROUNDING_DB);
    let without = measured(&tape, 0..301);
    near(without.min_psr.unwrap().0, 14.0, ROUNDING_DB);
    assert_eq!(without.min_psr_hop, Some(300));
}

#[test]
fn partly_covered_hops_weigh_nothing_in_correlation_and_width() {
    let mut tape = Tape::new();
    let inverted = Sound { correlation: -1.0, ..Sound::default() };
    tape.play(0..200, |_| Sound::default().hop());
    tape.play(200..201, |_| Hop { full: false, frames: 100, ..inverted.hop() });
    let section = measured(&tape, 0..201);
    near(section.correlation.unwrap(), 0.5, 1e-6);
    near(section.side_to_mid.unwrap().0, 10.0 * (1.0_f64 / 3.0).log10(), 1e-5);
}

#[test]
fn correlation_is_the_mean_over_all_and_the_lowest_over_one_second() {
    let mut tape = Tape::new();
    let inverted = Sound { correlation: -1.0, ..Sound::default() };
    tape.play_sounds(&[(400, Sound::default()), (100, inverted), (500, Sound::default())]);
    let section = measured(&tape, 0..1_000);
    // (900 · 0.5 − 100)/1000.
    near(section.correlation.unwrap(), 0.35, 1e-6);
    near(section.lowest_correlation.unwrap(), -1.0, 1e-6);
    assert_eq!(section.lowest_correlation_hop, Some(400));
    // Of different size on both sides: L² = 4, R² = 1, LR = 1 gives 1/√4.
    let mut tape = Tape::new();
    tape.play(0..200, |_| Hop {
        left_mean_square: 0.04,
        right_mean_square: 0.01,
        left_right_mean: 0.01,
        ..Sound::default().hop()
    });
    near(measured(&tape, 0..200).correlation.unwrap(), 0.5, 1e-6);
    // One channel silent, or both: no correlation.
    let mut tape = Tape::new();
    tape.play(0..200, |_| Hop {
        right_mean_square: 0.0,
        left_right_mean: 0.0,
        ..Sound::default().hop()
    });
    let section = measured(&tape, 0..200);
    assert_eq!((section.correlation, section.lowest_correlation), (None, None));
    near(section.side_to_mid.unwrap().0, 0.0, 1e-12);
}

#[test]
fn a_gap_is_in_no_window_of_correlation() {
    let mut tape = Tape::new();
    let sound = |hop: i32| Sound { correlation: f64::from(hop) / 1_000.0, ..Sound::default() };
    tape.play(0..150, |hop| sound(hop).hop());
    tape.play(151..1_000, |hop| sound(hop).hop());
    let section = measured(&tape, 140..1_000);
    // Windows of 100 hops from 140 in steps of 10; hop 150 is missing, so the first whole one
    // starts at 160: mean of 160 to 259 is 209.5.
    near(section.lowest_correlation.unwrap(), 0.209_5, 1e-6);
    assert_eq!(section.lowest_correlation_hop, Some(160));
}

#[test]
fn side_to_mid_reads_mono_and_anti_phase_as_what_they_are() {
    let side_to_mid = |correlation: f64| {
        let mut tape = Tape::new();
        tape.play_sounds(&[(100, Sound { correlation, ..Sound::default() })]);
        measured(&tape, 0..100).side_to_mid.map(|side| side.0)
    };
    assert_eq!(side_to_mid(1.0), Some(f64::NEG_INFINITY));
    assert_eq!(side_to_mid(-1.0), Some(f64::INFINITY));
    near(side_to_mid(0.0).unwrap(), 0.0, 1e-6);
    // A side 50 dB below the mid is told from mono: (1 − r)/(1 + r) = 1e-5.
    let correlation = (1.0 - 1e-5) / (1.0 + 1e-5);
    near(side_to_mid(correlation).unwrap(), -50.0, 0.05);
    let mut tape = Tape::new();
    tape.play_sounds(&[(100, Sound { mean_square: 0.0, ..Sound::default() })]);
    assert_eq!(measured(&tape, 0..100).side_to_mid, None);
}

#[test]
fn peaks_clipping_and_coverage_are_those_of_the_section() {
    let mut tape = Tape::new();
    tape.play(0..600, |hop| Hop {
        clipped: u16::from(hop == 420) * 3,
        true_peaks: {
            let mut peaks = Sound::default().hop().true_peaks;
            peaks[1] = if hop == 420 { 1.0 } else { 0.0 };
            peaks
        },
        ..Sound::default().hop()
    });
    tape.play(100..200, |_| Sound::default().hop());
    let section = measured(&tape, 400..800);
    assert_eq!(section.max_true_peak_s(), Some(4.2));
    assert_eq!(section.figures.max_true_peak.map(|peak| peak.0), Some(0.0));
    assert_eq!(section.figures.clipped_samples, 3);
    assert_eq!(section.figures.coverage.share(), 0.5);
    let before = measured(&tape, 50..400);
    assert_eq!(before.figures.clipped_samples, 0);
    assert_eq!((before.oldest_playthrough, before.newest_playthrough), (Some(1), Some(2)));
    // One hop that the second run did not replace at its seam is not what the age is told by.
    let seam = measured(&tape, 99..200);
    assert_eq!((seam.oldest_playthrough, seam.newest_playthrough), (Some(2), Some(2)));
    let none = measured(&tape, 700..800);
    assert_eq!((none.oldest_playthrough, none.figures.coverage.share()), (None, 0.0));
}

#[test]
fn the_sound_of_the_tests_is_what_it_says() {
    // −3.0103 dBTP is 1/√2, and a mean square of 0.01 with r = 0.5 has a mean product of 0.005.
    let hop = Sound { peak_dbtp: -20.0 * SQRT_2.log10(), ..Sound::default() }.hop();
    near(f64::from(hop.true_peaks[0]), 1.0 / SQRT_2, 1e-7);
    assert_eq!(hop.left_right_mean, single(0.005));
    assert_eq!(db_to_amplitude(0.0), 1.0);
}
