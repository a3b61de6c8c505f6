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

/// Groups of [`LANES`] frames that are looked at together before they are looked at one by one.
const STRETCH_GROUPS: usize = 8;

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

/// Points to be computed together.
struct Work {
    /// Those half-way between samples that they rest on.
    halves: Range<usize>,
    /// The frames whose points they are.
    points: Range<usize>,
    /// So many of the first are only for the others' sake.
    uncounted: usize,
    /// Whether the point before them is not known.
    is_unjoined: bool,
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
    /// Whether the points before the next frame rest on frames that were not seen.
    is_cold: bool,
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
            is_cold: false,
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
        self.is_cold = false;
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

    /// The `len_frames` frames that stand in [`room`](Self::room).
    #[inline(always)]
    pub fn newest(&self, len_frames: usize) -> &[f32] {
        self.samples.get(self.fill..self.fill + len_frames).unwrap_or_default()
    }

    /// Takes in the `len_frames` frames that stand in [`room`](Self::room): the points of as many
    /// frames, [`LATENCY_FRAMES`] earlier, are complete. With a `cut`, the peak is taken as
    /// [`take`](Self::take) takes it when so many of them are.
    #[inline(always)]
    pub fn advance<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        len_frames: usize,
        cut: Option<usize>,
        how: Use,
        effort: Effort,
    ) -> Option<f32> {
        let len_frames = len_frames.min(ROOM_FRAMES);
        let first = self.fill - LATENCY_FRAMES;
        self.fill += len_frames;
        let end = first + len_frames;
        let cut_at = cut.map_or(end, |cut| end.min(first + cut));
        let is_even = how == Use::Full && effort == Effort::Even;
        let roughness = if is_even { Roughness::NONE } else { self.roughness(len_frames) };
        let mut taken = None;
        // Where all points are computed, the cut is made when they are counted: computing them in
        // two goes costs more.
        let ranges = if is_even { [first..end, end..end] } else { [first..cut_at, cut_at..end] };
        for range in ranges {
            if how == Use::Samples || (how == Use::Full && effort == Effort::Least) {
                self.count_samples(&range);
            }
            // One loop for all ways, so that the code is there once: it is long, and stays near
            // the processor.
            let (range_start, mut frames) = (range.start, range);
            let is_empty = frames.is_empty();
            let bound = &coefficients.bound;
            while let Some(work) =
                self.next_work(bound, range_start, &mut frames, how, effort, &roughness)
            {
                let halves = work.halves;
                half_band::fill::<FMA>(
                    &coefficients.half,
                    &self.samples,
                    &mut self.halves,
                    halves.start,
                    halves.len(),
                );
                if work.is_unjoined {
                    self.point_before = f32::INFINITY;
                }
                if how != Use::Samples {
                    let before_cut = self.count_points::<FMA>(
                        coefficients,
                        work.points,
                        work.uncounted,
                        cut.filter(|_| is_even).map(|_| cut_at),
                    );
                    taken = taken.or(before_cut);
                }
            }
            if !is_empty {
                self.is_cold = how == Use::Samples;
            }
            if cut.is_some() && taken.is_none() {
                taken = Some(self.take());
            }
        }
        taken
    }

    /// What is to be computed next of `frames`, of which those that are done are taken off; `first`
    /// was the first of them.
    ///
    /// With [`Effort::Least`] that are the points that may be above the peak so far. |y| at a
    /// point is at most `near`·|x| of the larger sample beside it + `bend`·|Δ²x| and
    /// `rounding`·|x| of the largest within reach: see [`design::Bound`]. Most samples are told
    /// to have no such point beside them by the largest |Δ²x| of all frames, `roughness`; for
    /// the few others the largest within their own reach is found. With the limits that follow
    /// from this, what is left out is not above the peak so far, and the result has the same bits
    /// as if all were counted.
    #[inline(always)]
    fn next_work(
        &self,
        bound: &Bound,
        first: usize,
        frames: &mut Range<usize>,
        how: Use,
        effort: Effort,
        roughness: &Roughness,
    ) -> Option<Work> {
        if how == Use::Full && effort == Effort::Least {
            let (cluster, next) = self.next_cluster(bound, frames.clone(), roughness)?;
            // The points before the first sample belong to frames that were counted.
            let from = cluster.start.max(first);
            let to = cluster.end.min(from + CHUNK_FRAMES - 1);
            frames.start = if to < cluster.end { to } else { next };
            // The frame before gives the first point its neighbour, and is not counted; where it
            // rests on what was not seen, the first point has none.
            let uncounted = usize::from(!(self.is_cold && from == first));
            let points = from - uncounted..to;
            return Some(Work {
                halves: points.start - 2..to + 2,
                points,
                uncounted,
                is_unjoined: true,
            });
        }
        let points = frames.start..frames.end.min(frames.start + CHUNK_FRAMES);
        frames.start = points.end;
        (!points.is_empty()).then(|| Work {
            halves: points.start + 2..points.end + 2,
            uncounted: if how == Use::Lead { points.len() } else { 0 },
            is_unjoined: how == Use::Samples,
            points,
        })
    }

    /// Counts the samples themselves.
    #[inline(always)]
    fn count_samples(&mut self, frames: &Range<usize>) {
        let samples = self.samples.get(frames.clone()).unwrap_or_default();
        self.peak = self.peak.max(largest_magnitude(samples));
    }

    /// Short stage: computes the points of `frames`, and counts all but those of the first
    /// `uncounted`. If one of them is the frame `cut_at`, takes the peak before it is counted.
    #[inline(always)]
    fn count_points<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        frames: Range<usize>,
        uncounted: usize,
        cut_at: Option<usize>,
    ) -> Option<f32> {
        let Range { start: first, end } = frames;
        let (Some(samples), Some(halves)) =
            (self.samples.get(first - 2..), self.halves.get(first - 2..))
        else {
            return None;
        };
        let (rows, len) = ([samples, halves], end - first);
        self.point_before = self.grid.compute::<FMA>(coefficients, rows, len, self.point_before);
        let cut =
            cut_at.filter(|cut_at| (first..end).contains(cut_at)).map(|cut_at| cut_at - first);
        let mut taken = None;
        for range in [uncounted..cut.unwrap_or(len), cut.unwrap_or(len)..len] {
            if !range.is_empty() {
                let largest = self.grid.largest(&range);
                // A lower bound of the result: only what exceeds it need be looked at.
                self.peak = self.peak.max(largest);
                if largest * LARGEST_REFINEMENT > self.peak {
                    self.peak = self.grid.highest_crest(rows, &range, self.peak);
                }
            }
            if cut.is_some() && taken.is_none() {
                taken = Some(std::mem::take(&mut self.peak));
            }
        }
        taken
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
        // In whole groups: what is looked at beyond the end can only be too much. There is one
        // sample more than frames, and none once the end was looked at.
        let len_samples = (frames.end + 1).saturating_sub(frames.start);
        let samples = self.samples.get(frames.start..).unwrap_or_default();
        let groups = samples.as_chunks::<LANES>().0;
        let groups = groups.get(..len_samples.div_ceil(LANES)).unwrap_or_default();
        let mut cluster: Option<Range<usize>> = None;
        let mut start = frames.start;
        for stretch in groups.chunks(STRETCH_GROUPS) {
            let mut at = start;
            start += STRETCH_GROUPS * LANES;
            if Lanes::largest_magnitude(stretch) <= limit {
                continue;
            }
            for group in stretch {
                let largest = Lanes::largest_magnitude(std::slice::from_ref(group));
                if largest > limit {
                    if let Some(cluster) = cluster.take_if(|cluster| cluster.end + LANES < at) {
                        return Some((cluster, at));
                    }
                    if largest > limit_with(self.bend_about(at)) {
                        // Points lie on either side of a sample. Near ones are cheaper together.
                        let start = cluster.map_or(at - 1, |cluster| cluster.start);
                        cluster = Some(start..(at + LANES).min(frames.end));
                    }
                }
                at += LANES;
            }
        }
        Some((cluster?, frames.end + 1))
    }

    /// The largest |Δ²x| among the frames that the points beside the [`LANES`] samples from `at` on
    /// rest on.
    #[inline(always)]
    fn bend_about(&self, at: usize) -> f32 {
        let from = at - LATENCY_FRAMES;
        let to = (at + LANES + LATENCY_FRAMES).min(self.fill);
        let row = |back: usize| self.samples.get(from + 2 - back..to - back);
        match (row(2), row(1), row(0)) {
            (Some(a), Some(b), Some(c)) => Roughness::of(a, b, c, to - from).bend,
            _ => f32::INFINITY,
        }
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
