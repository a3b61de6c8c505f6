//! Where the parts of the window lie, from its size alone.

use super::Look;
use egui::{Pos2, Rect, pos2, vec2};

/// From this width on the sentence stands beside the figures instead of under them.
const WIDE_PT: f32 = 960.0;

/// The parts of the window, top to bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layout {
    /// Target and buttons.
    pub header: Rect,
    /// Notes, one a line; of no height if there are none.
    pub notices: Rect,
    /// The song strip with its axes.
    pub strip: Rect,
    /// The row of figures.
    pub figures: Rect,
    /// Size of type of the figures.
    pub figure_pt: f32,
    /// The sentence and what goes with it.
    pub distance: Rect,
}

/// Widths of the row of figures in multiples of their size of type: six cells and five gaps.
pub(super) const ROW_EM: f32 = super::figures::ROW_EM;

impl Layout {
    pub fn new(window: Rect, look: &Look, notices: usize, bars: bool) -> Self {
        let sizes = look.sizes;
        let margin_pt = if window.width() < WIDE_PT { 12.0 } else { 20.0 };
        let inner = window.shrink2(vec2(margin_pt, margin_pt * 0.7));
        let header_pt = sizes.strong * 1.3 + sizes.small * 1.35;
        let notices_pt = super::cast::single(super::cast::count(notices)) * notice_line_pt(look);
        let wide = window.width() >= WIDE_PT;

        let distance_pt = if wide { (inner.width() * 0.33).max(330.0) } else { inner.width() };
        let column_gap_pt = 28.0;
        let figures_pt = if wide { inner.width() - distance_pt - column_gap_pt } else { inner.width() };
        let tallest_pt = (window.height() * 0.062).clamp(20.0, 56.0);
        let figure_pt = (figures_pt / ROW_EM).min(tallest_pt).floor();
        let row_pt = super::figures::height_pt(look, figure_pt);
        let block_pt = super::distance::height_pt(look, distance_pt);

        let row = |top: f32, height: f32| {
            Rect::from_min_size(pos2(inner.left(), top), vec2(inner.width(), height))
        };
        let header = row(inner.top(), header_pt);
        let notices = row(header.bottom() + 2.0, notices_pt);
        let strip_top = notices.bottom() + sizes.small * 0.3;
        let (figures, distance) = if wide {
            let height = row_pt.max(block_pt);
            let top = inner.bottom() - height;
            let split = inner.right() - distance_pt;
            (
                Rect::from_min_max(pos2(inner.left(), top), pos2(split - column_gap_pt, inner.bottom())),
                Rect::from_min_max(pos2(split, top), inner.max),
            )
        } else {
            let distance = row(inner.bottom() - block_pt, block_pt);
            (row(distance.top() - row_pt - sizes.small * 0.4, row_pt), distance)
        };
        let strip_bottom = figures.top() - sizes.small * if bars { 0.6 } else { 0.8 };
        let strip = Rect::from_min_max(
            Pos2::new(inner.left(), strip_top),
            Pos2::new(inner.right(), strip_bottom.max(strip_top)),
        );
        Self { header, notices, strip, figures, figure_pt, distance }
    }
}

/// Height of one note.
pub(super) fn notice_line_pt(look: &Look) -> f32 {
    look.sizes.body * 1.75
}
