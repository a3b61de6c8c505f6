//! How far a measurement is from a target, and what stands between them.
//!
//! distance = I − target · gain to target g = target − I · peak at target = TP + g ·
//! peak control = max(0, TP + g − ceiling). Compared unrounded, shown with one decimal.

use super::{Target, playback_gain};
use crate::loudness::Figures;
use crate::units::{Db, Dbfs, Dbtp, Lu, Lufs, one_decimal};

/// Below this share of measured time a whole-song figure is only "so far".
/// Common practice, no source: the project's own choice.
const ENOUGH_COVERAGE_SHARE: f64 = 0.95;

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
        /// dB of peaks that are over the ceiling even after turning down; zero if none.
        peak_control: Db,
    },
    /// Quieter than the tolerance allows, and plain gain reaches the target.
    TooQuietWithRoom {
        /// Distance, LU, below zero.
        distance: Lu,
        /// What would be left below the ceiling, dB; `None` without a ceiling.
        room_left: Option<Db>,
    },
    /// Quieter than the tolerance allows, and the peaks stand in the way.
    TooQuietWithoutRoom {
        /// Distance, LU, below zero.
        distance: Lu,
        /// dB of peaks to tame.
        peak_control: Db,
    },
    /// Quieter than the tolerance allows, but the gain that mends it would bring the loudest part
    /// over its own limit.
    TooQuietButLoudInParts {
        /// Distance, LU, below zero.
        distance: Lu,
        /// The part, in words: "3 s", "400 ms".
        part: &'static str,
        /// How far over its limit it would be, LU.
        over: Lu,
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
    },
    /// The loudness is right, but the highest short-term loudness is over its limit.
    ShortTermOver {
        /// LU over the limit.
        over: Lu,
    },
    /// The loudness is right, but the highest momentary loudness is over its limit.
    MomentaryOver {
        /// LU over the limit.
        over: Lu,
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
    },
    /// The highest sample peak is below the window of the target.
    PeakBelowWindow {
        /// dB up to the lower end of the window.
        under: Db,
        /// dB up to the upper end of the window.
        at_most: Db,
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
                let peak_control = self.peak_control.unwrap_or(Db(0.0));
                return Standing::TooLoud { distance, peak_control };
            }
            if goal.below.is_some_and(|below| distance.0 < -below.0) {
                return self.judge_too_quiet(figures, target, distance);
            }
        }
        self.judge_limits(figures, target, peak)
    }

    fn judge_too_quiet(&self, figures: &Figures, target: &Target, distance: Lu) -> Standing {
        if let Some(peak_control) = self.peak_control.filter(|control| control.0 > 0.0) {
            return Standing::TooQuietWithoutRoom { distance, peak_control };
        }
        let parts = [
            ("3 s", target.max_short_term, figures.max_short_term),
            ("400 ms", target.max_momentary, figures.max_momentary),
        ];
        for (part, limit, loudest) in parts {
            if let (Some(limit), Some(loudest)) = (limit, loudest) {
                let over = Lu(loudest.0 - distance.0 - limit.0);
                if over.0 > 0.0 {
                    return Standing::TooQuietButLoudInParts { distance, part, over };
                }
            }
        }
        let ceiling = target.ceiling();
        let room_left = ceiling.zip(self.peak_at_target).map(|(ceiling, peak)| ceiling - peak);
        Standing::TooQuietWithRoom { distance, room_left }
    }

    /// The limits beside the integrated loudness, the one that matters most first.
    fn judge_limits(&self, figures: &Figures, target: &Target, peak: Dbfs) -> Standing {
        if let (Some(ceiling), Some(peak)) = (target.true_peak_ceiling, figures.max_true_peak)
            && peak.0 > ceiling.0
        {
            return Standing::PeaksOver { over: peak - ceiling };
        }
        if let Some(window) = target.peak_window {
            if peak.0 > window.highest.0 {
                return Standing::PeakAboveWindow { over: Db(peak.0 - window.highest.0) };
            }
            if peak.0 < window.lowest.0 {
                return Standing::PeakBelowWindow {
                    under: Db(window.lowest.0 - peak.0),
                    at_most: Db(window.highest.0 - peak.0),
                };
            }
        }
        let over = |limit: Option<Lufs>, value: Option<Lufs>| {
            limit.zip(value).map(|(limit, value)| value - limit).filter(|over| over.0 > 0.0)
        };
        if let Some(over) = over(target.max_short_term, figures.max_short_term) {
            return Standing::ShortTermOver { over };
        }
        if let Some(over) = over(target.max_momentary, figures.max_momentary) {
            return Standing::MomentaryOver { over };
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
mod tests {
    use super::super::{IntegratedGoal, built_in_targets};
    use super::*;
    use crate::loudness::Coverage;

    fn figures(integrated_lufs: f64, peak_dbtp: f64) -> Figures {
        Figures {
            integrated: Some(Lufs(integrated_lufs)),
            max_true_peak: Some(Dbtp(peak_dbtp)),
            sample_peak: Some(Dbfs(peak_dbtp)),
            coverage: Coverage { measured_hops: 1000, span_hops: 1000, gaps: 0 },
            ..Figures::default()
        }
    }

    fn target() -> Target {
        let mut target = built_in_targets().remove(0);
        target.integrated =
            Some(IntegratedGoal { loudness: Lufs(-14.0), below: Some(Lu(1.0)), above: Lu(1.0) });
        target.true_peak_ceiling = Some(Dbtp(-1.0));
        target
    }

    #[test]
    fn the_arithmetic_of_the_distance() {
        let distance = Distance::new(&figures(-16.5, -0.5), &target());
        assert_eq!(distance.distance, Some(Lu(-2.5)));
        assert_eq!(distance.gain_to_target, Some(Db(2.5)));
        assert_eq!(distance.peak_at_target, Some(Dbtp(2.0)));
        assert_eq!(distance.peak_control, Some(Db(3.0)));
        assert_eq!(distance.headroom, Some(Db(-0.5)));
        // No room at all: playback does not turn it up.
        assert_eq!(distance.playback_gain, Some(Db(0.0)));
        assert_eq!(distance.in_words().as_deref(), Some("2.5 LU below target"));
    }

    #[test]
    fn every_standing_has_its_case() {
        let standing = |i, tp| Distance::new(&figures(i, tp), &target()).standing;
        assert!(matches!(standing(-10.0, -1.0), Standing::TooLoud { .. }));
        assert!(matches!(standing(-18.0, -6.0), Standing::TooQuietWithRoom { .. }));
        assert!(matches!(standing(-18.0, -2.0), Standing::TooQuietWithoutRoom { .. }));
        assert!(matches!(standing(-14.2, -0.9), Standing::PeaksOver { .. }));
        assert!(matches!(standing(-14.2, -1.0), Standing::Within { .. }));
        assert!(matches!(standing(f64::NEG_INFINITY, -80.0), Standing::Silent));
        assert_eq!(Distance::new(&Figures::default(), &target()).standing, Standing::NotMeasured);
        let short = Figures { integrated: None, ..figures(0.0, -3.0) };
        assert_eq!(Distance::new(&short, &target()).standing, Standing::TooShort);
    }

    #[test]
    fn limits_are_compared_unrounded() {
        // Shows as −13.0 LUFS and 1.0 LU, yet lies outside ±1.0 LU.
        let over = Distance::new(&figures(-12.96, -3.0), &target());
        assert_eq!(over.verdict(), Verdict::NotWithin);
        let edge = Distance::new(&figures(-13.0, -3.0), &target());
        assert_eq!(edge.verdict(), Verdict::Within);
    }

    #[test]
    fn quieter_is_never_wrong_where_the_tolerance_is_only_upward() {
        let mut target = target();
        if let Some(goal) = target.integrated.as_mut() {
            goal.below = None;
        }
        let verdict = Distance::new(&figures(-30.0, -10.0), &target).verdict();
        assert_eq!(verdict, Verdict::Within);
    }

    #[test]
    fn a_mix_hand_off_looks_at_peaks_only() {
        let mix = built_in_targets().pop().unwrap();
        let standing = |peak| Distance::new(&figures(-20.0, peak), &mix).standing;
        assert!(matches!(standing(-9.0), Standing::PeakBelowWindow { .. }));
        assert!(matches!(standing(-4.0), Standing::Within { distance: None }));
        assert!(matches!(standing(-1.0), Standing::PeakAboveWindow { .. }));
    }

    #[test]
    fn advice_minds_the_other_limits() {
        // Too loud, and after turning down by 1.5 dB the peak is still 1 dB over the ceiling.
        let loud = Distance::new(&figures(-12.5, 1.5), &target()).to_string();
        assert_eq!(
            loud,
            "1.5 LU too loud. Turn the song down by 1.5 dB. The peaks then still ask for 1.0 dB of \
             peak control."
        );
        // Too quiet by 3 LU, but the loudest 3 s have only 1 LU left to their limit.
        let mut limited = target();
        limited.max_short_term = Some(Lufs(-18.0));
        let mut quiet = figures(-17.0, -20.0);
        quiet.max_short_term = Some(Lufs(-19.0));
        let standing = Distance::new(&quiet, &limited).standing;
        assert!(matches!(standing, Standing::TooQuietButLoudInParts { over: Lu(2.0), .. }));
    }

    #[test]
    fn a_limit_that_was_not_measured_is_no_limit_that_holds() {
        let mut limited = target();
        limited.max_short_term = Some(Lufs(-10.0));
        let distance = Distance::new(&figures(-14.0, -3.0), &limited);
        assert_eq!(distance.verdict(), Verdict::NotYet);
    }

    #[test]
    fn a_target_without_loudness_says_nothing_of_loudness_and_no_excess_reads_zero() {
        let mut ceiling_only = target();
        ceiling_only.integrated = None;
        let text = Distance::new(&figures(-14.0, -0.98), &ceiling_only).to_string();
        assert_eq!(text, "The true peak is under 0.1 dB over the ceiling.");
        let text = Distance::new(&figures(-14.0, -0.5), &target()).to_string();
        assert_eq!(
            text,
            "The integrated loudness is right. The true peak is 0.5 dB over the ceiling."
        );
    }

    #[test]
    fn little_coverage_is_said() {
        let mut some = figures(-14.0, -2.0);
        some.coverage = Coverage { measured_hops: 60, span_hops: 100, gaps: 1 };
        let text = Distance::new(&some, &target()).to_string();
        assert_eq!(text, "Within target. So far: only 60 % of the song is measured.");
    }
}
