//! K-weighted energy and unweighted sums of channels side by side.
//!
//! Per channel u\[n\] = shelf(x)\[n\], y\[n\] = high-pass(u)\[n\] (ITU-R BS.1770-5, Annex 1, Tables 1
//! and 2, see `k_weighting.rs`), then Σ y², Σ x² and, of two channels, Σ x·x'. Every sum runs frame
//! by frame and every operation is elementwise, so that a channel has the same bits whatever stands
//! beside it and however the frames were cut into blocks.

use super::k_weighting::Biquad;
use super::notes::MOST;
use std::hint::black_box;

/// Filter memory below this magnitude is set to zero at the end of a hop, long before it could
/// become subnormal. Own choice, no source.
const FLUSH: f64 = 1e-30;

/// One value for each of two channels.
type Two = [f64; 2];

/// The memory and the sums of channels side by side: two, or four in the same number of turns,
/// where a turn waits for the results of the one before. The compiler keeps each value in one
/// vector register.
#[derive(Debug, Clone, Copy)]
struct Filter<const N: usize> {
    /// x\[n−1\], x\[n−2\]: the samples.
    heard: [[f64; N]; 2],
    /// u\[n−1\], u\[n−2\]: after the shelf.
    shelved: [[f64; N]; 2],
    /// y\[n−1\], y\[n−2\]: after the high-pass.
    weighted: [[f64; N]; 2],
    /// Σ y².
    weighted_square_sum: [f64; N],
    /// Σ x².
    square_sum: [f64; N],
    /// Σ of the product of a channel and its neighbour.
    product_sum: [f64; N],
}

/// k·v + acc, rounded once where `FMA` and twice where not.
#[inline(always)]
#[allow(clippy::indexing_slicing, reason = "within the arrays' length")]
fn multiply_add<const FMA: bool, const N: usize>(
    k: [f64; N],
    v: [f64; N],
    acc: [f64; N],
) -> [f64; N] {
    let mut sum = [0.0; N];
    for i in 0..N {
        sum[i] = if FMA { k[i].mul_add(v[i], acc[i]) } else { k[i] * v[i] + acc[i] };
    }
    sum
}

/// Each channel's neighbour of its pair.
#[inline(always)]
fn swapped<const N: usize>(mut x: [f64; N]) -> [f64; N] {
    for [a, b] in x.as_chunks_mut::<2>().0 {
        (*a, *b) = (*b, *a);
    }
    x
}

/// Both stages with the gain of the high-pass in the shelf, which leaves it 1, −2, 1.
struct Factors<const N: usize> {
    b0: [f64; N],
    b1: [f64; N],
    b2: [f64; N],
    /// −a1 and −a2 of the shelf.
    shelf: [[f64; N]; 2],
    /// −a1 and −a2 of the high-pass.
    high_pass: [[f64; N]; 2],
}

impl<const N: usize> Factors<N> {
    #[inline(always)]
    fn new([head, high_pass]: &[Biquad; 2]) -> Self {
        let gain = high_pass.b0;
        Self {
            b0: [head.b0 * gain; N],
            b1: [head.b1 * gain; N],
            b2: [head.b2 * gain; N],
            shelf: [[-head.a1; N], [-head.a2; N]],
            high_pass: [[-high_pass.a1; N], [-high_pass.a2; N]],
        }
    }
}

impl<const N: usize> Filter<N> {
    /// Silence before, nothing summed.
    const NEW: Self = Self {
        heard: [[0.0; N]; 2],
        shelved: [[0.0; N]; 2],
        weighted: [[0.0; N]; 2],
        weighted_square_sum: [0.0; N],
        square_sum: [0.0; N],
        product_sum: [0.0; N],
    };

    /// Adds frames, and notes in `noted` what Σ y² is after each of `ends`.
    #[inline(always)]
    fn run<const FMA: bool>(
        &mut self,
        factors: &Factors<N>,
        frames: &[[f32; N]],
        ends: &[usize],
        noted: &mut [[f64; N]; MOST],
    ) {
        // A copy that nothing else can see stays in registers.
        let mut filter = *self;
        let mut done = 0;
        for (end, noted) in ends.iter().zip(noted) {
            for frame in frames.get(done..*end).unwrap_or_default() {
                filter.add::<FMA>(factors, frame);
            }
            *noted = filter.weighted_square_sum;
            done = *end;
        }
        for frame in frames.get(done..).unwrap_or_default() {
            filter.add::<FMA>(factors, frame);
        }
        *self = filter;
    }

    /// Adds a frame.
    #[inline(always)]
    #[allow(clippy::indexing_slicing, reason = "within the arrays' length")]
    fn add<const FMA: bool>(&mut self, factors: &Factors<N>, frame: &[f32; N]) {
        let x = frame.map(f64::from);
        let [x1, x2] = self.heard;
        let [u1, u2] = self.shelved;
        let [y1, y2] = self.weighted;
        let mut u = [0.0; N];
        for i in 0..N {
            u[i] = factors.b0[i] * x[i];
        }
        let u = multiply_add::<FMA, N>(factors.b1, x1, u);
        let u = multiply_add::<FMA, N>(factors.b2, x2, u);
        // The newest output is added last: it is what the next frame waits for.
        let u = multiply_add::<FMA, N>(factors.shelf[1], u2, u);
        let u = multiply_add::<FMA, N>(factors.shelf[0], u1, u);
        let y = multiply_add::<FMA, N>([-2.0; N], u1, u2);
        let mut y = multiply_add::<FMA, N>(factors.high_pass[1], y2, y);
        for i in 0..N {
            y[i] += u[i];
        }
        let y = multiply_add::<FMA, N>(factors.high_pass[0], y1, y);
        self.heard = [x, x1];
        self.shelved = [u, u1];
        self.weighted = [y, y1];
        self.weighted_square_sum = multiply_add::<FMA, N>(y, y, self.weighted_square_sum);
        self.square_sum = multiply_add::<FMA, N>(x, x, self.square_sum);
        self.product_sum = multiply_add::<FMA, N>(x, swapped(x), self.product_sum);
    }
}

impl Filter<4> {
    #[inline(always)]
    fn joined(one: &Filter<2>, two: &Filter<2>) -> Self {
        let both = |[a, b]: Two, [c, d]: Two| [a, b, c, d];
        let rows = |[a, b]: [Two; 2], [c, d]: [Two; 2]| [both(a, c), both(b, d)];
        Self {
            heard: rows(one.heard, two.heard),
            shelved: rows(one.shelved, two.shelved),
            weighted: rows(one.weighted, two.weighted),
            weighted_square_sum: both(one.weighted_square_sum, two.weighted_square_sum),
            square_sum: both(one.square_sum, two.square_sum),
            product_sum: both(one.product_sum, two.product_sum),
        }
    }

    #[inline(always)]
    fn parted(&self) -> [Filter<2>; 2] {
        [true, false].map(|is_first| {
            let part = move |[a, b, c, d]: [f64; 4]| if is_first { [a, b] } else { [c, d] };
            Filter {
                heard: self.heard.map(part),
                shelved: self.shelved.map(part),
                weighted: self.weighted.map(part),
                weighted_square_sum: part(self.weighted_square_sum),
                square_sum: part(self.square_sum),
                product_sum: part(self.product_sum),
            }
        })
    }
}

/// Frames that are put side by side at once.
const TURN_FRAMES: usize = 512;

/// What the frames of two and of four channels stand in while they are worked on; nothing is kept.
pub(super) struct Rows {
    twos: [[f32; 2]; TURN_FRAMES],
    fours: [[f32; 4]; TURN_FRAMES],
}

impl Rows {
    /// All zero.
    pub const ZERO: Self = Self { twos: [[0.0; 2]; TURN_FRAMES], fours: [[0.0; 4]; TURN_FRAMES] };
}

/// K-weighting of two channels that are worked on together, and their sums.
#[derive(Debug, Clone)]
pub(super) struct PairSums {
    filter: Filter<2>,
    /// Σ y² of each channel where it was to be noted in the last block.
    noted: [Two; MOST],
}

impl PairSums {
    /// Silence before, nothing summed.
    pub fn new() -> Self {
        Self { filter: Filter::NEW, noted: [[0.0; 2]; MOST] }
    }

    /// Forgets everything: as new.
    pub fn clear(&mut self) {
        self.filter = Filter::NEW;
    }

    /// Σ y² of each channel, y K-weighted.
    pub fn weighted_square_sum(&self) -> Two {
        self.filter.weighted_square_sum
    }

    /// The same after the `index`-th of the ends of the last block.
    pub fn noted(&self, index: usize) -> Two {
        self.noted.get(index).copied().unwrap_or_default()
    }

    /// Σ x² of each channel.
    pub fn square_sum(&self) -> Two {
        self.filter.square_sum
    }

    /// Σ of the product of the two channels.
    pub fn product_sum(&self) -> f64 {
        let [product, _] = self.filter.product_sum;
        product
    }

    /// Adds frames; `a` and `b` are the two channels, scrubbed, at most [`TURN_FRAMES`] long; of
    /// unequal lengths the shorter counts. Σ y² is noted after each of `ends`, which rise.
    #[inline(always)]
    pub fn add<const FMA: bool>(
        &mut self,
        rows: &mut Rows,
        stages: &[Biquad; 2],
        [a, b]: [&[f32]; 2],
        ends: &[usize],
    ) {
        let mut len_frames = 0;
        for (frame, (&a, &b)) in rows.twos.iter_mut().zip(a.iter().zip(b)) {
            *frame = [a, b];
            len_frames += 1;
        }
        let frames = rows.twos.get(..len_frames).unwrap_or_default();
        self.filter.run::<FMA>(&Factors::new(stages), frames, ends, &mut self.noted);
    }

    /// The same for two pairs at once, in little more time than for one. `channels` are those of
    /// the first pair, then those of the second.
    #[inline(always)]
    pub fn add_both<const FMA: bool>(
        [one, two]: [&mut Self; 2],
        rows: &mut Rows,
        stages: &[Biquad; 2],
        [a, b, c, d]: [&[f32]; 4],
        ends: &[usize],
    ) {
        let mut len_frames = 0;
        let channels = a.iter().zip(b).zip(c.iter().zip(d));
        for (frame, ((&a, &b), (&c, &d))) in rows.fours.iter_mut().zip(channels) {
            *frame = [a, b, c, d];
            len_frames += 1;
        }
        let frames = rows.fours.get(..len_frames).unwrap_or_default();
        let mut noted = [[0.0; 4]; MOST];
        // Seen through, joining and parting make the compiler give up vectors in the loop between.
        let mut filter = black_box(Filter::joined(&one.filter, &two.filter));
        filter.run::<FMA>(&Factors::new(stages), frames, ends, &mut noted);
        [one.filter, two.filter] = black_box(filter).parted();
        for ((one, two), [a, b, c, d]) in one.noted.iter_mut().zip(&mut two.noted).zip(noted) {
            (*one, *two) = ([a, b], [c, d]);
        }
    }

    /// Sets the sums to zero for the next hop, and memory that has decayed to nothing too.
    pub fn clear_sums(&mut self) {
        let filter = &mut self.filter;
        filter.weighted_square_sum = [0.0; 2];
        filter.square_sum = [0.0; 2];
        filter.product_sum = [0.0; 2];
        for value in [&mut filter.shelved, &mut filter.weighted].into_iter().flatten().flatten() {
            if value.abs() < FLUSH {
                *value = 0.0;
            }
        }
    }
}
