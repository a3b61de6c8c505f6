//! The half-band stage: o\[n\] = Σ h\[k\]·(x\[n − k\] + x\[n + 1 + k\]), half-way between x\[n\] and
//! x\[n + 1\].

use super::design::HALF_PAIRS;
use crate::meters::lanes::{LANES, Lanes};

/// Fills `len_frames` of `halves` from `first` on, and the rest of the last group. As many side
/// by side as there are registers for; the bits are the same.
#[inline(always)]
pub(super) fn fill<const FMA: bool>(
    half: &[f32; HALF_PAIRS],
    samples: &[f32],
    halves: &mut [f32],
    first: usize,
    len_frames: usize,
) {
    let mut done = 0;
    while FMA && done + 8 * LANES <= len_frames {
        fill_groups::<FMA, { 8 * LANES }>(half, samples, halves, first + done);
        done += 8 * LANES;
    }
    while done + 3 * LANES <= len_frames {
        fill_groups::<FMA, { 3 * LANES }>(half, samples, halves, first + done);
        done += 3 * LANES;
    }
    while done < len_frames {
        fill_groups::<FMA, LANES>(half, samples, halves, first + done);
        done += LANES;
    }
}

/// Fills `FRAMES` of `halves` from `first` on.
#[inline(always)]
fn fill_groups<const FMA: bool, const FRAMES: usize>(
    half: &[f32; HALF_PAIRS],
    samples: &[f32],
    halves: &mut [f32],
    first: usize,
) {
    let early = samples.get(first + 1 - HALF_PAIRS..first + FRAMES);
    let late = samples.get(first + 1..first + HALF_PAIRS + FRAMES);
    let out = halves.get_mut(first..first + FRAMES);
    let (Some(early), Some(late), Some(out)) = (early, late, out) else {
        return;
    };
    let pairs = early.array_windows::<FRAMES>().rev().zip(late.array_windows::<FRAMES>());
    let mut sums = [[0.0; LANES]; 8];
    for (coefficient, (early, late)) in half.iter().zip(pairs) {
        let pairs = early.as_chunks().0.iter().zip(late.as_chunks().0);
        for (sum, (early, late)) in sums.iter_mut().zip(pairs) {
            let pair = Lanes(*early).plus(Lanes(*late));
            *sum = Lanes(*sum).plus_product::<FMA>(*coefficient, pair).0;
        }
    }
    for (out, sum) in out.as_chunks_mut().0.iter_mut().zip(sums) {
        *out = sum;
    }
}
