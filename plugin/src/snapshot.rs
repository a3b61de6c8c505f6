//! A snapshot: an owned copy of everything measured at one moment, and what it is written as.
//!
//! [`Snapshot::take`] copies; nothing is computed here that has another source. The writers are
//! functions of the copy: [`Snapshot::json`], [`Snapshot::sections_csv`],
//! [`Snapshot::loudness_csv`], [`Snapshot::html`], [`Snapshot::summary`]. Only
//! [`Snapshot::write_all`] touches files. All of it takes some milliseconds to some tenths of a
//! second: work for a thread of its own, never for the audio or the editor's thread.

mod comparison;
pub(crate) mod csv;
pub(crate) mod html;
mod json;
mod order;
pub(crate) mod reason;
mod save;
mod series;
mod take;
pub(crate) mod text;
mod when;

#[cfg(test)]
mod testing;

pub use comparison::Comparison;
pub use json::{
    BesideDocument, ChangeDocument, ComparisonDocument, DistanceDocument, Document,
    FiguresDocument, NullRun, ObservationDocument, PeakDocument, PeaksDocument,
    PlaythroughDocument, ReferenceBandsDocument, ReferenceDocument, SCHEMA, SCHEMA_NAME,
    SCHEMA_VERSION, SectionChangeDocument, SectionDocument, SeriesDocument, SeriesNulls,
    StretchDocument, TamingDocument, TargetDocument, TargetResultDocument,
};
pub use order::{Export, SnapshotOrder};
pub use reason::Reason;
pub use save::{Existing, Format, SaveError, folder_of, is_device_name, write_files};
pub use series::{SERIES_STEP_HOPS, Series, SeriesPoint};
pub use take::Moment;
pub use when::UtcTime;

use crate::loudness::HopRange;
use crate::meters::layout::Layout;
use crate::section::{BarGrid, LogEntry, Measured, PeakLedger, Section};
use crate::target::{Distance, Target};
use crate::units::SampleRate;

/// Which of the two records a snapshot was taken of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Song time, as the host tells it.
    Song,
    /// A clock of the plugin's own, from the last reset: the host told no position.
    Live,
    /// The time of a file that was checked; there is no record.
    File,
}

/// What was measured, where, and by what.
#[derive(Debug, Clone, PartialEq)]
pub struct About {
    /// The name that the user gave the song; may be empty.
    pub song: String,
    /// The name of the host's track, if it gave one.
    pub track: Option<String>,
    /// When the snapshot was taken.
    pub taken: UtcTime,
    /// Version of the plugin.
    pub plugin_version: &'static str,
    /// Which record it was taken of.
    pub source: Source,
    /// Sample rate; `None` before the first activation.
    pub rate: Option<SampleRate>,
    /// The channels.
    pub layout: Layout,
    /// Hash over every bit of the record; `None` where there is no record, or while it grew.
    pub fingerprint: Option<u64>,
}

/// One target and how far the song is from it.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetResult {
    /// The target.
    pub target: Target,
    /// The measurement against it.
    pub distance: Distance,
}

/// One section and what it measures.
#[derive(Debug, Clone, PartialEq)]
pub struct SnapshotSection {
    /// Where it is.
    pub section: Section,
    /// What it measures.
    pub entry: LogEntry,
}

/// An owned copy of everything measured at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapshot {
    /// What was measured, where, and by what.
    pub about: About,
    /// From the first to one past the last measured hop; `None` if nothing was measured.
    pub extent: Option<HopRange>,
    /// The figures of the whole song.
    pub whole: Measured,
    /// Every target, with the distance to it.
    pub targets: Vec<TargetResult>,
    /// Place of the chosen target in [`Self::targets`]; `None` if none is.
    pub chosen: Option<usize>,
    /// Every section, in song order.
    pub sections: Vec<SnapshotSection>,
    /// The peaks that cost headroom.
    pub peaks: PeakLedger,
    /// The bars of the song, if known.
    pub bars: Option<BarGrid>,
    /// What the newest playthrough changed; `None` with fewer than two.
    pub comparison: Option<Comparison>,
    /// The song beside its references; `None` without any, or with nothing measured.
    pub reference: Option<crate::reference::Comparison>,
    /// Loudness and true peak over song time.
    pub series: Series,
}

impl Snapshot {
    /// The chosen target and the distance to it.
    #[must_use]
    pub fn chosen_target(&self) -> Option<&TargetResult> {
        self.targets.get(self.chosen?)
    }

    /// The name of the section with this id.
    fn section_name(&self, id: u32) -> Option<&str> {
        let found = self.sections.iter().find(|section| section.section.id == id);
        found.map(|section| section.section.name.as_str())
    }
}

/// A count as a float: exact, for there are never 2^32 of anything here.
fn float(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

#[cfg(test)]
mod tests;
