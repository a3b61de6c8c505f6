//! The song strip, a tide chart: song time across, loudness up, the load line over the water.

mod axes;
mod geometry;
mod hatch;
mod hover;
mod margin;
mod range;
mod samples;
mod scale_menu;
mod sections_menu;
mod soundings;
mod spans;
mod water;

#[cfg(test)]
pub(super) use water::BODY_SHARE;

use super::fonts::semibold;
use super::label::LoudnessScale;
use super::model::{Action, Model, Source};
use super::view::{Held, Leaf, ViewState, any_measured, chosen};
use super::{Look, button, text};
use egui::{Align2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use geometry::Plot;

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    model: &Model,
    held: &Held,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let goal = chosen(model).and_then(|target| target.integrated);
    let scale = LoudnessScale::new(view.prefs.reading, goal.map(|goal| goal.loudness));
    let plot = Plot::new(rect, look, model, held, view);
    if plot.rect.width() < 40.0 || plot.rect.height() < 20.0 {
        return;
    }
    let painter = ui.painter().clone();
    axes::paint(&painter, look, &plot, scale, model.bars.as_ref());

    let runs = samples::runs(&model.strip, &plot);
    let inside = painter.with_clip_rect(plot.rect);
    water::paint(&inside, look, &plot, &runs);
    if let Some(goal) = goal {
        let limit = chosen(model).and_then(|target| target.max_short_term);
        hatch::paint(&inside, look, &plot, &runs, goal, limit, held.distance.as_ref());
    }
    let playhead_x = model.playhead_hop.map(|hop| plot.x(f64::from(hop)));
    water::paint_shores(&inside, look, &plot, &runs, playhead_x);
    range::paint(ui, look, &plot, view);
    axes::paint_load_line(&painter, look, &plot, goal);
    let margin = margin::paint(&painter, look, &plot, scale, model, held, &runs);
    if model.source == Source::Song {
        spans::paint(&painter, look, &plot, scale, model);
    }
    let soundings = soundings::paint(&painter, look, &plot, model, held, &runs);
    if view.prefs.leaf == Leaf::Targets {
        axes::paint_other_lines(&inside, look, &plot, model, held);
    }
    playhead(&painter, look, &plot, model);
    above_scale(&painter, look, &plot, held);
    if !any_measured(model) {
        empty(ui, look, plot.rect, model);
    }

    let response = ui.interact(plot.rect, ui.scope_id().with("strip"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, text::STRIP));
    hover::navigate(ui, &response, &plot, view);
    range::select(ui, &response, &plot, view);
    hover::keys(ui, look, &response, &plot, model, view);
    hover::show(ui, look, &response, &plot, model, scale, view);
    soundings::show(ui, look, &soundings);
    margin::show(ui, look, &margin);
    scale_menu::show(ui, look, &plot, scale, view);
    spans::show(ui, look, &plot, model, view, actions);
    sections_menu::show(ui, look, &plot, model, view, actions);
    sections_menu::snapshot(ui, look, &plot, model, view);
    range::show(ui, look, &plot, scale, model, view, actions);
    if view.window.is_some() {
        whole_song_button(ui, look, &plot, view);
    }
}

fn playhead(painter: &egui::Painter, look: &Look, plot: &Plot, model: &Model) {
    let Some(hop) = model.playhead_hop else { return };
    let x = painter.round_to_pixel_center(plot.x(f64::from(hop)));
    if !plot.rect.x_range().expand(0.5).contains(x) {
        return;
    }
    let ink = look.palette.ink;
    painter.vline(x, plot.rect.y_range(), Stroke::new(1.0, ink));
    // A pennant at the foot, on the time axis.
    let (half, height) = (4.0, 6.0);
    let tip = pos2(x, plot.rect.bottom());
    let corners = vec![tip, tip + vec2(half, height), tip + vec2(-half, height)];
    painter.add(egui::Shape::convex_polygon(corners, ink, Stroke::NONE));
}

/// Says so where the loudest moments do not fit on a scale chosen by hand.
fn above_scale(painter: &egui::Painter, look: &Look, plot: &Plot, held: &Held) {
    let loudest = [held.figures.max_momentary, held.figures.max_short_term];
    if !loudest.iter().flatten().any(|value| value.0 > plot.top_lufs) {
        return;
    }
    let font = super::fonts::regular(look.sizes.small);
    let galley = painter.layout_no_wrap(text::CLIPPED.to_owned(), font, look.palette.ink);
    let corner = plot.rect.right_bottom() + vec2(-10.0, -10.0);
    let place = Align2::RIGHT_BOTTOM.anchor_size(corner, galley.size());
    painter.rect_filled(place.expand2(vec2(5.0, 1.0)), 2.0, look.palette.paper);
    painter.galley(place.min, galley, look.palette.ink);
}

/// What to do while there is nothing to see.
fn empty(ui: &mut Ui, look: &Look, rect: Rect, model: &Model) {
    use super::model::Notice;
    let blocked =
        model.notices.contains(&Notice::Unsupported) || model.notices.contains(&Notice::Bypassed);
    let todo = if blocked {
        text::EMPTY_BLOCKED
    } else if !model.running {
        text::EMPTY_PAUSED
    } else if model.source == Source::Live {
        text::EMPTY_LIVE
    } else {
        text::EMPTY_SONG
    };
    let mut lines = vec![(text::EMPTY_HEADING, semibold(look.sizes.strong), look.palette.ink)];
    lines.push((todo, super::fonts::regular(look.sizes.body), look.palette.ink));
    if model.last_session.is_some() {
        let font = super::fonts::regular(look.sizes.body);
        lines.push((text::EARLIER_SESSION, font, look.palette.line));
    }
    let width = (rect.width() * 0.8).min(look.sizes.body * 34.0);
    let galleys: Vec<_> = lines
        .iter()
        .map(|(line, font, color)| {
            let mut job =
                egui::text::LayoutJob::simple((*line).to_owned(), font.clone(), *color, width);
            job.halign = egui::Align::Center;
            ui.painter().layout_job(job)
        })
        .collect();
    let gap = look.sizes.body * 0.5;
    let height: f32 = galleys.iter().map(|galley| galley.size().y + gap).sum();
    let back = Rect::from_center_size(rect.center(), vec2(width + 24.0, height + 16.0));
    ui.painter().rect_filled(back, 0.0, look.palette.paper);
    let mut y = rect.center().y - (height - gap) / 2.0;
    for (galley, (line, ..)) in galleys.into_iter().zip(&lines) {
        let size = galley.size();
        ui.painter().galley(pos2(rect.center().x, y), galley, look.palette.ink);
        let place = Rect::from_center_size(pos2(rect.center().x, y + size.y / 2.0), size);
        ui.interact(place, ui.scope_id().with(*line), Sense::hover())
            .widget_info(|| WidgetInfo::labeled(Role::Label, true, *line));
        y += size.y + gap;
    }
}

/// Back to the whole song, while only a part of it is in view.
fn whole_song_button(ui: &mut Ui, look: &Look, plot: &Plot, view: &mut ViewState) {
    let size = vec2(button::width_pt(ui, look, &[text::WHOLE_SONG]), button::height_pt(look));
    let place = Align2::LEFT_TOP.anchor_size(plot.rect.left_top() + vec2(8.0, 8.0), size);
    if button::at(ui, look, place, text::WHOLE_SONG, text::WHOLE_SONG).clicked() {
        view.window = None;
        ui.ctx().request_repaint();
    }
}
