//! Whether a quiet end is dithered or was truncated.
//!
//! Method (the project's own, no source): the last stretch of a channel in which no sample is
//! larger than one step of the depth in use (16 or 24 bits), up to its last sample that is not
//! zero, 1 024 samples at least. Dither with triangular density makes neighbours differ in at
//! least four of ten cases there; without dither the sound lies still on a step for many samples:
//! where fewer than 15 of 100 neighbours differ it was truncated or rounded without dither.
//! Between 15 and 25 of 100 nothing is said.
//!
//! Limits: it needs a fade or a pause that gets this quiet; noise of the sound itself passes for
//! dither; dither with rectangular density lies still where there is nothing but silence; a tone
//! above some 2 kHz moves between steps as dither does.

use super::BitDepth;
use super::group::Group;
use plimsoll_reader::Coding;

/// Shortest stretch that says anything, samples.
const MIN_SAMPLES: u64 = 1_024;

/// Fewer neighbours than this share differ: truncated.
const TRUNCATED_BELOW: f64 = 0.15;
/// More neighbours than this share differ: dithered.
const DITHERED_ABOVE: f64 = 0.25;

/// One and a half steps of 16 and of 24 bits: one step, and room for rounding.
const QUIET: [f32; 2] = [1.5 / 32_768.0, 1.5 / 8_388_608.0];

/// What a quiet end tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dither {
    /// A float file or a lossy code: there is nothing to dither.
    NotNeeded,
    /// No stretch is quiet enough to tell.
    CannotTell,
    /// The end moves as dither does.
    Present,
    /// The end lies still on its steps: truncated or rounded without dither.
    Truncated,
}

/// The last quiet stretch of one channel at both depths.
#[derive(Debug, Clone, Default)]
pub struct DitherScan {
    depths: [Quiet; 2],
    last: f32,
}

/// Neighbours in a stretch.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    samples: u64,
    differ: u64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Quiet {
    now: Count,
    /// `now` as of the last sample that is not zero.
    sounding: Count,
    /// The last stretch that was long enough.
    last: Option<Count>,
}

impl Quiet {
    fn end(&mut self) {
        if self.sounding.samples >= MIN_SAMPLES {
            self.last = Some(self.sounding);
        }
        (self.now, self.sounding) = (Count::default(), Count::default());
    }
}

impl DitherScan {
    /// Looks at the next samples.
    pub fn push(&mut self, samples: &[f32], group: &Group) {
        for (depth, quiet) in self.depths.iter_mut().zip(QUIET) {
            if group.peak > quiet {
                if depth.now.samples > 0 {
                    depth.end();
                }
                continue;
            }
            let mut before = self.last;
            for &sample in samples {
                depth.now.samples += 1;
                #[expect(clippy::float_cmp, reason = "steps of a whole-number file")]
                let differs = sample != before;
                depth.now.differ += u64::from(differs);
                if sample != 0.0 {
                    depth.sounding = depth.now;
                }
                before = sample;
            }
        }
        if let Some(last) = samples.last() {
            self.last = *last;
        }
    }
}

/// The file ends. The channel that says most clearly that it was truncated counts.
pub fn judge(channels: &[DitherScan], bit_depth: &BitDepth) -> Dither {
    let Coding::Integer { .. } = bit_depth.stated else {
        return Dither::NotNeeded;
    };
    let depth = match bit_depth.used_bits {
        Some(9..=16) => 0,
        Some(17..=24) => 1,
        _ => return Dither::CannotTell,
    };
    let shares = channels.iter().filter_map(|channel| {
        let mut quiet = *channel.depths.get(depth)?;
        quiet.end();
        let count = quiet.last?;
        #[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^52")]
        let share = count.differ as f64 / count.samples as f64;
        Some(share)
    });
    match shares.min_by(f64::total_cmp) {
        Some(share) if share < TRUNCATED_BELOW => Dither::Truncated,
        Some(share) if share > DITHERED_ABOVE => Dither::Present,
        _ => Dither::CannotTell,
    }
}
