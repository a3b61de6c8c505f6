//! Where a recorder's hops go.

use crate::audio::tone::ToneWriters;
use crate::meters::layout::Layout;
use crate::record::{
    Hop, RecentReader, RecentWriter, RecordReader, RecordWriter, recent_hops, record,
    record_with_tone,
};

/// Where hops go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::audio) enum Destination {
    /// The song record, on the host's song time.
    Song,
    /// The live record, on a clock of our own.
    Live,
    /// Nowhere but the recent hops: the transport stands, or measuring is paused.
    Monitor,
}

/// The writing ends of all that a recorder fills. There is one of it; it outlives a change of
/// sample rate.
pub struct Outputs {
    pub(super) layout: Layout,
    pub(super) song: RecordWriter,
    pub(super) live: RecordWriter,
    pub(super) recent: RecentWriter,
    /// Highest amplitude of the hop that was written last, between samples too, linear.
    pub(super) newest_true_peak: f32,
    /// `None` where tone is not measured.
    pub(super) tone: Option<ToneWriters>,
}

/// The reading ends.
#[derive(Clone)]
pub struct Sources {
    /// Measurement against the host's song time.
    pub song: RecordReader,
    /// Measurement against a clock of our own, for hosts that do not tell song time.
    pub live: RecordReader,
    /// The last seconds as they were heard.
    pub recent: RecentReader,
}

impl Outputs {
    /// Allocates both records for `layout`; with `touch` the song record's pages are made present
    /// now. The live record's come as it grows: most hosts never use it. Tone is not measured.
    #[must_use]
    pub fn new(layout: Layout, touch: bool) -> (Self, Sources) {
        let ((song, song_reader), (live, live_reader)) =
            (record(layout, touch), record(layout, false));
        let (recent, recent_reader) = recent_hops();
        let sources = Sources { song: song_reader, live: live_reader, recent: recent_reader };
        (Self { layout, song, live, recent, newest_true_peak: 0.0, tone: None }, sources)
    }

    /// The same for records with tone.
    #[must_use]
    pub fn with_tone(layout: Layout, touch: bool) -> (Self, Sources) {
        let (song, song_tone, song_reader) = record_with_tone(layout, touch);
        let (live, live_tone, live_reader) = record_with_tone(layout, false);
        let (recent, recent_reader) = recent_hops();
        let sources = Sources { song: song_reader, live: live_reader, recent: recent_reader };
        let tone = Some(ToneWriters { song: song_tone, live: live_tone });
        (Self { layout, song, live, recent, newest_true_peak: 0.0, tone }, sources)
    }

    /// The channels that the records were made for.
    #[must_use]
    pub const fn layout(&self) -> Layout {
        self.layout
    }

    /// Begins a playthrough there; its number.
    pub(super) fn begin_playthrough(&mut self, to: Destination) -> u32 {
        match to {
            Destination::Song => self.song.begin_playthrough(),
            Destination::Live => self.live.begin_playthrough(),
            Destination::Monitor => 0,
        }
    }

    /// Whether there was a reset, a trim or a load since `playthrough` began.
    pub(super) fn is_outdated(&self, to: Destination, playthrough: u32) -> bool {
        match to {
            Destination::Song => self.song.is_outdated(playthrough),
            Destination::Live => self.live.is_outdated(playthrough),
            Destination::Monitor => false,
        }
    }

    /// Whether what was measured of a hop in `playthrough` was reset, trimmed or replaced since.
    pub(super) fn was_forgotten(&self, to: Destination, index: i32, playthrough: u32) -> bool {
        match to {
            Destination::Song => self.song.was_forgotten(index, playthrough),
            Destination::Live => self.live.was_forgotten(index, playthrough),
            Destination::Monitor => false,
        }
    }

    /// Writes a hop that was heard before.
    pub(super) fn rewrite(&mut self, to: Destination, index: i32, hop: &Hop) {
        match to {
            Destination::Song => self.song.write(index, hop),
            Destination::Live => self.live.write(index, hop),
            Destination::Monitor => {}
        }
    }

    /// Writes a hop that was just heard.
    pub(super) fn write(&mut self, to: Destination, index: i32, hop: &Hop) {
        self.rewrite(to, index, hop);
        self.newest_true_peak = hop.true_peaks.iter().copied().fold(0.0, f32::max);
        if hop.full {
            self.recent.push(hop);
        }
    }
}
