//! Which points may exceed a peak, without computing them.
//!
//! |y| at a point is at most `near`·|x| of the larger sample beside it, plus `bend`·|Δ²x| and
//! `rounding`·|x| of the largest within reach (see `Bound` in `design.rs`). Music bends little,
//! so most points can be told to lie below the peak so far by the samples beside them.

use super::{LATENCY_FRAMES, ROOM_FRAMES, STRETCH_FRAMES};

/// Frames before the newest `n` that the points of `n` complete frames rest on.
const REACH_FRAMES: usize = 2 * LATENCY_FRAMES;

// A stretch reaches back far enough.
const _: () = assert!(STRETCH_FRAMES >= REACH_FRAMES);

/// How large and how bent the newest frames are, and some before.
#[derive(Debug, Clone, Copy)]
pub(super) struct Roughness {
    /// Largest |x|.
    pub reach: f32,
    /// Largest |Δ²x| = |x\[n − 2\] − 2·x\[n − 1\] + x\[n\]|.
    pub bend: f32,
    /// Where the newest frames begin in their row.
    first: usize,
    /// Largest |Δ²x| of the frames before.
    before: f32,
    /// Largest |Δ²x| of each stretch of the newest frames.
    stretches: [f32; ROOM_FRAMES.div_ceil(STRETCH_FRAMES)],
}

impl Roughness {
    /// Of no frames.
    pub const NONE: Self = Self {
        reach: 0.0,
        bend: 0.0,
        first: 0,
        before: 0.0,
        stretches: [0.0; ROOM_FRAMES.div_ceil(STRETCH_FRAMES)],
    };

    /// Of the frames of `row` from `first` on, whose largest magnitude is `reach`, and those before
    /// that `past` remembers; what `past` has to remember from now on is put into it.
    #[inline(always)]
    pub fn of_newest<const FMA: bool>(
        row: &[f32],
        first: usize,
        reach: f32,
        past: &mut [Past; 2],
    ) -> Self {
        let [newer, older] = *past;
        let before = newer.joined(older);
        let mut roughness = Self { first, before: before.bend, ..Self::NONE };
        let rows = [2, 1, 0].map(|back| row.get(first - back..row.len() - back));
        // Whole stretches apart: of a fixed length they take less time.
        let [(a, a_rest), (b, b_rest), (c, c_rest)] =
            rows.map(|row| row.unwrap_or_default().as_chunks::<STRETCH_FRAMES>());
        let mut stretches = roughness.stretches.iter_mut();
        let (mut newest, mut last, mut last_two) = (0.0_f32, 0.0, 0.0);
        let mut note = |stretch: &mut f32, bend: f32| {
            *stretch = bend;
            newest = newest.max(bend);
            last_two = bend.max(last);
            last = bend;
        };
        for ((a, b), (c, stretch)) in a.iter().zip(b).zip(c.iter().zip(stretches.by_ref())) {
            note(stretch, bend::<FMA>(a, b, c));
        }
        if let Some(stretch) = stretches.next() {
            note(stretch, bend::<FMA>(a_rest, b_rest, c_rest));
        }
        roughness.bend = newest.max(before.bend);
        roughness.reach = reach.max(before.reach);
        let len_frames = row.len() - first;
        *past = if len_frames > STRETCH_FRAMES {
            [Past { len_frames: REACH_FRAMES, reach, bend: last_two }, Past::NONE]
        } else {
            let newest = Past { len_frames, reach, bend: newest };
            if newer.len_frames < REACH_FRAMES {
                [newer.joined(newest), older]
            } else {
                [newest, newer]
            }
        };
        roughness
    }

    /// Largest |Δ²x| of the frames of the row from `from` up to `to`, and some beside them.
    #[inline(always)]
    pub fn bend_about(&self, from: usize, to: usize) -> f32 {
        let before = if from < self.first { self.before } else { 0.0 };
        let first = from.saturating_sub(self.first) / STRETCH_FRAMES;
        let end = to.saturating_sub(self.first).div_ceil(STRETCH_FRAMES).min(self.stretches.len());
        let stretches = self.stretches.get(first..end).unwrap_or_default();
        stretches.iter().fold(before, |bend, &stretch| bend.max(stretch))
    }
}

/// What is remembered of a run of frames that later points rest on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Past {
    /// How far it reaches back, at least.
    len_frames: usize,
    /// Largest |x|.
    reach: f32,
    /// Largest |Δ²x|.
    bend: f32,
}

impl Past {
    /// Of no frames. (Two that are joined reach back over at least as many frames as points do.)
    pub const NONE: Self = Self { len_frames: 0, reach: 0.0, bend: 0.0 };

    /// Of both runs.
    #[inline(always)]
    fn joined(self, other: Self) -> Self {
        Self {
            len_frames: self.len_frames + other.len_frames,
            reach: self.reach.max(other.reach),
            bend: self.bend.max(other.bend),
        }
    }
}

/// Largest |Δ²x| of `c`; `b` and `a` are the same row one and two frames earlier.
#[inline(always)]
fn bend<const FMA: bool>(a: &[f32], b: &[f32], c: &[f32]) -> f32 {
    // Magnitudes are ordered as their bits are, and the compiler makes vectors of integers.
    let mut bend = 0_i32;
    for ((a, b), c) in a.iter().zip(b).zip(c) {
        let outer = a + c;
        let bent = if FMA { b.mul_add(-2.0, outer) } else { outer - (b + b) };
        bend = bent.abs().to_bits().cast_signed().max(bend);
    }
    f32::from_bits(bend.cast_unsigned())
}

/// The largest magnitude in `row`; no value may be NaN.
#[inline(always)]
pub(super) fn largest_magnitude(row: &[f32]) -> f32 {
    f32::from_bits(row.iter().fold(0, |largest, value| largest.max(value.abs().to_bits())))
}
