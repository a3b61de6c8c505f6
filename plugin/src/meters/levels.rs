//! What is summed and counted per hop: K-weighted energy, sample peaks, channel products, faults.

use super::k_weighting::Biquad;
use super::{CHUNK_FRAMES, MAX_CHANNELS};

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

/// One value for each of two channels; the compiler keeps it in one vector register.
type Two = [f64; 2];

/// k·v + acc, rounded once where `FMA` and twice where not.
#[inline(always)]
fn multiply_add<const FMA: bool>(k: Two, v: Two, acc: Two) -> Two {
    if FMA {
        [k[0].mul_add(v[0], acc[0]), k[1].mul_add(v[1], acc[1])]
    } else {
        [k[0] * v[0] + acc[0], k[1] * v[1] + acc[1]]
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
    /// Σ of the product of the two channels.
    pub product_sum: f64,
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
            product_sum: 0.0,
        }
    }

    /// Adds at most [`CHUNK_FRAMES`] frames; `a` and `b` are the two channels, scrubbed; of
    /// unequal lengths the shorter counts.
    #[inline(always)]
    pub fn add<const FMA: bool>(&mut self, stages: &[Biquad; 2], a: &[f32], b: &[f32]) {
        let len_frames = a.len().min(b.len()).min(CHUNK_FRAMES);
        let [head, high_pass] = stages;
        self.feed_forward::<FMA>(head, high_pass.b0, a, b);
        let (a1, a2) = ([-head.a1; 2], [-head.a2; 2]);
        let (h1, h2) = ([-high_pass.a1; 2], [-high_pass.a2; 2]);
        let [mut u1, mut u2] = self.shelved;
        let [mut y1, mut y2] = self.weighted;
        let mut weighted_square_sum = self.weighted_square_sum;
        let mut square_sum = self.square_sum;
        let mut product_sum = self.product_sum;
        let mut add = |u: Two, x: Two| {
            // The newest output is added last: it is what the next frame waits for.
            let u = multiply_add::<FMA>(a2, u2, u);
            let u = multiply_add::<FMA>(a1, u1, u);
            let y = multiply_add::<FMA>([-2.0; 2], u1, u2);
            let y = multiply_add::<FMA>(h2, y2, y);
            let y = [y[0] + u[0], y[1] + u[1]];
            let y = multiply_add::<FMA>(h1, y1, y);
            (u1, u2, y1, y2) = (u, u1, y, y1);
            weighted_square_sum = multiply_add::<FMA>(y, y, weighted_square_sum);
            square_sum = multiply_add::<FMA>(x, x, square_sum);
            product_sum = if FMA {
                x[0].mul_add(x[1], product_sum)
            } else {
                x[0] * x[1] + product_sum
            };
        };
        let fed_forward = self.fed_forward.get(..len_frames).unwrap_or_default();
        let input = self.input.get(2..len_frames + 2).unwrap_or_default();
        // Two frames a turn: then no value need be moved from register to register.
        let (us, rest_u) = fed_forward.as_chunks::<2>();
        let (xs, rest_x) = input.as_chunks::<2>();
        for (&[u0, u1], &[x0, x1]) in us.iter().zip(xs) {
            add(u0, x0);
            add(u1, x1);
        }
        for (&u, &x) in rest_u.iter().zip(rest_x) {
            add(u, x);
        }
        self.input.copy_within(len_frames..len_frames + 2, 0);
        self.shelved = [u1, u2];
        self.weighted = [y1, y2];
        self.weighted_square_sum = weighted_square_sum;
        self.square_sum = square_sum;
        self.product_sum = product_sum;
    }

    /// Fills `input` and `fed_forward`. The gain of the high-pass goes into the shelf, which
    /// leaves it 1, −2, 1.
    #[inline(always)]
    fn feed_forward<const FMA: bool>(&mut self, head: &Biquad, gain: f64, a: &[f32], b: &[f32]) {
        let mut len_frames = 0;
        for (x, (&a, &b)) in self.input.iter_mut().skip(2).zip(a.iter().zip(b)) {
            *x = [f64::from(a), f64::from(b)];
            len_frames += 1;
        }
        let (b0, b1, b2) = (head.b0 * gain, head.b1 * gain, head.b2 * gain);
        let x2 = self.input.as_flattened();
        let (Some(x1), Some(x)) = (x2.get(2..), x2.get(4..)) else {
            return;
        };
        let inputs = x.iter().zip(x1).zip(x2).take(2 * len_frames);
        for (out, ((&x, &x1), &x2)) in self.fed_forward.as_flattened_mut().iter_mut().zip(inputs) {
            *out = if FMA {
                b2.mul_add(x2, b1.mul_add(x1, b0 * x))
            } else {
                b2 * x2 + (b1 * x1 + b0 * x)
            };
        }
    }

    /// Sets the sums to zero for the next hop, and memory that has decayed to nothing too.
    pub fn clear_sums(&mut self) {
        self.weighted_square_sum = [0.0; 2];
        self.square_sum = [0.0; 2];
        self.product_sum = 0.0;
        for value in [&mut self.shelved, &mut self.weighted]
            .into_iter()
            .flatten()
            .flatten()
        {
            if value.abs() < FLUSH {
                *value = 0.0;
            }
        }
    }
}
