//! The comparison of two playthroughs.

use super::super::Comparison;
use super::super::reason::Reason;
use super::{NullBecause, noted};
use crate::record::hop_seconds;
use crate::section::{FiguresChange, LoggedFigures, Playthrough, SectionChange};
use serde::{Deserialize, Serialize};

/// What the newest playthrough changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparisonDocument {
    /// The earlier playthrough.
    pub before: PlaythroughDocument,
    /// The newest one.
    pub after: PlaythroughDocument,
    /// What changed in all that each of them played.
    pub change: ChangeDocument,
    /// What changed section by section.
    pub sections: Vec<SectionChangeDocument>,
}

/// One playthrough as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaythroughDocument {
    /// Number in the list of playthroughs.
    pub id: u32,
    /// Number in the record.
    pub number: u32,
    /// Its name, if it is pinned.
    pub pinned_as: Option<String>,
    /// Where it started, seconds of song time.
    pub start_s: f64,
    /// Where it ended, seconds of song time.
    pub end_s: f64,
    /// What it measured. A playthrough keeps no reason: `null` is not measured, or silence, or, of
    /// side to mid, mono.
    pub figures: LoggedFigures,
}

/// Later minus earlier.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChangeDocument {
    /// Integrated loudness, LU: above zero is louder.
    pub louder_by_lu: Option<f64>,
    /// Highest short-term loudness, LU.
    pub max_short_term_by_lu: Option<f64>,
    /// Highest momentary loudness, LU.
    pub max_momentary_by_lu: Option<f64>,
    /// Loudness range, LU.
    pub loudness_range_by_lu: Option<f64>,
    /// Highest true peak, dB.
    pub true_peak_by_db: Option<f64>,
    /// Peak to loudness ratio, LU.
    pub plr_by_lu: Option<f64>,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr_by_lu: Option<f64>,
    /// Correlation.
    pub correlation_by: Option<f64>,
    /// Side to mid, dB: above zero is wider.
    pub wider_by_db: Option<f64>,
    /// Why figures are `null`, by their keys.
    pub null_because: NullBecause,
}

/// One section in two playthroughs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionChangeDocument {
    /// The section's id.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// What it measured in the earlier one; `None` if it was not played or not there.
    pub before: Option<LoggedFigures>,
    /// What it measured in the later one.
    pub after: Option<LoggedFigures>,
    /// What changed; `None` unless it was measured both times.
    pub change: Option<ChangeDocument>,
    /// Whether the two measured the same time of it: if not, part of the change may come from
    /// that.
    pub same_time: bool,
}

impl From<&Comparison> for ComparisonDocument {
    fn from(comparison: &Comparison) -> Self {
        Self {
            before: PlaythroughDocument::from(&comparison.before),
            after: PlaythroughDocument::from(&comparison.after),
            change: ChangeDocument::from(&comparison.whole),
            sections: comparison.sections.iter().map(SectionChangeDocument::from).collect(),
        }
    }
}

impl From<&Playthrough> for PlaythroughDocument {
    fn from(playthrough: &Playthrough) -> Self {
        Self {
            id: playthrough.id,
            number: playthrough.number,
            pinned_as: playthrough.pinned_as.clone(),
            start_s: hop_seconds(playthrough.start_hop),
            end_s: hop_seconds(playthrough.end_hop),
            figures: playthrough.whole.clone(),
        }
    }
}

impl From<&SectionChange> for SectionChangeDocument {
    fn from(change: &SectionChange) -> Self {
        Self {
            id: change.id,
            name: change.name.clone(),
            before: change.before.clone(),
            after: change.after.clone(),
            change: change.change.as_ref().map(ChangeDocument::from),
            same_time: change.same_time,
        }
    }
}

impl From<&FiguresChange> for ChangeDocument {
    fn from(change: &FiguresChange) -> Self {
        let mut because = NullBecause::new();
        let mut by =
            |key, value: Option<f64>| noted(&mut because, key, value.ok_or(Reason::NotInBoth));
        Self {
            louder_by_lu: by("louder_by_lu", change.louder_by.map(|v| v.0)),
            max_short_term_by_lu: by("max_short_term_by_lu", change.max_short_term_by.map(|v| v.0)),
            max_momentary_by_lu: by("max_momentary_by_lu", change.max_momentary_by.map(|v| v.0)),
            loudness_range_by_lu: by("loudness_range_by_lu", change.loudness_range_by.map(|v| v.0)),
            true_peak_by_db: by("true_peak_by_db", change.true_peak_by.map(|v| v.0)),
            plr_by_lu: by("plr_by_lu", change.plr_by.map(|v| v.0)),
            min_psr_by_lu: by("min_psr_by_lu", change.min_psr_by.map(|v| v.0)),
            correlation_by: by("correlation_by", change.correlation_by),
            wider_by_db: by("wider_by_db", change.wider_by.map(|v| v.0)),
            null_because: because,
        }
    }
}
