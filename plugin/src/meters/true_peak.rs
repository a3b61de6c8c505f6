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
pub(super) use grid::Grid;
use grid::LARGEST_REFINEMENT;
use roughness::{Past, Roughness, largest_magnitude};
use std::ops::Range;

/// Frames from a point to the newest frame that it needs, plus one: H.
pub(super) const LATENCY_FRAMES: usize = HALF_PAIRS + 2;

/// Frames of the past that later points need, and some.
const KEPT_FRAMES: usize = 2 * HALF_PAIRS + 8;

/// Most frames that are taken in at once. A hop at 48 kHz: what need not be computed is told by
/// what all of them have in common.
pub(super) const ROOM_FRAMES: usize = 480;

/// Frames that are looked at together, by their largest sample or their largest bend, before they
/// are looked at more closely.
const STRETCH_FRAMES: usize = 8 * LANES;

// There is a place for each stretch of the frames that are taken in at once, and of one sample more.
const _: () = assert!(ROOM_FRAMES < LANES * STRETCH_FRAMES);

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
    /// No crest lies more than this above its point.
    most_above: f32,
}

/// The largest sample of each stretch, [`DONE`] once it was looked at and where there is none.
#[derive(Debug)]
struct Search {
    largest: [f32; LANES],
}

/// Below every magnitude: a stretch of silence is to be looked at too, for what rings in it.
const DONE: f32 = -1.0;

impl Search {
    /// Nothing to look at.
    const NONE: Self = Self { largest: [DONE; LANES] };

    /// The first frame and the largest sample of the stretch whose largest is the largest of those
    /// that were not looked at yet, if it is above `limit`; `first` is the first frame of the first
    /// stretch.
    #[inline(always)]
    fn next(&mut self, first: usize, limit: f32) -> Option<(usize, f32)> {
        let highest = self.largest.iter().fold(DONE, |a, &b| if b > a { b } else { a });
        if highest < 0.0 || highest <= limit {
            return None;
        }
        let at = self.largest.iter().position(|largest| *largest >= highest)?;
        if let Some(largest) = self.largest.get_mut(at) {
            *largest = DONE;
        }
        Some((first + at * STRETCH_FRAMES, highest))
    }
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
    /// The last grid point before the next one to come; infinite where it is not known, so that
    /// no crest is drawn beside it.
    point_before: f32,
    /// Whether the points before the next frame rest on frames that were not seen.
    is_cold: bool,
    /// Largest magnitude of the newest frames.
    newest_reach: f32,
    /// Of the run before the newest frames, and of the one before that where it is needed.
    past: [Past; 2],
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
            point_before: 0.0,
            is_cold: false,
            newest_reach: 0.0,
            past: [Past::NONE; 2],
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
        self.past = [Past::NONE; 2];
        self.peak = 0.0;
    }

    /// The peak since the last take.
    pub fn take(&mut self) -> f32 {
        std::mem::take(&mut self.peak)
    }

    /// Room for the next `len_frames` frames, at most [`ROOM_FRAMES`]; write them, tell the largest
    /// with [`heard`](Self::heard), then call [`advance`](Self::advance).
    #[inline(always)]
    pub fn room(&mut self, len_frames: usize, effort: Effort) -> &mut [f32] {
        // Whole groups are computed, which may read and write beyond the newest.
        if self.fill + ROOM_FRAMES + 2 * LANES > CAPACITY_FRAMES {
            let from = self.fill - KEPT_FRAMES;
            self.samples.copy_within(from..self.fill, 0);
            // Where points are left out, those that are needed are computed anew each time.
            if effort == Effort::Even {
                self.halves.copy_within(from..self.fill, 0);
            }
            self.fill = KEPT_FRAMES;
        }
        self.samples.get_mut(self.fill..self.fill + len_frames.min(ROOM_FRAMES)).unwrap_or_default()
    }

    /// The largest magnitude of the frames in [`room`](Self::room).
    #[inline(always)]
    pub const fn heard(&mut self, largest: f32) {
        self.newest_reach = largest;
    }

    /// The `len_frames` frames that stand in [`room`](Self::room).
    #[inline(always)]
    pub fn newest(&self, len_frames: usize) -> &[f32] {
        self.samples.get(self.fill..self.fill + len_frames).unwrap_or_default()
    }

    /// Takes in the `len_frames` frames that stand in [`room`](Self::room): the points of as many
    /// frames, [`LATENCY_FRAMES`] earlier, are complete. With a `cut`, the peak is taken as
    /// [`take`](Self::take) takes it when so many of them are. `grid` is used meanwhile; nothing is kept in it.
    #[inline(always)]
    pub fn advance<const FMA: bool>(
        &mut self,
        grid: &mut Grid,
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
        let roughness = if is_even { Roughness::NONE } else { self.roughness::<FMA>(len_frames) };
        let mut taken = None;
        // Where all points are computed, the cut is made when they are counted: computing them in
        // two goes costs more.
        let ranges = if is_even { [first..end, end..end] } else { [first..cut_at, cut_at..end] };
        for range in ranges {
            let is_search = how == Use::Full && effort == Effort::Least;
            let mut search = Search::NONE;
            if !range.is_empty() && (how == Use::Samples || is_search) {
                search = self.count_samples(&range);
            }
            // One loop for all ways, so that the code is there once: it is long, and stays near
            // the processor.
            let mut frames = range;
            let is_empty = frames.is_empty();
            loop {
                let work = if is_search {
                    self.next_candidates(&coefficients.bound, &frames, &mut search, &roughness)
                } else {
                    Self::next_frames(&mut frames, how)
                };
                let Some(work) = work else { break };
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
                        grid,
                        coefficients,
                        work.points,
                        work.uncounted,
                        work.most_above,
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

    /// What is to be computed next of `frames`, of which those that are done are taken off.
    #[inline(always)]
    fn next_frames(frames: &mut Range<usize>, how: Use) -> Option<Work> {
        let points = frames.start..frames.end.min(frames.start + CHUNK_FRAMES);
        frames.start = points.end;
        (!points.is_empty()).then(|| Work {
            halves: points.start + 2..points.end + 2,
            uncounted: if how == Use::Lead { points.len() } else { 0 },
            is_unjoined: how == Use::Samples,
            most_above: f32::INFINITY,
            points,
        })
    }

    /// The points of `frames` that may be above the peak so far, where the highest samples are
    /// first: what is found there leaves the fewest for later.
    ///
    /// How far points and crests can lie above the samples beside them is told by the largest
    /// |Δ²x| and |x| within reach: see [`design::Bound`]. The largest |Δ²x| of all frames tells of
    /// most stretches that they have no such point, the largest about the stretch of most others.
    /// With the limits that follow from this, what is left out is not above the peak so far, and
    /// the result has the same bits as if all were counted.
    #[inline(always)]
    fn next_candidates(
        &self,
        bound: &Bound,
        frames: &Range<usize>,
        search: &mut Search,
        roughness: &Roughness,
    ) -> Option<Work> {
        let rounding = bound.rounding * roughness.reach;
        let limit_with = |bend: f32| {
            let far = (bound.bend + bound.crest) * bend + 2.0 * rounding;
            (self.peak - far) / bound.near
        };
        loop {
            let (start, largest) = search.next(frames.start, limit_with(roughness.bend))?;
            // There is one sample more than frames.
            let end = (start + STRETCH_FRAMES).min(frames.end + 1);
            // A crest's neighbour on the grid may belong to the frame before.
            let bend = roughness.bend_about(start - LATENCY_FRAMES + 1, end + LATENCY_FRAMES);
            let limit = limit_with(bend);
            if largest <= limit {
                continue;
            }
            // In whole groups: what is looked at beyond the end can only be too much.
            let samples = self.samples.get(start..).unwrap_or_default().as_chunks::<LANES>().0;
            let samples = samples.get(..(end - start).div_ceil(LANES)).unwrap_or_default();
            let is_above = |group: &[f32; LANES]| Lanes(*group).abs().any_above(limit);
            let first = samples.iter().position(is_above)?;
            let last = samples.iter().rposition(is_above)?;
            // Points lie on either side of a sample. The points before the first sample belong to
            // frames that were counted.
            let from = frames.start.max(start + first * LANES - 1);
            let to = (start + (last + 1) * LANES).min(frames.end);
            // The frame before gives the first point its neighbour, and is not counted; where it
            // rests on what was not seen, the first point has none.
            let uncounted = usize::from(!(self.is_cold && from == frames.start));
            let points = from - uncounted..to;
            return Some(Work {
                halves: points.start - 2..to + 2,
                points,
                uncounted,
                is_unjoined: true,
                most_above: bound.crest * bend + rounding,
            });
        }
    }

    /// Counts the samples themselves, and finds the largest of each stretch of [`STRETCH_FRAMES`].
    #[inline(always)]
    fn count_samples(&mut self, frames: &Range<usize>) -> Search {
        let mut search = Search::NONE;
        let samples = self.samples.get(frames.clone()).unwrap_or_default();
        let (stretches, rest) = samples.as_chunks::<STRETCH_FRAMES>();
        let mut largest = search.largest.iter_mut();
        // In this order: the shorter of the two is asked first, and nothing is taken in vain.
        for (stretch, largest) in stretches.iter().zip(largest.by_ref()) {
            *largest = Lanes::largest_magnitude(stretch.as_chunks().0);
            self.peak = self.peak.max(*largest);
        }
        if let Some(largest) = largest.next() {
            *largest = largest_magnitude(rest);
            self.peak = self.peak.max(*largest);
            // One sample more lies beside the last points; it is not counted here.
            let next = self.samples.get(frames.end).copied().unwrap_or(0.0);
            *largest = largest.max(next.abs());
        }
        search
    }

    /// Short stage: computes the points of `frames`, and counts all but those of the first
    /// `uncounted`. If one of them is the frame `cut_at`, takes the peak before it is counted.
    #[inline(always)]
    fn count_points<const FMA: bool>(
        &mut self,
        grid: &mut Grid,
        coefficients: &Coefficients,
        frames: Range<usize>,
        uncounted: usize,
        most_above: f32,
        cut_at: Option<usize>,
    ) -> Option<f32> {
        let Range { start: first, end } = frames;
        let (Some(samples), Some(halves)) =
            (self.samples.get(first - 2..), self.halves.get(first - 2..))
        else {
            return None;
        };
        let (rows, len) = ([samples, halves], end - first);
        self.point_before = grid.compute::<FMA>(coefficients, rows, len, self.point_before);
        let cut =
            cut_at.filter(|cut_at| (first..end).contains(cut_at)).map(|cut_at| cut_at - first);
        let mut taken = None;
        for range in [uncounted..cut.unwrap_or(len), cut.unwrap_or(len)..len] {
            if !range.is_empty() {
                let largest = grid.largest(&range);
                // A lower bound of the result: only what exceeds it need be looked at.
                self.peak = self.peak.max(largest);
                if (largest * LARGEST_REFINEMENT).min(largest + most_above) > self.peak {
                    self.peak = grid.highest_crest(rows, &range, self.peak, most_above);
                }
            }
            if cut.is_some() && taken.is_none() {
                taken = Some(std::mem::take(&mut self.peak));
            }
        }
        taken
    }

    /// How large and how bent the frames are that the points of the newest `len_frames` complete ones
    /// rest on, and some before.
    #[inline(always)]
    fn roughness<const FMA: bool>(&mut self, len_frames: usize) -> Roughness {
        let Self { samples, fill, newest_reach, past, .. } = self;
        let row = samples.get(..*fill).unwrap_or_default();
        Roughness::of_newest::<FMA>(row, *fill - len_frames, *newest_reach, past)
    }
}
