//! What was measured of one hop, or of a part of it, on its way into the record.

use crate::meters::{Levels, MAX_CHANNELS};
use crate::record::{Hop, first_frame_of_hop};
use crate::units::SampleRate;

/// What was measured of one hop.
#[derive(Clone, Copy)]
pub(super) struct Part {
    /// Sums and counts over its frames.
    pub levels: Levels,
    /// Highest true peak of each channel, linear.
    pub true_peaks: [f32; MAX_CHANNELS],
    /// See [`Hop::momentary_rise`].
    pub momentary_rise: u16,
}

impl Part {
    /// Adds what another run measured of other frames of the same hop.
    pub fn join(&mut self, other: &Self) {
        let (mine, before) = (&mut self.levels, &other.levels);
        mine.frames += before.frames;
        mine.weighted_square_sum += before.weighted_square_sum;
        mine.left_square_sum += before.left_square_sum;
        mine.right_square_sum += before.right_square_sum;
        mine.left_right_sum += before.left_right_sum;
        mine.clipped += before.clipped;
        mine.scrubbed += before.scrubbed;
        for (peak, other) in mine.sample_peaks.iter_mut().zip(before.sample_peaks) {
            *peak = peak.max(other);
        }
        self.raise_peaks(&other.true_peaks);
    }

    /// Takes the higher of both peaks in each channel.
    pub fn raise_peaks(&mut self, peaks: &[f32; MAX_CHANNELS]) {
        for (peak, other) in self.true_peaks.iter_mut().zip(peaks) {
            *peak = peak.max(*other);
        }
    }

    /// Whether it has every frame of the hop at song time `index`.
    pub fn covers_all_of(&self, index: i32, rate: SampleRate) -> bool {
        let hop_frames =
            first_frame_of_hop(index.saturating_add(1), rate) - first_frame_of_hop(index, rate);
        i64::from(self.levels.frames) == hop_frames
    }

    /// The hop at song time `index` out of this part.
    pub fn into_hop(self, index: i32, rate: SampleRate, playthrough: u32, edge: bool) -> Hop {
        let levels = &self.levels;
        let per_frame = 1.0 / f64::from(levels.frames.max(1));
        let mut true_peaks = self.true_peaks;
        for (true_peak, sample_peak) in true_peaks.iter_mut().zip(levels.sample_peaks) {
            // A sample is a point of the waveform, also where the interpolator did not look.
            *true_peak = true_peak.max(sample_peak);
        }
        let count = |value: u32| u16::try_from(value).unwrap_or(u16::MAX);
        Hop {
            energy: to_f32(levels.weighted_square_sum * per_frame),
            momentary_rise: self.momentary_rise,
            frames: count(levels.frames),
            full: self.covers_all_of(index, rate),
            edge,
            clipped: count(levels.clipped),
            scrubbed: count(levels.scrubbed),
            playthrough,
            sample_peaks: levels.sample_peaks,
            true_peaks,
            left_mean_square: to_f32(levels.left_square_sum * per_frame),
            right_mean_square: to_f32(levels.right_square_sum * per_frame),
            left_right_mean: to_f32(levels.left_right_sum * per_frame),
        }
    }
}

/// The meters scrub what is not audio, so that every mean is finite and far inside of `f32`.
#[expect(clippy::cast_possible_truncation, reason = "24 bits of mantissa: 3e-7 dB")]
const fn to_f32(value: f64) -> f32 {
    value as f32
}
