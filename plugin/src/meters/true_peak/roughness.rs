//! Which points may exceed a peak, without computing them.
//!
//! |y| at a point is at most `near`·|x| of the larger sample beside it, plus `bend`·|Δ²x| and
//! `rounding`·|x| of the largest within reach (see `Bound` in `design.rs`). Music bends little,
//! so most points can be told to lie below the peak so far by the samples beside them.

use super::LATENCY_FRAMES;

/// Frames before the newest `n` that the points of `n` complete frames rest on.
pub(super) const REACH_FRAMES: usize = 2 * LATENCY_FRAMES;

/// How large and how bent a stretch of frames is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Roughness {
    /// Length of the stretch.
    pub len_frames: usize,
    /// Largest |x|.
    pub reach: f32,
    /// Largest |Δ²x| = |x\[n − 2\] − 2·x\[n − 1\] + x\[n\]|.
    pub bend: f32,
}

impl Roughness {
    /// Of no frames.
    pub const NONE: Self = Self { len_frames: 0, reach: 0.0, bend: 0.0 };

    /// Of `c`, a row whose largest magnitude is `reach`; `b` and `a` are the same row one and two
    /// frames earlier.
    #[inline(always)]
    pub fn of<const FMA: bool>([a, b, c]: [&[f32]; 3], reach: f32) -> Self {
        // Magnitudes are ordered as their bits are, and the compiler makes vectors of integers.
        let mut bend = 0_i32;
        for ((a, b), c) in a.iter().zip(b).zip(c) {
            let outer = a + c;
            let bent = if FMA { b.mul_add(-2.0, outer) } else { outer - (b + b) };
            bend = bent.abs().to_bits().cast_signed().max(bend);
        }
        Self { len_frames: c.len(), reach, bend: f32::from_bits(bend.cast_unsigned()) }
    }

    /// Of both stretches.
    #[inline(always)]
    pub fn joined(self, other: Self) -> Self {
        Self {
            len_frames: self.len_frames + other.len_frames,
            reach: self.reach.max(other.reach),
            bend: self.bend.max(other.bend),
        }
    }
}

/// The largest magnitude in `row`; no value may be NaN.
#[inline(always)]
pub(super) fn largest_magnitude(row: &[f32]) -> f32 {
    f32::from_bits(row.iter().fold(0, |largest, value| largest.max(value.abs().to_bits())))
}
