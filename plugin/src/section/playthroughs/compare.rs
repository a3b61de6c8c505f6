//! Section by section: what changed from one playthrough to another.

use super::{LoggedFigures, LoggedSection, Playthrough};
use crate::units::{Db, Lu};

/// Both playthroughs must cover this much of a section for its change to be a plain one.
/// Common practice, no source: the project's own choice, as for the whole song.
const ENOUGH_COVERAGE: f64 = 0.95;

/// What changed in the figures of one section: later minus earlier. Each is `None` unless it was
/// measured both times.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FiguresChange {
    /// Integrated loudness, LU: above zero is louder.
    pub louder_by: Option<Lu>,
    /// Highest short-term loudness, LU.
    pub max_short_term_by: Option<Lu>,
    /// Highest momentary loudness, LU.
    pub max_momentary_by: Option<Lu>,
    /// Loudness range, LU.
    pub loudness_range_by: Option<Lu>,
    /// Highest true peak, dB.
    pub true_peak_by: Option<Db>,
    /// Peak to loudness ratio, LU.
    pub plr_by: Option<Lu>,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr_by: Option<Lu>,
    /// Correlation.
    pub correlation_by: Option<f64>,
    /// Side to mid, dB: above zero is wider.
    pub wider_by: Option<Db>,
}

/// One section in two playthroughs.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionChange {
    /// The section's id.
    pub id: u32,
    /// Its name in the later one, else in the earlier.
    pub name: String,
    /// What it measured in the earlier one; `None` if it was not played or not there.
    pub before: Option<LoggedFigures>,
    /// What it measured in the later one; `None` if it was not played or is not there.
    pub after: Option<LoggedFigures>,
    /// What changed; `None` unless it was measured both times.
    pub change: Option<FiguresChange>,
    /// Whether it has the same range in both and at least 95 % of it was measured each time:
    /// if not, part of the change may come from measuring other time.
    pub same_time: bool,
}

/// Compares two playthroughs, matching sections by id: those of `after` in song order, then those
/// that only `before` knows.
#[must_use]
pub fn compare(before: &Playthrough, after: &Playthrough) -> Vec<SectionChange> {
    let find = |playthrough: &Playthrough, id: u32| {
        playthrough.sections.iter().find(|section| section.id == id).cloned()
    };
    let later = after
        .sections
        .iter()
        .map(|section| change(find(before, section.id), Some(section.clone())));
    let gone = before.sections.iter().filter(|section| find(after, section.id).is_none());
    let gone = gone.map(|section| change(Some(section.clone()), None));
    later.chain(gone).collect()
}

fn change(before: Option<LoggedSection>, after: Option<LoggedSection>) -> SectionChange {
    let named = after.as_ref().or(before.as_ref());
    let (id, name) = named.map(|section| (section.id, section.name.clone())).unwrap_or_default();
    let range = |section: &LoggedSection| (section.start_hop, section.end_hop);
    let same_range = before.as_ref().map(range) == after.as_ref().map(range);
    let (before, after) =
        (before.and_then(|section| section.figures), after.and_then(|section| section.figures));
    let covered = |figures: &Option<LoggedFigures>| {
        figures.as_ref().is_some_and(|figures| figures.coverage >= ENOUGH_COVERAGE)
    };
    SectionChange {
        id,
        name,
        same_time: same_range && covered(&before) && covered(&after),
        change: before
            .as_ref()
            .zip(after.as_ref())
            .map(|(before, after)| FiguresChange::new(before, after)),
        before,
        after,
    }
}

impl FiguresChange {
    /// Later minus earlier.
    #[must_use]
    pub fn new(before: &LoggedFigures, after: &LoggedFigures) -> Self {
        let by = |of: fn(&LoggedFigures) -> Option<f64>| Some(of(after)? - of(before)?);
        Self {
            louder_by: by(|figures| figures.integrated_lufs).map(Lu),
            max_short_term_by: by(|figures| figures.max_short_term_lufs).map(Lu),
            max_momentary_by: by(|figures| figures.max_momentary_lufs).map(Lu),
            loudness_range_by: by(|figures| figures.loudness_range_lu).map(Lu),
            true_peak_by: by(|figures| figures.max_true_peak_dbtp).map(Db),
            plr_by: by(|figures| figures.plr_lu).map(Lu),
            min_psr_by: by(|figures| figures.min_psr_lu).map(Lu),
            correlation_by: by(|figures| figures.correlation),
            wider_by: by(|figures| figures.side_to_mid_db).map(Db),
        }
    }
}
