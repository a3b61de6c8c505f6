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

use super::lanes::{LANES, Lanes};
pub(super) use design::Coefficients;
use design::{HALF_PAIRS, SHORT_PAIRS};

/// Frames from a point to the newest frame that it needs, plus one: H.
pub(super) const LATENCY_FRAMES: usize = HALF_PAIRS + 2;

/// Most frames that are worked on at once.
pub(super) const CHUNK_FRAMES: usize = 64;

/// Frames of the past that later points need, and two more for the points' neighbours.
const KEPT_FRAMES: usize = 2 * HALF_PAIRS + 6;

/// Frames that fit behind one another before the past is moved to the front.
const CAPACITY_FRAMES: usize = 512;

/// The parabola adds at most this factor: 1/cos(π/16), what an 8 times grid can miss of a tone
/// at half the sampling rate (BS.1770-5, Annex 2, Attachment 1). More would be an over-read.
const LARGEST_REFINEMENT: f32 = 1.019_591_2;

/// Below this magnitude (−240 dBFS) crests are not refined: products of such values come near
/// the smallest numbers that `f32` has. Own choice, no source.
const REFINED_FROM: f32 = 1e-12;

/// Makes the test that spares the division err on the safe side: it is some 80 roundings wide,
/// the test and the refinement together make less than 10.
const TEST_MARGIN: f32 = 1.000_01;

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

/// Magnitudes of the points of one chunk, computed in whole groups of [`LANES`] frames.
#[derive(Debug, Clone)]
struct Grid {
    /// Points at 1, 2, 3, 5 and 6 eighths of each frame.
    rows: [[f32; CHUNK_FRAMES]; 5],
    /// Points at 7 eighths, one frame late: the first is the point before the chunk.
    last_row: [f32; CHUNK_FRAMES + LANES],
    /// The largest of the eight of each frame.
    largest: [f32; CHUNK_FRAMES],
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
        // Whole groups are computed, which may read and write up to a group beyond the newest.
        if self.fill + CHUNK_FRAMES + LANES > CAPACITY_FRAMES {
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
    ) {
        let len_frames = len_frames.min(CHUNK_FRAMES);
        self.add_halves::<FMA>(coefficients, len_frames);
        let first = self.fill - LATENCY_FRAMES;
        self.fill += len_frames;
        if how == Use::Samples {
            let samples = self.samples.get(first..first + len_frames);
            for sample in samples.unwrap_or_default() {
                self.peak = self.peak.max(sample.abs());
            }
            self.point_before = f32::INFINITY;
            return;
        }
        let largest = self.fill_grid::<FMA>(coefficients, first, len_frames);
        if how == Use::Full {
            // A lower bound of the result: only what exceeds it need be looked at.
            self.peak = self.peak.max(largest);
            if largest * LARGEST_REFINEMENT > self.peak.max(REFINED_FROM) {
                self.refine(first, len_frames);
            }
        }
    }

    /// Half-band stage: o\[n\] up to the last one whose frames have come. As many side by side as
    /// there are registers for; the bits are the same.
    #[inline(always)]
    fn add_halves<const FMA: bool>(&mut self, coefficients: &Coefficients, len_frames: usize) {
        let mut done = 0;
        while FMA && done + 8 * LANES <= len_frames {
            self.add_half_groups::<FMA, { 8 * LANES }>(coefficients, done);
            done += 8 * LANES;
        }
        while done + 3 * LANES <= len_frames {
            self.add_half_groups::<FMA, { 3 * LANES }>(coefficients, done);
            done += 3 * LANES;
        }
        while done < len_frames {
            self.add_half_groups::<FMA, LANES>(coefficients, done);
            done += LANES;
        }
    }

    /// The `FRAMES` half-way points that the frames from `done` in the room on complete.
    #[inline(always)]
    fn add_half_groups<const FMA: bool, const FRAMES: usize>(
        &mut self,
        coefficients: &Coefficients,
        done: usize,
    ) {
        let newest = self.fill + done;
        let middle = newest - HALF_PAIRS;
        let early = self.samples.get(middle + 1 - HALF_PAIRS..middle + FRAMES);
        let late = self.samples.get(middle + 1..newest + FRAMES);
        let out = self.halves.get_mut(middle..middle + FRAMES);
        let (Some(early), Some(late), Some(out)) = (early, late, out) else {
            return;
        };
        let pairs = early.array_windows::<FRAMES>().rev().zip(late.array_windows::<FRAMES>());
        let mut sums = [[0.0; LANES]; 8];
        for (coefficient, (early, late)) in coefficients.half.iter().zip(pairs) {
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

    /// Short stage: fills the grid for `len_frames` frames from `first` on and returns the
    /// largest magnitude on it.
    #[inline(always)]
    fn fill_grid<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        first: usize,
        len_frames: usize,
    ) -> f32 {
        let whole_frames = len_frames.next_multiple_of(LANES);
        // Both rows of the doubled signal from two frames before on.
        let samples = self.samples.get(first - 2..first + 2 + whole_frames);
        let halves = self.halves.get(first - 2..first + 2 + whole_frames);
        let (Some(samples), Some(halves)) = (samples, halves) else {
            return 0.0;
        };
        let grid = &mut self.grid;
        grid.last_row[0] = self.point_before;
        grid.fill::<FMA>(coefficients, samples, halves);
        self.point_before = grid.last_row.get(len_frames).copied().unwrap_or(f32::INFINITY);
        // What stands beyond the last frame was computed from frames that have not come.
        grid.largest.get_mut(len_frames..whole_frames).unwrap_or_default().fill(0.0);
        let mut largest = Lanes::splat(0.0);
        for group in grid.largest.as_chunks().0.iter().take(whole_frames / LANES) {
            largest = largest.max(Lanes(*group));
        }
        largest.largest()
    }

    /// Looks for crests between grid points that exceed the peak known so far.
    ///
    /// Near a local maximum b with the neighbours a and c the vertex of the parabola through the
    /// three is b + (a − c)²/(8·(2b − a − c)). Whether it exceeds the peak is asked first, without
    /// dividing and on the safe side, so the result has the same bits as if all were divided.
    #[inline(always)]
    fn refine(&mut self, first: usize, len_frames: usize) {
        let samples = self.samples.get(first..).unwrap_or_default();
        let halves = self.halves.get(first..).unwrap_or_default();
        for done in (0..len_frames).step_by(LANES) {
            let known = self.peak.max(REFINED_FROM);
            let at_most = Lanes::at(&self.grid.largest, done).times(Lanes::splat(LARGEST_REFINEMENT));
            if !at_most.any_above(known) {
                continue;
            }
            let [row1, row2, row3, row5, row6] = &self.grid.rows;
            let points = [
                Lanes::at(&self.grid.last_row, done),
                Lanes::at(samples, done).abs(),
                Lanes::at(row1, done),
                Lanes::at(row2, done),
                Lanes::at(row3, done),
                Lanes::at(halves, done).abs(),
                Lanes::at(row5, done),
                Lanes::at(row6, done),
                Lanes::at(&self.grid.last_row, done + 1),
                Lanes::at(samples, done + 1).abs(),
            ];
            let mut excess = Lanes::splat(0.0);
            for_each_three(&points, |a, b, c| {
                let (slope, curve) = slope_and_curve(a, b, c);
                let gained = slope.times(slope).times(Lanes::splat(TEST_MARGIN));
                let needed = Lanes::splat(known).minus(b).times(curve.times(Lanes::splat(8.0)));
                let here = gained.minus(needed).where_at_least(b, a.max(c));
                excess = excess.max(here);
            });
            let count = len_frames - done;
            if excess.first(count).any_above(0.0) {
                let mut largest = Lanes::splat(0.0);
                for_each_three(&points, |a, b, c| {
                    largest = largest.max(vertex(a, b, c));
                });
                let largest = largest.first(count).largest();
                if largest > REFINED_FROM {
                    self.peak = self.peak.max(largest);
                }
            }
        }
    }
}

impl Grid {
    /// All zero.
    #[inline(always)]
    fn empty() -> Self {
        Self {
            rows: [[0.0; CHUNK_FRAMES]; 5],
            last_row: [0.0; CHUNK_FRAMES + LANES],
            largest: [0.0; CHUNK_FRAMES],
        }
    }

    /// Computes the points out of both rows of the doubled signal, `samples` x and `halves` o,
    /// which start two frames early. One plain loop over frames, which the compiler turns into
    /// one over vectors.
    #[inline(always)]
    #[allow(clippy::indexing_slicing, reason = "every slice is cut to the loop's length")]
    fn fill<const FMA: bool>(&mut self, c: &Coefficients, samples: &[f32], halves: &[f32]) {
        let frames = samples.len().saturating_sub(4).min(CHUNK_FRAMES);
        let x = |offset: usize| &samples[offset..][..frames];
        let o = |offset: usize| &halves[offset..][..frames];
        let (x1, x2, x3, x4) = (x(1), x(2), x(3), x(4));
        let (o0, o1, o2, o3, o4) = (o(0), o(1), o(2), o(3), o(4));
        let [row1, row2, row3, row5, row6] = &mut self.rows;
        let (row1, row2, row3) = (&mut row1[..frames], &mut row2[..frames], &mut row3[..frames]);
        let (row5, row6) = (&mut row5[..frames], &mut row6[..frames]);
        let row7 = &mut self.last_row[1..][..frames];
        let largest = &mut self.largest[..frames];
        let larger = |a: f32, b: f32| if a > b { a } else { b };
        for i in 0..frames {
            // Pairs about ¼ frame, between x[n] and o[n]; then about ¾, between o[n] and x[n + 1].
            let [p1, p2, p3] = between::<FMA>(
                c,
                [(x2[i], o2[i]), (o1[i], x3[i]), (x1[i], o3[i]), (o0[i], x4[i])],
            );
            let [p5, p6, p7] = between::<FMA>(
                c,
                [(o2[i], x3[i]), (x2[i], o3[i]), (o1[i], x4[i]), (x1[i], o4[i])],
            );
            row1[i] = p1;
            row2[i] = p2;
            row3[i] = p3;
            row5[i] = p5;
            row6[i] = p6;
            row7[i] = p7;
            let samples = larger(x2[i].abs(), o2[i].abs());
            let first = larger(p1, larger(p2, p3));
            let second = larger(p5, larger(p6, p7));
            largest[i] = larger(samples, larger(first, second));
        }
    }
}

/// Magnitudes at ¼, ½ and ¾ between two neighbours of the doubled row, out of the pairs around.
#[inline(always)]
fn between<const FMA: bool>(c: &Coefficients, pairs: [(f32, f32); SHORT_PAIRS]) -> [f32; 3] {
    let add = |sum: f32, factor: f32, value: f32| {
        if FMA { factor.mul_add(value, sum) } else { sum + factor * value }
    };
    let [(l0, r0), (l1, r1), (l2, r2), (l3, r3)] = pairs;
    let sums = [l0 + r0, l1 + r1, l2 + r2, l3 + r3];
    let differences = [l0 - r0, l1 - r1, l2 - r2, l3 - r3];
    let product = |row: &[f32; SHORT_PAIRS], of: [f32; SHORT_PAIRS]| {
        let ([k0, k1, k2, k3], [v0, v1, v2, v3]) = (*row, of);
        add(add(add(k0 * v0, k1, v1), k2, v2), k3, v3)
    };
    let (even, odd) = (product(&c.even, sums), product(&c.odd, differences));
    [(even + odd).abs(), product(&c.middle, sums).abs(), (even - odd).abs()]
}

/// Calls `use_three` for every point of the eight with its neighbours on either side.
#[inline(always)]
fn for_each_three(points: &[Lanes; 10], mut use_three: impl FnMut(Lanes, Lanes, Lanes)) {
    for three in points.windows(3) {
        if let &[a, b, c] = three {
            use_three(a, b, c);
        }
    }
}

/// a − c and 2b − (a + c).
#[inline(always)]
fn slope_and_curve(a: Lanes, b: Lanes, c: Lanes) -> (Lanes, Lanes) {
    (a.minus(c), b.plus(b).minus(a.plus(c)))
}

/// The vertex of the parabola where `b` is a local maximum, else zero.
#[inline(always)]
fn vertex(a: Lanes, b: Lanes, c: Lanes) -> Lanes {
    let (slope, curve) = slope_and_curve(a, b, c);
    let smallest = Lanes::splat(f32::MIN_POSITIVE);
    let gained = slope.times(slope).over(curve.times(Lanes::splat(8.0)).max(smallest));
    let limit = b.times(Lanes::splat(LARGEST_REFINEMENT));
    b.plus(gained).min(limit).where_at_least(b, a.max(c))
}
