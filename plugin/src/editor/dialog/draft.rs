//! A target as text, while it is typed.

use super::super::label::decimal;
use super::super::text;
use crate::target::{IntegratedGoal, PeakWindow, Target, TargetError};
use crate::units::{Dbfs, Dbtp, Lu, Lufs};
use std::fmt;

/// The fields of the form. An empty figure is no limit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Draft {
    /// Place in the list of the target that is edited; `None` makes a new one.
    pub index: Option<usize>,
    /// Name.
    pub name: String,
    /// Document, or the user's own words.
    pub source: String,
    /// Integrated loudness, LUFS.
    pub integrated_lufs: String,
    /// Tolerance above, LU; empty is 0.
    pub above_lu: String,
    /// Tolerance below, LU; empty means that quieter is allowed.
    pub below_lu: String,
    /// True-peak ceiling, dBTP.
    pub ceiling_dbtp: String,
    /// Highest short-term loudness, LUFS.
    pub max_short_term_lufs: String,
    /// Highest momentary loudness, LUFS.
    pub max_momentary_lufs: String,
    /// Highest loudness range, LU.
    pub max_range_lu: String,
    /// Lower end of the peak window, dBFS.
    pub peak_lowest_dbfs: String,
    /// Upper end of the peak window, dBFS.
    pub peak_highest_dbfs: String,
}

/// Why a draft is no target yet.
#[derive(Debug, Clone, PartialEq)]
pub enum FieldError {
    /// A field holds something that is no number.
    NotANumber {
        /// Name of the field.
        field: &'static str,
        /// What it holds.
        value: String,
    },
    /// Only one end of the peak window is given.
    HalfPeakWindow,
    /// A tolerance is given, but no integrated loudness.
    ToleranceAlone,
    /// Another target has the name.
    NameTaken,
    /// A rule of targets is broken.
    Rule(TargetError),
}

impl fmt::Display for FieldError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotANumber { field, value } => f.write_str(&text::not_a_number(field, value)),
            Self::HalfPeakWindow => f.write_str(text::PEAK_WINDOW_HALF),
            Self::ToleranceAlone => f.write_str(text::TOLERANCE_ALONE),
            Self::NameTaken => f.write_str(text::NAME_TAKEN),
            Self::Rule(error) => write!(f, "{error}"),
        }
    }
}

impl std::error::Error for FieldError {}

impl Draft {
    /// A new target, with the limits of a common one to start from.
    #[must_use]
    pub fn new(targets: &[Target]) -> Self {
        let free = |name: &String| targets.iter().all(|target| target.name != *name);
        let name = (1..).map(text::new_name).find(free).unwrap_or_default();
        Self {
            name,
            source: text::OWN_SOURCE.to_owned(),
            integrated_lufs: decimal(Some(-14.0)),
            above_lu: decimal(Some(1.0)),
            below_lu: decimal(Some(1.0)),
            ceiling_dbtp: decimal(Some(-1.0)),
            ..Self::default()
        }
    }

    /// `target` as text, to edit it in place.
    #[must_use]
    pub fn edit(index: usize, target: &Target) -> Self {
        let figure = |value: Option<f64>| value.map_or_else(String::new, exact);
        Self {
            index: Some(index),
            name: target.name.clone(),
            source: target.source.clone(),
            integrated_lufs: figure(target.integrated.map(|goal| goal.loudness.0)),
            above_lu: figure(target.integrated.map(|goal| goal.above.0)),
            below_lu: figure(target.integrated.and_then(|goal| goal.below).map(|below| below.0)),
            ceiling_dbtp: figure(target.true_peak_ceiling.map(|ceiling| ceiling.0)),
            max_short_term_lufs: figure(target.max_short_term.map(|limit| limit.0)),
            max_momentary_lufs: figure(target.max_momentary.map(|limit| limit.0)),
            max_range_lu: figure(target.max_loudness_range.map(|limit| limit.0)),
            peak_lowest_dbfs: figure(target.peak_window.map(|window| window.lowest.0)),
            peak_highest_dbfs: figure(target.peak_window.map(|window| window.highest.0)),
        }
    }

    /// The target that the text means.
    ///
    /// # Errors
    /// The first field that does not parse, or the first rule that is broken.
    pub fn parse(&self, targets: &[Target]) -> Result<Target, FieldError> {
        let above = number(text::FIELD_ABOVE, &self.above_lu)?;
        let below = number(text::FIELD_BELOW, &self.below_lu)?;
        let integrated = number(text::FIELD_INTEGRATED, &self.integrated_lufs)?;
        if integrated.is_none() && (above.is_some() || below.is_some()) {
            return Err(FieldError::ToleranceAlone);
        }
        let lowest = number(text::FIELD_PEAK_LOWEST, &self.peak_lowest_dbfs)?;
        let highest = number(text::FIELD_PEAK_HIGHEST, &self.peak_highest_dbfs)?;
        if lowest.is_some() != highest.is_some() {
            return Err(FieldError::HalfPeakWindow);
        }
        let target = Target {
            name: self.name.trim().to_owned(),
            source: self.source.trim().to_owned(),
            integrated: integrated.map(|loudness| IntegratedGoal {
                loudness: Lufs(loudness),
                below: below.map(Lu),
                above: Lu(above.unwrap_or(0.0)),
            }),
            true_peak_ceiling: number(text::FIELD_CEILING, &self.ceiling_dbtp)?.map(Dbtp),
            max_short_term: number(text::FIELD_MAX_SHORT_TERM, &self.max_short_term_lufs)?
                .map(Lufs),
            max_momentary: number(text::FIELD_MAX_MOMENTARY, &self.max_momentary_lufs)?.map(Lufs),
            max_loudness_range: number(text::FIELD_MAX_RANGE, &self.max_range_lu)?.map(Lu),
            peak_window: lowest.zip(highest).map(|(lowest, highest)| PeakWindow {
                lowest: Dbfs(lowest),
                highest: Dbfs(highest),
            }),
        };
        target.validate().map_err(FieldError::Rule)?;
        let taken = targets
            .iter()
            .enumerate()
            .any(|(index, other)| Some(index) != self.index && other.name == target.name);
        if taken { Err(FieldError::NameTaken) } else { Ok(target) }
    }
}

/// A figure with all its digits, a true minus sign, and at least one decimal.
fn exact(value: f64) -> String {
    format!("{value:?}").replace('-', "−")
}

/// A number as people type it: either minus sign, decimal point or comma; empty is none.
fn number(field: &'static str, typed: &str) -> Result<Option<f64>, FieldError> {
    let plain = typed.trim().replace('−', "-").replace(',', ".");
    if plain.is_empty() {
        return Ok(None);
    }
    match plain.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => Err(FieldError::NotANumber { field, value: typed.trim().to_owned() }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::target::built_in_targets;

    #[test]
    fn every_built_in_target_survives_being_text() {
        let targets = built_in_targets();
        for (index, target) in targets.iter().enumerate() {
            assert_eq!(Draft::edit(index, target).parse(&targets), Ok(target.clone()));
        }
    }

    #[test]
    fn numbers_are_read_as_people_type_them() {
        assert_eq!(number("x", " −14,5 "), Ok(Some(-14.5)));
        assert_eq!(number("x", "-14.5"), Ok(Some(-14.5)));
        assert_eq!(number("x", ""), Ok(None));
        for wrong in ["loud", "--1", "nan", "inf", "1 2"] {
            assert!(number("x", wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn what_is_wrong_is_said_with_its_value() {
        let mut draft = Draft::new(&[]);
        draft.integrated_lufs = "14".to_owned();
        let message = draft.parse(&[]).map_err(|error| error.to_string());
        assert_eq!(
            message,
            Err("integrated loudness 14 LUFS: must lie from -60 to 0 LUFS".to_owned())
        );
        draft.integrated_lufs.clear();
        assert_eq!(draft.parse(&[]), Err(FieldError::ToleranceAlone));
        let targets = built_in_targets();
        let mut twin = Draft::edit(0, &targets[0]);
        twin.index = None;
        assert_eq!(twin.parse(&targets), Err(FieldError::NameTaken));
    }

    #[test]
    fn a_new_target_is_valid_and_has_a_name_of_its_own() {
        let mut targets = built_in_targets();
        for _ in 0..3 {
            let target = Draft::new(&targets).parse(&targets);
            targets.push(target.unwrap());
        }
    }
}
