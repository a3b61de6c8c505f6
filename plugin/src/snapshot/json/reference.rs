//! The song beside its references.

use super::super::text::one_line;
use crate::meters::spectrum::bands::{BAND_COUNT, midband_hz};
use crate::reference::{Comparison, Difference, Observation, Pool, Span, Stretch, Subject};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The song beside one or several references, at equal loudness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReferenceDocument {
    /// The references' names.
    pub names: Vec<String>,
    /// What differs enough to be told, in words and figures.
    pub observations: Vec<ObservationDocument>,
    /// The whole song.
    pub whole: StretchDocument,
    /// Every section that was measured, in song order.
    pub sections: Vec<StretchDocument>,
}

/// A difference that is large enough to be told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ObservationDocument {
    /// In words.
    pub text: String,
    /// "bands", "width", "loudness_range", "plr" or "min_psr".
    pub subject: String,
    /// How far the song lies outside of the range of the references, dB or LU; below 0 is lower.
    pub by: f64,
    /// Of bands and width, the frequencies from the one to the other, Hz; `None` for the others,
    /// and where a range has no end.
    pub from_hz: Option<f64>,
    /// See [`Self::from_hz`].
    pub to_hz: Option<f64>,
    /// Where; empty for the whole song.
    pub place: String,
}

/// A stretch of the song beside what it answers to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StretchDocument {
    /// The section's id; `None` for the whole song.
    pub id: Option<u32>,
    /// Its name; empty for the whole song.
    pub name: String,
    /// The section of each reference, in the order of the names; `None` where it has none.
    pub against: Vec<Option<String>>,
    /// Whether it is held against whole songs.
    pub against_whole: bool,
    /// Figures, by name with their unit; one that is missing on either side is not there.
    pub figures: BTreeMap<String, BesideDocument>,
    /// Levels of the one-third-octave bands above the integrated loudness, dB.
    pub bands: ReferenceBandsDocument,
}

/// A figure of the song beside those of the references.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BesideDocument {
    /// Of the song.
    pub song: f64,
    /// Average of the references.
    pub reference: f64,
    /// Lowest of the references.
    pub lowest: f64,
    /// Highest of the references.
    pub highest: f64,
    /// Song less reference.
    pub difference: f64,
}

/// Bands, from the lowest up; `None` where a side is silent there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReferenceBandsDocument {
    /// Exact midband frequencies, Hz.
    pub midband_hz: Vec<f64>,
    /// Of the song, dB.
    pub song_db: Vec<Option<f64>>,
    /// Average of the references, dB.
    pub reference_db: Vec<Option<f64>>,
    /// Lowest of the references, dB.
    pub lowest_db: Vec<Option<f64>>,
    /// Highest of the references, dB.
    pub highest_db: Vec<Option<f64>>,
    /// What 10 % of the references' seconds do not exceed, dB.
    pub percentile_10_db: Vec<Option<f64>>,
    /// What 90 % of the references' seconds do not exceed, dB.
    pub percentile_90_db: Vec<Option<f64>>,
    /// Song less reference in side to mid, dB, each at most ±40.
    pub width_difference_db: Vec<Option<f64>>,
}

impl From<&Comparison> for ReferenceDocument {
    fn from(comparison: &Comparison) -> Self {
        Self {
            names: comparison.names.iter().map(|name| one_line(name)).collect(),
            observations: comparison.observations.iter().map(ObservationDocument::from).collect(),
            whole: StretchDocument::from(&comparison.whole),
            sections: comparison.sections.iter().map(StretchDocument::from).collect(),
        }
    }
}

impl From<&Observation> for ObservationDocument {
    fn from(observation: &Observation) -> Self {
        let subject = match observation.subject {
            Subject::Bands { .. } => "bands",
            Subject::Width(_) => "width",
            Subject::LoudnessRange => "loudness_range",
            Subject::Plr => "plr",
            Subject::MinPsr => "min_psr",
        };
        let [from_hz, to_hz] = observation.subject.range_hz();
        Self {
            text: observation.to_string(),
            subject: subject.to_owned(),
            by: observation.by,
            from_hz,
            to_hz,
            place: observation.place.clone(),
        }
    }
}

/// Figures by their keys.
type FigureOf = (&'static str, fn(&Pool) -> Option<Span>);

const FIGURES: [FigureOf; 14] = [
    ("integrated_lufs", |pool| pool.integrated),
    ("loudness_range_lu", |pool| pool.loudness_range),
    ("plr_lu", |pool| pool.plr),
    ("min_psr_lu", |pool| pool.min_psr),
    ("max_short_term_above_integrated_lu", |pool| pool.max_short_term),
    ("max_momentary_above_integrated_lu", |pool| pool.max_momentary),
    ("low_end_db", |pool| pool.low_end),
    ("presence_db", |pool| pool.presence),
    ("air_db", |pool| pool.air),
    ("slope_db_per_octave", |pool| pool.slope),
    ("fold_down_loss_lu", |pool| pool.fold_down_loss),
    ("side_to_mid_low_db", |pool| pool.widths[0]),
    ("side_to_mid_middle_db", |pool| pool.widths[1]),
    ("side_to_mid_high_db", |pool| pool.widths[2]),
];

impl From<&Stretch> for StretchDocument {
    fn from(stretch: &Stretch) -> Self {
        let (ours, theirs) = (&stretch.ours, &stretch.theirs);
        let figures = FIGURES.iter().filter_map(|(key, of)| {
            let difference = ours.difference(theirs, of)?;
            Some(((*key).to_owned(), BesideDocument::from(&difference)))
        });
        let bands = |of: &dyn Fn(usize) -> Option<f64>| (0..BAND_COUNT).map(of).collect();
        let level =
            |of: fn(&Difference) -> f64| bands(&|band| ours.band(theirs, band).as_ref().map(of));
        let spread =
            |end: usize| bands(&|band| theirs.spread.get(band).copied()??.get(end).copied());
        Self {
            id: stretch.id,
            name: stretch.name.clone(),
            against: stretch.their_names.clone(),
            against_whole: stretch.against_whole,
            figures: figures.collect(),
            bands: ReferenceBandsDocument {
                midband_hz: (0..BAND_COUNT).map(midband_hz).collect(),
                song_db: level(|difference| difference.ours),
                reference_db: level(|difference| difference.theirs.mean),
                lowest_db: level(|difference| difference.theirs.lowest),
                highest_db: level(|difference| difference.theirs.highest),
                percentile_10_db: spread(0),
                percentile_90_db: spread(1),
                width_difference_db: bands(&|band| {
                    let width =
                        ours.difference(theirs, |pool| pool.band_widths.get(band).copied()?);
                    width.map(|width| width.by())
                }),
            },
        }
    }
}

impl From<&Difference> for BesideDocument {
    fn from(difference: &Difference) -> Self {
        let theirs = difference.theirs;
        Self {
            song: difference.ours,
            reference: theirs.mean,
            lowest: theirs.lowest,
            highest: theirs.highest,
            difference: difference.by(),
        }
    }
}
