//! The hatch over the load line. Signal, with the word "over", where the song as a whole or its
//! loudest 3 s break a limit; in the colour of water where loud parts are levelled by quiet ones.

use super::super::cast::{index, single};
use super::super::fonts::semibold;
use super::super::{Look, text};
use super::geometry::Plot;
use super::samples::Run;
use crate::target::{Distance, IntegratedGoal, Standing};
use crate::units::Lufs;
use egui::{Align2, Painter, Pos2, Stroke, pos2};

/// Distance of the hatch lines across.
const SPACING_PT: f32 = 6.0;

pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    runs: &[Run],
    goal: IntegratedGoal,
    short_term_limit: Option<Lufs>,
    distance: Option<&Distance>,
) {
    let standing = distance.map(|distance| distance.standing);
    let line_lufs = goal.loudness.0 + goal.above.0;
    let palette = &look.palette;
    match (standing, short_term_limit) {
        (Some(Standing::ShortTermOver { .. }), Some(limit)) => {
            let stroke = Stroke::new(1.2, palette.signal);
            let heights = over(plot, runs, limit.0);
            lines(painter, plot, &heights, plot.y(limit.0), stroke);
            word(painter, look, plot, &heights);
        }
        (Some(Standing::TooLoud { .. }), _) => {
            let stroke = Stroke::new(1.2, palette.signal);
            let heights = over(plot, runs, line_lufs);
            lines(painter, plot, &heights, plot.y(line_lufs), stroke);
            word(painter, look, plot, &heights);
        }
        _ => {
            let stroke = Stroke::new(0.8, palette.over_paper(palette.water, 0.8));
            let heights = over(plot, runs, line_lufs);
            lines(painter, plot, &heights, plot.y(line_lufs), stroke);
        }
    }
}

/// For each column, one point wide: where the surface lies, if it is above `limit_lufs`.
fn over(plot: &Plot, runs: &[Run], limit_lufs: f64) -> Vec<Option<f32>> {
    let mut columns = vec![None; index(plot.rect.width().ceil()) + 1];
    let limit_y = plot.y(limit_lufs);
    let mut put = |x: f32, y: f32| {
        let offset = x - plot.rect.left();
        if offset >= 0.0
            && let Some(column) = columns.get_mut(index(offset))
        {
            *column = (y < limit_y).then_some(y);
        }
    };
    for run in runs {
        for pair in run.samples.windows(2) {
            let [from, to] = pair else { continue };
            let (Some(low), Some(high)) = (from.short_term, to.short_term) else { continue };
            let (y0, y1) = (plot.y_inside(low), plot.y_inside(high));
            let first = from.x.ceil().max(plot.rect.left());
            let last = to.x.min(plot.rect.right());
            let mut x = first;
            while x <= last {
                let share = (x - from.x) / (to.x - from.x).max(1e-3);
                put(x, y0 + (y1 - y0) * share);
                x += 1.0;
            }
        }
    }
    columns
}

/// Rising lines, 45°, between `limit_y` and the surface.
fn lines(painter: &Painter, plot: &Plot, columns: &[Option<f32>], limit_y: f32, stroke: Stroke) {
    let base = limit_y.min(plot.rect.bottom());
    let tallest = columns.iter().flatten().fold(0.0_f32, |most, y| most.max(base - y));
    if tallest < 1.0 {
        return;
    }
    let left = plot.rect.left();
    // The line that starts at `foot` on the limit is at height h at foot + h.
    let mut foot = left - (tallest / SPACING_PT).ceil() * SPACING_PT;
    // Anchored to the plot's grid of spacing, so that the hatch stands still while the song grows.
    while foot < plot.rect.right() {
        let mut open: Option<(Pos2, Pos2)> = None;
        let mut height = 0.0;
        while height <= tallest {
            let x = foot + height;
            let y = base - height;
            let inside = x >= left
                && columns
                    .get(index(x - left))
                    .copied()
                    .flatten()
                    .is_some_and(|surface| y > surface + 1.0);
            let here = pos2(x, y);
            match (&mut open, inside) {
                (Some((_, end)), true) => *end = here,
                (None, true) => open = Some((here, here)),
                (Some((start, end)), false) => {
                    painter.line_segment([*start, *end], stroke);
                    open = None;
                }
                (None, false) => {}
            }
            height += 1.0;
        }
        if let Some((start, end)) = open {
            painter.line_segment([start, end], stroke);
        }
        foot += SPACING_PT;
    }
}

/// The word over the widest hatch.
fn word(painter: &Painter, look: &Look, plot: &Plot, columns: &[Option<f32>]) {
    let (mut best, mut start) = ((0, 0), 0);
    for (at, column) in columns.iter().chain([&None]).enumerate() {
        if column.is_none() {
            if at - start > best.1 - best.0 {
                best = (start, at);
            }
            start = at + 1;
        }
    }
    let Some(span) = columns.get(best.0..best.1).filter(|span| !span.is_empty()) else { return };
    let highest = span.iter().flatten().fold(plot.rect.bottom(), |high, y| high.min(*y));
    let middle = super::super::cast::count(best.0 + best.1) / 2.0;
    let x = plot.rect.left() + single(middle);
    let font = semibold(look.sizes.body);
    let half = look.sizes.body * 1.4;
    let x = x.clamp(plot.rect.left() + half, plot.rect.right() - half);
    // Over the surface; under the top edge if the surface reaches it.
    let y = (highest - 3.0).max(plot.rect.top() + look.sizes.body * 1.4);
    let galley = painter.layout_no_wrap(text::OVER.to_owned(), font, look.palette.signal);
    let rect = Align2::CENTER_BOTTOM.anchor_size(pos2(x, y), galley.size());
    painter.rect_filled(rect.expand2(egui::vec2(4.0, 0.0)), 2.0, look.palette.paper);
    painter.galley(rect.min, galley, look.palette.signal);
}
