//! The direct path against a literal float64 BS.1770-5 and Tech 3341/3342 and a brute-force true
//! peak, on noise and on sound that behaves like songs.
//!
//! Tolerances are the project's: integrated 0.002 LU (at 48 kHz, where the standard prints its
//! filter; at other rates the response may be off by 0.006 dB), LRA 0.02 LU, true peak 0.02 dB
//! below to 0.40 of the rate and 0.05 dB to 0.45, 0.01 dB above. Maximum M and S: within 0.01 LU
//! of windows that slide by one sample, which can only be louder.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::{Rng, pink, song_like, white};
use plimsoll_tests::oracle::{Oracle, sinc, true_peak};

/// Deviation of the K response that is allowed at rates other than 48 kHz, in dB.
const RESPONSE_DB: f64 = 0.006;

fn assert_near(what: &str, ours: Option<f64>, exact: Option<f64>, below: f64, above: f64) {
    match (ours, exact) {
        (Some(ours), Some(exact)) => assert!(
            ours >= exact - below && ours <= exact + above,
            "{what}: {ours}, exact is {exact}, off by {}",
            ours - exact
        ),
        (ours, exact) => assert_eq!(ours.is_some(), exact.is_some(), "{what}: {ours:?}, {exact:?}"),
    }
}

/// Everything but the true peak.
fn check_loudness(name: &str, audio: &Audio) {
    let figures = Direct::measure(audio).analysis().song_figures();
    let oracle = Oracle::new(audio);
    let response = if audio.rate_hz == 48_000 { 0.0 } else { RESPONSE_DB };
    let near = |what: &str, ours, exact, tolerance: f64| {
        assert_near(&format!("{name}: {what}"), ours, exact, tolerance, tolerance);
    };
    let integrated = figures.integrated.map(|v| v.0);
    near("integrated", integrated, oracle.integrated_lufs(), 0.002 + response);
    for (what, ours, sliding) in [
        ("maximum M", figures.max_momentary, oracle.max_momentary_lufs()),
        ("maximum S", figures.max_short_term, oracle.max_short_term_lufs()),
    ] {
        let what = format!("{name}: {what}, sliding by one sample");
        assert_near(&what, ours.map(|v| v.0), sliding, 0.01 + response, 0.001 + response);
    }
    let range = figures.loudness_range.map(|v| v.0);
    near("LRA", range, oracle.loudness_range_lu(), 0.02);
}

fn check_true_peak(name: &str, audio: &Audio, below_db: f64) {
    let figures = Direct::measure(audio).analysis().song_figures();
    let ours = figures.max_true_peak.map(|v| v.0);
    let exact = Some(true_peak::max_dbtp(audio));
    assert_near(&format!("{name}: true peak"), ours, exact, below_db, 0.01);
}

fn stereo(rate_hz: u32, left: Vec<f32>, right: Vec<f32>) -> Audio {
    Audio { rate_hz, channels: vec![left, right] }
}

/// `samples` with nothing above `top` of the rate, and shorter by the taps of the filter.
fn band_limited(samples: &[f32], top: f64) -> Vec<f32> {
    const HALF_TAPS: usize = 128;
    // The Kaiser window with these taps needs 0.03 of the rate for its slope.
    let cutoff = top - 0.016;
    let taps: Vec<f64> = (0..=2 * HALF_TAPS)
        .map(|i| i as f64 - HALF_TAPS as f64)
        .map(|at| sinc::low_pass(at, cutoff) * sinc::kaiser(at / (HALF_TAPS + 1) as f64))
        .collect();
    let samples: Vec<f64> = samples.iter().copied().map(f64::from).collect();
    samples.windows(taps.len()).map(|window| sinc::dot(window, &taps) as f32).collect()
}

#[test]
fn loudness_of_noise_is_exact_at_48_khz() {
    let len = 48_000 * 20;
    check_loudness("white", &stereo(48_000, white(1, len, 0.5), white(2, len, 0.3)));
    check_loudness("pink", &stereo(48_000, pink(3, len, 0.9), pink(4, len, 0.9)));
    check_loudness("mono", &Audio { rate_hz: 48_000, channels: vec![pink(5, len, 0.5)] });
}

#[test]
fn loudness_of_songs_is_exact_at_48_khz() {
    for seed in 1..=4 {
        check_loudness(&format!("song {seed}"), &song_like(seed, 48_000, 90.0));
    }
}

#[test]
fn loudness_of_songs_follows_the_response_at_other_rates() {
    for rate_hz in [44_100, 88_200, 96_000] {
        check_loudness(&format!("song at {rate_hz} Hz"), &song_like(7, rate_hz, 40.0));
    }
}

/// A tone of exactly one window that begins anywhere, as in Tech 3341 cases 10, 11, 13 and 14 but
/// at any offset.
#[test]
fn maxima_of_passages_as_long_as_the_window_are_found_at_any_offset() {
    let mut rng = Rng::new(11);
    for window_s in [0.4_f64, 3.0] {
        for _ in 0..20 {
            let start = rng.between(48_000 * 4, 48_000 * 5);
            let len = (window_s * 48_000.0) as usize;
            let channel: Vec<f32> = (0..48_000 * 10)
                .map(|frame| {
                    let level = if (start..start + len).contains(&frame) { 0.1 } else { 0.0 };
                    let turn = (frame % 48) as f64 / 48.0;
                    (level * (std::f64::consts::TAU * turn).sin()) as f32
                })
                .collect();
            let audio = Audio { rate_hz: 48_000, channels: vec![channel] };
            let figures = Direct::measure(&audio).analysis().song_figures();
            let oracle = Oracle::new(&audio);
            let (ours, exact) = if window_s < 1.0 {
                (figures.max_momentary, oracle.max_momentary_lufs())
            } else {
                (figures.max_short_term, oracle.max_short_term_lufs())
            };
            let what = format!("{window_s} s from frame {start}");
            assert_near(&what, ours.map(|v| v.0), exact, 0.01, 0.001);
        }
    }
}

#[test]
fn true_peak_of_songs_is_exact() {
    for (seed, rate_hz) in [(1, 44_100), (2, 48_000), (3, 48_000), (4, 96_000), (5, 192_000)] {
        let len_s = if rate_hz > 48_000 { 10.0 } else { 30.0 };
        let mut audio = song_like(seed, rate_hz, len_s);
        for channel in &mut audio.channels {
            *channel = band_limited(channel, 0.45);
        }
        check_true_peak(&format!("song {seed} at {rate_hz} Hz"), &audio, 0.05);
    }
}

#[test]
fn true_peak_of_noise_is_exact_to_the_band_edges_that_are_asked_for() {
    for seed in 0..10 {
        let noise = [white(seed, 100_000, 0.5), white(seed + 50, 100_000, 0.5)];
        for (top, below_db) in [(0.40, 0.02), (0.45, 0.05)] {
            let [left, right] = [&noise[0], &noise[1]].map(|noise| band_limited(noise, top));
            let audio = stereo(48_000, left, right);
            check_true_peak(&format!("noise to {top} fs, {seed}"), &audio, below_db);
        }
    }
}

/// Files that begin or end on a crest: what lies between the last sample and silence counts.
#[test]
fn true_peak_counts_the_edges_of_a_file() {
    for (name, samples) in [
        ("one sample", vec![0.5]),
        ("two samples", vec![0.5, 0.5]),
        ("a step at the end", [vec![0.0; 5000], vec![0.5, -0.5, -0.5, 0.5]].concat()),
        ("a step at the start", [vec![0.5, -0.5, -0.5, 0.5], vec![0.0; 5000]].concat()),
    ] {
        let audio = Audio { rate_hz: 48_000, channels: vec![samples] };
        let ours = Direct::measure(&audio).analysis().song_figures().max_true_peak.unwrap().0;
        let exact = true_peak::max_dbtp(&audio);
        // A step holds all frequencies up to 0.5 of the rate, for which no tolerance is given;
        // the meter must see the crest beyond the last sample at all.
        let on_samples = -6.0206;
        assert!(exact <= on_samples + 0.001 || ours > on_samples + 0.5, "{name}: {ours}, {exact}");
        assert!((ours - exact).abs() < 0.5, "{name}: {ours}, exact is {exact}");
    }
}
