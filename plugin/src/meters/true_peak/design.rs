//! The interpolator's coefficients, computed when the meters are built.
//!
//! Both stages are symmetric about the middle between two neighbours, so their coefficients stand
//! in pairs: the pair 0 belongs to the two neighbours, the pair k to the k-th beyond on either
//! side.

use crate::meters::linear::solve;
use std::f64::consts::PI;

/// Pairs behind a point of the doubled row: 56 frames. With [`HALF_BETA`] a crest at 0.45 fs
/// (Gaussian window, σ = 16 frames) loses 0.025 dB and no tone gains 0.003 dB.
pub(in crate::meters) const HALF_PAIRS: usize = 28;

/// Shape of the Kaiser window of the half-band stage; more of it makes a tone's ripple smaller
/// and the loss near 0.45 fs larger.
const HALF_BETA: f64 = 7.0;

/// Pairs behind a point between neighbours of the doubled row: 8 of its points.
pub(in crate::meters) const SHORT_PAIRS: usize = 4;

/// The short stage is as exact as it can be up to this share of the doubled rate: 0.45 fs.
const SHORT_BAND: f64 = 0.225;

/// Coefficients of both stages.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::meters) struct Coefficients {
    /// Half-band stage, for the sum of each pair.
    pub half: [f32; HALF_PAIRS],
    /// Short stage at ¼ and ¾, for the sum of each pair.
    pub even: [f32; SHORT_PAIRS],
    /// Short stage at ¼ (at ¾: negative), for the difference left − right of each pair.
    pub odd: [f32; SHORT_PAIRS],
    /// Short stage at ½, for the sum of each pair.
    pub middle: [f32; SHORT_PAIRS],
}

impl Coefficients {
    /// Computes them.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "samples are f32, so are these")]
    pub fn new() -> Self {
        Self {
            half: half_band().map(|c| c as f32),
            even: unity(least_squares(0.25, 1.0)).map(|c| c as f32),
            odd: least_squares(0.25, -1.0).map(|c| c as f32),
            middle: unity(least_squares(0.0, 1.0)).map(|c| c as f32),
        }
    }
}

/// The half-band stage: a sinc under a Kaiser window.
fn half_band() -> [f64; HALF_PAIRS] {
    let half_len = distances::<HALF_PAIRS>().last().map_or(0.0, |d| d + 0.5);
    unity(distances().map(|d| sinc(d) * kaiser(d / half_len, HALF_BETA)))
}

/// The short stage at `offset` from the middle: the pairs whose error, integrated from DC to
/// [`SHORT_BAND`], is least.
///
/// A pair at the distance d answers a tone of the angular frequency ω with 2·cos(ω·d) as a sum
/// (`sign` 1), with 2·sin(ω·d) as a difference (`sign` −1); wanted is cos or sin(ω·offset). The
/// integrals over products of those are sincs, the normal equations a small system.
fn least_squares(offset: f64, sign: f64) -> [f64; SHORT_PAIRS] {
    let integral = |a: f64, b: f64| {
        sinc(2.0 * SHORT_BAND * (a - b)) + sign * sinc(2.0 * SHORT_BAND * (a + b))
    };
    let distances = distances::<SHORT_PAIRS>();
    solve(distances.map(|row| {
        (
            distances.map(|column| integral(row, column)),
            integral(row, offset) / 2.0,
        )
    }))
}

/// Distances of the pairs from the middle: 0.5, 1.5, …
fn distances<const N: usize>() -> [f64; N] {
    let mut next = -0.5;
    [(); N].map(|()| {
        next += 1.0;
        next
    })
}

/// Scaled so that a constant passes as it is: DC must stay in (BS.1770-5, Annex 2, Attachment 1).
fn unity<const N: usize>(pairs: [f64; N]) -> [f64; N] {
    let sum: f64 = pairs.iter().sum();
    pairs.map(|c| c / (2.0 * sum))
}

/// sin(πt)/(πt).
fn sinc(t: f64) -> f64 {
    if t == 0.0 { 1.0 } else { (PI * t).sin() / (PI * t) }
}

/// Kaiser window over −1 to 1.
fn kaiser(t: f64, beta: f64) -> f64 {
    bessel_i0(beta * (1.0 - t * t).max(0.0).sqrt()) / bessel_i0(beta)
}

/// Modified Bessel function of the first kind, order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term, mut k) = (1.0, 1.0, 1.0);
    while term > sum * 1e-17 {
        term *= (x / 2.0 / k) * (x / 2.0 / k);
        sum += term;
        k += 1.0;
    }
    sum
}
