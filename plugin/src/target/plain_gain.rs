//! What plain gain can do: it moves loudness and peaks alike, and leaves the loudness range.

use super::Target;
use crate::loudness::Figures;
use crate::units::{Db, Lu};

/// What stands in the way once the song was brought onto the target by gain alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Obstacle {
    /// True peaks over the ceiling, dB.
    Peaks(Db),
    /// The loudest 3 s over their limit, LU.
    ShortTerm(Lu),
    /// The loudest 400 ms over their limit, LU.
    Momentary(Lu),
    /// The loudness range over its limit, LU: no gain changes it.
    Range(Lu),
    /// Sample peaks below their window, dB.
    PeaksLow(Db),
}

impl Obstacle {
    /// The first that there is with `gain`, the one that matters most first.
    pub(super) fn with(gain: Db, figures: &Figures, target: &Target) -> Option<Self> {
        let over = |limit: Option<f64>, value: Option<f64>| {
            Some(value? - limit?).filter(|over| *over > 0.0)
        };
        let moved = |value: Option<f64>| value.map(|value| value + gain.0);
        let (ceiling, peak) = match (target.true_peak_ceiling, target.peak_window) {
            (None, Some(window)) => (Some(window.highest.0), figures.sample_peak.map(|p| p.0)),
            (ceiling, _) => (ceiling.map(|c| c.0), figures.max_true_peak.map(|p| p.0)),
        };
        let peak = moved(peak);
        let short_term = moved(figures.max_short_term.map(|value| value.0));
        let momentary = moved(figures.max_momentary.map(|value| value.0));
        let range = figures.loudness_range.map(|range| range.0);
        over(ceiling, peak)
            .map(|over| Self::Peaks(Db(over)))
            .or_else(|| {
                let limit = target.max_short_term.map(|limit| limit.0);
                over(limit, short_term).map(|over| Self::ShortTerm(Lu(over)))
            })
            .or_else(|| {
                let limit = target.max_momentary.map(|limit| limit.0);
                over(limit, momentary).map(|over| Self::Momentary(Lu(over)))
            })
            .or_else(|| {
                let limit = target.max_loudness_range.map(|limit| limit.0);
                over(limit, range).map(|over| Self::Range(Lu(over)))
            })
            .or_else(|| {
                let lowest = target.peak_window.map(|window| window.lowest.0);
                let sample_peak = moved(figures.sample_peak.map(|peak| peak.0));
                over(sample_peak, lowest).map(|under| Self::PeaksLow(Db(under)))
            })
    }
}

/// The plain gain after which every limit of `target` holds, as near to `wish` as can be, and in
/// tenths of a dB where one of those is among them; `None` where no gain does it.
pub(super) fn plain_gain(figures: &Figures, target: &Target, wish: Db) -> Option<Db> {
    let (mut lowest, mut highest) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut at_most = |limit: Option<f64>, value: Option<f64>| {
        if let Some((limit, value)) = limit.zip(value) {
            highest = highest.min(limit - value);
        }
    };
    let integrated = figures.integrated.map(|value| value.0);
    let goal = target.integrated;
    at_most(goal.map(|goal| goal.loudness.0 + goal.above.0), integrated);
    let true_peak = figures.max_true_peak.map(|peak| peak.0);
    at_most(target.true_peak_ceiling.map(|limit| limit.0), true_peak);
    let short_term = figures.max_short_term.map(|value| value.0);
    at_most(target.max_short_term.map(|limit| limit.0), short_term);
    let momentary = figures.max_momentary.map(|value| value.0);
    at_most(target.max_momentary.map(|limit| limit.0), momentary);
    let sample_peak = figures.sample_peak.map(|peak| peak.0);
    at_most(target.peak_window.map(|window| window.highest.0), sample_peak);

    let mut at_least = |limit: Option<f64>, value: Option<f64>| {
        if let Some((limit, value)) = limit.zip(value) {
            lowest = lowest.max(limit - value);
        }
    };
    let floor = goal.and_then(|goal| Some(goal.loudness.0 - goal.below?.0));
    at_least(floor, integrated);
    at_least(target.peak_window.map(|window| window.lowest.0), sample_peak);

    let range = figures.loudness_range.zip(target.max_loudness_range);
    if lowest > highest || range.is_some_and(|(range, limit)| range.0 > limit.0) {
        return None;
    }
    let nearest = wish.0.clamp(lowest, highest);
    let tenths = nearest * 10.0;
    [tenths.round(), tenths.floor(), tenths.ceil()]
        .map(|tenths| tenths / 10.0)
        .into_iter()
        .find(|gain| (lowest..=highest).contains(gain))
        .or(Some(nearest))
        .map(Db)
}
