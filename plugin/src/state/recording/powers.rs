//! The mean squares of the hops: K-weighted energy, left, right, and the side of the two.
//!
//! What is shown are never single hops but sums over many. So each value is rounded to a step, and
//! what rounding left over is carried into the next hop: the error of a sum over adjacent hops is
//! what is carried in at its start less what is carried out at its end, at most half a step each,
//! however many hops there are. The step of a hop is a fraction of the smallest sum of all windows
//! of [`WINDOW_HOPS`] that hold it, so that this error is that fraction of any window's sum, and
//! of the sum of any longer one.
//!
//! Steps are powers of two, so that what comes back is exact in single precision and is rounded to
//! itself when it is saved again.

use super::peaks::RoughPowers;
use super::planes::{Damage, Reader, Writer};
use super::windows::{of_those_that_hold, slide};
use std::ops::Range;

/// Hops of the shortest window that errors are bounded for: the momentary window, and the shortest
/// section.
pub(super) const WINDOW_HOPS: usize = crate::loudness::MOMENTARY_HOPS;

/// Error of the energy of a window, as a fraction of it: 0.0005 LU. The loudness range is a
/// difference of two, and stays within 0.001 LU.
const ENERGY_ERROR: f64 = 1.15e-4;

/// Error of left and right, as a fraction of the geometric mean of the two: the correlation,
/// Σ LR / √(Σ L² · Σ R²) with Σ LR = (Σ L² + Σ R²)/2 − 2 Σ S, is off by at most four times this.
const STEREO_ERROR: f64 = 2.5e-4;
/// Error of the side, as a multiple of [`STEREO_ERROR`] and a fraction of itself: 0.0043 dB.
const SIDE_ERRORS: f64 = 4.0;
/// Likewise of left and right against the mid, so that the mid, what the two leave beside the side,
/// is off by 0.0043 dB too.
const MID_ERRORS: f64 = 2.0;
/// A side, or a mid, this far below the sum of the two as a power ratio is mono, or has no mid:
/// half of the −60 dB at which `section` says so, to be on the safe side.
const MONO_RATIO: f64 = 0.5e-6;
/// Where one channel is further below the other than this, as a power ratio, the bound of the
/// correlation grows: −60 dB. The project's own choice, no source.
const ONE_SIDED_RATIO: f64 = 1e-6;

/// Exponents of steps, beyond those of any mean square in single precision.
const EXPONENTS: Range<i16> = -300..300;
/// A value is at most two to this power of its steps: where the loudness falls by more than 150 dB
/// from one hop to the next, the bounds do not hold after that.
const MAX_STEPS_LOG2: i16 = 50;

/// A value that is a whole number of steps this many octaves finer was rounded to those before, and
/// keeps them: measured values have far more bits. So a record that is loaded and saved again and
/// again does not drift.
const NEAR_OCTAVES: i16 = 3;

/// Values in steps stay below this: 2^52, the integers that `f64` holds with room to subtract.
const MAX_STEPS: f64 = 4_503_599_627_370_496.0;

/// The mean squares of one hop.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Powers {
    /// K-weighted and summed over channels.
    pub energy: f64,
    pub left: f64,
    pub right: f64,
    /// ((L − R)/2)²; may be a little below zero where single precision has rounded.
    pub side: f64,
}

/// Writes the mean squares of all hops; within each of `pieces` hops are adjacent and whole.
pub(super) fn write(
    writer: &mut Writer,
    powers: &[Powers],
    pieces: &[Range<usize>],
    peaks: &RoughPowers,
) {
    let mut steps: [Vec<f64>; 4] = Default::default();
    for piece in pieces {
        allow(powers.get(piece.clone()).unwrap_or_default(), &mut steps);
    }
    let values = |value: fn(&Powers) -> f64| powers.iter().map(value);
    let [left, right, side, energy] = &steps;
    let left = &exponents(left, values(|p| p.left));
    let right = &exponents(right, values(|p| p.right));
    let side = &exponents(side, values(|p| p.side));
    let energy = &exponents(energy, values(|p| p.energy));
    // Steps of the two channels go up and down together, and so do all.
    for (exponents, beside) in
        [(left, None), (right, Some(left)), (side, Some(left)), (energy, Some(left))]
    {
        let mut last = 0;
        writer.signed(exponents.iter().enumerate().map(|(at, &exponent)| {
            let beside = beside.and_then(|beside| beside.get(at)).copied().unwrap_or(0);
            let difference = i64::from(exponent) - i64::from(beside);
            difference - std::mem::replace(&mut last, difference)
        }));
    }
    let [of_left, of_right] = first_two(peaks);
    let left = write_values(writer, values(|p| p.left), left, of_left);
    let beside = geometric_means(&left, of_right);
    let right = write_values(writer, values(|p| p.right), right, &beside);
    let both = sum(&left, &right);
    write_values(writer, values(|p| p.side), side, &both);
    write_values(writer, values(|p| p.energy), energy, &both);
}

/// Reads the mean squares of `count` hops.
pub(super) fn read(
    reader: &mut Reader<'_>,
    count: usize,
    peaks: &RoughPowers,
) -> Result<Vec<Powers>, Damage> {
    let mut steps: [Vec<i16>; 4] = Default::default();
    for plane in 0..steps.len() {
        let beside =
            if plane == 0 { Vec::new() } else { steps.first().cloned().unwrap_or_default() };
        let mut last = 0_i64;
        let exponents = reader.signed(count)?.into_iter().enumerate().map(|(at, change)| {
            last = last.wrapping_add(change);
            let beside = beside.get(at).copied().unwrap_or(0);
            let exponent = i16::try_from(last.wrapping_add(i64::from(beside))).ok();
            exponent.filter(|e| EXPONENTS.contains(e)).ok_or(Damage("a step that is out of range"))
        });
        let exponents = exponents.collect::<Result<Vec<i16>, Damage>>()?;
        if let Some(plane) = steps.get_mut(plane) {
            *plane = exponents;
        }
    }
    let [left, right, side, energy] = &steps;
    let [of_left, of_right] = first_two(peaks);
    let left = read_values(reader, left, of_left)?;
    let beside = geometric_means(&left, of_right);
    let right = read_values(reader, right, &beside)?;
    let both = sum(&left, &right);
    let side = read_values(reader, side, &both)?;
    let energy = read_values(reader, energy, &both)?;
    let powers = left.into_iter().zip(right).zip(side.into_iter().zip(energy));
    let powers = powers.map(|((left, right), (side, energy))| Powers { energy, left, right, side });
    Ok(powers.collect())
}

/// Of left and right; of the only one twice in mono.
fn first_two(peaks: &RoughPowers) -> [&[f64]; 2] {
    let first = peaks.first().map_or(&[][..], Vec::as_slice);
    [first, peaks.get(1).map_or(first, Vec::as_slice)]
}

fn geometric_means(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| (a * b).sqrt()).collect()
}

fn sum(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

/// Adds the coarsest step that each hop of a piece may have: left, right, side, energy.
fn allow(piece: &[Powers], steps: &mut [Vec<f64>; 4]) {
    let window = WINDOW_HOPS.min(piece.len());
    let windows = slide(piece, window, |a, b| Powers {
        energy: a.energy + b.energy,
        left: a.left + b.left,
        right: a.right + b.right,
        side: a.side + b.side,
    });
    let allowed: Vec<[f64; 4]> = windows.iter().map(allowed_in).collect();
    let lowest = |a: [f64; 4], b: [f64; 4]| {
        std::array::from_fn(|plane| {
            let of = |steps: &[f64; 4]| steps.get(plane).copied().unwrap_or(f64::INFINITY);
            of(&a).min(of(&b))
        })
    };
    for allowed in of_those_that_hold(&allowed, window, [f64::INFINITY; 4], lowest) {
        for (steps, allowed) in steps.iter_mut().zip(allowed) {
            steps.push(allowed);
        }
    }
}

/// The coarsest steps for the sums of one window; infinite where there is nothing to be rounded.
fn allowed_in(sums: &Powers) -> [f64; 4] {
    let (left, right) = (sums.left, sums.right);
    let both = left + right;
    let geometric = (left * right).sqrt();
    let mid = (both / 2.0 - sums.side).max(MONO_RATIO * both);
    let side = sums.side.max(MONO_RATIO * both);
    let of_channel = |channel: f64| {
        let for_correlation = geometric.max(ONE_SIDED_RATIO.sqrt() * channel);
        STEREO_ERROR * channel.min(for_correlation).min(MID_ERRORS * mid)
    };
    let for_correlation = geometric.max(ONE_SIDED_RATIO.sqrt() * left.max(right));
    let of_side = STEREO_ERROR * for_correlation.min(SIDE_ERRORS * side).min(MID_ERRORS * mid);
    [of_channel(left), of_channel(right), of_side, ENERGY_ERROR * sums.energy]
        .map(|step| if step > 0.0 { step } else { f64::INFINITY })
}

/// The exponents of the steps that are taken for `values`, from those that are allowed.
fn exponents(allowed: &[f64], values: impl Iterator<Item = f64> + Clone) -> Vec<i16> {
    let mut last = 0;
    let mut exponents: Vec<i16> = allowed
        .iter()
        .zip(values.clone())
        .map(|(&allowed, value)| {
            if allowed.is_finite() {
                last = exponent_of(allowed);
            }
            match lowest_bit_of(value) {
                Some(lowest) if (last - NEAR_OCTAVES..last).contains(&lowest) => lowest,
                _ => last,
            }
        })
        .collect();
    // What a hop leaves over must fit the next one: steps get finer one hop ahead.
    for at in 1..exponents.len() {
        let [before, after] = exponents.get_mut(at - 1..=at).unwrap_or_default() else { break };
        *before = (*before).min(*after);
    }
    for (exponent, value) in exponents.iter_mut().zip(values) {
        // Beside what is next to silence a step may get too fine to count in.
        *exponent = (*exponent).max(exponent_of(value.abs()) - MAX_STEPS_LOG2);
    }
    exponents
}

/// The highest power of two that is not above `value`, which is positive.
fn exponent_of(value: f64) -> i16 {
    let biased = i16::try_from((value.to_bits() >> 52) & 0x7FF).unwrap_or(0);
    (biased - 1_023).clamp(EXPONENTS.start, EXPONENTS.end - 1)
}

/// The highest power of two that `value` is a multiple of; `None` for zero.
fn lowest_bit_of(value: f64) -> Option<i16> {
    const HIDDEN_BIT: u64 = 1 << 52;
    let mantissa = (value.to_bits() & (HIDDEN_BIT - 1)) | HIDDEN_BIT;
    let zeros = i16::try_from(mantissa.trailing_zeros()).unwrap_or(0);
    (value != 0.0).then(|| exponent_of(value.abs()) - 52 + zeros)
}

/// Two to the power of `exponent`, which is one of [`EXPONENTS`].
pub(super) fn power_of_two(exponent: i16) -> f64 {
    f64::from_bits(u64::from((i32::from(exponent) + 1_023).unsigned_abs()) << 52)
}

/// Writes one plane; gives what [`read_values`] will read.
fn write_values(
    writer: &mut Writer,
    values: impl Iterator<Item = f64>,
    exponents: &[i16],
    beside: &[f64],
) -> Vec<f64> {
    let mut guess = Guess::default();
    let mut carried = 0.0;
    let mut read = Vec::with_capacity(exponents.len());
    let mut changes = Vec::with_capacity(exponents.len());
    for (at, (value, &exponent)) in values.zip(exponents).enumerate() {
        let step = power_of_two(exponent);
        let beside = beside.get(at).copied().unwrap_or(0.0);
        let mut taken = 0;
        // Silence stays silence; what is carried waits for what comes after it.
        if value != 0.0 {
            let wanted = value + f64::clamp(carried, -step / 2.0, step / 2.0);
            taken = nearest(wanted / step);
            carried = wanted - float(taken) * step;
        }
        changes.push(taken - guess.expect(beside, step));
        read.push(float(taken) * step);
        guess.learn(beside, float(taken) * step);
    }
    writer.signed(changes);
    read
}

fn read_values(
    reader: &mut Reader<'_>,
    exponents: &[i16],
    beside: &[f64],
) -> Result<Vec<f64>, Damage> {
    let mut guess = Guess::default();
    let changes = reader.signed(exponents.len())?;
    let values = changes.into_iter().zip(exponents).enumerate().map(|(at, (change, &exponent))| {
        let step = power_of_two(exponent);
        let beside = beside.get(at).copied().unwrap_or(0.0);
        let taken = float(guess.expect(beside, step).saturating_add(change));
        if taken.abs() > MAX_STEPS {
            return Err(Damage("a mean square that is too large"));
        }
        guess.learn(beside, taken * step);
        Ok(taken * step)
    });
    values.collect()
}

/// Guesses a value from the hops before: they were in some ratio to what stands beside, which is
/// the power of the peak for left, that and left for right, and the sum of both for the others.
///
/// Sums and products of `f64` alone, so that every machine guesses the same.
#[derive(Default)]
struct Guess {
    values: f64,
    beside: f64,
}

impl Guess {
    /// How much of the sums is kept from hop to hop. The project's own choice, no source: what
    /// made songs smallest.
    const KEPT: f64 = 0.5;

    /// The value that is expected, in whole steps.
    fn expect(&self, beside: f64, step: f64) -> i64 {
        let expected = if self.beside > 0.0 { self.values / self.beside * beside } else { 0.0 };
        nearest((expected / step).clamp(-MAX_STEPS, MAX_STEPS))
    }

    fn learn(&mut self, beside: f64, value: f64) {
        self.values = self.values * Self::KEPT + value;
        self.beside = self.beside * Self::KEPT + beside;
    }
}

/// The nearest whole number. (`f64::round` is a slow call where the compiler may not count on newer
/// processors.)
#[expect(clippy::cast_possible_truncation, reason = "cut off on purpose; saturates")]
pub(super) fn nearest(value: f64) -> i64 {
    (value + 0.5_f64.copysign(value)) as i64
}

#[expect(clippy::cast_precision_loss, reason = "what is above 2^53 is refused")]
const fn float(value: i64) -> f64 {
    value as f64
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::single_range_in_vec_init,
    reason = "small numbers, and a list of one piece"
)]
mod tests;
