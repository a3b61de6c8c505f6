//! How far a measurement is from a target, and what stands between them.
//!
//! distance = I − target · gain to target g = target − I · peak at target = TP + g ·
//! peak control = max(0, TP + g − ceiling). Compared unrounded, shown with one decimal.

use super::plain_gain::{Obstacle, plain_gain};
use super::{Target, playback_gain};
use crate::loudness::Figures;
use crate::units::{Db, Dbfs, Dbtp, Lu, Lufs, one_decimal};

/// Below this share of measured time a whole-song figure is only "so far".
/// Common practice, no source: the project's own choice.
pub const ENOUGH_COVERAGE_SHARE: f64 = 0.95;

/// The measurement against one target. Each figure is `None` while what it needs is not measured
/// or the target has no such limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distance {
    /// Measured integrated loudness minus the target's, LU: negative is below target.
    pub distance: Option<Lu>,
    /// Gain that would bring the integrated loudness onto the target, dB.
    pub gain_to_target: Option<Db>,
    /// Where the highest true peak would land with that gain, dBTP.
    pub peak_at_target: Option<Dbtp>,
    /// How many dB of peaks would have to be tamed to reach the target under the ceiling, dB.
    pub peak_control: Option<Db>,
    /// Ceiling minus highest true peak, dB: negative is over the ceiling.
    pub headroom: Option<Db>,
    /// The gain that playback at this target's normalisation would apply, dB.
    pub playback_gain: Option<Db>,
    /// What stands between the song and the target.
    pub standing: Standing,
    /// The measured share of the song's span where that is too little to stand on, 0 to 1.
    pub provisional_share: Option<f64>,
}

/// What stands between the song and the target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Nothing was measured yet.
    NotMeasured,
    /// Less than one gating block of 400 ms was measured.
    TooShort,
    /// What was measured is silence.
    Silent,
    /// Every limit holds.
    Within {
        /// Distance inside the tolerance, LU.
        distance: Option<Lu>,
    },
    /// Louder than the tolerance allows.
    TooLoud {
        /// Distance, LU, above zero.
        distance: Lu,
        /// What would still be over its limit on the target.
        then: Option<Obstacle>,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
    /// Quieter than the tolerance allows, and plain gain reaches the target.
    TooQuietWithRoom {
        /// Distance, LU, below zero.
        distance: Lu,
        /// The gain that reaches it, dB.
        gain: Db,
        /// What would be left below the ceiling, dB; `None` without a ceiling.
        room_left: Option<Db>,
        /// What would still be outside of its limit: the loudness range, low peaks, or nothing.
        then: Option<Obstacle>,
    },
    /// Quieter than the tolerance allows, and the peaks stand in the way.
    TooQuietWithoutRoom {
        /// Distance, LU, below zero.
        distance: Lu,
        /// dB of peaks to tame.
        peak_control: Db,
        /// The gain that reaches the tolerance as it is, dB, if there is one.
        enough: Option<Db>,
    },
    /// Quieter than the tolerance allows, but the gain that mends it would bring the loudest part
    /// over its own limit.
    TooQuietButLoudInParts {
        /// Distance, LU, below zero.
        distance: Lu,
        /// The part, and how far over its limit it would be.
        then: Obstacle,
        /// The gain that reaches the tolerance as it is, dB, if there is one.
        enough: Option<Db>,
    },
    /// Something that the target limits was not measured long enough.
    LimitNotMeasured {
        /// What, in words.
        what: &'static str,
    },
    /// The loudness is right, but the true peak is over the ceiling.
    PeaksOver {
        /// dB over the ceiling.
        over: Db,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
    /// The loudness is right, but the highest short-term loudness is over its limit.
    ShortTermOver {
        /// LU over the limit.
        over: Lu,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
    /// The loudness is right, but the highest momentary loudness is over its limit.
    MomentaryOver {
        /// LU over the limit.
        over: Lu,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
    /// The loudness is right, but the loudness range is over its limit.
    RangeOver {
        /// LU over the limit.
        over: Lu,
    },
    /// The highest sample peak is above the window of the target.
    PeakAboveWindow {
        /// dB above the window.
        over: Db,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
    /// The highest sample peak is below the window of the target.
    PeakBelowWindow {
        /// dB up to the lower end of the window.
        under: Db,
        /// dB up to the upper end of the window.
        at_most: Db,
        /// The gain after which every limit holds, dB, if there is one.
        enough: Option<Db>,
    },
}

/// One word for a standing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Not enough measured to say.
    NotYet,
    /// Every limit of the target holds.
    Within,
    /// At least one limit does not hold.
    NotWithin,
}

impl Distance {
    /// Measures `figures` against `target`.
    #[must_use]
    pub fn new(figures: &Figures, target: &Target) -> Self {
        let finite = |loudness: &Lufs| loudness.0.is_finite();
        let measured = figures.integrated.filter(finite);
        let goal = target.integrated;
        let distance = goal.zip(measured).map(|(goal, i)| i - goal.loudness);
        let gain_to_target = distance.map(|distance| Db(-distance.0));
        let peak = figures.max_true_peak;
        let ceiling = target.ceiling();
        let peak_at_target = peak.zip(gain_to_target).map(|(peak, gain)| peak + gain);
        let peak_control =
            peak_at_target.zip(ceiling).map(|(peak, ceiling)| Db((peak - ceiling).0.max(0.0)));
        let headroom = ceiling.zip(peak).map(|(ceiling, peak)| ceiling - peak);
        let distance = Self {
            distance,
            gain_to_target,
            peak_at_target,
            peak_control,
            headroom,
            playback_gain: gain_to_target.map(|gain| playback_gain(gain, headroom)),
            standing: Standing::NotMeasured,
            provisional_share: (figures.coverage.span_hops > 0
                && figures.coverage.share() < ENOUGH_COVERAGE_SHARE)
                .then(|| figures.coverage.share()),
        };
        Self { standing: distance.judge(figures, target), ..distance }
    }

    fn judge(&self, figures: &Figures, target: &Target) -> Standing {
        let Some(peak) = figures.sample_peak else {
            return Standing::NotMeasured;
        };
        if peak.0 == f64::NEG_INFINITY {
            return Standing::Silent;
        }
        if let Some(goal) = target.integrated {
            let Some(integrated) = figures.integrated else {
                return Standing::TooShort;
            };
            let Some(distance) = self.distance else {
                debug_assert!(!integrated.0.is_finite());
                return Standing::Silent;
            };
            if distance.0 > goal.above.0 {
                let gain = Db(-distance.0);
                return Standing::TooLoud {
                    distance,
                    then: Obstacle::with(gain, figures, target),
                    enough: plain_gain(figures, target, gain),
                };
            }
            if goal.below.is_some_and(|below| distance.0 < -below.0) {
                return self.judge_too_quiet(figures, target, distance);
            }
        }
        self.judge_limits(figures, target, peak)
    }

    fn judge_too_quiet(&self, figures: &Figures, target: &Target, distance: Lu) -> Standing {
        let gain = Db(-distance.0);
        let then = Obstacle::with(gain, figures, target);
        let enough = plain_gain(figures, target, gain);
        match then {
            Some(Obstacle::Peaks(peak_control)) => {
                Standing::TooQuietWithoutRoom { distance, peak_control, enough }
            }
            Some(then @ (Obstacle::ShortTerm(_) | Obstacle::Momentary(_))) => {
                Standing::TooQuietButLoudInParts { distance, then, enough }
            }
            Some(Obstacle::Range(_) | Obstacle::PeaksLow(_)) | None => {
                // Another gain within the tolerance, where the plain one leaves something.
                let (gain, then) = match (then, enough) {
                    (Some(_), Some(enough)) => (enough, None),
                    _ => (gain, then),
                };
                let room_left = self.headroom.map(|headroom| Db(headroom.0 - gain.0));
                Standing::TooQuietWithRoom { distance, gain, room_left, then }
            }
        }
    }

    /// The limits beside the integrated loudness, the one that matters most first.
    fn judge_limits(&self, figures: &Figures, target: &Target, peak: Dbfs) -> Standing {
        // The least turn that mends it.
        let enough = || plain_gain(figures, target, Db(0.0));
        if let (Some(ceiling), Some(peak)) = (target.true_peak_ceiling, figures.max_true_peak)
            && peak.0 > ceiling.0
        {
            return Standing::PeaksOver { over: peak - ceiling, enough: enough() };
        }
        if let Some(window) = target.peak_window {
            if peak.0 > window.highest.0 {
                let over = Db(peak.0 - window.highest.0);
                return Standing::PeakAboveWindow { over, enough: enough() };
            }
            if peak.0 < window.lowest.0 {
                return Standing::PeakBelowWindow {
                    under: Db(window.lowest.0 - peak.0),
                    at_most: Db(window.highest.0 - peak.0),
                    enough: enough(),
                };
            }
        }
        let over = |limit: Option<Lufs>, value: Option<Lufs>| {
            limit.zip(value).map(|(limit, value)| value - limit).filter(|over| over.0 > 0.0)
        };
        if let Some(over) = over(target.max_short_term, figures.max_short_term) {
            return Standing::ShortTermOver { over, enough: enough() };
        }
        if let Some(over) = over(target.max_momentary, figures.max_momentary) {
            return Standing::MomentaryOver { over, enough: enough() };
        }
        if let (Some(limit), Some(range)) = (target.max_loudness_range, figures.loudness_range)
            && range.0 > limit.0
        {
            return Standing::RangeOver { over: Lu(range.0 - limit.0) };
        }
        let missing = [
            (
                "the limit of the loudest 3 s",
                target.max_short_term.is_some(),
                figures.max_short_term.is_none(),
            ),
            (
                "the limit of the loudest 400 ms",
                target.max_momentary.is_some(),
                figures.max_momentary.is_none(),
            ),
            (
                "the limit of the loudness range",
                target.max_loudness_range.is_some(),
                figures.loudness_range.is_none(),
            ),
        ];
        match missing.into_iter().find(|(_, is_limited, is_missing)| *is_limited && *is_missing) {
            Some((what, ..)) => Standing::LimitNotMeasured { what },
            None => Standing::Within { distance: self.distance },
        }
    }

    /// Whether the target is met.
    #[must_use]
    pub const fn verdict(&self) -> Verdict {
        match self.standing {
            Standing::NotMeasured
            | Standing::TooShort
            | Standing::Silent
            | Standing::LimitNotMeasured { .. } => Verdict::NotYet,
            Standing::Within { .. } => Verdict::Within,
            _ => Verdict::NotWithin,
        }
    }

    /// The distance in words: "2.4 LU below target", "on target".
    #[must_use]
    pub fn in_words(&self) -> Option<String> {
        let lu = self.distance?.0;
        let text = one_decimal(lu.abs());
        Some(if text == "0.0" {
            "on target".to_owned()
        } else if lu < 0.0 {
            format!("{text} LU below target")
        } else {
            format!("{text} LU above target")
        })
    }
}

#[cfg(test)]
mod tests;
