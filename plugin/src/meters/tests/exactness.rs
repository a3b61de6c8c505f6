//! True peak against waveforms whose peak is known. EBU Tech 3341, Table 1, allows 0.2 dB over and
//! 0.4 dB under; here 0.02 dB under to 0.40 fs, 0.05 dB to 0.45 fs, and never more than 0.01 dB
//! over.

use super::*;
use std::f64::consts::PI;

/// Frequencies as shares of the sampling rate: also those that meet the grid at few phases.
const SHARES: [f64; 24] = [
    0.01, 0.05, 0.1, 0.123, 0.125, 0.15, 0.1667, 0.2, 0.21, 0.25, 0.273, 0.3, 0.325, 0.3333, 0.35,
    0.36, 0.375, 0.39, 0.4, 0.41, 0.42, 0.425, 0.4375, 0.45,
];

fn largest_under_read_db(share: f64) -> f64 {
    if share <= 0.4 { 0.02 } else { 0.05 }
}

/// Largest over-read, dB.
const OVER_READ_DB: f64 = 0.01;

fn error_db(meters: &mut Meters, samples: &[f32]) -> f64 {
    20.0 * f64::from(true_peak(meters, samples)).log10()
}

fn assert_within(share: f64, error_db: f64, what: &str) {
    assert!(error_db <= OVER_READ_DB, "{what} at {share} fs reads {error_db} dB over");
    let under_db = -error_db;
    assert!(
        under_db <= largest_under_read_db(share),
        "{what} at {share} fs reads {under_db} dB under"
    );
}

/// A tone of amplitude 1 between raised-cosine fades; `turns` is its phase in turns.
fn steady(share: f64, turns: f64) -> Vec<f32> {
    const LEN: u32 = 640;
    const FADE: f64 = 120.0;
    (0..LEN)
        .map(|n| {
            let n = f64::from(n);
            let from_edge = n.min(f64::from(LEN - 1) - n).min(FADE);
            let fade = (PI / 2.0 * from_edge / FADE).sin().powi(2);
            (fade * (2.0 * PI * (share * n + turns)).cos()) as f32
        })
        .collect()
}

/// A Gaussian-windowed crest of peak exactly 1 at 100 + `offset` frames.
fn crest(share: f64, sigma_frames: f64, offset: f64) -> Vec<f32> {
    (0..200)
        .map(|n| {
            let t = f64::from(n) - 100.0 - offset;
            let window = (-t * t / (2.0 * sigma_frames * sigma_frames)).exp();
            (window * (2.0 * PI * share * t).cos()) as f32
        })
        .collect()
}

#[test]
fn steady_tones_read_their_amplitude_at_every_phase() {
    for mut meters in both(48_000, Layout::Mono) {
        for share in SHARES {
            for phase in 0..16 {
                let samples = steady(share, f64::from(phase) / 16.0);
                assert_within(share, error_db(&mut meters, &samples), "a tone");
            }
        }
    }
}

#[test]
fn short_crests_read_their_peak_at_every_place_between_samples() {
    for mut meters in both(48_000, Layout::Mono) {
        for share in SHARES {
            let sigma_frames = if share <= 0.4 { 8.0 } else { 16.0 };
            for place in 0..32 {
                let samples = crest(share, sigma_frames, f64::from(place) / 32.0);
                assert_within(share, error_db(&mut meters, &samples), "a crest");
            }
        }
    }
}

#[test]
fn tones_up_to_half_the_rate_are_never_over_read() {
    let mut meters = Meters::new(rate(48_000), Layout::Mono);
    for share in [0.46, 0.465, 0.47, 0.475, 0.48, 0.485, 0.49, 0.495] {
        for phase in 0..16 {
            let error_db = error_db(&mut meters, &steady(share, f64::from(phase) / 16.0));
            assert!(error_db <= OVER_READ_DB, "{share} fs: {error_db} dB over");
        }
    }
}

#[test]
fn slow_waves_are_not_over_read() {
    // About the top of a slow wave neighbours on the grid differ in their last digits only, where a
    // parabola through rounded values can have its vertex anywhere.
    for hz in [48_000, 192_000] {
        for frequency_hz in [1.0, 5.0, 10.0, 20.0, 25.0, 40.0, 80.0, 150.0, 300.0] {
            for mut meters in both(hz, Layout::Mono) {
                for effort in [Effort::Even, Effort::Least] {
                    meters = meters.with_effort(effort);
                    for round in 0..8 {
                        let round = f64::from(round);
                        let amplitude = 0.3 + 0.077 * round;
                        let step = 2.0 * PI * frequency_hz / f64::from(hz);
                        let samples: Vec<f32> = (0..hz / 2)
                            .map(|n| (amplitude * (step * f64::from(n) + round).sin()) as f32)
                            .collect();
                        meters.start(Edge::Unknown);
                        meters.process(&[&samples]);
                        let over_db =
                            20.0 * (f64::from(meters.take_true_peaks()[0]) / amplitude).log10();
                        assert!(
                            over_db <= OVER_READ_DB,
                            "{frequency_hz} Hz of {amplitude} at {hz} Hz: {over_db} dB over"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn true_peak_is_as_exact_at_every_rate() {
    // The grid is 8 times the rate whatever the rate is, so a signal that is the same in frames
    // must read the same to the last bit.
    let mut at_48_khz = Meters::new(rate(48_000), Layout::Mono);
    for hz in RATES_HZ {
        let mut meters = Meters::new(rate(hz), Layout::Mono);
        for share in [0.1, 0.25, 0.4, 0.45] {
            let samples = crest(share, 16.0, 0.4);
            let peak = true_peak(&mut meters, &samples);
            assert_eq!(peak, true_peak(&mut at_48_khz, &samples), "{hz} Hz");
            assert_within(share, 20.0 * f64::from(peak).log10(), "a crest");
        }
    }
}

#[test]
fn a_constant_reads_as_itself() {
    // DC must stay in (BS.1770-5, Annex 2, Attachment 1). Between silences its edges ring, in mid
    // song they do not.
    let mut meters = Meters::new(rate(48_000), Layout::Mono);
    meters.start(Edge::Unknown);
    meters.process(&[&[0.5; 1_000]]);
    meters.finish(Edge::Unknown, meters.latency_frames());
    let peak = meters.take_true_peaks()[0];
    assert!((0.5..=0.5 * 1.000_01).contains(&peak), "{peak}");
}
