//! Eight frames side by side, which the compiler turns into vector instructions.
//!
//! Every operation is elementwise, so a lane's result has the same bits whatever stands in the
//! other lanes.

/// Frames side by side.
pub(super) const LANES: usize = 8;

/// One value of each of [`LANES`] successive frames.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(align(32))]
pub(super) struct Lanes(pub [f32; LANES]);

/// `a` and `b` joined lane by lane.
macro_rules! lanewise {
    ($a:expr, $b:expr, $join:expr) => {{
        let (a, b): ([f32; LANES], [f32; LANES]) = ($a.0, $b.0);
        let mut joined = [0.0; LANES];
        for (joined, (a, b)) in joined.iter_mut().zip(a.into_iter().zip(b)) {
            *joined = $join(a, b);
        }
        Lanes(joined)
    }};
}

impl Lanes {
    /// `value` in every lane.
    #[inline(always)]
    pub fn splat(value: f32) -> Self {
        Self([value; LANES])
    }

    /// The frames from `row[at]` on; beyond the end of the row, silence.
    #[inline(always)]
    pub fn at(row: &[f32], at: usize) -> Self {
        let row = row.get(at..).and_then(|row| row.first_chunk());
        Self(row.copied().unwrap_or_default())
    }

    /// self + other.
    #[inline(always)]
    pub fn plus(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| a + b)
    }

    /// self − other.
    #[inline(always)]
    pub fn minus(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| a - b)
    }

    /// self · other.
    #[inline(always)]
    pub fn times(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| a * b)
    }

    /// self / other.
    #[inline(always)]
    pub fn over(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| a / b)
    }

    /// self + factor · other, rounded once where `FMA` and twice where not.
    #[inline(always)]
    pub fn plus_product<const FMA: bool>(self, factor: f32, other: Self) -> Self {
        if FMA {
            lanewise!(self, other, |a: f32, b: f32| factor.mul_add(b, a))
        } else {
            lanewise!(self, other, |a: f32, b: f32| a + factor * b)
        }
    }

    /// The larger of the two in every lane; no lane may be NaN.
    #[inline(always)]
    pub fn max(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| if a > b { a } else { b })
    }

    /// The smaller of the two in every lane; no lane may be NaN.
    #[inline(always)]
    pub fn min(self, other: Self) -> Self {
        lanewise!(self, other, |a: f32, b: f32| if a < b { a } else { b })
    }

    /// `self` where `a` ≥ `b`, else zero.
    #[inline(always)]
    pub fn where_at_least(self, a: Self, b: Self) -> Self {
        let mut kept = self.0;
        for (kept, (a, b)) in kept.iter_mut().zip(a.0.into_iter().zip(b.0)) {
            *kept = if a >= b { *kept } else { 0.0 };
        }
        Self(kept)
    }

    /// Magnitudes.
    #[inline(always)]
    pub fn abs(self) -> Self {
        let mut magnitudes = self.0;
        for lane in &mut magnitudes {
            *lane = lane.abs();
        }
        Self(magnitudes)
    }

    /// Whether any lane is above `limit`.
    #[inline(always)]
    pub fn any_above(self, limit: f32) -> bool {
        let mut any = false;
        for lane in self.0 {
            any |= lane > limit;
        }
        any
    }

    /// The lanes from `from` up to `to`, the others zero.
    #[inline(always)]
    pub fn only(self, from: usize, to: usize) -> Self {
        if from == 0 && to >= LANES {
            return self;
        }
        let mut kept = self.0;
        for (i, lane) in kept.iter_mut().enumerate() {
            *lane = if i >= from && i < to { *lane } else { 0.0 };
        }
        Self(kept)
    }

    /// The largest magnitude in `groups`; no value may be NaN.
    #[inline(always)]
    pub fn largest_magnitude(groups: &[[f32; LANES]]) -> f32 {
        // Magnitudes are ordered as their bits are, and the compiler makes vectors of integers.
        let mut largest = [0_i32; LANES];
        for group in groups {
            for (largest, value) in largest.iter_mut().zip(group) {
                *largest = value.abs().to_bits().cast_signed().max(*largest);
            }
        }
        let [a, b, c, d, e, f, g, h] = largest;
        let largest = (a.max(e).max(c.max(g))).max(b.max(f).max(d.max(h)));
        f32::from_bits(largest.cast_unsigned())
    }

    /// The largest lane, at least zero.
    #[inline(always)]
    pub fn largest(self) -> f32 {
        let [a, b, c, d, e, f, g, h] = self.0;
        let larger = |a: f32, b: f32| if a > b { a } else { b };
        larger(larger(larger(a, e), larger(c, g)), larger(larger(b, f), larger(d, h))).max(0.0)
    }
}
