//! Power by frequency: one second of mid and side at a time, in the slots of [`bands`].
//!
//! A window of one second is transformed every half second, so that transform bins lie 1 Hz apart
//! at every rate and the lowest band spans five of them. Squares of adjoining windows add up to
//! one (the window of the Vorbis I specification, §4.3.1, from memory), so that every frame
//! counts once and the slots sum up to the mean square (Parseval). A sine leaks less than −46 dB
//! of its power beyond 4 Hz and less than −81 dB beyond 20 Hz.
//!
//! Borders lie between bins in general: a bin is shared with a ramp of ±1 bin about the border,
//! which gives a sine that stands on it to both sides within 1 % of its power, wherever it stands,
//! and white noise in proportion to the bandwidth exactly.

pub mod bands;
mod stream;

use super::k_weighting;
use crate::units::SampleRate;
use bands::{SLOT_COUNT, slot_borders_hz};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::ops::Range;
use std::sync::Arc;
pub use stream::{Second, SecondStream};

/// Frames of the fade where sound is cut off, as a share of the rate: 10 ms. The click of a hard
/// cut would reach all bands. The project's own choice, no source.
const FADES_PER_SECOND: u32 = 100;

/// Mean squares of one signal, full scale = 1 (a full-scale sine: 0.5).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Powers {
    /// Of each slot (see [`bands::slot_borders_hz`]); zero beyond half the rate.
    pub slots: [f64; SLOT_COUNT],
    /// Of all slots together, each frequency weighted with the K-weighting of BS.1770-5.
    pub k_weighted: f64,
}

impl Powers {
    /// No power.
    pub const ZERO: Self = Self { slots: [0.0; SLOT_COUNT], k_weighted: 0.0 };

    /// The sum over some slots.
    #[must_use]
    pub fn sum(&self, slots: Range<usize>) -> f64 {
        self.slots.get(slots).unwrap_or_default().iter().sum()
    }

    /// The mean square of one-third-octave band `band`.
    #[must_use]
    pub fn band(&self, band: usize) -> f64 {
        self.sum(bands::slots_of_band(band))
    }

    /// Adds `share` times another.
    pub fn add(&mut self, other: &Self, share: f64) {
        for (slot, other) in self.slots.iter_mut().zip(other.slots) {
            *slot += share * other;
        }
        self.k_weighted += share * other.k_weighted;
    }

    /// The same, `share` times as strong.
    #[must_use]
    pub fn times(&self, share: f64) -> Self {
        let mut scaled = Self::ZERO;
        scaled.add(self, share);
        scaled
    }
}

/// Bins of one slot with their share in it.
struct SlotBins {
    first: usize,
    shares: Vec<f32>,
}

/// The transform of one window. Allocates when it is made and never after.
struct Spectrum {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    slots: Vec<SlotBins>,
    /// |K|² of each bin.
    k_weights: Vec<f32>,
    fade_frames: usize,
    /// The share of its square on which a whole window stands: 1, but for rounding.
    whole_share: f64,
}

impl Spectrum {
    fn new(rate: SampleRate) -> Self {
        let len_frames = usize::try_from(rate.hz()).unwrap_or(0);
        let fft = RealFftPlanner::new().plan_fft_forward(len_frames);
        let bins = len_frames / 2 + 1;
        // In a transform of real input these stand once, all others for two.
        let once = |bin: usize| bin == 0 || 2 * bin == len_frames;
        let count = move |bin| if once(bin) { 1.0 } else { 2.0 };
        let rate_hz = f64::from(rate.hz());
        let stages = k_weighting::stages(rate);
        let k_weight = |bin| stages.iter().map(|s| s.power(float(bin), rate_hz)).product::<f64>();
        let window: Vec<f32> = (0..len_frames).map(|n| single(window(n, len_frames))).collect();
        let square_sum: f64 = window.iter().map(|&weight| f64::from(weight * weight)).sum();
        Self {
            whole_share: square_sum / (float(len_frames) / 2.0),
            window,
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            slots: slots(bins, count),
            k_weights: (0..bins).map(|bin| single(count(bin) * k_weight(bin))).collect(),
            fade_frames: usize::try_from(rate.hz() / FADES_PER_SECOND).unwrap_or(0),
        }
    }

    fn len_frames(&self) -> usize {
        self.window.len()
    }

    /// The power of `frames`, which stand from frame `at` of the window on; there is nothing
    /// before and after them. `fades` says at which ends they are cut off. Gives the power times
    /// the share of the window's square on which it stands, and that share.
    fn transform(&mut self, frames: &[f32], at: usize, fades: [bool; 2]) -> (Powers, f64) {
        let (share, sounds) = if fades == [false; 2] && at == 0 && frames.len() >= self.window.len()
        {
            // What nearly all windows are, without a branch in the loop: it becomes vectors.
            let mut sounds = false;
            let pairs = self.window.iter().zip(frames);
            for (input, (&weight, &frame)) in self.input.iter_mut().zip(pairs) {
                sounds |= frame != 0.0;
                *input = weight * frame;
            }
            (self.whole_share, sounds)
        } else {
            self.weigh(frames, at, fades)
        };
        if !sounds {
            return (Powers::ZERO, share);
        }
        let done =
            self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        // Lengths are those that the transform itself asked for.
        if done.is_err() { (Powers::ZERO, 0.0) } else { (self.read(), share) }
    }

    /// Puts what there is of a window, weighted, into `input`. Gives the share of the window's square
    /// on which it stands, and whether there is anything but silence.
    fn weigh(&mut self, frames: &[f32], at: usize, fades: [bool; 2]) -> (f64, bool) {
        let end = (at + frames.len()).min(self.len_frames());
        self.input.fill(0.0);
        let window = self.window.get(at..end).unwrap_or_default();
        let input = self.input.get_mut(at..end).unwrap_or_default();
        let count = input.len();
        let faded = if fades == [false; 2] { 0 } else { self.fade_frames };
        let mut square_sum = 0.0;
        let mut sounds = false;
        let input = input.iter_mut().zip(window.iter().zip(frames)).enumerate();
        for (n, (input, (&window, &frame))) in input {
            let mut weight = window;
            if fades[0] && n < faded {
                weight *= fade(n, faded);
            }
            if fades[1] && count - 1 - n < faded {
                weight *= fade(count - 1 - n, faded);
            }
            square_sum += f64::from(weight * weight);
            sounds |= frame != 0.0;
            *input = weight * frame;
        }
        // Squares of a whole window have this sum.
        (square_sum / (float(self.len_frames()) / 2.0), sounds)
    }

    /// Slots out of the transform, normalised as if the window were whole.
    fn read(&self) -> Powers {
        let len = float(self.len_frames());
        let scale = 1.0 / (len * len / 2.0);
        let mut powers = Powers::ZERO;
        for (power, slot) in powers.slots.iter_mut().zip(&self.slots) {
            let bins = self.output.get(slot.first..).unwrap_or_default();
            *power = scale * weighted_power(bins, &slot.shares);
        }
        powers.k_weighted = scale * weighted_power(&self.output, &self.k_weights);
        powers
    }
}

/// Σ weight · |bin|². In eight sums side by side: one alone would wait for each addition. They are
/// of single precision, and of so few bins that rounding stays below 2e-6 of them.
fn weighted_power(bins: &[Complex<f32>], weights: &[f32]) -> f64 {
    const LANES: usize = 8;
    const PIECE: usize = 16 * LANES;
    let len = bins.len().min(weights.len());
    let (bins, weights) = (bins.get(..len), weights.get(..len));
    let pieces = bins.unwrap_or_default().chunks(PIECE);
    let pieces = pieces.zip(weights.unwrap_or_default().chunks(PIECE));
    pieces
        .map(|(bins, weights)| {
            let (bins, bins_left) = bins.as_chunks::<LANES>();
            let (weights, weights_left) = weights.as_chunks::<LANES>();
            let mut sums = [0.0_f32; LANES];
            let mut add = |bins: &[Complex<f32>], weights: &[f32]| {
                for (sum, (bin, &weight)) in sums.iter_mut().zip(bins.iter().zip(weights)) {
                    *sum += bin.norm_sqr() * weight;
                }
            };
            for (bins, weights) in bins.iter().zip(weights) {
                add(bins, weights);
            }
            add(bins_left, weights_left);
            sums.into_iter().map(f64::from).sum::<f64>()
        })
        .sum()
}

/// The window of the Vorbis I specification at frame `n`.
fn window(n: usize, len_frames: usize) -> f64 {
    let phase = std::f64::consts::PI * (float(n) + 0.5) / float(len_frames);
    (std::f64::consts::FRAC_PI_2 * phase.sin().powi(2)).sin()
}

/// Half a cosine from 0 to 1 over `len` frames.
fn fade(n: usize, len: usize) -> f32 {
    let phase = std::f64::consts::PI * (float(n) + 0.5) / float(len);
    single(0.5 - 0.5 * phase.cos())
}

/// Bins and shares of every slot; bin n stands at n Hz and counts `count` times.
fn slots(bins: usize, count: impl Fn(usize) -> f64) -> Vec<SlotBins> {
    let borders = slot_borders_hz();
    // The share of what lies below a border.
    let below = |bin: usize, border: Option<&f64>, none: f64| {
        border.map_or(none, |border| (0.5 + (border - float(bin)) / 2.0).clamp(0.0, 1.0))
    };
    (0..SLOT_COUNT)
        .map(|slot| {
            let low = slot.checked_sub(1).and_then(|low| borders.get(low));
            let share =
                |bin| count(bin) * (below(bin, borders.get(slot), 1.0) - below(bin, low, 0.0));
            let used = |bin: &usize| share(*bin) > 0.0;
            let first = (0..bins).find(used).unwrap_or(bins);
            let shares = (first..bins).take_while(used).map(|bin| single(share(bin))).collect();
            SlotBins { first, shares }
        })
        .collect()
}

fn float(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

#[expect(clippy::cast_possible_truncation, reason = "single precision is what is wanted")]
const fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    reason = "small numbers of test signals"
)]
mod tests;
