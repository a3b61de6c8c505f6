//! Runs of clipped samples, with their places.
//!
//! Definition: three or more samples in a row of one channel on the same side at or beyond full
//! scale, 32 767/32 768 (common practice, no source). One or two may be a peak that was brought to
//! full scale; they are counted among the samples at full scale and are no run.
//!
//! Flat tops: runs at the channel's own highest level, below full scale, all samples of which are
//! equal: clipped first and turned down later. A slow wave whose top is rounded to one step is
//! told from it by its slope: the samples beside a flat top are lower by more than
//! [`STEEP`] (the project's own choice, no source). Limit: gain with dither after clipping, or a
//! lossy code, hides flat tops.

use super::group::Group;
use super::seconds;
use crate::meters::layout::Layout;
use crate::units::{Dbfs, SampleRate};

/// At or beyond this is full scale, as in the meters (common practice, no source).
const FULL_SCALE: f32 = 32_767.0 / 32_768.0;

/// Samples in a row that make a run (common practice, no source).
pub const MIN_RUN_FRAMES: u32 = 3;

/// Four steps of 16 bits: a rounded top of three equal steps falls by fewer than three beside it.
const STEEP: f32 = 4.0 / 32_768.0;

/// Flat tops below this are of no interest, linear: −20 dBFS.
const LOWEST_TOP: f32 = 0.1;

/// Flat tops fewer than this may be chance. The project's own choice, no source.
const MIN_FLAT_TOPS: u64 = 3;

/// Most places that are kept. The project's own choice, no source.
const MAX_PLACES: usize = 1_000;

/// One run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Where it begins, seconds from the start of the file.
    pub at_s: f64,
    /// Short name of its channel.
    pub channel: &'static str,
    /// How many samples it has.
    pub len_frames: u32,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Clipping {
    /// Runs at full scale, all channels.
    pub runs: u64,
    /// The first of them of each channel, in order of time; at most 1 000 of each channel.
    pub places: Vec<Run>,
    /// Samples of the longest run.
    pub longest_frames: u32,
    /// Flat tops below full scale: how many, and the level of the highest; `None` if there are
    /// fewer than three.
    pub flat_tops: Option<(u64, Dbfs)>,
}

/// Looks at one channel.
#[derive(Debug, Clone, Default)]
pub struct ClippingScan {
    run: Open,
    runs: u64,
    longest_frames: u32,
    places: Vec<(u64, u32)>,
    /// Highest magnitude so far; the flat tops counted lie there.
    top: f32,
    top_run: Open,
    flat_tops: u64,
    last: f32,
}

/// A run that may go on.
#[derive(Debug, Clone, Copy, Default)]
struct Open {
    start: u64,
    len_frames: u32,
    is_negative: bool,
    /// Whether the sample before it was lower by enough.
    is_steep: bool,
}

impl ClippingScan {
    /// Looks at the next samples; the first of them is `frame`.
    pub fn push(&mut self, frame: u64, samples: &[f32], group: &Group) {
        let may_touch = group.peak >= FULL_SCALE || group.peak >= self.top.max(LOWEST_TOP);
        if may_touch || self.run.len_frames > 0 || self.top_run.len_frames > 0 {
            for (frame, &sample) in (frame..).zip(samples) {
                self.full_scale(frame, sample);
                self.flat_top(frame, sample);
                self.last = sample;
            }
        } else if let Some(last) = samples.last() {
            self.last = *last;
        }
    }

    fn full_scale(&mut self, frame: u64, sample: f32) {
        let is_negative = sample < 0.0;
        if sample.abs() >= FULL_SCALE {
            if self.run.len_frames > 0 && self.run.is_negative == is_negative {
                self.run.len_frames = self.run.len_frames.saturating_add(1);
                return;
            }
            self.end_run();
            self.run = Open { start: frame, len_frames: 1, is_negative, is_steep: true };
        } else {
            self.end_run();
        }
    }

    fn end_run(&mut self) {
        let run = std::mem::take(&mut self.run);
        if run.len_frames >= MIN_RUN_FRAMES {
            self.runs += 1;
            self.longest_frames = self.longest_frames.max(run.len_frames);
            if self.places.len() < MAX_PLACES {
                self.places.push((run.start, run.len_frames));
            }
        }
    }

    fn flat_top(&mut self, frame: u64, sample: f32) {
        let magnitude = sample.abs();
        #[expect(clippy::float_cmp, reason = "a flat top is flat")]
        let is_top = magnitude == self.top;
        let is_negative = sample < 0.0;
        if magnitude > self.top {
            self.top = magnitude;
            self.flat_tops = 0;
            self.top_run = self.open_top(frame, sample);
        } else if is_top && self.top_run.len_frames > 0 && self.top_run.is_negative == is_negative {
            self.top_run.len_frames = self.top_run.len_frames.saturating_add(1);
        } else {
            let run = std::mem::take(&mut self.top_run);
            let falls = self.top - magnitude > STEEP || run.is_negative != is_negative;
            if run.len_frames >= MIN_RUN_FRAMES && run.is_steep && falls {
                self.flat_tops += 1;
            }
            if is_top {
                self.top_run = self.open_top(frame, sample);
            }
        }
    }

    fn open_top(&self, start: u64, sample: f32) -> Open {
        let is_negative = sample < 0.0;
        let rise = if is_negative { self.last - sample } else { sample - self.last };
        Open { start, len_frames: 1, is_negative, is_steep: rise > STEEP }
    }
}

/// The file ends.
pub fn finish(channels: Vec<ClippingScan>, rate: SampleRate, layout: Layout) -> Clipping {
    let mut clipping = Clipping::default();
    let (mut tops, mut top) = (0, 0.0_f32);
    for (mut channel, name) in channels.into_iter().zip(layout.channel_names()) {
        channel.end_run();
        clipping.runs += channel.runs;
        clipping.longest_frames = clipping.longest_frames.max(channel.longest_frames);
        clipping.places.extend(channel.places.iter().map(|&(frame, len_frames)| Run {
            at_s: seconds(frame, rate),
            channel: name,
            len_frames,
        }));
        if (LOWEST_TOP..FULL_SCALE).contains(&channel.top) {
            tops += channel.flat_tops;
            top = if channel.flat_tops > 0 { top.max(channel.top) } else { top };
        }
    }
    clipping.places.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    clipping.flat_tops = (tops >= MIN_FLAT_TOPS).then(|| (tops, Dbfs::from_amplitude(top)));
    clipping
}
