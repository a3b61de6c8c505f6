//! The interpolator's coefficients, computed when the meters are built.
//!
//! Both stages are symmetric about the middle between two neighbours, so their coefficients stand
//! in pairs: the pair 0 belongs to the two neighbours, the pair k to the k-th beyond on either
//! side.

use crate::meters::linear::solve;
use std::f64::consts::PI;

/// Pairs behind a point of the doubled row: 56 frames. With [`HALF_BETA`] a crest at 0.45 fs
/// (Gaussian window, σ = 16 frames) loses 0.026 dB, and no tone up to there gains 0.005 dB.
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
    /// How far a point can lie above what is around it.
    pub bound: Bound,
}

/// How far a point y between two samples can lie above them, and a crest z above the point y:
///
/// |y| ≤ near·max|x| + bend·max|Δ²x| + rounding·max|x|
///
/// |z| ≤ |y| + crest·max|Δ²x| + rounding·max|x|
///
/// The first maximum is over the two samples beside the point, the others over all frames that the
/// point and its neighbours rest on. A crest is the vertex of a parabola through y and its
/// neighbours on the grid, at most an eighth of their second difference above it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::meters) struct Bound {
    /// Factor of the larger sample beside the point.
    pub near: f32,
    /// Factor of the largest second difference within reach.
    pub bend: f32,
    /// Factor of the largest second difference within reach, of a crest above its point.
    pub crest: f32,
    /// Share of the largest sample within reach that rounding can add: 120 products in two
    /// stages, each of them off by 6e-8 at most, with coefficients whose magnitudes add up to
    /// less than 8; what `near` of a crest would be; and what the bound itself is rounded by.
    pub rounding: f32,
}

impl Coefficients {
    /// Computes them.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "samples are f32, so are these")]
    pub fn new() -> Self {
        let mut coefficients = Self {
            half: half_band().map(|c| c as f32),
            even: unity(least_squares(0.25, 1.0)).map(|c| c as f32),
            odd: least_squares(0.25, -1.0).map(|c| c as f32),
            middle: unity(least_squares(0.0, 1.0)).map(|c| c as f32),
            bound: Bound { near: 0.0, bend: 0.0, crest: 0.0, rounding: 1e-4 },
        };
        let Bound { mut near, mut bend, mut crest, .. } = coefficients.bound;
        // Up, so that f32 is not below.
        let up = |value: f64| value as f32 * 1.000_001;
        for eighth in 0..8 {
            let (above, bent) = bound_of(&coefficients.response(eighth));
            (near, bend) = (near.max(up(above)), bend.max(up(bent)));
            let (_, bent) = bound_of(&coefficients.second_difference(eighth));
            crest = crest.max(up(bent / 8.0));
        }
        coefficients.bound = Bound { near, bend, crest, ..coefficients.bound };
        coefficients
    }

    /// The second difference on the grid about the point at `eighth`, 0 to 7, in the form of a
    /// [`response`](Self::response).
    pub fn second_difference(&self, eighth: usize) -> [f64; FRAMES] {
        let mut before = match eighth.checked_sub(1) {
            Some(before) => self.response(before),
            None => {
                let mut earlier = self.response(7);
                earlier.rotate_left(1);
                earlier
            }
        };
        let after = match eighth {
            7 => {
                let mut later = self.response(0);
                later.rotate_right(1);
                later
            }
            _ => self.response(eighth + 1),
        };
        for ((sum, here), after) in before.iter_mut().zip(self.response(eighth)).zip(after) {
            *sum += after - 2.0 * here;
        }
        before
    }

    /// The point at `eighth`, 0 to 7, after a frame as one sum over frames: entry
    /// [`BEFORE`] + k is the factor of the frame k later.
    #[allow(clippy::indexing_slicing, reason = "runs when the meters are built, sizes are fixed")]
    pub fn response(&self, eighth: usize) -> [f64; FRAMES] {
        let mut response = [0.0; FRAMES];
        let mut add_frame = |frame: isize, factor: f64| {
            if let Some(entry) = BEFORE.checked_add_signed(frame) {
                response[entry] += factor;
            }
        };
        // Adds a point of the doubled row, counted in half frames.
        let mut add = |point: isize, factor: f64| {
            let frame = point.div_euclid(2);
            if point.rem_euclid(2) == 0 {
                return add_frame(frame, factor);
            }
            let (mut early, mut late) = (frame, frame + 1);
            for c in self.half {
                add_frame(early, factor * f64::from(c));
                add_frame(late, factor * f64::from(c));
                (early, late) = (early - 1, late + 1);
            }
        };
        let (mut early, odd_sign) = match eighth {
            0 => {
                add(0, 1.0);
                return response;
            }
            1..4 => (0, if eighth == 1 { 1.0 } else { -1.0 }),
            _ => (1, if eighth == 5 { 1.0 } else { -1.0 }),
        };
        if eighth == 4 {
            add(1, 1.0);
            return response;
        }
        let mut late = early + 1;
        for ((even, odd), middle) in self.even.iter().zip(self.odd).zip(self.middle) {
            if eighth % 4 == 2 {
                add(early, f64::from(middle));
                add(late, f64::from(middle));
            } else {
                add(early, f64::from(*even) + odd_sign * f64::from(odd));
                add(late, f64::from(*even) - odd_sign * f64::from(odd));
            }
            (early, late) = (early - 1, late + 1);
        }
        response
    }
}

/// Frames before a point that it rests on, and a few more.
pub(in crate::meters) const BEFORE: usize = HALF_PAIRS + 4;

/// Entries of a [`response`](Coefficients::response).
pub(in crate::meters) const FRAMES: usize = 2 * BEFORE + 2;

/// `near` and `bend` of [`Bound`] for one point.
///
/// Two factors at the samples beside the point can have the same sum and the same centre as the
/// whole response. What is left, the response minus those two, then has no sum and no centre, so
/// it is the second difference of a finite row, whose magnitudes add up to `bend`.
fn bound_of(response: &[f64; FRAMES]) -> (f64, f64) {
    let mut place = 0.0 - BEFORE_PLACES;
    let (mut sum, mut moment) = (0.0, 0.0);
    for factor in response {
        sum += factor;
        moment += place * factor;
        place += 1.0;
    }
    let beside = [sum - moment, moment];
    let (mut slope, mut row, mut bend) = (0.0, 0.0_f64, 0.0);
    for (entry, factor) in response.iter().enumerate() {
        let linear = entry.checked_sub(BEFORE).and_then(|k| beside.get(k));
        slope += factor - linear.copied().unwrap_or(0.0);
        row += slope;
        bend += row.abs();
    }
    (beside.iter().map(|factor| factor.abs()).sum(), bend)
}

/// [`BEFORE`] as a number of frames.
#[allow(clippy::cast_precision_loss, reason = "a small constant")]
const BEFORE_PLACES: f64 = BEFORE as f64;

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
    let integral =
        |a: f64, b: f64| sinc(2.0 * SHORT_BAND * (a - b)) + sign * sinc(2.0 * SHORT_BAND * (a + b));
    let distances = distances::<SHORT_PAIRS>();
    solve(
        distances.map(|row| {
            (distances.map(|column| integral(row, column)), integral(row, offset) / 2.0)
        }),
    )
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_response_is_that_of_a_delay_by_its_eighth() {
        let c = Coefficients::new();
        for eighth in 1..8 {
            let response = c.response(eighth);
            // A tone of 0.1 fs must come out with its phase `eighth`/8 frame later.
            let at = |frame: f64| (2.0 * PI * 0.1 * frame + 0.7).cos();
            let mut place = -BEFORE_PLACES;
            let mut found = 0.0;
            for factor in response {
                found += factor * at(place);
                place += 1.0;
            }
            let expected = at(f64::from(u8::try_from(eighth).unwrap()) / 8.0);
            assert!((found - expected).abs() < 1e-3, "{eighth}: {found} for {expected}");
        }
    }

    #[test]
    fn a_crest_lies_above_its_point_by_no_more_than_the_bend_about_it_tells() {
        let c = Coefficients::new();
        for eighth in 0..8 {
            let difference = c.second_difference(eighth);
            // Neither a constant nor a slope is bent; what is left of them is part of `rounding`.
            let mut place = -BEFORE_PLACES;
            let (mut of_constant, mut of_slope) = (0.0, 0.0);
            for factor in difference {
                of_constant += factor;
                of_slope += factor * place;
                place += 1.0;
            }
            let (near, _) = bound_of(&difference);
            assert!(of_constant.abs() < 1e-6, "{eighth}: {of_constant}");
            assert!(near / 8.0 < 1e-5, "{eighth}: {of_slope}, {near}");
            // A slow tone's second difference on the grid is a 64th of that of its samples, give or
            // take what the short stage wavers by from point to point.
            let frames = 0..u32::try_from(FRAMES).unwrap();
            let slow: Vec<f64> = frames.map(|n| (0.02 * f64::from(n) + 0.3).sin()).collect();
            let (bent, most) = bent_of(&slow, &difference);
            assert!(bent < most / 40.0, "{eighth}: {bent} of {most}");
            // The signs of the difference give the most; smoother signals bend less.
            let mut signal: Vec<f64> = difference.iter().map(|factor| factor.signum()).collect();
            for _ in 0..40 {
                let (bent, most) = bent_of(&signal, &difference);
                let limit = 8.0 * f64::from(c.bound.crest) * most + 1e-4;
                assert!(bent <= limit, "{eighth}: {bent} above {limit}");
                signal = smoother(&signal);
            }
        }
    }

    /// The second difference on the grid, and the largest of the samples'.
    fn bent_of(signal: &[f64], difference: &[f64]) -> (f64, f64) {
        let bent: f64 = signal.iter().zip(difference).map(|(x, f)| x * f).sum();
        let bends = signal.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs());
        (bent.abs(), bends.fold(0.0, f64::max))
    }

    fn smoother(signal: &[f64]) -> Vec<f64> {
        let smooth = |three: &[f64]| (three[0] + 2.0 * three[1] + three[2]) / 4.0;
        let mut next: Vec<f64> = signal.windows(3).map(smooth).collect();
        next.insert(0, signal[0]);
        next.push(signal[signal.len() - 1]);
        next
    }

    #[test]
    fn bound_holds_for_the_signals_that_come_nearest_to_it() {
        let c = Coefficients::new();
        let magnitudes = |row: &[f64]| row.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        for eighth in 1..8 {
            let response = c.response(eighth);
            assert!(response.iter().map(|factor| factor.abs()).sum::<f64>() < 8.0);
            // Signs of the response give the largest sum; smoother signals bend less.
            let mut signal: Vec<f64> = response.iter().map(|factor| factor.signum()).collect();
            for _ in 0..40 {
                let point: f64 = signal.iter().zip(&response).map(|(x, f)| x * f).sum();
                let bends: Vec<f64> =
                    signal.windows(3).map(|three| three[0] - 2.0 * three[1] + three[2]).collect();
                let limit = f64::from(c.bound.near) * magnitudes(&signal[BEFORE..BEFORE + 2])
                    + f64::from(c.bound.bend) * magnitudes(&bends);
                assert!(point.abs() <= limit, "{eighth}: {point} above {limit}");
                signal = smoother(&signal);
            }
        }
    }
}
