//! Axes of the strip, and the load line with its tolerance.

use super::super::cast::{float, whole};
use super::super::fonts::regular;
use super::super::label::{self, EBU_ZERO_LUFS, LoudnessScale};
use super::super::model::Model;
use super::super::view::{Held, chosen};
use super::super::{Look, text};
use super::geometry::Plot;
use crate::section::BarGrid;
use crate::target::IntegratedGoal;
use egui::{Align2, Color32, Painter, Rect, Shape, Stroke, pos2, vec2};

/// Steps of the time axis, seconds.
const TIME_STEPS_S: &[f64] =
    &[0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0];
/// Steps of the bar axis.
const BAR_STEPS: &[f64] = &[1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0, 1024.0];
/// Steps of the loudness axis, LU.
const LOUDNESS_STEPS_LU: &[f64] = &[1.0, 3.0, 6.0, 9.0, 18.0];

pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    bars: Option<&BarGrid>,
) {
    loudness_axis(painter, look, plot, scale);
    time_axis(painter, look, plot);
    if let Some(bars) = bars {
        bar_axis(painter, look, plot, bars);
    }
    let edge = Stroke::new(1.0, look.palette.over_paper(look.palette.line, 0.7));
    let bottom = painter.round_to_pixel_center(plot.rect.bottom());
    painter.hline(plot.rect.x_range(), bottom, edge);
    let left = painter.round_to_pixel_center(plot.rect.left());
    painter.vline(left, plot.rect.y_range(), edge);
}

fn step_for(steps: &[f64], step_pt: impl Fn(f64) -> f64, wanted_pt: f64) -> f64 {
    let last = steps.last().copied().unwrap_or(1.0);
    steps.iter().copied().find(|step| step_pt(*step) >= wanted_pt).unwrap_or(last)
}

fn loudness_axis(painter: &Painter, look: &Look, plot: &Plot, scale: LoudnessScale) {
    let font = regular(look.sizes.small);
    let span = plot.top_lufs - plot.bottom_lufs;
    let per_lu = f64::from(plot.rect.height()) / span;
    let step = step_for(LOUDNESS_STEPS_LU, |lu| lu * per_lu, f64::from(look.sizes.small) * 3.1);
    // Round figures in what is read: relative ones count from their zero, the EBU's from −23.
    let zero = match (scale.relative, plot.is_ebu) {
        (true, _) => scale.zero_lufs,
        (false, true) => EBU_ZERO_LUFS,
        (false, false) => 0.0,
    };
    let first = whole(((plot.bottom_lufs - zero) / step).ceil());
    let last = whole(((plot.top_lufs - zero) / step).floor());
    for tick in first..=last {
        let lufs = zero + float(tick) * step;
        let y = painter.round_to_pixel_center(plot.y(lufs));
        if y < plot.rect.bottom() - 1.0 {
            painter.hline(plot.rect.x_range(), y, Stroke::new(1.0, grid(look)));
        }
        let value = lufs - scale.zero_lufs;
        let figure = match (scale.relative, whole(value)) {
            (true, value) if value > 0 => format!("+{value}"),
            (_, value) if value < 0 => format!("−{}", -value),
            (_, value) => value.to_string(),
        };
        let at = pos2(plot.rect.left() - 7.0, y);
        // The lowest figure keeps clear of the time axis.
        let is_lowest = y > plot.rect.bottom() - look.sizes.small * 0.5;
        let align = if is_lowest { Align2::RIGHT_BOTTOM } else { Align2::RIGHT_CENTER };
        painter.text(at, align, figure, font.clone(), look.palette.line);
    }
}

fn grid(look: &Look) -> Color32 {
    look.palette.over_paper(look.palette.line, 0.16)
}

fn time_axis(painter: &Painter, look: &Look, plot: &Plot) {
    let font = regular(look.sizes.small);
    let span_s = (plot.window.end_hop - plot.window.start_hop) / 100.0;
    let per_s = f64::from(plot.rect.width()) / span_s;
    let step = step_for(TIME_STEPS_S, |s| s * per_s, f64::from(look.sizes.small) * 5.0);
    let first = whole((plot.window.start_hop / 100.0 / step - 1e-6).ceil());
    let last = whole((plot.window.end_hop / 100.0 / step + 1e-6).floor());
    for tick in first..=last {
        let seconds = float(tick) * step;
        let x = painter.round_to_pixel_center(plot.x(seconds * 100.0));
        tick_mark(painter, look, x, plot.rect.bottom(), 4.0);
        let label = text::song_time(seconds, step < 1.0);
        let at = pos2(x, plot.rect.bottom() + look.sizes.small * 0.45);
        inside_text(painter, plot, at, &label, &font, look.palette.line);
    }
}

/// Text centred under `at`, pushed in where it would leave the plot.
fn inside_text(
    painter: &Painter,
    plot: &Plot,
    at: egui::Pos2,
    text: &str,
    font: &egui::FontId,
    color: Color32,
) {
    let half = label::width(painter, text, font) / 2.0;
    let x = at.x.clamp(plot.rect.left() + half, (plot.outer.right() - half).max(at.x));
    painter.text(pos2(x, at.y), Align2::CENTER_TOP, text, font.clone(), color);
}

fn tick_mark(painter: &Painter, look: &Look, x: f32, top: f32, length: f32) {
    let color = look.palette.over_paper(look.palette.line, 0.7);
    painter.vline(x, top..=top + length, Stroke::new(1.0, color));
}

fn bar_axis(painter: &Painter, look: &Look, plot: &Plot, bars: &BarGrid) {
    let window = [plot.window.start_hop, plot.window.end_hop];
    let [Some(first_bar), Some(last_bar)] = window.map(|hop| bars.bar_at(hop / 100.0)) else {
        return;
    };
    let font = regular(look.sizes.small);
    let per_bar = f64::from(plot.rect.width()) / (last_bar - first_bar);
    let step = step_for(BAR_STEPS, |n| n * per_bar, f64::from(look.sizes.small) * 4.0);
    let first = whole((first_bar / step - 1e-6).ceil());
    let last = whole((last_bar / step + 1e-6).floor());
    if last - first > 500 {
        return;
    }
    let y = plot.rect.bottom() + look.sizes.small * 1.65;
    for tick in first..=last {
        let bar = float(tick) * step;
        let Some(at_s) = bars.seconds_at(bar) else { continue };
        let x = painter.round_to_pixel_center(plot.x(at_s * 100.0));
        tick_mark(painter, look, x, y, look.sizes.small);
        let number = (whole(bar) + 1).to_string().replace('-', "−");
        let color = look.palette.line;
        painter.text(pos2(x + 4.0, y - 1.0), Align2::LEFT_TOP, number, font.clone(), color);
    }
    let at = pos2(plot.rect.left() - 7.0, y - 1.0);
    painter.text(at, Align2::RIGHT_TOP, text::BARS, font, look.palette.line);
}

/// The load lines of the targets beside the chosen one: dashed, each with its names, one after the
/// other from the left so that no two lie over each other.
pub(super) fn paint_other_lines(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    model: &Model,
    held: &Held,
) {
    let mut lines: Vec<(f64, String)> = Vec::new();
    for (index, target) in super::super::leaf::destinations_shown(model) {
        let Some(goal) = target.integrated.filter(|_| index != model.chosen_target) else {
            continue;
        };
        let lufs = goal.loudness.0;
        match lines.iter_mut().find(|(other, _)| *other == lufs) {
            Some((_, names)) => *names = format!("{names} · {}", target.name),
            None => lines.push((lufs, target.name.clone())),
        }
    }
    let font = regular(look.sizes.small);
    // Lines that a name over its own line must not lie on.
    let goal = chosen(model).and_then(|target| target.integrated);
    let levels = [held.figures.integrated, goal.map(|goal| goal.loudness)];
    let levels_y: Vec<f32> = levels.iter().flatten().map(|level| plot.y(level.0)).collect();
    let mut x = plot.rect.left() + 10.0;
    for (lufs, names) in lines {
        let y = plot.y(lufs);
        if !plot.rect.y_range().contains(y) {
            continue;
        }
        let y = painter.round_to_pixel_center(y);
        let stroke = Stroke::new(1.0, look.palette.ink);
        let path = [pos2(plot.rect.left(), y), pos2(plot.rect.right(), y)];
        painter.extend(Shape::dashed_line(&path, stroke, 7.0, 5.0));
        let room = plot.rect.right() - x - 10.0;
        if room < look.sizes.small * 4.0 {
            continue;
        }
        // On paper, over the line; under it at the top of the chart, and where another line is.
        let name_pt = look.sizes.small * 1.3;
        let is_taken = levels_y.iter().any(|level| (y - name_pt..y).contains(level));
        let over = y - plot.rect.top() > name_pt && !is_taken;
        let (align, lift) =
            if over { (Align2::LEFT_BOTTOM, -1.0) } else { (Align2::LEFT_TOP, 1.0) };
        let width = label::width(painter, &names, &font).min(room);
        let size = vec2(width, look.sizes.small * 1.15);
        let ground = align.anchor_size(pos2(x, y + lift), size).expand2(vec2(3.0, 0.0));
        painter.rect_filled(ground, 2.0, look.palette.paper.gamma_multiply(0.85));
        let at = pos2(x, y + lift);
        label::cut(painter, at, align, &names, &font, look.palette.ink, room);
        x += width + look.sizes.body * 1.5;
    }
}

/// One fine line across, its tolerance as a pale band.
pub(super) fn paint_load_line(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    goal: Option<IntegratedGoal>,
) {
    let Some(goal) = goal else { return };
    let target = goal.loudness.0;
    let top = plot.y_inside(target + goal.above.0);
    let bottom = plot.y_inside(target - goal.below.map_or(0.0, |below| below.0));
    if bottom - top > 0.5 {
        let band = Rect::from_x_y_ranges(plot.rect.x_range(), top..=bottom);
        painter.rect_filled(band, 0.0, look.palette.ink.gamma_multiply(0.09));
    }
    let y = plot.y(target);
    if plot.rect.y_range().contains(y) {
        let y = painter.round_to_pixel_center(y);
        let reach = plot.rect.left() - 4.0..=plot.rect.right() + 6.0;
        painter.hline(reach, y, Stroke::new(1.0, look.palette.ink));
    }
}
