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
    /// which start two frames early. One plain loop over frames, which the compiler turns into
    /// one over vectors.
    #[inline(always)]
    #[allow(clippy::indexing_slicing, reason = "every slice is cut to the loop's length")]
    fn fill<const FMA: bool>(&mut self, c: &Coefficients, samples: &[f32], halves: &[f32]) {
        let frames = samples.len().saturating_sub(4).min(ROW_FRAMES);
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
            let [p1, p2, p3] =
                between::<FMA>(c, [(x2[i], o2[i]), (o1[i], x3[i]), (x1[i], o3[i]), (o0[i], x4[i])]);
            let [p5, p6, p7] =
                between::<FMA>(c, [(o2[i], x3[i]), (x2[i], o3[i]), (o1[i], x4[i]), (x1[i], o4[i])]);
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
