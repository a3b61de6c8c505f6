//! The true-peak cases 15 to 23 of Tech 3341.

use super::{Expected, Figure, Part};
use crate::audio_file::Audio;
use crate::oracle::sinc;
use std::f64::consts::TAU;

/// Length of the sounds ("any length"; our choice), in s.
const LEN_S: f64 = 0.5;
/// Fade at either end (Table 1: 10 ms in cases 15 to 19, "short" in 20 to 23), in s.
const FADE_S: f64 = 0.010;
/// Tolerance (Table 1), in dB.
const ABOVE_DB: f64 = 0.2;
const BELOW_DB: f64 = 0.4;
/// Ratio of the rate at which cases 20 to 23 are synthesised.
const RATIO: usize = 4;
/// Cut-off of the anti-alias filter in parts of the final rate. Which filter the EBU used is not
/// stated; the filter is our own.
const CUTOFF: f64 = 0.45;
/// Taps of the anti-alias filter to either side of its centre, at the fourfold rate.
const HALF_TAPS: usize = 512;

pub(super) fn part(number: u8, rate_hz: u32) -> Part {
    let (channel, value) = match number {
        15 => (steady(rate_hz, 4, 0.50, 0.0), -6.0),
        16 => (steady(rate_hz, 4, 0.50, 45.0), -6.0),
        17 => (steady(rate_hz, 6, 0.50, 60.0), -6.0),
        18 => (steady(rate_hz, 8, 0.50, 67.5), -6.0),
        19 => (steady(rate_hz, 4, 1.41, 45.0), 3.0),
        _ => (crest(rate_hz, usize::from(number - 20)), 0.0),
    };
    let expected = vec![Expected {
        figure: Figure::MaxTruePeakDbtp,
        value,
        below: BELOW_DB,
        above: ABOVE_DB,
        from_frame: 0,
        until_frame: channel.len(),
    }];
    Part { audio: Audio { rate_hz, channels: vec![channel.clone(), channel] }, expected }
}

/// A sine of `rate / divisor` Hz with `phase_degrees` at frame 0.
fn steady(rate_hz: u32, divisor: usize, amplitude: f64, phase_degrees: f64) -> Vec<f32> {
    let len_frames = (LEN_S * f64::from(rate_hz)).round() as usize;
    let fade_frames = FADE_S * f64::from(rate_hz);
    (0..len_frames)
        .map(|frame| {
            let turn = (frame % divisor) as f64 / divisor as f64 + phase_degrees / 360.0;
            let gain = fade(frame, len_frames, fade_frames);
            (amplitude * gain * (TAU * turn).sin()) as f32
        })
        .collect()
}

/// fs/6 at 0.50 with one period of fs/4 at 1.00 in its middle, the phase running on at both
/// joints (zero crossings), made at four times the rate, low-passed, and every fourth sample
/// taken from sample `offset` on.
fn crest(rate_hz: u32, offset: usize) -> Vec<f32> {
    let len_frames = (LEN_S * f64::from(rate_hz)).round() as usize;
    let (long, short) = (6 * RATIO, 4 * RATIO);
    let joint = len_frames * RATIO / 2 / long * long;
    let fade_frames = FADE_S * f64::from(rate_hz) * RATIO as f64;
    let fine: Vec<f64> = (0..len_frames * RATIO)
        .map(|k| {
            let value = if (joint..joint + short).contains(&k) {
                (TAU * (k - joint) as f64 / short as f64).sin()
            } else {
                let k = if k < joint { k } else { k - joint - short };
                0.5 * (TAU * (k % long) as f64 / long as f64).sin()
            };
            value * fade(k, len_frames * RATIO, fade_frames)
        })
        .collect();
    // The kernel has unit gain at 0 Hz: its taps at the fourfold rate sum to 1.
    let taps: Vec<f64> = (0..=2 * HALF_TAPS)
        .map(|i| {
            let distance = (i as f64 - HALF_TAPS as f64) / RATIO as f64;
            let window = sinc::kaiser(distance / (HALF_TAPS as f64 / RATIO as f64));
            window * sinc::low_pass(distance, CUTOFF) / RATIO as f64
        })
        .collect();
    (0..len_frames)
        .map(|frame| {
            let centre = frame * RATIO + offset;
            let sum: f64 = taps
                .iter()
                .enumerate()
                .filter_map(|(i, tap)| {
                    let at = (centre + i).checked_sub(HALF_TAPS)?;
                    Some(tap * fine.get(at)?)
                })
                .sum();
            sum as f32
        })
        .collect()
}

/// Raised-cosine fade at both ends of `len` samples.
fn fade(at: usize, len: usize, fade_len: f64) -> f64 {
    let from_edge = at.min(len - 1 - at) as f64;
    if from_edge >= fade_len {
        1.0
    } else {
        0.5 - 0.5 * (std::f64::consts::PI * from_edge / fade_len).cos()
    }
}
