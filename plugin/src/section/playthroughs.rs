//! What each section measured in one run of the transport, kept and compared.

mod compare;

pub use compare::{FiguresChange, SectionChange, compare};

use super::{Finished, MAX_NAME_CHARS, Measured, Section, measure};
use crate::loudness::{Analysis, HopRange};
use crate::record::{RecordReader, chunk_hops, record};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Playthroughs that are kept without a pin: the newest ones (issue 4).
pub const KEPT_PLAYTHROUGHS: usize = 32;

/// Most pinned playthroughs. The project's own choice, no source.
pub const MAX_PINS: usize = 64;

/// The figures of one section in one playthrough, unrounded. `None` is not measured, or silence.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct LoggedFigures {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Highest short-term loudness, LUFS.
    pub max_short_term_lufs: Option<f64>,
    /// Highest momentary loudness, LUFS.
    pub max_momentary_lufs: Option<f64>,
    /// Loudness range, LU.
    pub loudness_range_lu: Option<f64>,
    /// Highest true peak, dBTP.
    pub max_true_peak_dbtp: Option<f64>,
    /// Peak to loudness ratio, LU.
    pub plr_lu: Option<f64>,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr_lu: Option<f64>,
    /// Correlation of left and right, −1 to 1.
    pub correlation: Option<f64>,
    /// Side to mid, dB; `None` for mono too.
    pub side_to_mid_db: Option<f64>,
    /// Samples at or beyond full scale.
    pub clipped_samples: u64,
    /// The share of the section that this playthrough measured in full, 0 to 1.
    pub coverage: f64,
}

impl From<&Measured> for LoggedFigures {
    fn from(measured: &Measured) -> Self {
        let finite = |value: Option<f64>| value.filter(|value| value.is_finite());
        let figures = &measured.figures;
        Self {
            integrated_lufs: finite(figures.integrated.map(|value| value.0)),
            max_short_term_lufs: finite(figures.max_short_term.map(|value| value.0)),
            max_momentary_lufs: finite(figures.max_momentary.map(|value| value.0)),
            loudness_range_lu: finite(figures.loudness_range.map(|value| value.0)),
            max_true_peak_dbtp: finite(figures.max_true_peak.map(|value| value.0)),
            plr_lu: finite(measured.plr().map(|value| value.0)),
            min_psr_lu: finite(measured.min_psr.map(|value| value.0)),
            correlation: finite(measured.correlation),
            side_to_mid_db: finite(measured.side_to_mid.map(|value| value.0)),
            clipped_samples: figures.clipped_samples,
            coverage: figures.coverage.share(),
        }
    }
}

/// One section in the log of a playthrough.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LoggedSection {
    /// The section's id.
    pub id: u32,
    /// Its name then.
    pub name: String,
    /// Its first hop then.
    pub start_hop: i32,
    /// One past its last hop then.
    pub end_hop: i32,
    /// What it measured; `None` if the playthrough did not touch it.
    pub figures: Option<LoggedFigures>,
}

/// The log of one playthrough.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Playthrough {
    /// Number in the list of playthroughs, given by [`Playthroughs::add`]; 0 before.
    pub id: u32,
    /// Its number in the record; a record that is made anew counts from 1 again.
    pub number: u32,
    /// Its name, if it is pinned.
    pub pinned_as: Option<String>,
    /// What was played as a whole, from the first to the last hop.
    pub whole: LoggedFigures,
    /// First hop that was played.
    pub start_hop: i32,
    /// One past the last hop that was played.
    pub end_hop: i32,
    /// Every section, in song order.
    pub sections: Vec<LoggedSection>,
}

impl Playthrough {
    /// The log of playthrough `number`: from those of its hops that still stand in `record`, and
    /// from no others. To be taken when the run has ended, before the next one replaces them.
    /// `None` if there are none.
    ///
    /// Takes a copy of the run: some milliseconds for a song, so not for the audio thread.
    #[must_use]
    pub fn of(record: &RecordReader, number: u32, sections: &[Section]) -> Option<Self> {
        Self::of_analysis(&mut analysis_of_playthrough(record, number), number, sections)
    }

    /// The log of all that `analysis` holds, under a `number`: for an analysis of one playthrough,
    /// or of the whole record, to compare with. `None` if it holds nothing.
    #[must_use]
    pub fn of_analysis(analysis: &mut Analysis, number: u32, sections: &[Section]) -> Option<Self> {
        let extent = analysis.extent()?;
        let mut figures = |range: HopRange| LoggedFigures::from(&measure(analysis, range));
        Some(Self {
            id: 0,
            number,
            pinned_as: None,
            whole: figures(extent.clone()),
            start_hop: extent.start,
            end_hop: extent.end,
            sections: sections
                .iter()
                .map(|section| {
                    let range = section.hops();
                    let logged = figures(range.clone());
                    LoggedSection {
                        id: section.id,
                        name: section.name.clone(),
                        start_hop: range.start,
                        end_hop: range.end,
                        figures: (logged.coverage > 0.0).then_some(logged),
                    }
                })
                .collect(),
        })
    }
}

/// An analysis of those hops alone that playthrough `number` measured, in a record of its own.
#[must_use]
pub fn analysis_of_playthrough(source: &RecordReader, number: u32) -> Analysis {
    let (mut writer, reader) = record(source.layout(), false);
    for chunk in (0..source.chunk_count()).filter(|&chunk| source.chunk_revision(chunk) != 0) {
        for index in chunk_hops(chunk) {
            if let Some(hop) = source.hop(index).filter(|hop| hop.playthrough == number) {
                writer.write(index, &hop);
            }
        }
    }
    Analysis::of(&reader)
}

/// What cannot be done with a playthrough, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PlaythroughError {
    /// There is none with this id.
    NoSuchPlaythrough {
        /// The id.
        id: u32,
    },
    /// [`MAX_PINS`] are pinned already.
    TooManyPins,
    /// A name for a pin that is empty, too long or not plain text.
    BadName {
        /// The name, cut short.
        name: String,
    },
    /// A saved list with two playthroughs of one id, or with 0 for one.
    BadId {
        /// The id.
        id: u32,
    },
    /// A saved figure that is no number.
    BadFigure {
        /// The id of the playthrough.
        id: u32,
    },
}

impl fmt::Display for PlaythroughError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSuchPlaythrough { id } => {
                write!(f, "playthrough {id}: there is none with this number")
            }
            Self::TooManyPins => write!(f, "too many pins: at most {MAX_PINS} are kept"),
            Self::BadName { name } => {
                write!(f, "name \"{name}\": must be plain text of 1 to {MAX_NAME_CHARS} characters")
            }
            Self::BadId { id } => {
                write!(f, "playthrough {id}: numbers must be above 0 and all different")
            }
            Self::BadFigure { id } => write!(f, "playthrough {id}: a figure is no number"),
        }
    }
}

impl std::error::Error for PlaythroughError {}

/// The playthroughs of a song: the last [`KEPT_PLAYTHROUGHS`], and all that are pinned.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Playthroughs {
    /// Oldest first.
    kept: Vec<Playthrough>,
    last_id: u32,
}

impl Playthroughs {
    /// The playthroughs that were saved, oldest first; unpinned ones beyond the last
    /// [`KEPT_PLAYTHROUGHS`] are dropped.
    ///
    /// # Errors
    /// The first rule that is broken, with its value.
    pub fn from_saved(saved: Vec<Playthrough>) -> Result<Self, PlaythroughError> {
        let mut list = Self::default();
        for playthrough in saved {
            if playthrough.id <= list.last_id {
                return Err(PlaythroughError::BadId { id: playthrough.id });
            }
            if !playthrough.is_finite() {
                return Err(PlaythroughError::BadFigure { id: playthrough.id });
            }
            if let Some(name) = &playthrough.pinned_as {
                check_pin_name(name)?;
            }
            list.last_id = playthrough.id;
            list.kept.push(playthrough);
        }
        if list.pin_count() > MAX_PINS {
            return Err(PlaythroughError::TooManyPins);
        }
        list.forget_oldest();
        Ok(list)
    }

    /// All that are kept, oldest first. This is what to save.
    #[must_use]
    pub fn as_slice(&self) -> &[Playthrough] {
        &self.kept
    }

    /// The one with this id.
    #[must_use]
    pub fn get(&self, id: u32) -> Option<&Playthrough> {
        self.kept.iter().find(|playthrough| playthrough.id == id)
    }

    /// The newest one.
    #[must_use]
    pub fn newest(&self) -> Option<&Playthrough> {
        self.kept.last()
    }

    /// Adds the newest one, and forgets the oldest that is not pinned if there are too many.
    /// Gives its id.
    pub fn add(&mut self, mut playthrough: Playthrough) -> u32 {
        self.last_id = self.last_id.saturating_add(1);
        playthrough.id = self.last_id;
        self.kept.push(playthrough);
        self.forget_oldest();
        self.last_id
    }

    /// Takes in what [`RunFollower`](super::RunFollower) gives: a new playthrough, or all of the
    /// newest one in place of its earlier part, whose number and pin it keeps.
    pub fn log(&mut self, finished: Finished) -> u32 {
        let Finished { playthrough, goes_on } = finished;
        let earlier = self.kept.last_mut().filter(|_| goes_on);
        let Some(earlier) = earlier.filter(|earlier| earlier.number == playthrough.number) else {
            return self.add(playthrough);
        };
        let (id, pinned_as) = (earlier.id, earlier.pinned_as.take());
        *earlier = Playthrough { id, pinned_as, ..playthrough };
        id
    }

    /// Pins a playthrough under a name, or gives a pinned one another name.
    ///
    /// # Errors
    /// No such playthrough, a bad name, or too many pins.
    pub fn pin(&mut self, id: u32, name: &str) -> Result<(), PlaythroughError> {
        let name = name.trim();
        check_pin_name(name)?;
        let pins = self.pin_count();
        let found = self.kept.iter_mut().find(|playthrough| playthrough.id == id);
        let playthrough = found.ok_or(PlaythroughError::NoSuchPlaythrough { id })?;
        if playthrough.pinned_as.is_none() && pins == MAX_PINS {
            return Err(PlaythroughError::TooManyPins);
        }
        playthrough.pinned_as = Some(name.to_owned());
        Ok(())
    }

    /// Takes a pin off; the playthrough goes if it is too old to be kept without.
    ///
    /// # Errors
    /// No such playthrough.
    pub fn unpin(&mut self, id: u32) -> Result<(), PlaythroughError> {
        let found = self.kept.iter_mut().find(|playthrough| playthrough.id == id);
        found.ok_or(PlaythroughError::NoSuchPlaythrough { id })?.pinned_as = None;
        self.forget_oldest();
        Ok(())
    }

    fn pin_count(&self) -> usize {
        self.kept.iter().filter(|playthrough| playthrough.pinned_as.is_some()).count()
    }

    fn forget_oldest(&mut self) {
        let unpinned = self.kept.len() - self.pin_count();
        let mut too_many = unpinned.saturating_sub(KEPT_PLAYTHROUGHS);
        self.kept.retain(|playthrough| {
            let goes = playthrough.pinned_as.is_none() && too_many > 0;
            too_many -= usize::from(goes);
            !goes
        });
    }
}

impl Playthrough {
    fn is_finite(&self) -> bool {
        let sections = self.sections.iter().filter_map(|section| section.figures.as_ref());
        std::iter::once(&self.whole).chain(sections).all(|figures| {
            let values = [
                figures.integrated_lufs,
                figures.max_short_term_lufs,
                figures.max_momentary_lufs,
                figures.loudness_range_lu,
                figures.max_true_peak_dbtp,
                figures.plr_lu,
                figures.min_psr_lu,
                figures.correlation,
                figures.side_to_mid_db,
                Some(figures.coverage),
            ];
            values.into_iter().flatten().all(f64::is_finite)
        })
    }
}

fn check_pin_name(name: &str) -> Result<(), PlaythroughError> {
    let chars = name.chars().count();
    let good =
        chars <= MAX_NAME_CHARS && !name.trim().is_empty() && !name.contains(char::is_control);
    if good {
        return Ok(());
    }
    let name = name.chars().take(MAX_NAME_CHARS).collect();
    Err(PlaythroughError::BadName { name })
}

#[cfg(test)]
mod tests;
