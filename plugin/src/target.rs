//! Delivery targets, the distance to them and what it takes to close it.

mod builtin;
mod distance;
mod plain_gain;
mod sentences;

pub use builtin::built_in_targets;
pub use distance::{Distance, ENOUGH_COVERAGE_SHARE, Standing, Verdict};
pub use plain_gain::Obstacle;

use crate::units::{Db, Dbfs, Dbtp, Lu, Lufs};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What the words "common practice" mean in [`Target::source`].
pub const COMMON_PRACTICE: &str = "common practice, no source";

/// An integrated loudness to reach and how far from it still counts as reached.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IntegratedGoal {
    /// The loudness to reach, LUFS.
    pub loudness: Lufs,
    /// How far below the goal is still within target, LU; `None` where quieter is never wrong.
    pub below: Option<Lu>,
    /// How far above the goal is still within target, LU.
    pub above: Lu,
}

/// A range that the highest sample peak should lie in, dBFS (a mix hand-off).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PeakWindow {
    /// Lowest highest peak, dBFS.
    pub lowest: Dbfs,
    /// Highest highest peak, dBFS.
    pub highest: Dbfs,
}

/// A delivery target that somebody else set. Every limit is optional; at least one is there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// Name as shown in the list; unique in it.
    pub name: String,
    /// The document it is from, or [`COMMON_PRACTICE`], or the user's own words.
    pub source: String,
    /// Integrated loudness with its tolerance.
    pub integrated: Option<IntegratedGoal>,
    /// Highest true peak allowed, dBTP.
    pub true_peak_ceiling: Option<Dbtp>,
    /// Highest short-term loudness allowed, LUFS.
    pub max_short_term: Option<Lufs>,
    /// Highest momentary loudness allowed, LUFS.
    pub max_momentary: Option<Lufs>,
    /// Highest loudness range allowed, LU.
    pub max_loudness_range: Option<Lu>,
    /// Where the highest sample peak should lie: a target for peaks only, with no loudness.
    pub peak_window: Option<PeakWindow>,
}

/// A target that cannot be used, and why.
#[derive(Debug, Clone, PartialEq)]
pub enum TargetError {
    /// The name is empty or only spaces.
    NoName,
    /// Not one limit is given.
    NoLimit,
    /// A figure outside of what its rule allows.
    OutOfRange {
        /// Which figure.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Lowest value allowed.
        lowest: f64,
        /// Highest value allowed.
        highest: f64,
    },
}

impl fmt::Display for TargetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoName => write!(f, "a target needs a name"),
            Self::NoLimit => write!(f, "a target needs a loudness or a peak limit"),
            Self::OutOfRange { what, value, unit, lowest, highest } => {
                write!(f, "{what} {value} {unit}: must lie from {lowest} to {highest} {unit}")
            }
        }
    }
}

impl std::error::Error for TargetError {}

impl Target {
    /// Checks name and figures; the ranges are wide enough for any delivery and narrow enough to
    /// catch a lost minus sign.
    ///
    /// # Errors
    /// The first rule that is broken, with its value.
    pub fn validate(&self) -> Result<(), TargetError> {
        if self.name.trim().is_empty() {
            return Err(TargetError::NoName);
        }
        let loudness = |value: Lufs, what| in_range(what, value.0, Lufs::UNIT, -60.0, 0.0);
        if let Some(goal) = self.integrated {
            loudness(goal.loudness, "integrated loudness")?;
            in_range("tolerance above", goal.above.0, Lu::UNIT, 0.0, 20.0)?;
            if let Some(below) = goal.below {
                in_range("tolerance below", below.0, Lu::UNIT, 0.0, 20.0)?;
            }
        }
        if let Some(ceiling) = self.true_peak_ceiling {
            in_range("true-peak ceiling", ceiling.0, Dbtp::UNIT, -30.0, 6.0)?;
        }
        if let Some(limit) = self.max_short_term {
            loudness(limit, "maximum short-term loudness")?;
        }
        if let Some(limit) = self.max_momentary {
            loudness(limit, "maximum momentary loudness")?;
        }
        if let Some(limit) = self.max_loudness_range {
            in_range("maximum loudness range", limit.0, Lu::UNIT, 0.0, 60.0)?;
        }
        if let Some(window) = self.peak_window {
            in_range("highest peak", window.highest.0, Dbfs::UNIT, -30.0, 6.0)?;
            in_range("lowest peak", window.lowest.0, Dbfs::UNIT, -60.0, window.highest.0)?;
        }
        let any_limit = self.integrated.is_some()
            || self.true_peak_ceiling.is_some()
            || self.max_short_term.is_some()
            || self.max_momentary.is_some()
            || self.max_loudness_range.is_some()
            || self.peak_window.is_some();
        if any_limit { Ok(()) } else { Err(TargetError::NoLimit) }
    }

    /// The ceiling that peak control is counted against: the true-peak ceiling, else the upper
    /// end of the peak window.
    #[must_use]
    pub fn ceiling(&self) -> Option<Dbtp> {
        self.true_peak_ceiling.or(self.peak_window.map(|window| Dbtp(window.highest.0)))
    }

    /// One line of the limits, such as "−14.0 LUFS ±1.0 LU · ceiling −1.0 dBTP".
    #[must_use]
    pub fn summary(&self) -> String {
        let mut parts = Vec::new();
        if let Some(goal) = self.integrated {
            parts.push(format!("{} {}", goal.loudness, tolerance_text(&goal)));
        }
        if let Some(ceiling) = self.true_peak_ceiling {
            parts.push(format!("ceiling {ceiling}"));
        }
        if let Some(limit) = self.max_short_term {
            parts.push(format!("max S {limit}"));
        }
        if let Some(limit) = self.max_momentary {
            parts.push(format!("max M {limit}"));
        }
        if let Some(limit) = self.max_loudness_range {
            parts.push(format!("LRA up to {limit}"));
        }
        if let Some(window) = self.peak_window {
            parts.push(format!(
                "peaks {} to {}",
                crate::units::one_decimal(window.lowest.0),
                window.highest
            ));
        }
        parts.join(" · ")
    }
}

fn tolerance_text(goal: &IntegratedGoal) -> String {
    let above = crate::units::one_decimal(goal.above.0);
    match goal.below {
        Some(below) if (below.0 - goal.above.0).abs() < 1e-9 => format!("±{above} LU"),
        Some(below) => format!("+{above}/−{} LU", crate::units::one_decimal(below.0)),
        None => format!("+{above} LU, quieter allowed"),
    }
}

fn in_range(
    what: &'static str,
    value: f64,
    unit: &'static str,
    lowest: f64,
    highest: f64,
) -> Result<(), TargetError> {
    if value >= lowest && value <= highest {
        Ok(())
    } else {
        Err(TargetError::OutOfRange { what, value, unit, lowest, highest })
    }
}

/// Playback at the target's normalisation: attenuation is always applied, a boost only as far as
/// the ceiling has room (STANDARDS: normalisation arithmetic, from memory).
#[must_use]
pub fn playback_gain(gain_to_target: Db, headroom: Option<Db>) -> Db {
    match headroom {
        Some(room) if gain_to_target.0 > 0.0 => Db(gain_to_target.0.min(room.0.max(0.0))),
        _ => gain_to_target,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain() -> Target {
        Target {
            name: "Mine".to_owned(),
            source: COMMON_PRACTICE.to_owned(),
            integrated: Some(IntegratedGoal {
                loudness: Lufs(-14.0),
                below: Some(Lu(1.0)),
                above: Lu(1.0),
            }),
            true_peak_ceiling: Some(Dbtp(-1.0)),
            max_short_term: None,
            max_momentary: None,
            max_loudness_range: None,
            peak_window: None,
        }
    }

    #[test]
    fn every_built_in_target_is_valid_sourced_and_uniquely_named() {
        let targets = built_in_targets();
        for target in &targets {
            assert_eq!(target.validate(), Ok(()), "{}", target.name);
            assert!(!target.source.is_empty(), "{}", target.name);
            assert_eq!(targets.iter().filter(|t| t.name == target.name).count(), 1);
        }
    }

    #[test]
    fn a_lost_minus_sign_is_refused_with_value_and_rule() {
        let mut target = plain();
        target.integrated =
            Some(IntegratedGoal { loudness: Lufs(14.0), below: None, above: Lu(0.0) });
        let message = target.validate().map_err(|e| e.to_string());
        assert_eq!(
            message,
            Err("integrated loudness 14 LUFS: must lie from -60 to 0 LUFS".to_owned())
        );
    }

    #[test]
    fn not_a_number_is_refused() {
        let mut target = plain();
        target.true_peak_ceiling = Some(Dbtp(f64::NAN));
        assert!(target.validate().is_err());
    }

    #[test]
    fn a_target_without_name_or_limit_is_refused() {
        let mut target = plain();
        target.name = "  ".to_owned();
        assert_eq!(target.validate(), Err(TargetError::NoName));
        let mut target = plain();
        target.integrated = None;
        target.true_peak_ceiling = None;
        assert_eq!(target.validate(), Err(TargetError::NoLimit));
    }

    #[test]
    fn playback_turns_down_always_and_up_only_as_far_as_the_ceiling_has_room() {
        assert_eq!(playback_gain(Db(-3.0), Some(Db(0.5))), Db(-3.0));
        assert_eq!(playback_gain(Db(3.0), Some(Db(0.5))), Db(0.5));
        assert_eq!(playback_gain(Db(3.0), Some(Db(-0.5))), Db(0.0));
        assert_eq!(playback_gain(Db(3.0), None), Db(3.0));
    }
}
