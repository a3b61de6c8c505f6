//! Small helpers to set text on the chart.

use crate::units::{Lufs, one_decimal, signed_one_decimal};
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect};

use super::text::NOT_MEASURED;
use super::view::Reading;

/// Zero of the relative scale (EBU Tech 3341 §2.7): 0 LU = −23 LUFS.
pub const EBU_ZERO_LUFS: f64 = -23.0;

/// A value with one decimal, or the sign for "not measured".
pub fn decimal(value: Option<f64>) -> String {
    value.map_or_else(|| NOT_MEASURED.to_owned(), one_decimal)
}

/// A value with sign and two decimals, or the sign for "not measured".
pub fn hundredths(value: Option<f64>) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else {
        return NOT_MEASURED.to_owned();
    };
    let text = format!("{:.2}", value.abs());
    // No sign before a zero.
    let sign = if text == "0.00" {
        ""
    } else if value < 0.0 {
        "−"
    } else {
        "+"
    };
    format!("{sign}{text}")
}

/// A value with sign and one decimal, or the sign for "not measured".
pub fn signed(value: Option<f64>) -> String {
    value.map_or_else(|| NOT_MEASURED.to_owned(), signed_one_decimal)
}

/// How loudness is written now: what to subtract, and the unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoudnessScale {
    /// LUFS at which the reading is zero; 0 for absolute.
    pub zero_lufs: f64,
    /// Whether it is relative.
    pub relative: bool,
}

impl LoudnessScale {
    /// `reading` with the chosen target's loudness, if it has one.
    pub fn new(reading: Reading, goal: Option<Lufs>) -> Self {
        match reading {
            Reading::Absolute => Self { zero_lufs: 0.0, relative: false },
            Reading::RelativeToEbu => Self { zero_lufs: EBU_ZERO_LUFS, relative: true },
            Reading::RelativeToTarget => {
                Self { zero_lufs: goal.map_or(EBU_ZERO_LUFS, |goal| goal.0), relative: true }
            }
        }
    }

    /// LUFS or LU.
    pub fn unit(self) -> &'static str {
        if self.relative { crate::units::Lu::UNIT } else { Lufs::UNIT }
    }

    /// The figure without its unit.
    pub fn figure(self, value: Option<Lufs>) -> String {
        match value {
            Some(value) if self.relative => signed_one_decimal(value.0 - self.zero_lufs),
            Some(value) => one_decimal(value.0),
            None => NOT_MEASURED.to_owned(),
        }
    }

    /// The figure with its unit.
    pub fn with_unit(self, value: Option<Lufs>) -> String {
        format!("{} {}", self.figure(value), self.unit())
    }
}

/// Width of `text` on one line.
pub fn width(painter: &Painter, text: &str, font: &FontId) -> f32 {
    painter.layout_no_wrap(text.to_owned(), font.clone(), Color32::WHITE).size().x
}

/// `text` on one line, cut with an ellipsis to `width_pt`; `pos` is where `align` puts it.
pub fn cut(
    painter: &Painter,
    pos: Pos2,
    align: Align2,
    text: &str,
    font: &FontId,
    color: Color32,
    width_pt: f32,
) -> Rect {
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font.clone(), color);
    job.wrap = egui::text::TextWrapping::truncate_at_width(width_pt.max(0.0));
    let galley = painter.layout_job(job);
    let rect = align.anchor_size(pos, galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

/// Moves labels of the given centres and heights apart, along one axis, so that none overlap and
/// all stay inside `range`; keeps their order. Returns the new centres.
pub fn spread(mut labels: Vec<(f32, f32)>, range: egui::Rangef) -> Vec<f32> {
    // Downwards, then upwards from the lower end: each label moves only as far as it must.
    let mut edge = range.min;
    for (centre, height) in &mut labels {
        *centre = centre.max(edge + *height / 2.0);
        edge = *centre + *height / 2.0;
    }
    let mut edge = range.max;
    for (centre, height) in labels.iter_mut().rev() {
        *centre = centre.min(edge - *height / 2.0);
        edge = *centre - *height / 2.0;
    }
    labels.into_iter().map(|(centre, _)| centre).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_spread_without_overlap_and_inside_the_range() {
        let range = egui::Rangef::new(0.0, 100.0);
        let centres = spread(vec![(10.0, 20.0), (12.0, 20.0), (14.0, 20.0)], range);
        assert_eq!(centres, vec![10.0, 30.0, 50.0]);
        let low = spread(vec![(95.0, 20.0), (99.0, 20.0)], range);
        assert_eq!(low, vec![70.0, 90.0]);
    }

    #[test]
    fn relative_readings_count_from_their_zero() {
        let ebu = LoudnessScale::new(Reading::RelativeToEbu, Some(Lufs(-14.0)));
        assert_eq!(ebu.with_unit(Some(Lufs(-20.5))), "+2.5 LU");
        let target = LoudnessScale::new(Reading::RelativeToTarget, Some(Lufs(-14.0)));
        assert_eq!(target.with_unit(Some(Lufs(-20.5))), "−6.5 LU");
        let absolute = LoudnessScale::new(Reading::Absolute, Some(Lufs(-14.0)));
        assert_eq!(absolute.with_unit(None), "– LUFS");
    }
}
