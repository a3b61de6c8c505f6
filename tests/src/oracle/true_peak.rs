//! True peak by brute force (ITU-R BS.1770-5 Annex 2, with a finer and longer filter than the
//! example there, as recommends 5 allows).
//!
//! The sound is taken as silent before its first and after its last sample. It is interpolated
//! 64 times with a windowed sinc of 256 taps, flat to 0.48 of the rate: what is left of the
//! grid error at 0.5 of the rate is 20·log10 cos(π·0.5/64) = −0.0026 dB (Attachment 1).

use super::sinc;

/// Taps to either side of the interpolated place.
const HALF_TAPS: usize = 128;
/// Fineness of the search.
const FINE: usize = 64;
/// Fineness of the first pass.
const COARSE: usize = 4;
/// What the first pass can miss at most: 20·log10 cos(π·0.5/4) = −0.688 dB (Attachment 1), and
/// a little more.
const COARSE_MISS_DB: f64 = 0.75;

/// Taps for the place `phase / phases` after a sample.
fn taps(phase: usize, phases: usize) -> Vec<f64> {
    let fraction = phase as f64 / phases as f64;
    (0..2 * HALF_TAPS)
        .map(|i| {
            // Tap i weighs the sample that lies i − HALF_TAPS + 1 from the one before the place.
            let distance = i as f64 - (HALF_TAPS - 1) as f64 - fraction;
            sinc::low_pass(distance, 0.5) * sinc::kaiser(distance / HALF_TAPS as f64)
        })
        .collect()
}

/// `samples` between silences, so that every place has all its taps.
fn padded(samples: &[f32]) -> Vec<f64> {
    let mut padded = vec![0.0; 2 * HALF_TAPS];
    padded.extend(samples.iter().map(|&sample| f64::from(sample)));
    padded.resize(padded.len() + 2 * HALF_TAPS, 0.0);
    padded
}

/// Greatest amplitude of one channel between and on its samples, linear; 0 for silence.
#[must_use]
pub fn amplitude(samples: &[f32]) -> f64 {
    let padded = padded(samples);
    let windows = || padded.windows(2 * HALF_TAPS);
    // First pass over all places, to know where it is worth to look closely.
    let coarse: Vec<Vec<f64>> = (1..COARSE).map(|phase| taps(phase, COARSE)).collect();
    let around: Vec<f64> = windows()
        .map(|window| {
            let on_sample = window[HALF_TAPS - 1].abs().max(window[HALF_TAPS].abs());
            coarse.iter().map(|taps| sinc::dot(window, taps).abs()).fold(on_sample, f64::max)
        })
        .collect();
    let mut peak = around.iter().copied().fold(0.0, f64::max);
    let worth = peak * 10.0_f64.powf(-COARSE_MISS_DB / 20.0);
    let fine: Vec<Vec<f64>> = (1..FINE).map(|phase| taps(phase, FINE)).collect();
    for (window, &seen) in windows().zip(&around) {
        if seen >= worth && seen > 0.0 {
            for taps in &fine {
                peak = peak.max(sinc::dot(window, taps).abs());
            }
        }
    }
    peak
}

/// The true peak of one channel, in dBTP; −∞ for silence.
#[must_use]
pub fn dbtp(samples: &[f32]) -> f64 {
    20.0 * amplitude(samples).log10()
}

/// The greatest true peak of all channels, in dBTP.
#[must_use]
pub fn max_dbtp(audio: &crate::audio_file::Audio) -> f64 {
    audio.channels.iter().map(|channel| dbtp(channel)).fold(f64::NEG_INFINITY, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_steady_tone_reads_its_amplitude_at_every_phase() {
        for frequency in [0.05, 0.1, 0.25, 0.35, 0.40, 0.45] {
            for phase in 0..16 {
                let samples: Vec<f32> = (0..2000)
                    .map(|k| {
                        let fade = (1.0 - (f64::from(k) / 1000.0 - 1.0).abs()).min(0.5) * 2.0;
                        let fade = 0.5 - 0.5 * (fade * std::f64::consts::PI).cos();
                        (fade * (TAU * (frequency * f64::from(k) + f64::from(phase) / 64.0)).sin())
                            as f32
                    })
                    .collect();
                let error_db = dbtp(&samples);
                assert!(error_db.abs() < 0.003, "{frequency} fs, phase {phase}: {error_db} dB");
            }
        }
    }

    #[test]
    fn the_bound_of_attachment_1_holds_for_the_first_pass() {
        let miss_db = 20.0 * (std::f64::consts::PI * 0.5 / COARSE as f64).cos().log10();
        assert!(-miss_db < COARSE_MISS_DB);
    }

    #[test]
    fn the_first_and_the_last_sample_count() {
        // One sample of 1.0 alone is the sinc itself: its peak is 1.0, wherever it lies.
        assert_eq!(amplitude(&[1.0]), 1.0);
        // Two equal samples: between them lies 2·sinc(1/2) = 4/π.
        let between = 4.0 / std::f64::consts::PI;
        assert!((amplitude(&[1.0, 1.0]) - between).abs() < 2e-3);
    }

    #[test]
    fn silence_is_minus_infinity() {
        assert_eq!(dbtp(&[0.0; 100]), f64::NEG_INFINITY);
    }
}
