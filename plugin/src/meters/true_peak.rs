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
use super::lanes::LANES;
pub(super) use design::Coefficients;
use design::HALF_PAIRS;
use grid::{Grid, LARGEST_REFINEMENT};
use roughness::{REACH_FRAMES, Roughness, groups_above, largest_magnitude};

/// Frames from a point to the newest frame that it needs, plus one: H.
pub(super) const LATENCY_FRAMES: usize = HALF_PAIRS + 2;

/// Frames of the past that later points need, and some.
const KEPT_FRAMES: usize = 2 * HALF_PAIRS + 8;

/// Frames that fit behind one another before the past is moved to the front.
const CAPACITY_FRAMES: usize = 512;

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
    /// Whether that point and the half-way points about it were computed.
    is_gapless: bool,
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
            is_gapless: true,
            roughness_before: [Roughness::NONE; 2],
            peak: 0.0,
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        *self = Self::new();
    }

    /// The peak since the last take.
    pub fn take(&mut self) -> f32 {
        std::mem::take(&mut self.peak)
    }

    /// Room for the next `len_frames` frames, at most [`CHUNK_FRAMES`]; write them, then call
    /// [`advance`](Self::advance).
    #[inline(always)]
    pub fn room(&mut self, len_frames: usize) -> &mut [f32] {
        // Whole groups are computed, which may read and write beyond the newest.
        if self.fill + CHUNK_FRAMES + 2 * LANES > CAPACITY_FRAMES {
            let from = self.fill - KEPT_FRAMES;
            self.samples.copy_within(from..self.fill, 0);
            self.halves.copy_within(from..self.fill, 0);
            self.fill = KEPT_FRAMES;
        }
        self.samples
            .get_mut(self.fill..self.fill + len_frames.min(CHUNK_FRAMES))
            .unwrap_or_default()
    }

    /// The frames that stand in [`room`](Self::room).
    #[inline(always)]
    pub fn newest(&self, len_frames: usize) -> &[f32] {
        self.samples
            .get(self.fill..self.fill + len_frames)
            .unwrap_or_default()
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
        let len_frames = len_frames.min(CHUNK_FRAMES);
        let first = self.fill - LATENCY_FRAMES;
        self.fill += len_frames;
        let roughness = (effort == Effort::Least).then(|| self.roughness(len_frames));
        match (how, roughness) {
            (Use::Full, None) => {
                self.add_halves::<FMA>(coefficients, first + 2, len_frames);
                self.count_points::<FMA>(coefficients, first, len_frames, 0);
            }
            (Use::Full, Some(roughness)) => {
                self.count_samples(first, len_frames);
                let bound = &coefficients.bound;
                let far = bound.bend * roughness.bend + bound.rounding * roughness.reach;
                let limit = (self.peak / LARGEST_REFINEMENT - far) / bound.near;
                self.count_points_beside::<FMA>(coefficients, first, len_frames, limit);
            }
            (Use::Lead, _) => {
                self.add_halves::<FMA>(coefficients, first + 2, len_frames);
                self.count_points::<FMA>(coefficients, first, len_frames, len_frames);
            }
            (Use::Samples, _) => {
                self.add_halves::<FMA>(coefficients, first + 2, len_frames);
                self.count_samples(first, len_frames);
                self.point_before = f32::INFINITY;
            }
        }
    }

    /// Counts the samples themselves.
    #[inline(always)]
    fn count_samples(&mut self, first: usize, len_frames: usize) {
        let samples = self
            .samples
            .get(first..first + len_frames)
            .unwrap_or_default();
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
            self.grid
                .compute::<FMA>(coefficients, rows, len_frames, self.point_before, uncounted);
        if uncounted >= len_frames {
            return;
        }
        let largest = self.grid.largest(len_frames);
        // A lower bound of the result: only what exceeds it need be looked at.
        self.peak = self.peak.max(largest);
        if largest * LARGEST_REFINEMENT > self.peak {
            self.peak = self
                .grid
                .highest_crest(rows, len_frames, uncounted, self.peak);
        }
    }

    /// Counts the points from before the first to after the last sample with a magnitude above
    /// `limit`, roughly; none if there is no such sample.
    ///
    /// |y| at a point is at most `near`·|x| of the larger sample beside it + `bend`·|Δ²x| and
    /// `rounding`·|x| of the largest within reach: see [`design::Bound`]. With the limit that
    /// follows from this, what is left out is not above the peak so far, and the result has the
    /// same bits as if all were counted.
    #[inline(always)]
    fn count_points_beside<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        first: usize,
        len_frames: usize,
        limit: f32,
    ) {
        let beside = self
            .samples
            .get(first..=first + len_frames)
            .unwrap_or_default();
        let Some((lowest, highest)) = groups_above(beside, limit) else {
            self.is_gapless = false;
            return;
        };
        let end = first + len_frames;
        let to = (first + highest).min(end);
        if lowest == 0 && self.is_gapless {
            self.add_halves::<FMA>(coefficients, first + 2, to - first);
            self.count_points::<FMA>(coefficients, first, to - first, 0);
        } else {
            // Points lie on either side of a sample. The frame before those gives the first of
            // them its neighbour, and is not counted.
            let from = (first + lowest).saturating_sub(1).max(first);
            let uncounted = from - 1;
            self.point_before = f32::INFINITY;
            self.add_halves::<FMA>(coefficients, uncounted - 2, to - uncounted + 4);
            self.count_points::<FMA>(coefficients, uncounted, to - uncounted, 1);
        }
        self.is_gapless = to == end;
    }

    /// Largest |x| and largest |Δ²x| among the frames that the points of the newest `len_frames`
    /// complete ones rest on, and some before.
    #[inline(always)]
    fn roughness(&mut self, len_frames: usize) -> Roughness {
        let row = |from: usize| {
            self.samples
                .get(from..from + len_frames)
                .unwrap_or_default()
        };
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
