//! The five roles of colour, by day and by night, for all that is drawn: the editor and the page
//! of a snapshot. And how the contrast of two colours is told.

use std::fmt;

/// A colour, sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rgb(pub [u8; 3]);

/// The five roles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Roles {
    /// What everything is drawn on.
    pub paper: Rgb,
    /// Text, the load line, plateaus, the playhead.
    pub ink: Rgb,
    /// Axes, dotted shores, units and labels: text and lines that stand back.
    pub line: Rgb,
    /// The measured loudness.
    pub water: Rgb,
    /// Over a limit; always with a word or a hatch as well.
    pub signal: Rgb,
}

/// The day chart: warm paper, dark ink.
pub const DAY: Roles = Roles {
    paper: Rgb([0xF7, 0xF2, 0xE8]),
    ink: Rgb([0x1C, 0x27, 0x2E]),
    line: Rgb([0x6B, 0x65, 0x5A]),
    water: Rgb([0x20, 0x77, 0x8F]),
    signal: Rgb([0xAE, 0x43, 0x00]),
};

/// The night chart: the same roles, dark.
pub const NIGHT: Roles = Roles {
    paper: Rgb([0x13, 0x1A, 0x1F]),
    ink: Rgb([0xEE, 0xE7, 0xD9]),
    line: Rgb([0xA2, 0x9A, 0x89]),
    water: Rgb([0x4C, 0xA5, 0xBF]),
    signal: Rgb([0xF5, 0x93, 0x45]),
};

impl Rgb {
    /// This colour laid over `paper`; 0 is paper, 1 the colour itself.
    #[must_use]
    pub fn over(self, paper: Self, share: f32) -> Self {
        let share = share.clamp(0.0, 1.0);
        let mut mixed = paper.0;
        for (under, over) in mixed.iter_mut().zip(self.0) {
            *under = byte((1.0 - share) * f32::from(*under) + share * f32::from(over));
        }
        Self(mixed)
    }

    /// Relative luminance, 0 to 1 (WCAG 2.2, "relative luminance").
    #[must_use]
    pub fn luminance(self) -> f64 {
        let [r, g, b] = self.0.map(linear);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Contrast with another colour, 1 to 21 (WCAG 2.2, "contrast ratio").
    #[must_use]
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

impl fmt::Display for Rgb {
    /// As in a style sheet: "#f7f2e8".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [r, g, b] = self.0;
        write!(f, "#{r:02x}{g:02x}{b:02x}")
    }
}

/// sRGB channel to linear light, 0 to 1 (WCAG 2.2, "relative luminance").
#[must_use]
pub fn linear(channel: u8) -> f64 {
    let c = f64::from(channel) / 255.0;
    if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range of a byte"
)]
fn byte(value: f32) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contrast_runs_from_1_to_21_and_knows_no_order() {
        let (black, white) = (Rgb([0; 3]), Rgb([255; 3]));
        assert!((black.contrast(white) - 21.0).abs() < 1e-9);
        assert_eq!(black.contrast(white), white.contrast(black));
        assert_eq!(white.contrast(white), 1.0);
    }

    #[test]
    fn a_colour_over_paper_lies_between_the_two() {
        let (black, white) = (Rgb([0; 3]), Rgb([255; 3]));
        assert_eq!(black.over(white, 0.0), white);
        assert_eq!(black.over(white, 1.0), black);
        assert_eq!(black.over(white, 0.5), Rgb([128; 3]));
        assert_eq!(Rgb([0xF7, 0x02, 0xE8]).to_string(), "#f702e8");
    }
}
