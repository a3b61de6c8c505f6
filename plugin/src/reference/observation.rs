//! Differences that are large enough to tell, in words. They say what is, never what to do.

use super::pool::{Difference, Pool, Span};
use crate::meters::spectrum::bands::{BAND_COUNT, NOMINAL_HZ, edges_hz};
use crate::tone::WIDTH_BORDERS_HZ;
use crate::units::{Db, Lu, one_decimal};
use std::fmt;
use std::ops::RangeInclusive;

/// Bands differ from this on, dB at equal loudness, outside of the range of the references. The
/// project's own choice, no source: below, songs of one album differ as much.
pub const BANDS_FROM_DB: f64 = 1.5;

/// Side to mid differs from this on, dB. The project's own choice, no source.
pub const WIDTH_FROM_DB: f64 = 2.0;

/// LRA, PLR and PSR differ from this on, LU. The project's own choice, no source.
pub const RATIO_FROM_LU: f64 = 1.0;

/// Bands that lie this far below the highest one in both songs are not told, dB. The project's own
/// choice, no source.
pub const QUIET_BANDS_DB: f64 = 50.0;

/// Below this side to mid a range of width reads as mono, dB.
const MONO_DB: f64 = -39.9;

/// What differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Bands from the one to the other, adjoining.
    Bands {
        /// The lowest band.
        first: usize,
        /// The highest band.
        last: usize,
    },
    /// Side to mid: 0 below 120 Hz, 1 to 4 kHz, 2 above.
    Width(usize),
    /// Loudness range.
    LoudnessRange,
    /// Peak to loudness ratio.
    Plr,
    /// Lowest peak to short-term ratio.
    MinPsr,
}

impl Subject {
    /// The frequencies from the one to the other, Hz; `None` for a range without such an end, and for
    /// what is of all frequencies.
    #[must_use]
    pub fn range_hz(self) -> [Option<f64>; 2] {
        let [low_hz, high_hz] = WIDTH_BORDERS_HZ.map(Some);
        match self {
            Self::Bands { first, last } => [Some(edges_hz(first)[0]), Some(edges_hz(last)[1])],
            Self::Width(0) => [None, low_hz],
            Self::Width(1) => [low_hz, high_hz],
            Self::Width(_) => [high_hz, None],
            Self::LoudnessRange | Self::Plr | Self::MinPsr => [None, None],
        }
    }
}

/// A difference that is large enough to tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// What differs.
    pub subject: Subject,
    /// By how much ours lies above the range of the references, in dB or LU; below zero is lower than
    /// any. For bands the average over them.
    pub by: f64,
    /// Where: "in the verses"; empty for the whole song.
    pub place: String,
    /// How many references there are.
    pub references: usize,
    /// Ours, in the unit of the subject; for bands their average above the loudness, dB.
    pub ours: f64,
}

/// Picks one value out of a pool.
type SpanOf = fn(&Pool) -> Option<Span>;

/// A role's pools, ours and theirs, and what its place is called.
pub(super) type Place = (String, Pool, Pool);

impl Observation {
    /// All that differ: of the whole song, and of those of its parts that have an answer in the
    /// references. What differs alike in all of `parts` parts is told once, for the whole song; what
    /// differs in some is told for these.
    pub(super) fn all(
        references: usize,
        (ours, theirs): (&Pool, &Pool),
        places: &[Place],
        parts: usize,
    ) -> Vec<Self> {
        let whole = Self::of(references, "", ours, theirs);
        let by_place: Vec<Vec<Self>> = places
            .iter()
            .map(|(place, ours, theirs)| Self::of(references, place, ours, theirs))
            .collect();
        let is_everywhere = |one: &Self| {
            by_place.len() == parts
                && by_place.iter().all(|place| place.iter().any(|other| one.is_like(other)))
        };
        let mut told: Vec<Self> = Vec::new();
        for one in whole {
            let somewhere = by_place.iter().flatten().any(|other| one.is_like(other));
            if !somewhere || is_everywhere(&one) {
                told.push(one);
            }
        }
        let wholes = told.clone();
        let covered = |other: &Self| wholes.iter().any(|one| one.is_like(other));
        told.extend(by_place.iter().flatten().filter(|one| !covered(one)).cloned());
        told
    }

    /// What differs in one stretch.
    fn of(references: usize, place: &str, ours: &Pool, theirs: &Pool) -> Vec<Self> {
        let observation = |subject, by, mine| Self {
            subject,
            by,
            place: place.to_owned(),
            references,
            ours: mine,
        };
        let mut found: Vec<Self> = runs(ours, theirs)
            .into_iter()
            .map(|(bands, by, mine)| {
                let (first, last) = bands.into_inner();
                observation(Subject::Bands { first, last }, by, mine)
            })
            .collect();
        let mut add = |subject, from, difference: Option<Difference>| {
            let difference = difference.filter(|difference| difference.beyond().abs() >= from);
            found.extend(
                difference
                    .map(|difference| observation(subject, difference.beyond(), difference.ours)),
            );
        };
        for range in 0..=WIDTH_BORDERS_HZ.len() {
            let width = ours.difference(theirs, |pool| pool.widths.get(range).copied()?);
            add(Subject::Width(range), WIDTH_FROM_DB, width);
        }
        let ratios: [(Subject, SpanOf); 3] = [
            (Subject::LoudnessRange, |pool| pool.loudness_range),
            (Subject::Plr, |pool| pool.plr),
            (Subject::MinPsr, |pool| pool.min_psr),
        ];
        for (subject, of) in ratios {
            add(subject, RATIO_FROM_LU, ours.difference(theirs, of));
        }
        found
    }

    /// Whether two say the same of the same thing: the same sign, and for bands at least one in
    /// common.
    fn is_like(&self, other: &Self) -> bool {
        let same = match (self.subject, other.subject) {
            (
                Subject::Bands { first, last },
                Subject::Bands { first: other_first, last: other_last },
            ) => first <= other_last && other_first <= last,
            (one, other) => one == other,
        };
        same && (self.by > 0.0) == (other.by > 0.0)
    }
}

/// Runs of adjoining bands that differ to one side, with the averages of by how much, and of ours.
pub(super) fn runs(ours: &Pool, theirs: &Pool) -> Vec<(RangeInclusive<usize>, f64, f64)> {
    let highest = |pool: &Pool| {
        let levels = pool.bands.iter().flatten().map(|span| span.mean);
        levels.fold(f64::NEG_INFINITY, f64::max) - QUIET_BANDS_DB
    };
    let floors = [highest(ours), highest(theirs)];
    let told = |band: usize| {
        let difference = ours.band(theirs, band)?;
        let sounds = difference.ours > floors[0] || difference.theirs.mean > floors[1];
        (sounds && difference.beyond().abs() >= BANDS_FROM_DB).then_some(difference)
    };
    let mut runs: Vec<(RangeInclusive<usize>, Vec<Difference>)> = Vec::new();
    for band in 0..BAND_COUNT {
        let Some(difference) = told(band) else { continue };
        let goes_on = |(bands, run): &&mut (RangeInclusive<usize>, Vec<Difference>)| {
            let same_side =
                run.last().is_some_and(|last| (last.beyond() > 0.0) == (difference.beyond() > 0.0));
            bands.end() + 1 == band && same_side
        };
        match runs.last_mut().filter(goes_on) {
            Some((bands, run)) => {
                *bands = *bands.start()..=band;
                run.push(difference);
            }
            None => runs.push((band..=band, vec![difference])),
        }
    }
    let mean = |run: &[Difference], of: fn(&Difference) -> f64| {
        let count = u32::try_from(run.len()).map_or(f64::INFINITY, f64::from);
        run.iter().map(of).sum::<f64>() / count
    };
    runs.into_iter()
        .map(|(bands, run)| {
            let (by, mine) = (mean(&run, Difference::beyond), mean(&run, |one| one.ours));
            (bands, by, mine)
        })
        .collect()
}

impl fmt::Display for Observation {
    /// "2.1 dB less between 200 and 315 Hz than the reference, in the verses".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = one_decimal(self.by.abs());
        let than = match (self.references, self.by > 0.0) {
            (..=1, _) => "the reference".to_owned(),
            (count, true) => format!("the highest of {count} references"),
            (count, false) => format!("the lowest of {count} references"),
        };
        let is_more = self.by > 0.0;
        let ratio = |f: &mut fmt::Formatter<'_>, name: &str, [more, less]: [&str; 2]| {
            write!(
                f,
                "{name} {size} {} {} than {than}",
                Lu::UNIT,
                if is_more { more } else { less }
            )
        };
        match self.subject {
            Subject::Bands { first, last } => {
                let more = if is_more { "more" } else { "less" };
                write!(f, "{size} {} {more} {} than {than}", Db::UNIT, between(first, last))?;
            }
            Subject::Width(range) => {
                let place = width_range(range);
                if self.ours <= MONO_DB {
                    write!(f, "mono {place}, {size} {} narrower than {than}", Db::UNIT)?;
                } else {
                    let wider = if is_more { "wider" } else { "narrower" };
                    write!(f, "{size} {} {wider} {place} than {than}", Db::UNIT)?;
                }
            }
            Subject::LoudnessRange => ratio(f, "LRA", ["larger", "smaller"])?,
            Subject::Plr => ratio(f, "PLR", ["higher", "lower"])?,
            Subject::MinPsr => ratio(f, "lowest PSR", ["higher", "lower"])?,
        }
        if self.place.is_empty() { Ok(()) } else { write!(f, ", {}", self.place) }
    }
}

/// "between 200 and 315 Hz", "at 250 Hz": nominal midband frequencies of the outermost bands.
fn between(first: usize, last: usize) -> String {
    let [low, high] = [first, last].map(|band| NOMINAL_HZ.get(band).copied().unwrap_or(0.0));
    let in_khz = |hz: f64| hz >= 1_000.0;
    let figure = |hz: f64| if in_khz(hz) { (hz / 1_000.0).to_string() } else { hz.to_string() };
    let unit = |hz: f64| if in_khz(hz) { "kHz" } else { "Hz" };
    if first == last {
        format!("at {} {}", figure(low), unit(low))
    } else if unit(low) == unit(high) {
        format!("between {} and {} {}", figure(low), figure(high), unit(high))
    } else {
        format!("between {} {} and {} {}", figure(low), unit(low), figure(high), unit(high))
    }
}

fn width_range(range: usize) -> &'static str {
    match range {
        0 => "below 120 Hz",
        1 => "between 120 Hz and 4 kHz",
        _ => "above 4 kHz",
    }
}

#[cfg(test)]
mod tests;
