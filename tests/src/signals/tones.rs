//! The loudness cases: runs of a 1000 Hz sine at prescribed levels.

use super::{Expected, Figure, Part};
use crate::audio_file::Audio;
use Figure::{
    IntegratedLufs, LoudnessRangeLu, MaxMomentaryLufs, MaxShortTermLufs, MomentaryLufs,
    ShortTermLufs,
};

/// Frequency of all loudness cases (Tech 3341 Table 1; Tech 3342 §4).
const TONE_HZ: f64 = 1000.0;
/// Tolerance of I, M and S (Tech 3341 Table 1), in LU.
const LOUDNESS_TOLERANCE_LU: f64 = 0.1;
/// Tolerance of the loudness range (Tech 3342 §4), in LU.
const RANGE_TOLERANCE_LU: f64 = 1.0;
/// The momentary window (Tech 3341 §2.2), in s.
const MOMENTARY_S: f64 = 0.4;
/// The short-term window (Tech 3341 §2.2), in s.
const SHORT_TERM_S: f64 = 3.0;

/// A stretch of the tone: seconds, and the peak level of each channel in dBFS (−∞: silence).
type Stretch = (f64, f64);
const SILENCE: f64 = f64::NEG_INFINITY;

/// Cases 1 to 6 and 9 to 14 of Tech 3341.
pub(super) fn meter_parts(number: u8, rate_hz: u32) -> Vec<Part> {
    let one = |stretches: &[Stretch], expected: &[(Figure, f64, f64)]| {
        let audio = stereo(rate_hz, stretches);
        let expected = expected
            .iter()
            .map(|&(figure, value, from_s)| Expected {
                from_frame: frames(rate_hz, from_s),
                ..loudness(figure, value, audio.len_frames())
            })
            .collect();
        vec![Part { audio, expected }]
    };
    match number {
        1 | 2 => {
            let level = if number == 1 { -23.0 } else { -33.0 };
            one(
                &[(20.0, level)],
                &[
                    (IntegratedLufs, level, 0.0),
                    (MomentaryLufs, level, MOMENTARY_S),
                    (ShortTermLufs, level, SHORT_TERM_S),
                ],
            )
        }
        3 => one(&[(10.0, -36.0), (60.0, -23.0), (10.0, -36.0)], &[(IntegratedLufs, -23.0, 0.0)]),
        4 => one(
            &[(10.0, -72.0), (10.0, -36.0), (60.0, -23.0), (10.0, -36.0), (10.0, -72.0)],
            &[(IntegratedLufs, -23.0, 0.0)],
        ),
        5 => one(&[(20.0, -26.0), (20.1, -20.0), (20.0, -26.0)], &[(IntegratedLufs, -23.0, 0.0)]),
        6 => {
            let tone = |level_dbfs| stretches_of_tone(rate_hz, &[(20.0, level_dbfs)]);
            let audio =
                Audio { rate_hz, channels: [-28.0, -28.0, -24.0, -30.0, -30.0].map(tone).to_vec() };
            let expected = vec![loudness(IntegratedLufs, -23.0, audio.len_frames())];
            vec![Part { audio, expected }]
        }
        9 => one(&[(1.34, -20.0), (1.66, -30.0)].repeat(5), &[(ShortTermLufs, -23.0, 3.0)]),
        12 => one(&[(0.18, -20.0), (0.22, -30.0)].repeat(25), &[(MomentaryLufs, -23.0, 1.0)]),
        10 => apart(rate_hz, MaxShortTermLufs, 0.15, 3.0),
        13 => apart(rate_hz, MaxMomentaryLufs, 0.02, 0.4),
        11 => vec![rising(rate_hz, MaxShortTermLufs, 0.15, 3.0)],
        14 => vec![rising(rate_hz, MaxMomentaryLufs, 0.02, 0.4)],
        _ => Vec::new(),
    }
}

/// Cases 10 and 13: twenty separate sounds, the tone later by `step_s` in each.
fn apart(rate_hz: u32, figure: Figure, step_s: f64, tone_s: f64) -> Vec<Part> {
    (0..20)
        .map(|i| {
            let lead_s = f64::from(i) * step_s;
            let audio = stereo(rate_hz, &[(lead_s, SILENCE), (tone_s, -23.0), (1.0, SILENCE)]);
            let expected = vec![loudness(figure, -23.0, audio.len_frames())];
            Part { audio, expected }
        })
        .collect()
}

/// Cases 11 and 14: one run in which the tone rises by 1 dB in each of twenty segments; the
/// maximum at the end of each segment is that segment's level.
fn rising(rate_hz: u32, figure: Figure, step_s: f64, tone_s: f64) -> Part {
    let mut stretches = Vec::new();
    let mut ends_s = Vec::new();
    let mut end_s = 0.0;
    for i in 0..20 {
        let lead_s = f64::from(i) * step_s;
        stretches.extend([
            (lead_s, SILENCE),
            (tone_s, -38.0 + f64::from(i)),
            (tone_s - lead_s, SILENCE),
        ]);
        end_s += 2.0 * tone_s;
        ends_s.push(end_s);
    }
    let expected = ends_s
        .into_iter()
        .enumerate()
        .map(|(i, end_s)| loudness(figure, -38.0 + i as f64, frames(rate_hz, end_s)))
        .collect();
    Part { audio: stereo(rate_hz, &stretches), expected }
}

/// Cases 1 to 4 of Tech 3342.
pub(super) fn range_part(number: u8, rate_hz: u32) -> Part {
    let (levels_dbfs, range_lu): (&[f64], f64) = match number {
        1 => (&[-20.0, -30.0], 10.0),
        2 => (&[-20.0, -15.0], 5.0),
        3 => (&[-40.0, -20.0], 20.0),
        _ => (&[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0),
    };
    let stretches: Vec<Stretch> = levels_dbfs.iter().map(|&level| (20.0, level)).collect();
    let audio = stereo(rate_hz, &stretches);
    let expected = vec![Expected {
        below: RANGE_TOLERANCE_LU,
        above: RANGE_TOLERANCE_LU,
        ..loudness(LoudnessRangeLu, range_lu, audio.len_frames())
    }];
    Part { audio, expected }
}

fn loudness(figure: Figure, value: f64, until_frame: usize) -> Expected {
    Expected {
        figure,
        value,
        below: LOUDNESS_TOLERANCE_LU,
        above: LOUDNESS_TOLERANCE_LU,
        from_frame: 0,
        until_frame,
    }
}

/// `time_s` as the nearest frame.
fn frames(rate_hz: u32, time_s: f64) -> usize {
    (time_s * f64::from(rate_hz)).round() as usize
}

/// The same in both channels, "applied in phase" (Tech 3341 Table 1, from quotations).
fn stereo(rate_hz: u32, stretches: &[Stretch]) -> Audio {
    let channel = stretches_of_tone(rate_hz, stretches);
    Audio { rate_hz, channels: vec![channel.clone(), channel] }
}

/// One channel. The sine runs through the whole sound with one phase, so that levels change
/// where it crosses zero (all stretches are whole periods), without a click.
fn stretches_of_tone(rate_hz: u32, stretches: &[Stretch]) -> Vec<f32> {
    let turn_per_frame = TONE_HZ / f64::from(rate_hz);
    let mut samples = Vec::new();
    let mut end_s = 0.0;
    for &(len_s, level_dbfs) in stretches {
        end_s += len_s;
        let amplitude = 10.0_f64.powf(level_dbfs / 20.0);
        for frame in samples.len()..frames(rate_hz, end_s) {
            let turn = (frame as f64 * turn_per_frame).fract();
            samples.push((amplitude * (std::f64::consts::TAU * turn).sin()) as f32);
        }
    }
    samples
}
