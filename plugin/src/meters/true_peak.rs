//! True peak: the largest magnitude of the waveform between the samples, not only at them
//! (ITU-R BS.1770-5, Annex 2).
//!
//! The annex asks for at least 4 times the rate and allows "superior" methods. Here the grid is
//! 8 times as fine at every rate, and a parabola through three neighbouring grid points finds the
//! crest between them:
//!
//! 1. a half-band stage doubles the rate: o\[n\] lies half-way between x\[n\] and x\[n+1\];
//! 2. where the signal fills only half the band a short filter gives three points between any two
//!    neighbours of that doubled row. The points at ¼ and ¾ are each other's mirror image: one
//!    even and one odd sum give both, |e + o| and |e − o|.
//!
//! Everything is elementwise `f32` in a fixed order, so a point has the same bits however the
//! frames were cut into blocks.

mod design;
mod grid;
mod half_band;
mod roughness;

use super::CHUNK_FRAMES;
use super::lanes::{LANES, Lanes};
pub(super) use design::Coefficients;
use design::{Bound, HALF_PAIRS};
use grid::{Grid, LARGEST_REFINEMENT};
use roughness::{REACH_FRAMES, Roughness, largest_magnitude};
use std::ops::Range;

/// Frames from a point to the newest frame that it needs, plus one: H.
pub(super) const LATENCY_FRAMES: usize = HALF_PAIRS + 2;

/// Frames of the past that later points need, and some.
const KEPT_FRAMES: usize = 2 * HALF_PAIRS + 8;

/// Most frames that are taken in at once. A hop at 48 kHz: what need not be computed is told by
/// the largest sample of all of them.
pub(super) const ROOM_FRAMES: usize = 480;

/// Frames that fit behind one another before the past is moved to the front.
const CAPACITY_FRAMES: usize = 1_024;

/// What the frames of one call are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// They stand before the first frame: remember them, count nothing.
    Lead,
    /// Count sample values only: the points between them rest on frames that are not known.
    Samples,
    /// Count everything.
    Full,
}

/// How the work is spread; the figures have the same bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// Every point is computed, so that a block costs the same whatever the signal is: for the
    /// audio thread.
    Even,
    /// Points that cannot exceed the peak so far are left out, which is less on the whole and
    /// uneven from block to block: for files.
    Least,
}

/// True peak of one channel.
#[derive(Debug, Clone)]
pub(super) struct TruePeak {
    /// x\[n\], the newest at `fill − 1`.
    samples: [f32; CAPACITY_FRAMES],
    /// o\[n\], half-way between `samples[n]` and `samples[n + 1]`.
    halves: [f32; CAPACITY_FRAMES],
    /// Frames in `samples`.
    fill: usize,
    /// What was computed last.
    grid: Grid,
    /// The last grid point before the next one to come; infinite where it is not known, so that
    /// no crest is drawn beside it.
    point_before: f32,
    /// Of the stretch before the newest frames, and of the one before that.
    roughness_before: [Roughness; 2],
    /// Largest magnitude since the last take.
    peak: f32,
}

impl TruePeak {
    /// A row of silence.
    pub fn new() -> Self {
        Self {
            samples: [0.0; CAPACITY_FRAMES],
            halves: [0.0; CAPACITY_FRAMES],
            fill: KEPT_FRAMES,
            grid: Grid::empty(),
            point_before: 0.0,
            roughness_before: [Roughness::NONE; 2],
            peak: 0.0,
        }
    }

    /// Forgets everything: as new. What stands beyond the newest frame is never counted.
    pub fn clear(&mut self) {
        for row in [&mut self.samples, &mut self.halves] {
            row.get_mut(..KEPT_FRAMES).unwrap_or_default().fill(0.0);
        }
        self.fill = KEPT_FRAMES;
        self.point_before = 0.0;
        self.roughness_before = [Roughness::NONE; 2];
        self.peak = 0.0;
    }

    /// The peak since the last take.
    pub fn take(&mut self) -> f32 {
        std::mem::take(&mut self.peak)
    }

    /// Room for the next `len_frames` frames, at most [`ROOM_FRAMES`]; write them, then call
    /// [`advance`](Self::advance).
    #[inline(always)]
    pub fn room(&mut self, len_frames: usize) -> &mut [f32] {
        // Whole groups are computed, which may read and write beyond the newest.
        if self.fill + ROOM_FRAMES + 2 * LANES > CAPACITY_FRAMES {
            let from = self.fill - KEPT_FRAMES;
            self.samples.copy_within(from..self.fill, 0);
            self.halves.copy_within(from..self.fill, 0);
            self.fill = KEPT_FRAMES;
        }
        self.samples.get_mut(self.fill..self.fill + len_frames.min(ROOM_FRAMES)).unwrap_or_default()
    }

    /// Those of the frames that stand in [`room`](Self::room).
    #[inline(always)]
    pub fn newest(&self, frames: Range<usize>) -> &[f32] {
        self.samples.get(self.fill + frames.start..self.fill + frames.end).unwrap_or_default()
    }

    /// Takes in the `len_frames` frames that stand in [`room`](Self::room): the points of as many
    /// frames, [`LATENCY_FRAMES`] earlier, are complete.
    #[inline(always)]
    pub fn advance<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        len_frames: usize,
        how: Use,
        effort: Effort,
    ) {
        let len_frames = len_frames.min(ROOM_FRAMES);
        let first = self.fill - LATENCY_FRAMES;
        self.fill += len_frames;
        match (how, effort) {
            (Use::Full, Effort::Even) => {
                for done in (0..len_frames).step_by(CHUNK_FRAMES) {
                    let len_frames = CHUNK_FRAMES.min(len_frames - done);
                    self.add_halves::<FMA>(coefficients, first + done + 2, len_frames);
                    self.count_points::<FMA>(coefficients, first + done, len_frames, 0);
                }
            }
            (Use::Full, Effort::Least) => {
                let roughness = self.roughness(len_frames);
                self.count_samples(first, len_frames);
                self.count_points_beside::<FMA>(coefficients, first, len_frames, &roughness);
            }
            (Use::Lead, _) => {
                self.roughness(len_frames);
                self.add_halves::<FMA>(coefficients, first + 2, len_frames);
                self.count_points::<FMA>(coefficients, first, len_frames, len_frames);
            }
            (Use::Samples, _) => {
                self.roughness(len_frames);
                self.add_halves::<FMA>(coefficients, first + 2, len_frames);
                self.count_samples(first, len_frames);
                self.point_before = f32::INFINITY;
            }
        }
    }

    /// Counts the samples themselves.
    #[inline(always)]
    fn count_samples(&mut self, first: usize, len_frames: usize) {
        let samples = self.samples.get(first..first + len_frames).unwrap_or_default();
        self.peak = self.peak.max(largest_magnitude(samples));
    }

    /// Half-band stage: `len_frames` of o\[n\] from `first` on.
    #[inline(always)]
    fn add_halves<const FMA: bool>(&mut self, c: &Coefficients, first: usize, len_frames: usize) {
        half_band::fill::<FMA>(&c.half, &self.samples, &mut self.halves, first, len_frames);
    }

    /// Short stage: computes the points of `len_frames` frames from `first` on, and counts all
    /// but those of the first `uncounted`.
    #[inline(always)]
    fn count_points<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        first: usize,
        len_frames: usize,
        uncounted: usize,
    ) {
        let rows = [self.samples.get(first - 2..), self.halves.get(first - 2..)];
        let rows = rows.map(Option::unwrap_or_default);
        self.point_before =
            self.grid.compute::<FMA>(coefficients, rows, len_frames, self.point_before, uncounted);
        if uncounted >= len_frames {
            return;
        }
        let largest = self.grid.largest(len_frames);
        // A lower bound of the result: only what exceeds it need be looked at.
        self.peak = self.peak.max(largest);
        if largest * LARGEST_REFINEMENT > self.peak {
            self.peak = self.grid.highest_crest(rows, len_frames, uncounted, self.peak);
        }
    }

    /// Counts the points that may be above the peak so far.
    ///
    /// |y| at a point is at most `near`·|x| of the larger sample beside it + `bend`·|Δ²x| and
    /// `rounding`·|x| of the largest within reach: see [`design::Bound`]. Most samples are told
    /// to have no such point beside them by the largest |Δ²x| of all frames, `roughness`; for
    /// the few others the largest within their own reach is found. With the limits that follow
    /// from this, what is left out is not above the peak so far, and the result has the same bits
    /// as if all were counted.
    #[inline(always)]
    fn count_points_beside<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        first: usize,
        len_frames: usize,
        roughness: &Roughness,
    ) {
        let end = first + len_frames;
        let mut at = first;
        while let Some((frames, next)) = self.next_cluster(&coefficients.bound, at..end, roughness)
        {
            // The first sample's point before it belongs to frames that were counted.
            self.count_cluster::<FMA>(coefficients, frames.start.max(first)..frames.end);
            at = next;
        }
    }

    /// The frames about the next groups of samples in `frames`, or at its end, that may have a
    /// point above the peak beside them, and where to look for more.
    #[inline(always)]
    fn next_cluster(
        &self,
        bound: &Bound,
        frames: Range<usize>,
        roughness: &Roughness,
    ) -> Option<(Range<usize>, usize)> {
        let limit_with = |bend: f32| {
            let far = bound.bend * bend + bound.rounding * roughness.reach;
            (self.peak / LARGEST_REFINEMENT - far) / bound.near
        };
        let limit = limit_with(roughness.bend);
        let mut cluster: Option<Range<usize>> = None;
        for at in (frames.start..=frames.end).step_by(LANES) {
            if let Some(cluster) = cluster.take_if(|cluster| cluster.end + LANES < at) {
                return Some((cluster, at));
            }
            // The last group is cut short by what is no neighbour of these points any more.
            let group = Lanes::at(&self.samples, at).only(0, frames.end + 1 - at).abs();
            if group.any_above(limit) && group.any_above(limit_with(self.bend_about(at))) {
                // Points lie on either side of a sample. Near ones are cheaper together.
                let start = cluster.map_or(at - 1, |cluster| cluster.start);
                cluster = Some(start..(at + LANES).min(frames.end));
            }
        }
        Some((cluster?, frames.end + 1))
    }

    /// Counts the points of the frames `from` up to `to`, whatever was computed before.
    #[inline(always)]
    fn count_cluster<const FMA: bool>(&mut self, c: &Coefficients, frames: Range<usize>) {
        let Range { start: mut from, end: to } = frames;
        while from < to {
            // The frame before gives the first point its neighbour, and is not counted.
            let (uncounted, len_frames) = (from - 1, (to - from).min(CHUNK_FRAMES - 1));
            self.point_before = f32::INFINITY;
            self.add_halves::<FMA>(c, uncounted - 2, len_frames + 5);
            self.count_points::<FMA>(c, uncounted, len_frames + 1, 1);
            from += len_frames;
        }
    }

    /// The largest |Δ²x| among the frames that the points beside the [`LANES`] samples from `at` on
    /// rest on.
    #[inline(always)]
    fn bend_about(&self, at: usize) -> f32 {
        let from = at - LATENCY_FRAMES;
        let to = (at + LANES + LATENCY_FRAMES).min(self.fill);
        let row = |back: usize| self.samples.get(from + 2 - back..to - back);
        let [a, b, c] = [row(2), row(1), row(0)].map(Option::unwrap_or_default);
        Roughness::of(a, b, c, to - from).bend
    }

    /// Largest |x| and largest |Δ²x| among the frames that the points of the newest `len_frames`
    /// complete ones rest on, and some before.
    #[inline(always)]
    fn roughness(&mut self, len_frames: usize) -> Roughness {
        let row = |from: usize| self.samples.get(from..from + len_frames).unwrap_or_default();
        let from = self.fill - len_frames;
        let newest = Roughness::of(row(from - 2), row(from - 1), row(from), len_frames);
        let [newer, older] = self.roughness_before;
        // The two before reach back over at least as many frames as the points do.
        let all = newest.joined(newer).joined(older);
        self.roughness_before = if newer.len_frames < REACH_FRAMES {
            [newer.joined(newest), older]
        } else {
            [newest, newer]
        };
        all
    }
}
