//! One or several stretches of songs as one, at equal loudness.

use super::Profile;
use crate::meters::spectrum::bands::BAND_COUNT;
use crate::tone::Tone;
use std::array::from_fn;

/// A side this far below the mid, or above it, counts as no farther, dB: what is below is mono to
/// the ear. The project's own choice, no source.
const FARTHEST_WIDTH_DB: f64 = 40.0;

/// One value over several stretches, in its own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The average.
    pub mean: f64,
    /// The lowest one.
    pub lowest: f64,
    /// The highest one.
    pub highest: f64,
}

impl Span {
    /// Over `values`; `None` unless there are any and all are finite.
    fn over(values: impl Iterator<Item = Option<f64>>) -> Option<Self> {
        let mut span: Option<(f64, Self)> = None;
        for value in values {
            let value = value.filter(|value| value.is_finite())?;
            let (count, span) = span.get_or_insert((
                0.0,
                Self { mean: 0.0, lowest: f64::INFINITY, highest: f64::NEG_INFINITY },
            ));
            *count += 1.0;
            span.mean += value;
            span.lowest = span.lowest.min(value);
            span.highest = span.highest.max(value);
        }
        span.map(|(count, span)| Self { mean: span.mean / count, ..span })
    }
}

/// A value of ours beside those of the references.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Ours.
    pub ours: f64,
    /// Theirs.
    pub theirs: Span,
}

impl Difference {
    /// Ours less the average of theirs.
    #[must_use]
    pub fn by(&self) -> f64 {
        self.ours - self.theirs.mean
    }

    /// How far ours lies outside of the range of theirs: below zero is lower than any, 0.0 is within. For
    /// one reference the range is a line, and this is [`Self::by`].
    #[must_use]
    pub fn beyond(&self) -> f64 {
        (self.ours - self.theirs.highest).max(0.0) + (self.ours - self.theirs.lowest).min(0.0)
    }
}

/// One or several stretches as one. Levels are dB above the integrated loudness of the stretch that
/// they are from; averages are of decibels, every stretch weighs the same. A value is `None` unless
/// every stretch has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// How many stretches.
    pub count: usize,
    /// Average level of each band, mid and side together.
    pub bands: [Option<Span>; BAND_COUNT],
    /// What 10 and 90 per cent of the seconds do not exceed in each band, averages over the stretches.
    pub spread: [Option<[f64; 2]>; BAND_COUNT],
    /// Average level of each band of the mid.
    pub mid: [Option<Span>; BAND_COUNT],
    /// Average level of each band of the side.
    pub side: [Option<Span>; BAND_COUNT],
    /// Side to mid of each band, dB, at most ±40.
    pub band_widths: [Option<Span>; BAND_COUNT],
    /// Side to mid below 120 Hz, from there to 4 kHz, and above, dB, at most ±40.
    pub widths: [Option<Span>; 3],
    /// Share of 20 to 120 Hz, dB.
    pub low_end: Option<Span>,
    /// Share of the bands of 2 to 5 kHz, dB.
    pub presence: Option<Span>,
    /// Share of 10 kHz and above, dB.
    pub air: Option<Span>,
    /// Slope from 100 Hz to 10 kHz, dB per octave.
    pub slope: Option<Span>,
    /// What is lost in mono, LU.
    pub fold_down_loss: Option<Span>,
    /// Integrated loudness as it is, LUFS: the one value that is not taken relative to itself.
    pub integrated: Option<Span>,
    /// Loudness range, LU.
    pub loudness_range: Option<Span>,
    /// Peak to loudness ratio, LU.
    pub plr: Option<Span>,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr: Option<Span>,
    /// Highest short-term loudness above the integrated one, LU.
    pub max_short_term: Option<Span>,
    /// Highest momentary loudness above the integrated one, LU.
    pub max_momentary: Option<Span>,
}

impl Pool {
    /// Pools `profiles`; `None` if there are none.
    #[must_use]
    pub fn of(profiles: &[&Profile]) -> Option<Self> {
        if profiles.is_empty() {
            return None;
        }
        let figure = |of: fn(&Profile) -> Option<f64>| Span::over(profiles.iter().map(|p| of(p)));
        let tone = |of: fn(&Tone) -> Option<f64>| {
            Span::over(profiles.iter().map(|profile| of(profile.tone.as_deref()?)))
        };
        let level = |of: &dyn Fn(&Tone) -> Option<f64>| {
            Span::over(profiles.iter().map(|profile| relative(profile, of)))
        };
        let width = |of: &dyn Fn(&Tone) -> Option<f64>| {
            let clamp = |db: f64| db.clamp(-FARTHEST_WIDTH_DB, FARTHEST_WIDTH_DB);
            Span::over(profiles.iter().map(|profile| of(profile.tone.as_deref()?).map(clamp)))
        };
        let above_integrated = |of: fn(&Profile) -> Option<f64>| {
            Span::over(profiles.iter().map(|p| Some(of(p)? - p.figures.integrated_lufs?)))
        };
        let percentile = |band: usize, which: usize| {
            let of = |tone: &Tone| tone.both.percentiles_db.get(which)?.get(band).copied();
            level(&of).map(|span| span.mean)
        };
        Some(Self {
            count: profiles.len(),
            bands: from_fn(|band| level(&|tone| tone.both.mean_db.get(band).copied())),
            spread: from_fn(|band| Some([percentile(band, 0)?, percentile(band, 2)?])),
            mid: from_fn(|band| level(&|tone| tone.mid.mean_db.get(band).copied())),
            side: from_fn(|band| level(&|tone| tone.side.mean_db.get(band).copied())),
            band_widths: from_fn(|band| {
                width(&|tone| Some(tone.side.mean_db.get(band)? - tone.mid.mean_db.get(band)?))
            }),
            widths: from_fn(|range| width(&|tone| Some((*tone.side_to_mid.get(range)?)?.0))),
            low_end: tone(|tone| Some(tone.low_end.0)),
            presence: tone(|tone| Some(tone.presence.0)),
            air: tone(|tone| Some(tone.air.0)),
            slope: tone(|tone| tone.slope_db_per_octave),
            fold_down_loss: tone(|tone| Some(tone.fold_down_loss.0)),
            integrated: figure(|profile| profile.figures.integrated_lufs),
            loudness_range: figure(|profile| profile.figures.loudness_range_lu),
            plr: figure(|profile| profile.figures.plr_lu),
            min_psr: figure(|profile| profile.figures.min_psr_lu),
            max_short_term: above_integrated(|profile| profile.figures.max_short_term_lufs),
            max_momentary: above_integrated(|profile| profile.figures.max_momentary_lufs),
        })
    }

    /// This beside `theirs` in one value; the average of ours counts.
    #[must_use]
    pub fn difference(
        &self,
        theirs: &Self,
        of: impl Fn(&Self) -> Option<Span>,
    ) -> Option<Difference> {
        Some(Difference { ours: of(self)?.mean, theirs: of(theirs)? })
    }

    /// The level of a band beside that of `theirs`, dB at equal loudness.
    #[must_use]
    pub fn band(&self, theirs: &Self, band: usize) -> Option<Difference> {
        self.difference(theirs, |pool| pool.bands.get(band).copied()?)
    }
}

/// A level above the integrated loudness of its stretch.
fn relative(profile: &Profile, of: &dyn Fn(&Tone) -> Option<f64>) -> Option<f64> {
    Some(of(profile.tone.as_deref()?)? - profile.figures.integrated_lufs?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_is_a_line_for_one_and_has_an_inside_for_several() {
        let theirs = |values: &[f64]| Span::over(values.iter().map(|&value| Some(value))).unwrap();
        let beyond = |ours, values: &[f64]| Difference { ours, theirs: theirs(values) }.beyond();
        assert_eq!(beyond(-3.0, &[-1.0]), -2.0);
        assert_eq!(beyond(1.5, &[-1.0]), 2.5);
        let three = [-1.0, 2.0, 5.0];
        assert_eq!([-1.0, 0.0, 5.0].map(|ours| beyond(ours, &three)), [0.0; 3]);
        assert_eq!([beyond(-2.0, &three), beyond(6.5, &three)], [-1.0, 1.5]);
        assert_eq!(theirs(&three), Span { mean: 2.0, lowest: -1.0, highest: 5.0 });
    }

    #[test]
    fn what_one_of_several_lacks_is_not_told() {
        assert_eq!(Span::over([Some(1.0), None].into_iter()), None);
        assert_eq!(Span::over([Some(1.0), Some(f64::NEG_INFINITY)].into_iter()), None);
        assert_eq!(Span::over(std::iter::empty()), None);
        assert_eq!(Pool::of(&[]), None);
    }
}
