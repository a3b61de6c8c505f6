//! Windowed sinc functions for interpolation, in f64.

use std::f64::consts::PI;

/// Shape of the Kaiser window: 0.1102·(A − 8.7) for A = 120 dB (Kaiser's formula, from memory).
const KAISER_BETA: f64 = 12.26;

/// The Kaiser window at `at`, −1 at its left edge, 0 in its middle, 1 at its right edge.
#[must_use]
pub fn kaiser(at: f64) -> f64 {
    if at.abs() >= 1.0 {
        return 0.0;
    }
    bessel_i0(KAISER_BETA * (1.0 - at * at).sqrt()) / bessel_i0(KAISER_BETA)
}

/// The ideal low-pass that cuts at `cutoff` (in parts of the sample rate) and has unit gain for
/// samples one apart, at `distance` samples from its centre.
#[must_use]
pub fn low_pass(distance: f64, cutoff: f64) -> f64 {
    let x = 2.0 * cutoff * distance;
    if x == 0.0 { 2.0 * cutoff } else { 2.0 * cutoff * (PI * x).sin() / (PI * x) }
}

/// Sum of the products of `window` and `taps`, which are equally long.
#[must_use]
pub fn dot(window: &[f64], taps: &[f64]) -> f64 {
    // Four sums side by side, which the compiler can do at once.
    let mut sums = [0.0; 4];
    let (windows, window_rest) = window.as_chunks::<4>();
    let (tapses, taps_rest) = taps.as_chunks::<4>();
    for (a, b) in windows.iter().zip(tapses) {
        for lane in 0..4 {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f64 = window_rest.iter().zip(taps_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f64>() + rest
}

/// Modified Bessel function of the first kind and order zero, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..200 {
        term *= quarter / f64::from(k * k);
        sum += term;
        if term < sum * 1e-17 {
            break;
        }
    }
    sum
}
