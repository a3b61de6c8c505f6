//! Where text fits.

use super::super::super::float;

/// Width of a figure or letter, as a share of the size of the font. A page has no metrics of the
/// fonts it will be shown in: this is wide for most of them.
const LETTER_EM: f64 = 0.62;

/// Size of the larger text, pixels: as in the style sheet.
pub(super) const FIGURE_PX: f64 = 13.0;
/// Size of the smaller text, pixels.
pub(super) const SMALL_PX: f64 = 12.0;

/// About how wide `text` is.
pub(super) fn width_px(text: &str, size_px: f64) -> f64 {
    float(text.chars().count()) * LETTER_EM * size_px
}

/// The boxes that text has taken.
#[derive(Debug, Default)]
pub(super) struct Labels {
    /// Left, top, right, bottom.
    taken: Vec<[f64; 4]>,
}

impl Labels {
    /// Takes the first of `places` (middle, baseline) where text of this width is free of others.
    pub fn place(&mut self, places: &[(f64, f64)], width_px: f64) -> Option<(f64, f64)> {
        let place = places.iter().copied().find(|&place| {
            let [left, top, right, bottom] = around(place, width_px);
            self.taken.iter().all(|taken| {
                right < taken[0] || left > taken[2] || bottom < taken[1] || top > taken[3]
            })
        })?;
        self.taken.push(around(place, width_px));
        Some(place)
    }
}

fn around((middle, baseline): (f64, f64), width_px: f64) -> [f64; 4] {
    let half = width_px / 2.0;
    [middle - half, baseline - FIGURE_PX * 0.85, middle + half, baseline + FIGURE_PX * 0.2]
}
