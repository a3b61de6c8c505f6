//! What single channels carry, and what left and right have to do with each other.
//!
//! - Silent channel: not one sample above −90 dBFS, where another has one (the project's own
//!   choice, no source: half a step of 16 bits).
//! - DC offset: the mean of all samples of a channel; of concern above −60 dBFS = 0.1 % (common
//!   practice, no source).
//! - Dual mono: left and right are the same in every sample.
//! - Polarity: right is left turned over in every sample, or the correlation of the whole song is
//!   below −0.5 (the project's own choice, no source: songs lie above 0.3 as a rule).

use super::group::Group;
use crate::meters::layout::Layout;
use crate::units::{Dbfs, amplitude_to_db};

/// A DC offset above this is of concern, dBFS (common practice, no source).
pub const DC_CONCERN_DBFS: f64 = -60.0;

/// A channel below this is silent, dBFS.
const SILENT_DBFS: f64 = -90.0;

/// A song whose correlation lies below this likely has one channel turned over.
pub const POLARITY_CORRELATION: f64 = -0.5;

/// What left and right have to do with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Twins {
    /// They differ, as in any stereo song; or there are not two, or one is silent.
    Differ,
    /// The same in every sample: mono in two channels.
    Same,
    /// One is the other turned over in every sample.
    TurnedOver,
    /// Not in every sample, but on the whole.
    LikelyTurnedOver,
}

/// What the channels carry.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelFacts {
    /// Short names of the silent channels; all of them for a silent file.
    pub silent: Vec<&'static str>,
    /// Mean of the samples of each channel: name and level; −∞ for none.
    pub dc: Vec<(&'static str, Dbfs)>,
    /// Left and right.
    pub twins: Twins,
}

impl ChannelFacts {
    /// The channels whose DC offset is of concern.
    pub fn dc_of_concern(&self) -> impl Iterator<Item = &(&'static str, Dbfs)> {
        self.dc.iter().filter(|(_, level)| level.0 > DC_CONCERN_DBFS)
    }
}

/// Sums over one channel.
#[derive(Debug, Clone, Default)]
pub struct ChannelScan {
    sum: f64,
    square_sum: f64,
    peak: f32,
    groups: u64,
}

impl ChannelScan {
    /// Adds a group.
    pub fn push(&mut self, group: &Group) {
        self.sum += f64::from(group.sum);
        self.square_sum += f64::from(group.square_sum);
        self.peak = self.peak.max(group.peak);
        self.groups += 1;
    }

    /// Σ x².
    pub fn square_sum(&self) -> f64 {
        self.square_sum
    }
}

/// Compares left and right while they may still be twins.
#[derive(Debug, Clone)]
pub struct TwinScan {
    may_be_same: bool,
    may_be_turned_over: bool,
    frames: u64,
}

impl Default for TwinScan {
    fn default() -> Self {
        Self { may_be_same: true, may_be_turned_over: true, frames: 0 }
    }
}

impl TwinScan {
    /// Looks at the next frames of both.
    pub fn push(&mut self, left: &[f32], right: &[f32]) {
        self.frames += left.len() as u64;
        let pairs = || left.iter().zip(right);
        #[expect(clippy::float_cmp, reason = "the same in every sample is what is asked")]
        if self.may_be_same {
            self.may_be_same = pairs().all(|(left, right)| left == right);
        }
        #[expect(clippy::float_cmp, reason = "as above")]
        if self.may_be_turned_over {
            self.may_be_turned_over = pairs().all(|(left, right)| *left == -right);
        }
    }
}

/// The file ends.
pub fn finish(
    channels: &[ChannelScan],
    twins: &TwinScan,
    layout: Layout,
    correlation: Option<f64>,
) -> ChannelFacts {
    let names = layout.channel_names();
    let level = |amplitude: f64| Dbfs(amplitude_to_db(amplitude));
    let silent: Vec<&'static str> = names
        .iter()
        .zip(channels)
        .filter(|(_, channel)| level(f64::from(channel.peak)).0 <= SILENT_DBFS)
        .map(|(name, _)| *name)
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
    let frames = twins.frames.max(1) as f64;
    let dc = names.iter().zip(channels);
    let dc = dc.map(|(name, channel)| (*name, level((channel.sum / frames).abs()))).collect();
    ChannelFacts { dc, twins: judge_twins(twins, layout, &silent, correlation), silent }
}

fn judge_twins(
    twins: &TwinScan,
    layout: Layout,
    silent: &[&'static str],
    correlation: Option<f64>,
) -> Twins {
    if layout == Layout::Mono || twins.frames == 0 || silent.iter().any(|name| "LR".contains(name))
    {
        return Twins::Differ;
    }
    if twins.may_be_same {
        return Twins::Same;
    }
    if twins.may_be_turned_over {
        return Twins::TurnedOver;
    }
    match correlation {
        Some(correlation) if correlation < POLARITY_CORRELATION => Twins::LikelyTurnedOver,
        _ => Twins::Differ,
    }
}
