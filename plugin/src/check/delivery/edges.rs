//! How the file begins and ends.
//!
//! All of it is the project's own choice or common practice, no source:
//! - Head and tail: the time before the first and behind the last sample above −60 dBFS.
//! - Click: the first sample of sound, behind any zeros, or the last one, is above −50 dBFS. A step
//!   from or to silence of that height is heard as a click.
//! - Fade's end: the highest sample of the last 20 ms of sound.
//! - Cut tail: that is above −50 dBFS: what still sounded was cut off.

use super::seconds;
use crate::loudness::Analysis;
use crate::record::hop_of_frame;
use crate::units::{Dbfs, SampleRate, db_to_amplitude};
use std::ops::Range;

/// Below this head and tail count as quiet, dBFS.
pub const QUIET_DBFS: f64 = -60.0;
/// A first or last sample above this clicks, dBFS.
pub const CLICK_DBFS: f64 = -50.0;
/// Sound that ends above this was cut, dBFS.
pub const CUT_DBFS: f64 = -50.0;

/// −60 dBFS, linear.
const QUIET: f32 = 1e-3;

/// Hops of 10 ms in the end of the sound.
const END_HOPS: i32 = 2;

/// What was found. `None` for a file of zeros.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Edges {
    /// Time before the first sample above −60 dBFS, seconds.
    pub head_s: Option<f64>,
    /// Time behind the last sample above −60 dBFS, seconds.
    pub tail_s: Option<f64>,
    /// Height of the first sample of sound, dBFS.
    pub first_sample: Option<Dbfs>,
    /// Height of the last sample of sound, dBFS.
    pub last_sample: Option<Dbfs>,
    /// Highest sample of the last 20 ms of sound, dBFS.
    pub end_level: Option<Dbfs>,
}

impl Edges {
    /// Whether the file begins with a click.
    #[must_use]
    pub fn starts_with_click(&self) -> bool {
        self.first_sample.is_some_and(|level| level.0 > CLICK_DBFS)
    }

    /// Whether the file ends with a click.
    #[must_use]
    pub fn ends_with_click(&self) -> bool {
        self.last_sample.is_some_and(|level| level.0 > CLICK_DBFS)
    }

    /// Whether the end was cut off before it decayed.
    #[must_use]
    pub fn is_cut(&self) -> bool {
        self.end_level.is_some_and(|level| level.0 > CUT_DBFS)
    }
}

/// Looks for the first and the last sample of sound.
#[derive(Debug, Default)]
pub struct EdgeScan {
    first_loud: Option<u64>,
    last_loud: u64,
    first_sample: Option<f32>,
    last_sample: f32,
    last_frame: u64,
}

impl EdgeScan {
    /// Looks at the next group: `range` of `planes`, the first frame being `frame`.
    pub fn push(&mut self, frame: u64, planes: &[Vec<f32>], range: Range<usize>, peak: f32) {
        if peak == 0.0 {
            return;
        }
        let height = |offset: usize| {
            let at = range.start + offset;
            let samples = planes.iter().filter_map(|plane| plane.get(at));
            samples.fold(0.0_f32, |highest, sample| highest.max(sample.abs()))
        };
        let mut frames = (0..range.len()).map(|offset| (frame + offset as u64, height(offset)));
        if self.first_sample.is_none() {
            self.first_sample =
                frames.clone().map(|(_, height)| height).find(|height| *height > 0.0);
        }
        if let Some((at, height)) = frames.clone().rev().find(|(_, height)| *height > 0.0) {
            (self.last_frame, self.last_sample) = (at, height);
        }
        if peak > QUIET {
            if self.first_loud.is_none() {
                self.first_loud =
                    frames.clone().find(|(_, height)| *height > QUIET).map(|(at, _)| at);
            }
            if let Some((at, _)) = frames.rfind(|(_, height)| *height > QUIET) {
                self.last_loud = at;
            }
        }
    }

    /// The file ends.
    pub fn finish(self, rate: SampleRate, len_frames: u64, analysis: &Analysis) -> Edges {
        debug_assert!((f64::from(QUIET) - db_to_amplitude(QUIET_DBFS)).abs() < 1e-9);
        let Some(first_sample) = self.first_sample else {
            return Edges::default();
        };
        let last_frame = i64::try_from(self.last_frame).unwrap_or(i64::MAX);
        let end_hop = hop_of_frame(last_frame, rate);
        let hops = analysis.hops(end_hop.saturating_sub(END_HOPS - 1)..end_hop.saturating_add(1));
        let end = hops.map(|(_, kept)| kept.sample_peak).fold(0.0, f32::max);
        Edges {
            head_s: self.first_loud.map(|frame| seconds(frame, rate)),
            tail_s: self.first_loud.map(|_| seconds(len_frames - 1 - self.last_loud, rate)),
            first_sample: Some(Dbfs::from_amplitude(first_sample)),
            last_sample: Some(Dbfs::from_amplitude(self.last_sample)),
            end_level: Some(Dbfs::from_amplitude(end)),
        }
    }
}
