//! What is summed and counted per hop, and how samples are made fit to measure.

use super::MAX_CHANNELS;

/// Values beyond this magnitude (+72 dBFS), infinite ones and NaN are not audio: they count as
/// scrubbed and are measured as zero. Own choice, no source.
const NOT_AUDIO: f32 = 4096.0;

/// Values below this magnitude (−300 dBFS) are measured as zero, which keeps subnormal numbers
/// out of every sum. Own choice, no source.
const SILENCE: f32 = 1e-15;

/// A sample at or beyond the largest positive 16-bit value counts as clipped. Common practice,
/// no source.
const CLIPPED: f32 = 32_767.0 / 32_768.0;

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

const SILENCE_BITS: i32 = magnitude_bits(SILENCE);
const NOT_AUDIO_BITS: i32 = magnitude_bits(NOT_AUDIO);
const CLIPPED_BITS: i32 = magnitude_bits(CLIPPED);

impl Scrubber {
    /// Copies `from` to `to`, what is not audio as zero; the largest magnitude of what was copied.
    #[inline(always)]
    pub fn copy(&mut self, from: &[f32], to: &mut [f32]) -> f32 {
        const OFFSET: i32 = i32::MAX;
        let (mut highest, mut lowest) = (0_i32, i32::MAX);
        for (out, &sample) in to.iter_mut().zip(from) {
            let found = magnitude_bits(sample);
            highest = highest.max(found);
            // Zero comes out as the largest number, all other magnitudes in their order.
            lowest = lowest.min(found.wrapping_add(OFFSET));
            *out = sample;
        }
        if highest < CLIPPED_BITS && lowest >= SILENCE_BITS.wrapping_add(OFFSET) {
            self.peak = self.peak.max(highest);
            f32::from_bits(highest.cast_unsigned())
        } else {
            self.copy_and_count(from, to)
        }
    }

    /// The same, and it is not known that there is nothing to count and nothing to change.
    #[inline(always)]
    fn copy_and_count(&mut self, from: &[f32], to: &mut [f32]) -> f32 {
        let (mut peak, mut clipped, mut scrubbed) = (0, 0_u32, 0_u32);
        for (out, &sample) in to.iter_mut().zip(from) {
            let found = magnitude_bits(sample);
            let is_kept = (SILENCE_BITS..=NOT_AUDIO_BITS).contains(&found);
            let kept = if is_kept { found } else { 0 };
            *out = if is_kept { sample } else { 0.0 };
            peak = peak.max(kept);
            clipped = clipped.wrapping_add(u32::from(kept >= CLIPPED_BITS));
            scrubbed = scrubbed.wrapping_add(u32::from(found > NOT_AUDIO_BITS));
        }
        self.peak = self.peak.max(peak);
        self.clipped = self.clipped.wrapping_add(clipped);
        self.scrubbed = self.scrubbed.wrapping_add(scrubbed);
        f32::from_bits(peak.cast_unsigned())
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Copies with `copy`, on top of what `scrubber` found before: the samples and what was found.
    /// The sign of a zero may differ: no magnitude, square or sum shows it.
    fn copied(
        copy: impl Fn(&mut Scrubber, &[f32], &mut [f32]) -> f32,
        mut scrubber: Scrubber,
        from: &[f32],
    ) -> (Vec<f32>, Levels, f32) {
        let mut to = vec![9.0; from.len()];
        let largest = copy(&mut scrubber, from, &mut to);
        let mut levels = Levels::default();
        scrubber.take(1, &mut levels);
        (to, levels, largest)
    }

    #[test]
    fn plain_samples_are_copied_as_scrubbing_and_counting_would() {
        let mut state = 1_u32;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state >> 8
        };
        // What lies on both sides of every limit, and what is no audio.
        let special = [
            0.0,
            -0.0,
            SILENCE,
            SILENCE.next_down(),
            -SILENCE.next_down(),
            f32::MIN_POSITIVE / 2.0,
            CLIPPED,
            CLIPPED.next_down(),
            -CLIPPED,
            1.0,
            NOT_AUDIO,
            NOT_AUDIO.next_up(),
            -NOT_AUDIO.next_up(),
            1e30,
            f32::INFINITY,
            f32::NEG_INFINITY,
            f32::NAN,
            -f32::NAN,
        ];
        let (mut plain, mut others) = (0, 0);
        for block in 0..4_000_usize {
            let mut samples: Vec<f32> = (0..block % 67)
                .map(|_| f32::from(i16::try_from(random() % 60_000).unwrap_or(0)) / 65_536.0 - 0.1)
                .collect();
            // One in most blocks, none in some; each on its own too, at every place.
            if block % 4 != 0 && !samples.is_empty() {
                let place = random() as usize % samples.len();
                samples[place] = special[block % special.len()];
            }
            let mut before = Scrubber::default();
            before.copy_and_count(&[[0.25, 1.5, f32::NAN, 0.0][block % 4]], &mut [0.0]);
            let fast = copied(Scrubber::copy, before.clone(), &samples);
            assert_eq!(fast, copied(Scrubber::copy_and_count, before.clone(), &samples), "{block}");
            if fast.0 == samples { plain += 1 } else { others += 1 }
        }
        assert!(plain > 1_000 && others > 1_000, "{plain} blocks as they were, {others} not");
    }
}
