//! Facts about the file that a recipient asks for and loudness does not show: depth, channels,
//! clipping, gaps, edges. Each in a module of its own with its definition.
//!
//! One pass over the samples. They are looked at in groups of about half a millisecond: sum,
//! squares and peak of a group are cheap, and only a group that looks suspicious is looked at
//! sample by sample.

mod bit_depth;
mod channels;
mod clipping;
mod dither;
mod edges;
mod group;
mod noise_floor;
mod silence;
mod subsonic;

pub use bit_depth::{BitDepth, BitDepthScan};
pub use channels::{ChannelFacts, Twins};
pub use clipping::{Clipping, Run};
pub use dither::Dither;
pub use edges::{CLICK_DBFS, CUT_DBFS, Edges};
pub use noise_floor::NoiseFloor;
pub use silence::{Silence, Stretch};
pub use subsonic::SUBSONIC_CONCERN_DB;

use crate::loudness::Analysis;
use crate::meters::layout::Layout;
use crate::units::{Db, SampleRate};
use channels::ChannelScan;
use clipping::ClippingScan;
use dither::DitherScan;
use edges::EdgeScan;
use group::Group;
use plimsoll_reader::{Block, Coding};
use silence::SilenceScan;
use subsonic::SubsonicScan;

/// Samples beyond this magnitude, +72 dBFS, and what is no number are no audio, as in the meters.
const NOT_AUDIO: f32 = 4096.0;

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// Bits that the samples really use.
    pub bit_depth: BitDepth,
    /// Silent channels, DC, and what left and right have to do with each other.
    pub channels: ChannelFacts,
    /// Runs at full scale, and flat tops below it.
    pub clipping: Clipping,
    /// Digital silence.
    pub silence: Silence,
    /// How the file begins and ends.
    pub edges: Edges,
    /// How quiet the quietest steady part is.
    pub noise_floor: Option<NoiseFloor>,
    /// Power below 20 Hz to that of everything, dB; `None` for silence.
    pub subsonic_share: Option<Db>,
    /// Whether a quiet end is dithered.
    pub dither: Dither,
}

/// Looks at a file block by block.
pub struct DeliveryScan {
    rate: SampleRate,
    layout: Layout,
    coding: Coding,
    group_frames: usize,
    /// Frames that do not fill a group yet, scrubbed.
    pending: Vec<Vec<f32>>,
    /// Frames before those in `pending`.
    at_frame: u64,
    bit_depth: BitDepthScan,
    channels: Vec<ChannelScan>,
    twins: channels::TwinScan,
    clipping: Vec<ClippingScan>,
    silence: SilenceScan,
    edges: EdgeScan,
    subsonic: Vec<SubsonicScan>,
    dither: Vec<DitherScan>,
}

impl DeliveryScan {
    /// For a file at `rate` whose channels are `layout`.
    #[must_use]
    pub fn new(rate: SampleRate, layout: Layout, coding: Coding) -> Self {
        let group_frames = group::frames(rate);
        let count = layout.channel_count();
        Self {
            rate,
            layout,
            coding,
            group_frames,
            pending: vec![Vec::new(); count],
            at_frame: 0,
            bit_depth: BitDepthScan::default(),
            channels: vec![ChannelScan::default(); count],
            twins: channels::TwinScan::default(),
            clipping: vec![ClippingScan::default(); count],
            silence: SilenceScan::new(rate),
            edges: EdgeScan::default(),
            subsonic: vec![SubsonicScan::new(rate, group_frames); count],
            dither: vec![DitherScan::default(); count],
        }
    }

    /// Looks at the next block.
    pub fn push(&mut self, block: &Block) {
        self.bit_depth.push(block);
        for (pending, plane) in self.pending.iter_mut().zip(block.planes()) {
            let start = pending.len();
            pending.extend_from_slice(plane);
            for sample in pending.get_mut(start..).unwrap_or_default() {
                // False for what is no number.
                *sample = if sample.abs() <= NOT_AUDIO { *sample } else { 0.0 };
            }
        }
        let frames = self.pending.iter().map(Vec::len).min().unwrap_or(0);
        let whole = frames / self.group_frames * self.group_frames;
        self.look_at(whole);
    }

    /// Looks at the first `len_frames` of what is pending, group by group.
    fn look_at(&mut self, len_frames: usize) {
        let pending = std::mem::take(&mut self.pending);
        if let [left, right, ..] = pending.as_slice() {
            self.twins.push(left.get(..len_frames).unwrap_or_default(), right);
        }
        let mut at = 0;
        while at < len_frames {
            let len = self.group_frames.min(len_frames - at);
            let frame = self.at_frame + at as u64;
            let mut peak: f32 = 0.0;
            for (channel, plane) in pending.iter().enumerate() {
                let samples = plane.get(at..at + len).unwrap_or_default();
                let group = Group::of(samples);
                peak = peak.max(group.peak);
                if let Some(scan) = self.channels.get_mut(channel) {
                    scan.push(&group);
                }
                if let Some(scan) = self.clipping.get_mut(channel) {
                    scan.push(frame, samples, &group);
                }
                if let Some(scan) = self.subsonic.get_mut(channel) {
                    scan.push(&group, len);
                }
                if let Some(scan) = self.dither.get_mut(channel) {
                    scan.push(samples, &group);
                }
            }
            self.silence.push(frame, &pending, at..at + len, peak);
            self.edges.push(frame, &pending, at..at + len, peak);
            at += len;
        }
        self.at_frame += len_frames as u64;
        self.pending = pending;
        for plane in &mut self.pending {
            plane.drain(..len_frames.min(plane.len()));
        }
    }

    /// The file ends; `analysis` is the measurement of the same file, and `correlation` that of
    /// its left and right.
    #[must_use]
    pub fn finish(mut self, analysis: &Analysis, correlation: Option<f64>) -> Delivery {
        let rest = self.pending.iter().map(Vec::len).min().unwrap_or(0);
        self.look_at(rest);
        let len_frames = self.at_frame;
        let silence = self.silence.finish(len_frames);
        let edges = self.edges.finish(self.rate, len_frames, analysis);
        let bit_depth = self.bit_depth.finish(self.coding);
        self.subsonic.iter_mut().for_each(SubsonicScan::finish);
        Delivery {
            channels: channels::finish(&self.channels, &self.twins, self.layout, correlation),
            clipping: clipping::finish(self.clipping, self.rate, self.layout),
            noise_floor: noise_floor::find(analysis),
            subsonic_share: subsonic::share(&self.subsonic, &self.channels, self.layout),
            dither: dither::judge(&self.dither, &bit_depth),
            bit_depth,
            silence,
            edges,
        }
    }
}

/// Song time of a frame, seconds.
#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
fn seconds(frame: u64, rate: SampleRate) -> f64 {
    frame as f64 / f64::from(rate.hz())
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small numbers of test signals"
)]
mod tests;
