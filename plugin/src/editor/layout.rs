//! Where the parts of the window lie, from its size alone.

use super::Look;
use egui::{Pos2, Rect, pos2, vec2};

/// From this width on the sentence and its figures stand side by side.
const WIDE_PT: f32 = 960.0;

/// Share of the room between header and figures that the table gets.
const LEAF_SHARE: f32 = 0.46;
/// Lowest strip that is worth its room beside a table.
const SHORTEST_STRIP_PT: f32 = 150.0;

/// The parts of the window, top to bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layout {
    /// Target and buttons.
    pub header: Rect,
    /// Notes, one a line; of no height if there are none.
    pub notices: Rect,
    /// The song strip with its axes.
    pub strip: Rect,
    /// The table under the strip; of no height if there is none.
    pub leaf: Rect,
    /// The row of figures.
    pub figures: Rect,
    /// Size of type of the figures.
    pub figure_pt: f32,
    /// The sentence and what goes with it.
    pub distance: Rect,
    /// Whether the sentence and its figures stand side by side.
    pub wide: bool,
}

impl Layout {
    pub fn new(window: Rect, look: &Look, notices: usize, bars: bool, leaf: bool) -> Self {
        let sizes = look.sizes;
        let margin_pt = if window.width() < WIDE_PT { 12.0 } else { 20.0 };
        let inner = window.shrink2(vec2(margin_pt, margin_pt * 0.7));
        let header_pt = sizes.strong * 1.3 + sizes.small * 1.35;
        let notices_pt = super::cast::single(super::cast::count(notices)) * notice_line_pt(look);
        let wide = window.width() >= WIDE_PT;

        let tallest_pt = (window.height() * 0.06).clamp(20.0, 112.0);
        let figure_pt = (inner.width() / super::figures::ROW_EM).min(tallest_pt).floor();
        let row_pt = super::figures::height_pt(look, figure_pt);
        let block_pt = super::distance::height_pt(look, wide);

        let row = |top: f32, height: f32| {
            Rect::from_min_size(pos2(inner.left(), top), vec2(inner.width(), height))
        };
        let header = row(inner.top(), header_pt);
        let notices = row(header.bottom() + 2.0, notices_pt);
        let strip_top = notices.bottom() + sizes.small * 0.3;
        let distance = row(inner.bottom() - block_pt, block_pt);
        let gap_pt = sizes.small * if wide { 1.1 } else { 0.5 };
        let figures = row(distance.top() - row_pt - gap_pt, row_pt);
        let strip_bottom = figures.top() - sizes.small * if bars { 0.6 } else { 0.8 };
        let both = Rect::from_min_max(
            Pos2::new(inner.left(), strip_top),
            Pos2::new(inner.right(), strip_bottom.max(strip_top)),
        );
        let leaf_pt = match (leaf, both.height() * LEAF_SHARE) {
            (false, _) => 0.0,
            // A chart too low to read makes room for the table altogether.
            (true, leaf_pt) if both.height() - leaf_pt < SHORTEST_STRIP_PT => both.height(),
            (true, leaf_pt) => leaf_pt,
        };
        let (strip, leaf) = both.split_top_bottom_at_y(both.bottom() - leaf_pt);
        Self { leaf, header, notices, strip, figures, figure_pt, distance, wide }
    }
}

/// Height of one note.
pub(super) fn notice_line_pt(look: &Look) -> f32 {
    look.sizes.body * 1.9
}
