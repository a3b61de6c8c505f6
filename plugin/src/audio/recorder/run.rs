//! What a recorder keeps of the stretch that it measures, and of the last one.

use super::outputs::Destination;
use crate::audio::part::Part;
use crate::meters::{Levels, MAX_CHANNELS};
use crate::record::Hop;

/// A stretch of audio without interruption, on one time line.
pub(super) struct Run {
    pub to: Destination,
    /// 0 when monitoring.
    pub playthrough: u32,
    /// The number from the next hop on, after a reset in mid hop.
    pub next_playthrough: Option<u32>,
    pub first_frame: i64,
    /// True peaks of hops that begin before this frame lack support before them.
    pub cold_until: i64,
    pub next_frame: i64,
    pub hop: i32,
    pub hop_end: i64,
    /// The part of the hop that is being measured.
    pub part: usize,
    /// The hop before, waiting for the frames that its true peaks need.
    pub pending: Option<Pending>,
}

/// A hop that waits for its true peaks.
pub(super) struct Pending {
    pub hop: i32,
    pub levels: Levels,
    pub momentary_rise: u16,
    pub playthrough: u32,
    /// Its true peaks are complete before this frame.
    pub due_frame: i64,
}

impl Pending {
    /// With its true peaks, which were waited for.
    pub const fn part(&self, true_peaks: [f32; MAX_CHANNELS]) -> Part {
        Part { levels: self.levels, true_peaks, momentary_rise: self.momentary_rise }
    }
}

/// The last whole hop of a run that ended, with the peaks that do not rest on what stood behind.
pub(super) struct Ended {
    pub to: Destination,
    pub end_frame: i64,
    pub index: i32,
    pub hop: Hop,
}
