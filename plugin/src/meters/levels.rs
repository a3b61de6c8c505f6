//! What is summed and counted per hop: K-weighted energy, sample peaks, channel products, faults.

use super::k_weighting::Biquad;
use super::{CHUNK_FRAMES, MAX_CHANNELS};
use std::hint::black_box;

/// Values beyond this magnitude (+72 dBFS), infinite ones and NaN are not audio: they count as
/// scrubbed and are measured as zero. Own choice, no source.
const NOT_AUDIO: f32 = 4096.0;

/// Values below this magnitude (−300 dBFS) are measured as zero, which keeps subnormal numbers
/// out of every sum. Own choice, no source.
const SILENCE: f32 = 1e-15;

/// A sample at or beyond the largest positive 16-bit value counts as clipped. Common practice,
/// no source.
const CLIPPED: f32 = 32_767.0 / 32_768.0;

/// Filter memory below this magnitude is set to zero at the end of a hop, long before it could
/// become subnormal. Own choice, no source.
const FLUSH: f64 = 1e-30;

/// Sums and counts over the frames since the last take.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Levels {
    /// Frames covered.
    pub frames: u32,
    /// Σ over channels of G·Σ y², y the K-weighted signal (BS.1770-5, Annex 1, eqs 1 and 2,
    /// before the division by the number of frames). Full scale = 1.
    pub weighted_square_sum: f64,
    /// Largest magnitude of a sample in each channel, full scale = 1; 0.0 for channels there
    /// are none of.
    pub sample_peaks: [f32; MAX_CHANNELS],
    /// Σ L² of the first channel, unweighted, full scale = 1.
    pub left_square_sum: f64,
    /// Σ R² of the second channel, unweighted; of the first in mono.
    pub right_square_sum: f64,
    /// Σ L·R of the first two channels, unweighted; L² in mono.
    pub left_right_sum: f64,
    /// Samples of any channel at or beyond the largest positive 16-bit value.
    pub clipped: u32,
    /// Samples of any channel that were not audio (NaN, infinite, beyond +72 dBFS) and were
    /// measured as zero.
    pub scrubbed: u32,
}

/// Makes the samples of one channel fit to measure, and keeps what was found until it is taken:
/// none of it depends on the order of the frames.
#[derive(Debug, Clone, Default)]
pub(super) struct Scrubber {
    /// Largest magnitude, as bits.
    peak: i32,
    clipped: u32,
    scrubbed: u32,
}

/// The magnitude of a sample as bits. Magnitudes are ordered as their bits are, infinity and NaN
/// above all numbers, and the compiler makes vectors of integers more readily than of floats.
#[inline(always)]
const fn magnitude_bits(sample: f32) -> i32 {
    sample.abs().to_bits().cast_signed()
}

impl Scrubber {
    /// Copies `from` to `to`, what is not audio as zero.
    #[inline(always)]
    pub fn copy(&mut self, from: &[f32], to: &mut [f32]) {
        const SILENCE_BITS: i32 = magnitude_bits(SILENCE);
        const NOT_AUDIO_BITS: i32 = magnitude_bits(NOT_AUDIO);
        const CLIPPED_BITS: i32 = magnitude_bits(CLIPPED);
        let (mut peak, mut clipped, mut scrubbed) = (self.peak, 0_u32, 0_u32);
        for (out, &sample) in to.iter_mut().zip(from) {
            let found = magnitude_bits(sample);
            let is_kept = (SILENCE_BITS..=NOT_AUDIO_BITS).contains(&found);
            let kept = if is_kept { found } else { 0 };
            *out = if is_kept { sample } else { 0.0 };
            peak = peak.max(kept);
            clipped = clipped.wrapping_add(u32::from(kept >= CLIPPED_BITS));
            scrubbed = scrubbed.wrapping_add(u32::from(found > NOT_AUDIO_BITS));
        }
        self.peak = peak;
        self.clipped = self.clipped.wrapping_add(clipped);
        self.scrubbed = self.scrubbed.wrapping_add(scrubbed);
    }

    /// Adds what was found to `levels`, as that of `channel`, and forgets it.
    pub fn take(&mut self, channel: usize, levels: &mut Levels) {
        let found = std::mem::take(self);
        if let Some(peak) = levels.sample_peaks.get_mut(channel) {
            *peak = f32::from_bits(found.peak.cast_unsigned());
        }
        levels.clipped = levels.clipped.wrapping_add(found.clipped);
        levels.scrubbed = levels.scrubbed.wrapping_add(found.scrubbed);
    }
}

/// One value for each of two channels.
type Two = [f64; 2];

/// K-weighting and sums of channels side by side: two, or four in the same number of turns, where
/// a turn waits for the results of the one before. The compiler keeps each value in one vector
/// register, and every operation is elementwise, so that a channel has the same bits in either.
#[derive(Clone, Copy)]
struct Filter<const N: usize> {
    /// u\[n−1\], u\[n−2\]: after the shelf.
    shelved: [[f64; N]; 2],
    /// y\[n−1\], y\[n−2\]: after the high-pass.
    weighted: [[f64; N]; 2],
    weighted_square_sum: [f64; N],
    square_sum: [f64; N],
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

impl<const N: usize> Filter<N> {
    /// Adds frames: `fed_forward` is what the shelf makes of `input` alone.
    #[inline(always)]
    fn run<const FMA: bool>(
        &mut self,
        [head, high_pass]: &[Biquad; 2],
        fed_forward: &mut [[f64; N]],
        input: &[[f64; N]],
    ) {
        // A copy that nothing else can see stays in registers. Two frames a turn: then no value
        // need be moved from one register to another.
        let mut filter = *self;
        let (us, rest_u) = fed_forward.as_chunks_mut::<2>();
        let (xs, rest_x) = input.as_chunks::<2>();
        for ([u0, u1], &[x0, x1]) in us.iter_mut().zip(xs) {
            *u0 = filter.add::<FMA>(head, high_pass, *u0, x0);
            *u1 = filter.add::<FMA>(head, high_pass, *u1, x1);
        }
        for (u, &x) in rest_u.iter_mut().zip(rest_x) {
            *u = filter.add::<FMA>(head, high_pass, *u, x);
        }
        *self = filter;
    }

    /// A frame: `u` is what the shelf makes of the input alone, `x` the input.
    #[inline(always)]
    #[allow(clippy::indexing_slicing, reason = "within the arrays' length")]
    fn add<const FMA: bool>(
        &mut self,
        head: &Biquad,
        high_pass: &Biquad,
        u: [f64; N],
        x: [f64; N],
    ) -> [f64; N] {
        let [u1, u2] = self.shelved;
        let [y1, y2] = self.weighted;
        // The newest output is added last: it is what the next frame waits for.
        let u = multiply_add::<FMA, N>([-head.a2; N], u2, u);
        let u = multiply_add::<FMA, N>([-head.a1; N], u1, u);
        let y = multiply_add::<FMA, N>([-2.0; N], u1, u2);
        let mut y = multiply_add::<FMA, N>([-high_pass.a2; N], y2, y);
        for i in 0..N {
            y[i] += u[i];
        }
        let y = multiply_add::<FMA, N>([-high_pass.a1; N], y1, y);
        self.shelved = [u, u1];
        self.weighted = [y, y1];
        self.weighted_square_sum = multiply_add::<FMA, N>(y, y, self.weighted_square_sum);
        self.square_sum = multiply_add::<FMA, N>(x, x, self.square_sum);
        self.product_sum = multiply_add::<FMA, N>(x, swapped(x), self.product_sum);
        y
    }
}

/// Fills `fed_forward` with what the shelf makes of `input` alone, which starts two frames early.
/// The gain of the high-pass goes into the shelf, which leaves it 1, −2, 1.
#[inline(always)]
fn feed_forward<const FMA: bool, const N: usize>(
    [head, high_pass]: &[Biquad; 2],
    input: &[[f64; N]],
    fed_forward: &mut [[f64; N]],
) {
    let gain = high_pass.b0;
    let (b0, b1, b2) = (head.b0 * gain, head.b1 * gain, head.b2 * gain);
    let (Some(x1), Some(x)) = (input.get(1..), input.get(2..)) else {
        return;
    };
    let [x, x1, x2] = [x.as_flattened(), x1.as_flattened(), input.as_flattened()];
    let inputs = x.iter().zip(x1).zip(x2);
    for (out, ((&x, &x1), &x2)) in fed_forward.as_flattened_mut().iter_mut().zip(inputs) {
        *out =
            if FMA { b2.mul_add(x2, b1.mul_add(x1, b0 * x)) } else { b2 * x2 + (b1 * x1 + b0 * x) };
    }
}

/// What a chunk of four channels stands in while it is worked on; nothing is kept.
pub(super) struct FourRows {
    input: [[f64; 4]; CHUNK_FRAMES + 2],
    fed_forward: [[f64; 4]; CHUNK_FRAMES],
}

impl FourRows {
    /// All zero.
    pub const ZERO: Self =
        Self { input: [[0.0; 4]; CHUNK_FRAMES + 2], fed_forward: [[0.0; 4]; CHUNK_FRAMES] };
}

impl Filter<4> {
    #[inline(always)]
    fn joined(one: Filter<2>, two: Filter<2>) -> Self {
        let both = |[a, b]: Two, [c, d]: Two| [a, b, c, d];
        let rows = |[a, b]: [Two; 2], [c, d]: [Two; 2]| [both(a, c), both(b, d)];
        Self {
            shelved: rows(one.shelved, two.shelved),
            weighted: rows(one.weighted, two.weighted),
            weighted_square_sum: both(one.weighted_square_sum, two.weighted_square_sum),
            square_sum: both(one.square_sum, two.square_sum),
            product_sum: both(one.product_sum, two.product_sum),
        }
    }

    #[inline(always)]
    fn parted(&self) -> [Filter<2>; 2] {
        let half = |first: bool| {
            let part = move |[a, b, c, d]: [f64; 4]| if first { [a, b] } else { [c, d] };
            Filter {
                shelved: self.shelved.map(part),
                weighted: self.weighted.map(part),
                weighted_square_sum: part(self.weighted_square_sum),
                square_sum: part(self.square_sum),
                product_sum: part(self.product_sum),
            }
        };
        [half(true), half(false)]
    }
}

/// K-weighting of two channels that are worked on together, and their sums.
///
/// Every sum runs frame by frame, so it does not depend on how the frames were cut into blocks.
#[derive(Debug, Clone)]
pub(super) struct PairSums {
    /// x: two frames of the past, then those of a chunk.
    input: [Two; CHUNK_FRAMES + 2],
    /// What the shelf makes of the input alone, b0·x\[n\] + b1·x\[n−1\] + b2·x\[n−2\]: needs no
    /// earlier result, so many frames are computed at once.
    fed_forward: [Two; CHUNK_FRAMES],
    /// u\[n−1\], u\[n−2\]: after the shelf.
    shelved: [Two; 2],
    /// y\[n−1\], y\[n−2\]: after the high-pass.
    weighted: [Two; 2],
    /// Σ y² of each channel, y K-weighted.
    pub weighted_square_sum: Two,
    /// Σ x² of each channel.
    pub square_sum: Two,
    /// Σ of the product of the two channels, twice.
    pub product_sum: Two,
}

impl PairSums {
    /// Silence before, nothing summed.
    pub fn new() -> Self {
        Self {
            input: [[0.0; 2]; CHUNK_FRAMES + 2],
            fed_forward: [[0.0; 2]; CHUNK_FRAMES],
            shelved: [[0.0; 2]; 2],
            weighted: [[0.0; 2]; 2],
            weighted_square_sum: [0.0; 2],
            square_sum: [0.0; 2],
            product_sum: [0.0; 2],
        }
    }

    /// Forgets everything: as new.
    pub fn clear(&mut self) {
        for before in self.input.iter_mut().take(2) {
            *before = [0.0; 2];
        }
        self.shelved = [[0.0; 2]; 2];
        self.weighted = [[0.0; 2]; 2];
        self.clear_sums();
    }

    /// Adds at most [`CHUNK_FRAMES`] frames; `a` and `b` are the two channels, scrubbed; of
    /// unequal lengths the shorter counts.
    #[inline(always)]
    pub fn add<const FMA: bool>(&mut self, stages: &[Biquad; 2], a: &[f32], b: &[f32]) {
        let len_frames = a.len().min(b.len()).min(CHUNK_FRAMES);
        let new = self.input.iter_mut().skip(2);
        for (x, (&a, &b)) in new.zip(a.iter().zip(b)) {
            *x = [f64::from(a), f64::from(b)];
        }
        let new = self.input.get(..len_frames + 2).unwrap_or_default();
        feed_forward::<FMA, 2>(stages, new, &mut self.fed_forward);
        let mut filter = self.filter();
        let fed_forward = self.fed_forward.get_mut(..len_frames).unwrap_or_default();
        let input = self.input.get(2..len_frames + 2).unwrap_or_default();
        filter.run::<FMA>(stages, fed_forward, input);
        self.input.copy_within(len_frames..len_frames + 2, 0);
        self.keep(&filter);
    }

    /// The same for two pairs at once, in little more time than for one. `channels` are those of
    /// the first pair, then those of the second, all of one length.
    #[inline(always)]
    pub fn add_both<const FMA: bool>(
        pairs: [&mut Self; 2],
        rows: &mut FourRows,
        stages: &[Biquad; 2],
        [a, b, c, d]: [&[f32]; 4],
    ) {
        let [one, two] = pairs;
        let len_frames = a.len().min(b.len()).min(c.len()).min(d.len());
        let len_frames = len_frames.min(CHUNK_FRAMES);
        let input = rows.input.get_mut(..len_frames + 2).unwrap_or_default();
        let fed_forward = rows.fed_forward.get_mut(..len_frames).unwrap_or_default();
        let before = one.input.iter().zip(&two.input).take(2);
        for (x, (&[a, b], &[c, d])) in input.iter_mut().zip(before) {
            *x = [a, b, c, d];
        }
        let new = a.iter().zip(b).zip(c.iter().zip(d));
        for (x, ((&a, &b), (&c, &d))) in input.iter_mut().skip(2).zip(new) {
            *x = [f64::from(a), f64::from(b), f64::from(c), f64::from(d)];
        }
        feed_forward::<FMA, 4>(stages, input, fed_forward);
        // Seen through, joining and parting make the compiler give up vectors in the loop between.
        let mut filter = black_box(Filter::joined(one.filter(), two.filter()));
        filter.run::<FMA>(stages, fed_forward, input.get(2..).unwrap_or_default());
        let filter = black_box(filter);
        let before = one.input.iter_mut().zip(&mut two.input);
        for ((x, y), &[a, b, c, d]) in before.zip(input.iter().skip(len_frames)) {
            (*x, *y) = ([a, b], [c, d]);
        }
        let [first, second] = filter.parted();
        one.keep(&first);
        two.keep(&second);
    }

    #[inline(always)]
    fn filter(&self) -> Filter<2> {
        Filter {
            shelved: self.shelved,
            weighted: self.weighted,
            weighted_square_sum: self.weighted_square_sum,
            square_sum: self.square_sum,
            product_sum: self.product_sum,
        }
    }

    /// Keeps the filter for the next frames.
    #[inline(always)]
    fn keep(&mut self, filter: &Filter<2>) {
        self.shelved = filter.shelved;
        self.weighted = filter.weighted;
        self.weighted_square_sum = filter.weighted_square_sum;
        self.square_sum = filter.square_sum;
        self.product_sum = filter.product_sum;
    }

    /// Sets the sums to zero for the next hop, and memory that has decayed to nothing too.
    pub fn clear_sums(&mut self) {
        self.weighted_square_sum = [0.0; 2];
        self.square_sum = [0.0; 2];
        self.product_sum = [0.0; 2];
        for value in [&mut self.shelved, &mut self.weighted].into_iter().flatten().flatten() {
            if value.abs() < FLUSH {
                *value = 0.0;
            }
        }
    }
}
