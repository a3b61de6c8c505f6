//! A delay by a part of a sample.

use std::f64::consts::PI;

/// Frames on either side that a value between two frames is made of.
pub const REACH: usize = 64;

/// Shape of the Kaiser window: 0.1102·(A − 8.7) for A = 100 dB (Kaiser's formula, from memory).
const KAISER_BETA: f64 = 10.06;

/// Weights of the `2 · REACH` frames from `REACH − 1` before a frame on, that give the value
/// `part` of a frame behind it, −1 to 1: a sinc under a Kaiser window. The error is below −100 dB
/// up to nine tenths of half the rate (Kaiser's formula), and grows to half the rate.
#[must_use]
pub fn weights(part: f64) -> Vec<f64> {
    let reach = i32::try_from(REACH).map_or(0.0, f64::from);
    let offsets = (0..2 * REACH).map(|tap| u32::try_from(tap).map_or(0.0, f64::from));
    let weights = offsets.map(|tap| {
        let distance = tap - (reach - 1.0) - part;
        let at = distance / (reach + 1.0);
        let window = bessel_i0(KAISER_BETA * (1.0 - at * at).max(0.0).sqrt());
        sinc(distance) * window / bessel_i0(KAISER_BETA)
    });
    weights.collect()
}

/// The values `weights` give of `plane`, one for each frame that has all of its neighbours.
pub fn apply<'a>(weights: &'a [f64], plane: &'a [f32]) -> impl Iterator<Item = f32> + 'a {
    plane.windows(weights.len()).map(move |near| {
        let products = near.iter().zip(weights).map(|(&sample, weight)| f64::from(sample) * weight);
        #[expect(clippy::cast_possible_truncation, reason = "samples are floats of 32 bits")]
        let value = products.sum::<f64>() as f32;
        value
    })
}

fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// The modified Bessel function of the first kind and order zero, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..100 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_is_moved_by_parts_of_a_sample() {
        for (part, period_frames) in [(0.5, 7.3), (-0.25, 2.5), (0.9, 97.0), (0.0, 11.0)] {
            let tone = |at: f64| (TAU / period_frames * at).sin();
            #[expect(clippy::cast_possible_truncation, reason = "a test signal")]
            let plane: Vec<f32> = (0..400).map(|frame| tone(f64::from(frame)) as f32).collect();
            let weights = weights(part);
            let moved = apply(&weights, &plane);
            for (frame, value) in moved.enumerate() {
                let at = f64::from(u16::try_from(frame + REACH - 1).unwrap()) + part;
                // −100 dB from the edge of the band and from its image, and 32-bit rounding.
                assert!((f64::from(value) - tone(at)).abs() < 2.1e-5, "{part} {period_frames}");
            }
        }
    }

    const TAU: f64 = 2.0 * PI;
}
