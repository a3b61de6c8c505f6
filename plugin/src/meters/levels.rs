//! What is summed and counted per hop: K-weighted energy, sample peaks, channel products, faults.

use super::MAX_CHANNELS;
use super::k_weighting::Biquad;
use super::lanes::{LANES, Lanes};

/// Values beyond this magnitude are not audio: they count as a fault and are measured as zero.
/// Own choice, +72 dBFS, no source.
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

/// Makes the samples of one channel fit to measure, and keeps what was found. Side by side, lane
/// by lane, until it is taken: none of it depends on the order of the frames.
#[derive(Debug, Clone)]
pub(super) struct Scrubber {
    peaks: Lanes,
    clipped: [u32; LANES],
    scrubbed: [u32; LANES],
}

impl Scrubber {
    /// Nothing found.
    pub fn new() -> Self {
        Self {
            peaks: Lanes::splat(0.0),
            clipped: [0; LANES],
            scrubbed: [0; LANES],
        }
    }

    /// Copies `from` to `to`, what is not audio as zero.
    #[inline(always)]
    pub fn copy(&mut self, from: &[f32], to: &mut [f32]) {
        // Worked on outside of memory.
        let mut found = self.clone();
        let (groups, rest) = from.as_chunks::<LANES>();
        let (group_rooms, rest_room) = to.as_chunks_mut::<LANES>();
        for (group, room) in groups.iter().zip(group_rooms) {
            *room = found.scrub(*group);
        }
        if !rest.is_empty() {
            let mut group = [0.0; LANES];
            for (lane, sample) in group.iter_mut().zip(rest) {
                *lane = *sample;
            }
            for (out, lane) in rest_room.iter_mut().zip(found.scrub(group)) {
                *out = lane;
            }
        }
        *self = found;
    }

    /// `samples` fit to measure. One short loop for each step: so each becomes one or two vector
    /// instructions.
    #[inline(always)]
    fn scrub(&mut self, samples: [f32; LANES]) -> [f32; LANES] {
        let found = Lanes(samples).abs().0;
        let mut kept = samples;
        for (kept, found) in kept.iter_mut().zip(found) {
            *kept = if found >= SILENCE { *kept } else { 0.0 };
        }
        // False for NaN too.
        for (kept, found) in kept.iter_mut().zip(found) {
            *kept = if found <= NOT_AUDIO { *kept } else { 0.0 };
        }
        let magnitudes = Lanes(kept).abs();
        self.peaks = self.peaks.max(magnitudes);
        for (count, magnitude) in self.clipped.iter_mut().zip(magnitudes.0) {
            *count = count.wrapping_add(u32::from(magnitude >= CLIPPED));
        }
        for (count, found) in self.scrubbed.iter_mut().zip(found) {
            *count = count.wrapping_add(1 - u32::from(found <= NOT_AUDIO));
        }
        kept
    }

    /// Adds what was found to `levels`, as that of `channel`, and forgets it.
    pub fn take(&mut self, channel: usize, levels: &mut Levels) {
        let found = std::mem::replace(self, Self::new());
        if let Some(peak) = levels.sample_peaks.get_mut(channel) {
            *peak = found.peaks.largest();
        }
        for (clipped, scrubbed) in found.clipped.iter().zip(found.scrubbed) {
            levels.clipped = levels.clipped.wrapping_add(*clipped);
            levels.scrubbed = levels.scrubbed.wrapping_add(scrubbed);
        }
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
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct PairSums {
    /// x\[n−1\], x\[n−2\]: the input.
    input: [Two; 2],
    /// The same after the shelf.
    shelved: [Two; 2],
    /// The same after the high-pass.
    weighted: [Two; 2],
    /// Σ y² of each channel, y K-weighted.
    pub weighted_square_sum: Two,
    /// Σ x² of each channel.
    pub square_sum: Two,
    /// Σ of the product of the two channels.
    pub product_sum: f64,
}

impl PairSums {
    /// Adds frames; `a` and `b` are the two channels, scrubbed; of unequal lengths the shorter
    /// counts.
    #[inline(always)]
    pub fn add<const FMA: bool>(&mut self, stages: &[Biquad; 2], a: &[f32], b: &[f32]) {
        let len_frames = a.len().min(b.len());
        let (Some(a), Some(b)) = (a.get(..len_frames), b.get(..len_frames)) else {
            return;
        };
        let [head, high_pass] = stages;
        // The gain of the high-pass goes into the shelf, which leaves it 1, −2, 1.
        let gain = high_pass.b0;
        let (b0, b1, b2) = (
            [head.b0 * gain; 2],
            [head.b1 * gain; 2],
            [head.b2 * gain; 2],
        );
        let (a1, a2) = ([-head.a1; 2], [-head.a2; 2]);
        let (h1, h2) = ([-high_pass.a1; 2], [-high_pass.a2; 2]);
        let [mut x1, mut x2] = self.input;
        let [mut u1, mut u2] = self.shelved;
        let [mut y1, mut y2] = self.weighted;
        let mut weighted_square_sum = self.weighted_square_sum;
        let mut square_sum = self.square_sum;
        let mut product_sum = self.product_sum;
        let mut add = |a: f32, b: f32| {
            let x = [f64::from(a), f64::from(b)];
            // The newest output is added last: it is what the next frame waits for.
            let u = [b0[0] * x[0], b0[1] * x[1]];
            let u = multiply_add::<FMA>(b1, x1, u);
            let u = multiply_add::<FMA>(b2, x2, u);
            let u = multiply_add::<FMA>(a2, u2, u);
            let u = multiply_add::<FMA>(a1, u1, u);
            let y = multiply_add::<FMA>([-2.0; 2], u1, u2);
            let y = multiply_add::<FMA>(h2, y2, y);
            let y = [y[0] + u[0], y[1] + u[1]];
            let y = multiply_add::<FMA>(h1, y1, y);
            (x1, x2, u1, u2, y1, y2) = (x, x1, u, u1, y, y1);
            weighted_square_sum = multiply_add::<FMA>(y, y, weighted_square_sum);
            square_sum = multiply_add::<FMA>(x, x, square_sum);
            product_sum = if FMA {
                x[0].mul_add(x[1], product_sum)
            } else {
                x[0] * x[1] + product_sum
            };
        };
        // Two frames a turn: then no value need be moved from register to register.
        let ((twos_a, rest_a), (twos_b, rest_b)) = (a.as_chunks::<2>(), b.as_chunks::<2>());
        for (&[a0, a1], &[b0, b1]) in twos_a.iter().zip(twos_b) {
            add(a0, b0);
            add(a1, b1);
        }
        for (&a, &b) in rest_a.iter().zip(rest_b) {
            add(a, b);
        }
        self.input = [x1, x2];
        self.shelved = [u1, u2];
        self.weighted = [y1, y2];
        self.weighted_square_sum = weighted_square_sum;
        self.square_sum = square_sum;
        self.product_sum = product_sum;
    }

    /// Sets the sums to zero for the next hop, and memory that has decayed to nothing too.
    pub fn clear_sums(&mut self) {
        self.weighted_square_sum = [0.0; 2];
        self.square_sum = [0.0; 2];
        self.product_sum = 0.0;
        for value in [&mut self.input, &mut self.shelved, &mut self.weighted]
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
