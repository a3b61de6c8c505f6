//! Digital silence: every sample of every channel is zero.
//!
//! A stretch of 20 ms and more inside of the sound is told with its place (the project's own
//! choice, no source): it may be a break of the song, or a gap that an edit or a lost buffer left.
//! At head and tail it is counted from the first frame.

use super::seconds;
use crate::units::SampleRate;
use std::ops::Range;

/// Shortest gap that is told, seconds.
pub const MIN_GAP_S: f64 = 0.02;

/// Most gaps that are kept. The project's own choice, no source.
const MAX_GAPS: usize = 1_000;

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it begins, seconds from the start of the file.
    pub at_s: f64,
    /// How long it is, seconds.
    pub length_s: f64,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Silence {
    /// Zeros before the first sample of sound, seconds; the whole file if there is none.
    pub head_s: f64,
    /// Zeros behind the last sample of sound, seconds.
    pub tail_s: f64,
    /// Gaps inside, in order of time; at most 1 000.
    pub gaps: Vec<Stretch>,
    /// How many gaps there are.
    pub gap_count: u64,
}

/// Looks for zeros.
#[derive(Debug)]
pub struct SilenceScan {
    rate: SampleRate,
    /// The first frame of the zeros that last up to now; `None` inside of sound.
    zeros_from: Option<u64>,
    found: Silence,
}

impl SilenceScan {
    /// For a file at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self { rate, zeros_from: Some(0), found: Silence::default() }
    }

    /// Looks at the next group: `range` of `planes`, the first frame being `frame`.
    pub fn push(&mut self, frame: u64, planes: &[Vec<f32>], range: Range<usize>, peak: f32) {
        let is_zero = |sample: &&f32| **sample == 0.0;
        if peak == 0.0 {
            self.zeros_from.get_or_insert(frame);
            return;
        }
        if self.zeros_from.is_some() {
            let leading = planes.iter().map(|plane| {
                plane.get(range.clone()).unwrap_or_default().iter().take_while(is_zero).count()
            });
            self.sound_at(frame + leading.min().unwrap_or(0) as u64);
        }
        let trailing = planes.iter().map(|plane| {
            plane.get(range.clone()).unwrap_or_default().iter().rev().take_while(is_zero).count()
        });
        let trailing = trailing.min().unwrap_or(0);
        if trailing > 0 {
            self.zeros_from = Some(frame + (range.len() - trailing) as u64);
        }
    }

    fn sound_at(&mut self, frame: u64) {
        let Some(start) = self.zeros_from.take() else {
            return;
        };
        let length_s = seconds(frame - start.min(frame), self.rate);
        if start == 0 {
            self.found.head_s = length_s;
        } else if length_s >= MIN_GAP_S {
            self.found.gap_count += 1;
            if self.found.gaps.len() < MAX_GAPS {
                let at_s = seconds(start, self.rate);
                self.found.gaps.push(Stretch { at_s, length_s });
            }
        }
    }

    /// The file ends.
    pub fn finish(mut self, len_frames: u64) -> Silence {
        match self.zeros_from {
            Some(0) => self.found.head_s = seconds(len_frames, self.rate),
            Some(start) => self.found.tail_s = seconds(len_frames - start, self.rate),
            None => {}
        }
        self.found
    }
}
