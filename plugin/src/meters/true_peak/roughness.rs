//! Which points may exceed a peak, without computing them.
//!
//! |y| at a point is at most `near`·|x| of the larger sample beside it, plus `bend`·|Δ²x| and
//! `rounding`·|x| of the largest within reach (see `Bound` in `design.rs`). Music bends little,
//! so most points can be told to lie below the peak so far by the samples beside them.

use super::{LATENCY_FRAMES, ROOM_FRAMES, STRETCH_FRAMES};

/// Frames before the newest `n` that the points of `n` complete frames rest on.
const REACH_FRAMES: usize = 2 * LATENCY_FRAMES;

// What is remembered of a long block is its last stretch, and what follows that.
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
    /// Largest |Δ²x| of each stretch of the newest frames. (The stretches that are searched are those
    /// of the complete frames, which stand elsewhere.)
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
    /// that `past` remembers, the newer run first; what it has to remember from now on is put into
    /// it. Both runs together reach back over at least as many frames as the points do.
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
        let mut note = |stretch: &mut f32, largest: f32| {
            *stretch = largest;
            newest = newest.max(largest);
            last_two = largest.max(last);
            last = largest;
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
        let newest = Past { len_frames: len_frames.min(STRETCH_FRAMES), reach, bend: last_two };
        *past = if len_frames >= REACH_FRAMES {
            [newest, Past::NONE]
        } else if newer.len_frames < REACH_FRAMES {
            [newer.joined(newest), older]
        } else {
            [newest, newer]
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
    /// Of no frames.
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Spikes of all heights, far apart: what a bound misses shows.
    fn spikes(len: usize) -> Vec<f32> {
        let mut state = 5_u32;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f32::from(u16::try_from(state >> 16).unwrap_or(0)) / 65_536.0
        };
        (0..len).map(|_| if random() < 0.02 { random() - 0.5 } else { 0.0 }).collect()
    }

    #[test]
    fn no_frame_that_a_point_rests_on_is_more_bent_or_larger() {
        let row = spikes(40_000);
        let bends: Vec<f32> =
            row.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs()).collect();
        // Of the frames from `from` up to `to`.
        let largest_bend = |from: usize, to: usize| {
            bends[from - 2..to - 2].iter().fold(0.0_f32, |largest, &bend| largest.max(bend))
        };
        let lens = [480, 1, 60, 64, 65, 128, 448, 59, 61, 2, 30, 31, 63, 192, 479, 450];
        let small = [7, 1, 20, 3, 33, 12, 40, 25, 59, 5];
        let (mut first, mut past, mut tight) = (200, [Past::NONE; 2], 0);
        // Nothing was heard before.
        let known = first;
        for len in lens.iter().chain(&small).cycle().take(400) {
            let end = (first + len).min(row.len());
            let newest = row[first..end].iter().fold(0.0_f32, |most, x| most.max(x.abs()));
            let found = Roughness::of_newest::<false>(&row[..end], first, newest, &mut past);
            let back = known.max(first - REACH_FRAMES);
            assert!(found.bend >= largest_bend(back, end));
            assert!(row[back..end].iter().all(|x| x.abs() <= found.reach));
            for from in back..end {
                let to = end.min(from + STRETCH_FRAMES + 2 * LATENCY_FRAMES);
                let (bend, needed) = (found.bend_about(from, to), largest_bend(from, to));
                assert!(bend >= needed, "{from} to {to} of {first} to {end}: {bend}, {needed}");
                assert!(bend <= found.bend);
                tight += usize::from(bend < found.bend);
            }
            first = end;
            if first == row.len() {
                break;
            }
        }
        assert!(tight > 0, "never less than the largest of all");
    }
}
