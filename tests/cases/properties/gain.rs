//! A gain moves every level by itself and nothing else. Powers of two are exact in binary, so
//! they must be so to the last bit; of other gains every sample is rounded, and the bound is what
//! that can do.
//!
//! The gates are no part of this: a block that is above −70 LUFS at one gain and below at another
//! counts once and then not, so the integrated loudness of a song with such blocks moves by
//! something else, rightly. These songs have no block near a gate at any of the gains, and the
//! test makes sure of that. Clipped samples are counted at a level and are left out.

use super::memory::largest_error;
use plimsoll::loudness::{Analysis, Figures};
use plimsoll::record::Hop;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::{Rng, even_song, pink, white};

/// Unit roundoff of single precision: a sample times a gain is off by so much of itself.
const ROUNDOFF: f64 = 1.0 / (1 << 24) as f64;

const LEN_S: f64 = 12.0;
const LEN_HOPS: i32 = 1_200;

fn songs() -> Vec<Audio> {
    let noise = |rate_hz: u32, noise: fn(u64, usize, f64) -> Vec<f32>| {
        let len_frames = (LEN_S * f64::from(rate_hz)) as usize;
        Audio { rate_hz, channels: vec![noise(1, len_frames, 0.5), noise(2, len_frames, 0.9)] }
    };
    vec![
        even_song(71, 48_000, LEN_S),
        even_song(72, 44_100, LEN_S),
        noise(48_000, white),
        noise(96_000, pink),
    ]
}

fn hops(direct: &Direct) -> Vec<Hop> {
    (0..LEN_HOPS).map(|index| direct.sources().song.hop(index).unwrap()).collect()
}

/// The momentary and short-term loudness of every window, LUFS.
fn windows(analysis: &Analysis) -> [Vec<f64>; 2] {
    let of = |read: fn(&Analysis, i32) -> Option<plimsoll::units::Lufs>| {
        (0..LEN_HOPS).filter_map(|hop| read(analysis, hop)).map(|lufs| lufs.0).collect()
    };
    [of(Analysis::momentary), of(Analysis::short_term)]
}

/// No window comes so near to a gate that `margin_lu` could tip it over.
fn assert_no_gate_is_near(analysis: &mut Analysis, margin_lu: f64) {
    let integrated = analysis.song_figures().integrated.unwrap().0;
    let [momentary, short_term] = windows(analysis);
    let is_far = |lufs: f64, gate: f64| (lufs - gate).abs() > margin_lu;
    // Ungated and gated loudness are the same where nothing is gated out; the relative gates are
    // 10 and 20 LU below the former.
    for lufs in momentary {
        assert!(lufs > -70.0 + margin_lu && lufs > integrated - 10.0 + margin_lu, "{lufs}");
    }
    assert!(short_term.iter().all(|&lufs| is_far(lufs, -70.0) && lufs > integrated - 20.0));
}

/// Every level of the figures, in dB.
fn levels_db(figures: &Figures) -> [f64; 5] {
    [
        figures.integrated.unwrap().0,
        figures.max_momentary.unwrap().0,
        figures.max_short_term.unwrap().0,
        figures.max_true_peak.unwrap().0,
        figures.sample_peak.unwrap().0,
    ]
}

#[test]
fn powers_of_two_move_everything_to_the_last_bit() {
    for song in songs() {
        let plain = Direct::measure(&song);
        let plain_hops = hops(&plain);
        assert_no_gate_is_near(&mut plain.analysis(), 1e-6);
        let plain_figures = plain.analysis().song_figures();
        for power in [-6, -3, -1, 1, 2] {
            let gain = 2.0_f32.powi(power);
            let scaled = Direct::measure(&song.with_gain(0..song.len_frames(), gain));
            for (index, (plain, scaled)) in plain_hops.iter().zip(hops(&scaled)).enumerate() {
                let squared = gain * gain;
                let expected = Hop {
                    energy: plain.energy * squared,
                    sample_peaks: plain.sample_peaks.map(|peak| peak * gain),
                    true_peaks: plain.true_peaks.map(|peak| peak * gain),
                    left_mean_square: plain.left_mean_square * squared,
                    right_mean_square: plain.right_mean_square * squared,
                    left_right_mean: plain.left_right_mean * squared,
                    clipped: scaled.clipped,
                    ..*plain
                };
                assert_eq!(scaled, expected, "2^{power}, hop {index}");
            }
            assert_no_gate_is_near(&mut scaled.analysis(), 1e-6);
            let figures = scaled.analysis().song_figures();
            assert_eq!(figures.loudness_range, plain_figures.loudness_range);
            let shift_db = 20.0 * f64::from(gain).log10();
            for (scaled, plain) in levels_db(&figures).iter().zip(levels_db(&plain_figures)) {
                // A logarithm in double precision.
                assert!((scaled - plain - shift_db).abs() < 1e-12, "2^{power}: {scaled}, {plain}");
            }
        }
    }
}

/// Largest magnitude that the interpolator may make of a full-scale signal: the sum of the
/// magnitudes of any of its rows of taps, of a sinc of 64 zero crossings at most, rounded up.
const LARGEST_OVERSHOOT: f64 = 4.0;
/// Sums of as many products in single precision, at most.
const LARGEST_SUM: f64 = 128.0;

#[test]
fn any_gain_moves_everything_by_itself_as_far_as_samples_are_exact() {
    let mut rng = Rng::new(73);
    for song in songs() {
        let plain = Direct::measure(&song);
        let plain_hops = hops(&plain);
        let plain_figures = plain.analysis().song_figures();
        for _ in 0..4 {
            // −24 to +6 dB.
            let gain = 10.0_f32.powf((-24.0 + 30.0 * rng.unit() as f32) / 20.0);
            let scaled = Direct::measure(&song.with_gain(0..song.len_frames(), gain));
            let gain = f64::from(gain);
            let relative =
                |found: f32, plain: f32| f64::from(found) / (gain * f64::from(plain)) - 1.0;
            // What one rounding of every sample, at most 1, can do to √E of two channels: √E is a
            // norm. And E is stored in single precision, twice.
            let noise = 2.0_f64.sqrt() * ROUNDOFF * gain * largest_error(0.0);
            let mut largest = 0.0_f64;
            for (index, (plain, scaled)) in plain_hops.iter().zip(hops(&scaled)).enumerate() {
                let what = format!("gain {gain}, hop {index}");
                let [exact, found] = [plain, &scaled].map(|hop| f64::from(hop.energy).sqrt());
                let error = (found - gain * exact).abs();
                assert!(error <= noise + 2.0 * ROUNDOFF * gain * exact, "{what}: {error}");
                largest = largest.max(noise / (gain * exact) + 2.0 * ROUNDOFF);
                for channel in 0..2 {
                    let [found, plain] = [&scaled, plain].map(|hop| hop.sample_peaks[channel]);
                    assert!(relative(found, plain).abs() <= ROUNDOFF, "{what}");
                }
                for channel in 0..2 {
                    let [found, plain] = [&scaled, plain].map(|hop| hop.true_peaks[channel]);
                    let bound = 2.0 * LARGEST_SUM * ROUNDOFF * LARGEST_OVERSHOOT;
                    assert!(relative(found, plain).abs() <= bound, "{what}");
                }
            }
            // The same norm, over windows.
            let bound_db = 20.0 * (1.0 + largest).log10();
            assert!(bound_db < 1e-3, "{bound_db}: the song is too quiet to tell anything");
            assert_no_gate_is_near(&mut plain.analysis(), bound_db);
            let figures = scaled.analysis().song_figures();
            let range_lu = |figures: &Figures| figures.loudness_range.unwrap().0;
            assert!((range_lu(&figures) - range_lu(&plain_figures)).abs() <= 2.0 * bound_db);
            let shift_db = 20.0 * gain.log10();
            for (scaled, plain) in levels_db(&figures)[..3].iter().zip(levels_db(&plain_figures)) {
                // The rise of M within hops is kept in steps of 1e-4 dB.
                let error_db = (scaled - plain - shift_db).abs();
                assert!(error_db <= bound_db + 1e-4, "gain {gain}: {error_db}");
            }
        }
    }
}
