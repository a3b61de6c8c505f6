use super::*;
use crate::noise::white;
use crate::signals::{tech_3341, tech_3342};

fn oracle(case: crate::signals::Case) -> Oracle {
    Oracle::new(&case.parts(48_000)[0].audio)
}

/// STANDARDS §6.1: readings of the cases at 48 kHz by another program, given to four decimals.
#[test]
fn exact_readings_of_the_loudness_cases_at_48_khz() {
    for (number, lufs) in
        [(1, -22.9933), (2, -32.9933), (3, -23.0139), (4, -23.0139), (5, -22.9787), (6, -23.0163)]
    {
        let reading = oracle(tech_3341(number)).integrated_lufs().unwrap();
        assert!((reading - lufs).abs() < 1e-4, "case {number}: {reading}");
    }
}

#[test]
fn exact_readings_of_the_constant_cases_at_48_khz() {
    // Given as "constant to 1e-3": −22.986 for S in case 9, −22.960 for M in case 12.
    let nine = oracle(tech_3341(9));
    for reading in nine.short_term_lufs(4 * 48_000..15 * 48_000) {
        assert!((reading - -22.986).abs() < 1.5e-3, "{reading}");
    }
    let twelve = oracle(tech_3341(12));
    for reading in twelve.momentary_lufs(48_000..10 * 48_000) {
        assert!((reading - -22.960).abs() < 1.5e-3, "{reading}");
    }
}

#[test]
fn exact_loudness_ranges_at_48_khz() {
    for (number, lu) in [(1, 10.0), (2, 5.0), (3, 20.0), (4, 15.0)] {
        let reading = oracle(tech_3342(number)).loudness_range_lu().unwrap();
        assert!((reading - lu).abs() < 0.005, "case {number}: {reading}");
    }
}

#[test]
fn every_loudness_case_reads_within_the_standard_at_every_rate() {
    use crate::signals::Figure::*;
    for rate_hz in [44_100, 48_000] {
        for case in crate::signals::cases() {
            for (index, part) in case.parts(rate_hz).into_iter().enumerate() {
                let oracle = Oracle::new(&part.audio);
                for expected in &part.expected {
                    let ends = expected.from_frame..expected.until_frame;
                    let readings: Vec<f64> = match expected.figure {
                        IntegratedLufs => oracle.integrated_lufs().into_iter().collect(),
                        MomentaryLufs => oracle.momentary_lufs(ends).collect(),
                        ShortTermLufs => oracle.short_term_lufs(ends).collect(),
                        MaxMomentaryLufs => {
                            oracle.momentary_lufs(ends).reduce(f64::max).into_iter().collect()
                        }
                        MaxShortTermLufs => {
                            oracle.short_term_lufs(ends).reduce(f64::max).into_iter().collect()
                        }
                        LoudnessRangeLu => oracle.loudness_range_lu().into_iter().collect(),
                        MaxTruePeakDbtp => vec![true_peak::dbtp(&part.audio.channels[0])],
                    };
                    assert!(!readings.is_empty());
                    for reading in readings {
                        assert!(
                            expected.admits(reading),
                            "{case} at {rate_hz} Hz, part {index}: {reading}, not {expected:?}"
                        );
                    }
                }
            }
        }
    }
}

/// BS.1770-5 Annex 1: a 997 Hz sine of 0 dBFS in one front channel reads −3.01 LKFS.
#[test]
fn the_calibration_tone_reads_minus_3_01() {
    let channel: Vec<f32> = (0..48_000 * 5)
        .map(|k| (std::f64::consts::TAU * 997.0 * f64::from(k) / 48_000.0).sin() as f32)
        .collect();
    let silent = vec![0.0; channel.len()];
    let reading = Oracle::new(&Audio { rate_hz: 48_000, channels: vec![channel, silent] })
        .integrated_lufs()
        .unwrap();
    assert!((reading - -3.0103).abs() < 2e-4, "{reading}");
}

#[test]
fn a_block_exactly_on_the_gate_is_dropped_by_bs_1770_and_kept_by_tech_3342() {
    // The mean square whose loudness computes to −70 exactly, found by stepping single bits.
    let mut energy = 10.0_f64.powf((-70.0 + 0.691) / 10.0);
    while loudness_lufs(energy) < -70.0 {
        energy = energy.next_up();
    }
    while loudness_lufs(energy) > -70.0 {
        energy = energy.next_down();
    }
    assert_eq!(loudness_lufs(energy), -70.0);
    assert_eq!(gated_mean(&[energy; 5]), None);
    assert_eq!(range_lu(&[energy; 5]), Some(0.0));
}

#[test]
fn the_relative_gate_drops_what_lies_more_than_10_lu_below() {
    // One block at 1, nine at 0.01: their mean is 0.109, the gate 0.0109: the nine go.
    let mut blocks = vec![0.01; 9];
    blocks.push(1.0);
    assert_eq!(gated_mean(&blocks), Some(1.0));
    // At 0.02 the mean is 0.118, the gate 0.0118: all stay.
    let mut blocks = vec![0.02; 9];
    blocks.push(1.0);
    assert!((gated_mean(&blocks).unwrap() - 0.118).abs() < 1e-12);
}

#[test]
fn ranks_are_the_nearest_and_not_interpolated() {
    // 21 values 1 LU apart: ranks round(20·0.10 + 1) = 3 and round(20·0.95 + 1) = 20.
    let values: Vec<f64> = (0..21).map(|i| 10.0_f64.powf(-f64::from(i) / 10.0)).collect();
    // −20 LU below the mean (about 4.9 LU below the top) keeps all.
    assert!((range_lu(&values).unwrap() - 17.0).abs() < 1e-9);
}

#[test]
fn sums_are_good_to_a_millionth_of_a_decibel_after_a_loud_minute() {
    // A loud minute, then a quiet second, against the quiet second summed alone.
    let mut channel = white(1, 48_000 * 60, 1.0);
    let quiet: Vec<f32> = white(2, 48_000, 1e-4);
    channel.extend(vec![0.0; 48_000]);
    channel.extend(&quiet);
    let whole = Oracle::new(&Audio { rate_hz: 48_000, channels: vec![channel] });
    let mut alone = vec![0.0; 48_000];
    alone.extend(&quiet);
    let alone = Oracle::new(&Audio { rate_hz: 48_000, channels: vec![alone] });
    let last = |oracle: &Oracle| oracle.momentary_lufs(0..usize::MAX).last().unwrap();
    assert!((last(&whole) - last(&alone)).abs() < 1e-6, "{} {}", last(&whole), last(&alone));
}
