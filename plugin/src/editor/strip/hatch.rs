//! The hatch over the load line. Signal, with the word "over", where the song as a whole or its
//! loudest 3 s break a limit; in the colour of water where loud parts are levelled by quiet ones.

use super::super::cast::{count, index, single};
use super::super::fonts::semibold;
use super::super::{Look, text};
use super::geometry::Plot;
use super::samples::Run;
use crate::target::{Distance, IntegratedGoal, Standing};
use crate::units::Lufs;
use egui::{Align2, Painter, Pos2, Stroke, pos2};

/// Distance of the hatch lines across.
const SPACING_PT: f32 = 6.0;
/// Columns this much lower than the highest still belong to its plateau.
const PLATEAU_PT: f32 = 14.0;

pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    runs: &[Run],
    goal: IntegratedGoal,
    short_term_limit: Option<Lufs>,
    distance: Option<&Distance>,
) {
    let plateau = distance.and_then(|distance| distance.distance);
    let avoid_y = plateau.map(|lu| plot.y(goal.loudness.0 + lu.0));
    let standing = distance.map(|distance| distance.standing);
    let line_lufs = goal.loudness.0 + goal.above.0;
    let palette = &look.palette;
    match (standing, short_term_limit) {
        (Some(Standing::ShortTermOver { .. }), Some(limit)) => {
            let stroke = Stroke::new(1.2, palette.signal);
            let heights = over(plot, runs, limit.0);
            lines(painter, plot, &heights, plot.y(limit.0), stroke);
            word(painter, look, plot, &heights, plot.y(limit.0), avoid_y);
        }
        (Some(Standing::TooLoud { .. }), _) => {
            let stroke = Stroke::new(1.2, palette.signal);
            let heights = over(plot, runs, line_lufs);
            lines(painter, plot, &heights, plot.y(line_lufs), stroke);
            word(painter, look, plot, &heights, plot.y(line_lufs), avoid_y);
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
    // All feet lie on one grid, so that the hatch stands still while the song grows.
    let mut foot = left - (tallest / SPACING_PT).ceil() * SPACING_PT;
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

/// `y`, moved into the larger part above or below the line at `avoid_y` where it is too near.
fn clear_of(y: f32, avoid_y: Option<f32>, (top, base): (f32, f32), size_pt: f32) -> f32 {
    match avoid_y {
        Some(line) if (line - y).abs() < size_pt && line > top && line < base => {
            if line - top > base - line { (top + line) / 2.0 } else { (line + base) / 2.0 }
        }
        _ => y,
    }
}

/// The word in the tallest hatch, on paper so that it can be read; over it where it is too low.
fn word(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    columns: &[Option<f32>],
    limit_y: f32,
    avoid_y: Option<f32>,
) {
    let tops = columns.iter().enumerate().filter_map(|(at, top)| Some((at, (*top)?)));
    let Some((peak, top)) = tops.min_by(|a, b| a.1.total_cmp(&b.1)) else { return };
    // The plateau about the highest column: all that is nearly as high and not parted from it.
    let near = |column: &&Option<f32>| column.is_some_and(|y| y < top + PLATEAU_PT);
    let after = columns.iter().skip(peak).take_while(near).count();
    let before = columns.iter().take(peak).rev().take_while(near).count();
    let middle = single(count(peak) + (count(after) - count(before)) / 2.0);
    let size_pt = look.sizes.body;
    let x = (plot.rect.left() + middle)
        .clamp(plot.rect.left() + size_pt * 2.0, plot.rect.right() - size_pt * 2.0);
    let base = limit_y.min(plot.rect.bottom());
    let y = if base - top > size_pt * 2.0 {
        clear_of((top + base) / 2.0, avoid_y, (top, base), size_pt)
    } else {
        (top - size_pt * 0.9).max(plot.rect.top() + size_pt)
    };
    let signal = look.palette.signal;
    let galley = painter.layout_no_wrap(text::OVER.to_owned(), semibold(size_pt), signal);
    let rect = Align2::CENTER_CENTER.anchor_size(pos2(x, y), galley.size());
    painter.rect_filled(rect.expand2(egui::vec2(5.0, 0.0)), 2.0, look.palette.paper);
    painter.galley(rect.min, galley, signal);
}
