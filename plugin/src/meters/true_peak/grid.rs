//! The short stage and what is done with its points: magnitudes on the 8 times grid, and the
//! crests between them.

use super::design::{Coefficients, SHORT_PAIRS};
use crate::meters::CHUNK_FRAMES;
use crate::meters::lanes::{LANES, Lanes};
use std::ops::Range;

/// The parabola adds at most this factor: 1/cos(π/16), what an 8 times grid can miss of a tone
/// at half the sampling rate (BS.1770-5, Annex 2, Attachment 1). More would be an over-read.
pub(super) const LARGEST_REFINEMENT: f32 = 1.019_591_2;

/// Crests up to this magnitude (−240 dBFS) are not refined: squares of such values come near the
/// smallest numbers that `f32` has, which are slow. Own choice, no source.
const REFINED_FROM: f32 = 1e-12;

/// Frames of a row of the grid: those of a chunk and one before, in whole groups.
const ROW_FRAMES: usize = CHUNK_FRAMES + LANES;

/// Magnitudes of the points of one chunk, computed in whole groups of [`LANES`] frames.
#[derive(Debug, Clone)]
pub(in crate::meters) struct Grid {
    /// Points at 1, 2, 3, 5 and 6 eighths of each frame.
    rows: [[f32; ROW_FRAMES]; 5],
    /// Points at 7 eighths, one frame late: the first is the point before the chunk.
    last_row: [f32; ROW_FRAMES + 1],
    /// The largest of the eight of each frame.
    largest: [f32; ROW_FRAMES],
}

impl Grid {
    /// All zero.
    #[inline(always)]
    pub fn empty() -> Self {
        Self {
            rows: [[0.0; ROW_FRAMES]; 5],
            last_row: [0.0; ROW_FRAMES + 1],
            largest: [0.0; ROW_FRAMES],
        }
    }

    /// Computes the points out of both rows of the doubled signal, `samples` x and `halves` o,
    /// which start two frames early.
    #[inline(always)]
    fn fill<const FMA: bool>(&mut self, k: &Coefficients, samples: &[f32], halves: &[f32]) {
        let [row1, row2, row3, row5, row6] = self.rows.each_mut().map(|row| row.as_chunks_mut().0);
        let row7 = self.last_row.split_at_mut(1).1.as_chunks_mut().0;
        let firsts = row1.iter_mut().zip(row2).zip(row3);
        let seconds = row5.iter_mut().zip(row6).zip(row7);
        let rows = firsts.zip(seconds).zip(self.largest.as_chunks_mut().0);
        let sources = windows(samples).zip(windows(halves));
        for (((((p1, p2), p3), ((p5, p6), p7)), largest), (x, o)) in rows.zip(sources) {
            let (x1, x2, x3, x4) = (part(x, 1), part(x, 2), part(x, 3), part(x, 4));
            let (o0, o1, o2, o3, o4) = (part(o, 0), part(o, 1), part(o, 2), part(o, 3), part(o, 4));
            // Pairs about ¼ frame, between x[n] and o[n]; then about ¾, between o[n] and x[n + 1].
            let (a, b, c) = between::<FMA>(k, [(x2, o2), (o1, x3), (x1, o3), (o0, x4)]);
            let (d, e, f) = between::<FMA>(k, [(o2, x3), (x2, o3), (o1, x4), (x1, o4)]);
            (*p1, *p2, *p3, *p5, *p6, *p7) = (a.0, b.0, c.0, d.0, e.0, f.0);
            let between = a.max(b.max(c)).max(d.max(e.max(f)));
            *largest = x2.abs().max(o2.abs()).max(between).0;
        }
    }

    /// Computes the points of `len_frames` frames: `samples` x and `halves` o start two frames
    /// before the first. `point_before` is the one before, infinite where it is not known.
    ///
    /// Returns the last point.
    #[inline(always)]
    pub fn compute<const FMA: bool>(
        &mut self,
        coefficients: &Coefficients,
        [samples, halves]: [&[f32]; 2],
        len_frames: usize,
        point_before: f32,
    ) -> f32 {
        self.last_row[0] = point_before;
        let whole_frames = len_frames.next_multiple_of(LANES);
        let (Some(x), Some(o)) = (samples.get(..whole_frames + 4), halves.get(..whole_frames + 4))
        else {
            return f32::INFINITY;
        };
        self.fill::<FMA>(coefficients, x, o);
        let last = self.last_row.get(len_frames);
        last.copied().unwrap_or(f32::INFINITY)
    }

    /// The largest magnitude on the grid of `frames`, counted from the first that was computed.
    #[inline(always)]
    pub fn largest(&self, frames: &Range<usize>) -> f32 {
        let mut largest = Lanes::splat(0.0);
        let mut done = frames.start - frames.start % LANES;
        let groups = self.largest.get(done..).unwrap_or_default().as_chunks().0;
        for group in groups.iter().take((frames.end - done).div_ceil(LANES)) {
            let from = frames.start.saturating_sub(done);
            largest = largest.max(Lanes(*group).only(from, frames.end - done));
            done += LANES;
        }
        largest.largest()
    }

    /// The larger of `peak` and the highest crest between the grid points: at each local maximum
    /// the vertex of the parabola through the point and its neighbours. Only where the points are
    /// high enough to matter, so the result has the same bits as if all were looked at: a crest is
    /// known to lie no more than `most_above` above its point. The rows
    /// are those that were given to [`compute`](Self::compute), `frames` counted from the first
    /// that was computed.
    #[inline(always)]
    pub fn highest_crest(
        &self,
        [samples, halves]: [&[f32]; 2],
        frames: &Range<usize>,
        mut peak: f32,
        most_above: f32,
    ) -> f32 {
        let (samples, halves) = (samples.get(2..), halves.get(2..));
        let samples = samples.unwrap_or_default();
        let halves = halves.unwrap_or_default();
        let Grid { rows, last_row, largest } = self;
        let [row1, row2, row3, row5, row6] = rows;
        let first_group = frames.start - frames.start % LANES;
        for done in (first_group..frames.end).step_by(LANES) {
            let largest = Lanes::at(largest, done);
            let at_most = largest.times(Lanes::splat(LARGEST_REFINEMENT));
            let at_most = at_most.min(largest.plus(Lanes::splat(most_above)));
            if !at_most.any_above(peak.max(REFINED_FROM)) {
                continue;
            }
            let points = [
                Lanes::at(last_row, done),
                Lanes::at(samples, done).abs(),
                Lanes::at(row1, done),
                Lanes::at(row2, done),
                Lanes::at(row3, done),
                Lanes::at(halves, done).abs(),
                Lanes::at(row5, done),
                Lanes::at(row6, done),
                Lanes::at(last_row, done + 1),
                Lanes::at(samples, done + 1).abs(),
            ];
            let mut crest = Lanes::splat(0.0);
            for three in points.windows(3) {
                if let &[a, b, c] = three {
                    crest = crest.max(vertex(a, b, c));
                }
            }
            let counted = crest.only(frames.start.saturating_sub(done), frames.end - done);
            let crest = counted.largest();
            if crest > REFINED_FROM {
                peak = peak.max(crest);
            }
        }
        peak
    }
}

/// The [`LANES`] frames from `at` on, at most 4.
#[inline(always)]
fn part(window: &[f32; LANES + 4], at: usize) -> Lanes {
    Lanes::at(window, at)
}

/// Every [`LANES`] frames of `row` with the four that follow.
#[inline(always)]
fn windows(row: &[f32]) -> impl Iterator<Item = &[f32; LANES + 4]> {
    row.array_windows().step_by(LANES)
}

/// Magnitudes at ¼, ½ and ¾ between two neighbours of the doubled row, out of the pairs around.
#[inline(always)]
fn between<const FMA: bool>(
    c: &Coefficients,
    pairs: [(Lanes, Lanes); SHORT_PAIRS],
) -> (Lanes, Lanes, Lanes) {
    // Written out: what stands in an array of vectors goes through memory.
    let [(l0, r0), (l1, r1), (l2, r2), (l3, r3)] = pairs;
    let product = |[k0, k1, k2, k3]: [f32; SHORT_PAIRS], a: Lanes, b: Lanes, c: Lanes, d: Lanes| {
        let sum = a.times(Lanes::splat(k0)).plus_product::<FMA>(k1, b);
        sum.plus_product::<FMA>(k2, c).plus_product::<FMA>(k3, d)
    };
    let (s0, s1, s2, s3) = (l0.plus(r0), l1.plus(r1), l2.plus(r2), l3.plus(r3));
    let even = product(c.even, s0, s1, s2, s3);
    let odd = product(c.odd, l0.minus(r0), l1.minus(r1), l2.minus(r2), l3.minus(r3));
    (even.plus(odd).abs(), product(c.middle, s0, s1, s2, s3).abs(), even.minus(odd).abs())
}

/// Where `b` is a local maximum, the vertex of the parabola through it and its neighbours `a` and
/// `c`, b + (a − c)²/(8·(2b − a − c)), else zero. Out of the differences of neighbours, which are
/// exact where these are close: of values that differ in the last digits only, 2b and a + c may round
/// to the same.
#[inline(always)]
fn vertex(a: Lanes, b: Lanes, c: Lanes) -> Lanes {
    let (rise, fall) = (b.minus(a), b.minus(c));
    let (slope, curve) = (fall.minus(rise), fall.plus(rise));
    // A flat top has neither slope nor curve, and gains nothing.
    let eight_curves = curve.times(Lanes::splat(8.0)).max(Lanes::splat(f32::MIN_POSITIVE));
    let limit = b.times(Lanes::splat(LARGEST_REFINEMENT));
    let vertex = b.plus(slope.times(slope).over(eight_curves)).min(limit);
    vertex.where_at_least(b, a.max(c))
}
