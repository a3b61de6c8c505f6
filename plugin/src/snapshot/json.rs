//! The snapshot as JSON, version 1, as `snapshot-1.schema.json` describes it.
//!
//! Every key carries its unit; figures are unrounded. Where a figure has no number it is `null`,
//! and `null_because` beside it says why. A change that a reader of version 1 would trip over
//! needs a new version and a schema of its own; new keys do not.

mod comparison;
mod figures;
mod form;
mod peaks;
mod reference;
mod series;
mod target;

pub use comparison::{
    ChangeDocument, ComparisonDocument, PlaythroughDocument, SectionChangeDocument,
};
pub use figures::{FiguresDocument, SectionDocument};
pub use peaks::{PeakDocument, PeaksDocument, TamingDocument};
pub use reference::{
    BesideDocument, ObservationDocument, ReferenceBandsDocument, ReferenceDocument, StretchDocument,
};
pub(super) use series::figures_of_step;
pub use series::{NullRun, SeriesDocument, SeriesNulls};
pub use target::{DistanceDocument, TargetDocument, TargetResultDocument};

use super::{Reason, Snapshot, Source};
use crate::meters::layout::Layout;
use crate::record::hop_seconds;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What the document calls itself.
pub const SCHEMA_NAME: &str = "plimsoll-snapshot";

/// Version of the document that this plugin writes.
pub const SCHEMA_VERSION: u32 = 1;

/// The published JSON Schema of this version (JSON Schema, draft 2020-12).
pub const SCHEMA: &str = include_str!("snapshot-1.schema.json");

/// Why the figures beside it are `null`, by their keys.
type NullBecause = BTreeMap<String, Reason>;

/// Everything measured at one moment, as it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// [`SCHEMA_NAME`].
    pub schema: String,
    /// [`SCHEMA_VERSION`].
    pub version: u32,
    /// Version of the plugin that wrote it.
    pub plugin_version: String,
    /// When the snapshot was taken, ISO 8601 in UTC.
    pub taken_utc: String,
    /// The name that the user gave the song; may be empty.
    pub song: String,
    /// The name of the host's track, if it gave one.
    pub track: Option<String>,
    /// What time counts: "song", "live" for a clock of the plugin's own, or "file".
    pub source: String,
    /// Hash over every bit of the record, 16 hex digits; `None` where there is no record, or
    /// while it grew.
    pub record: Option<String>,
    /// Sample rate, Hz; `None` if unknown.
    pub rate_hz: Option<u32>,
    /// The loudspeakers that the channels feed.
    pub layout: Layout,
    /// Number of channels.
    pub channels: usize,
    /// First measured song time, seconds.
    pub start_s: Option<f64>,
    /// End of the last measured song time, seconds.
    pub end_s: Option<f64>,
    /// From the one to the other, seconds.
    pub span_s: Option<f64>,
    /// The figures of the whole song.
    #[serde(flatten)]
    pub figures: FiguresDocument,
    /// The chosen target; `None` if none is.
    pub target: Option<TargetDocument>,
    /// The distance to it.
    pub distance: Option<DistanceDocument>,
    /// Every target with the distance to it.
    pub targets: Vec<TargetResultDocument>,
    /// Every section, in song order.
    pub sections: Vec<SectionDocument>,
    /// The peaks that cost headroom.
    pub peaks: PeaksDocument,
    /// What the newest playthrough changed.
    pub comparison: Option<ComparisonDocument>,
    /// The song beside its references; `None` without any.
    #[serde(default)]
    pub reference: Option<ReferenceDocument>,
    /// Loudness and true peak over song time.
    pub series: SeriesDocument,
}

impl From<&Snapshot> for Document {
    fn from(snapshot: &Snapshot) -> Self {
        let about = &snapshot.about;
        let chosen = snapshot.chosen_target();
        let start_s = snapshot.extent.as_ref().map(|extent| hop_seconds(extent.start));
        let end_s = snapshot.extent.as_ref().map(|extent| hop_seconds(extent.end));
        Self {
            schema: SCHEMA_NAME.to_owned(),
            version: SCHEMA_VERSION,
            plugin_version: about.plugin_version.to_owned(),
            taken_utc: about.taken.to_string(),
            song: about.song.clone(),
            track: about.track.clone(),
            source: match about.source {
                Source::Song => "song".to_owned(),
                Source::Live => "live".to_owned(),
                Source::File => "file".to_owned(),
            },
            record: about.fingerprint.map(|hash| format!("{hash:016x}")),
            rate_hz: about.rate.map(|rate| rate.hz()),
            layout: about.layout,
            channels: about.layout.channel_count(),
            start_s,
            end_s,
            span_s: snapshot
                .extent
                .as_ref()
                .and_then(|extent| Some(hop_seconds(i32::try_from(extent.len()).ok()?))),
            figures: FiguresDocument::new(&snapshot.whole, about.layout),
            target: chosen.map(|chosen| TargetDocument::from(&chosen.target)),
            distance: chosen.map(|chosen| DistanceDocument::new(chosen, &snapshot.whole)),
            targets: snapshot
                .targets
                .iter()
                .enumerate()
                .map(|(index, result)| TargetResultDocument {
                    target: TargetDocument::from(&result.target),
                    chosen: snapshot.chosen == Some(index),
                    distance: DistanceDocument::new(result, &snapshot.whole),
                })
                .collect(),
            sections: snapshot
                .sections
                .iter()
                .map(|section| SectionDocument::new(section, about.layout))
                .collect(),
            peaks: PeaksDocument::from(snapshot),
            comparison: snapshot.comparison.as_ref().map(ComparisonDocument::from),
            reference: snapshot.reference.as_ref().map(ReferenceDocument::from),
            series: SeriesDocument::from(&snapshot.series),
        }
    }
}

impl Snapshot {
    /// The snapshot as JSON, with a line feed at its end.
    #[must_use]
    pub fn json(&self) -> String {
        form::written(&Document::from(self))
    }
}

/// A figure and, where it has no number, why.
fn noted(because: &mut NullBecause, key: &str, figure: super::reason::Figure) -> Option<f64> {
    match figure {
        Ok(value) => Some(value),
        Err(reason) => {
            because.insert(key.to_owned(), reason);
            None
        }
    }
}

#[cfg(test)]
mod tests;
