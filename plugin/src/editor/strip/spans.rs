//! Sections on the strip: their levels as plateaus in the chart, their names in a lane under it.

use super::super::dialog::Dialog;
use super::super::fonts::{regular, semibold};
use super::super::label::{self, LoudnessScale};
use super::super::model::{Action, Model, SongEdit};
use super::super::view::ViewState;
use super::super::{Look, pointer, text};
use super::geometry::Plot;
use crate::section::{LogEntry, Section, Side};
use crate::units::signed_one_decimal;
use egui::{
    Align2, CursorIcon, EventFilter, Key, Painter, PointerButton, Popup, PopupCloseBehavior, Rect,
    Response, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Width of the plateau of a section.
const PLATEAU_PT: f32 = 2.6;
/// How near the pointer must be to an edge to take it.
const REACH_PT: f32 = 5.0;
/// From this height on a step has room for its figure.
const STEP_FROM_PT: f32 = 15.0;
/// How much of the chart a figure's ground covers.
const HALO: f32 = 0.85;
/// An arrow key moves an edge so far where it does not go from bar to bar, seconds.
const NUDGE_S: f64 = 0.1;

/// The levels, drawn into the chart.
pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    model: &Model,
) {
    let inside = painter.with_clip_rect(plot.rect);
    let edge = Stroke::new(1.0, look.palette.over_paper(look.palette.line, 0.5));
    for section in &model.song.sections {
        let [start, end] = edges(plot, section);
        let xs = if section.open { vec![start] } else { vec![start, end] };
        for x in xs {
            inside.vline(inside.round_to_pixel_center(x), plot.rect.y_range(), edge);
        }
    }
    let mut before: Option<(i32, f32)> = None;
    for entry in &model.song.log {
        let level = plateau(&inside, look, plot, scale, entry);
        if let (Some((before_end, before_y)), Some((y, figure))) = (before, level)
            && before_end == entry.range.start
        {
            step(&inside, look, plot, entry, [before_y, y], figure);
        }
        before = level.map(|(y, _)| (entry.range.end, y));
    }
}

/// Left and right edge of a section, not limited to the plot.
fn edges(plot: &Plot, section: &Section) -> [f32; 2] {
    [section.start_s, section.end_s].map(|at_s| plot.x(at_s * 100.0))
}

/// Draws the level of a section; gives its height, and where its figure stands.
fn plateau(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    entry: &LogEntry,
) -> Option<(f32, Rect)> {
    let integrated = entry.measured.figures.integrated.filter(|level| level.0.is_finite())?;
    let y = plot.y_inside(integrated.0);
    let [start, end] = [entry.range.start, entry.range.end].map(|hop| plot.x(f64::from(hop)));
    painter.hline(start..=end, y, Stroke::new(PLATEAU_PT, look.palette.ink));
    let font = semibold(look.sizes.small);
    let figure = scale.figure(Some(integrated));
    let left = start.max(plot.rect.left());
    let right = end.min(plot.rect.right());
    let width = label::width(painter, &figure, &font);
    let mut taken = Rect::NOTHING;
    if right - left > width + 8.0 {
        // Over the line, or under it where the chart ends.
        let over = y - look.sizes.small * 1.3 > plot.rect.top();
        let (align, gap) =
            if over { (Align2::CENTER_BOTTOM, -2.0) } else { (Align2::CENTER_TOP, 2.0) };
        let at = pos2(f32::midpoint(left, right), y + gap);
        let place =
            align.anchor_size(at, vec2(width, look.sizes.small * 1.15)).expand2(vec2(3.0, 0.0));
        painter.rect_filled(place, 2.0, look.palette.paper.gamma_multiply(HALO));
        painter.text(at, align, figure, font, look.palette.ink);
        taken = place;
    }
    Some((y, taken))
}

/// The step from the section before: a line from level to level, with its figure if it has room
/// beside that of the level.
fn step(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    entry: &LogEntry,
    levels_y: [f32; 2],
    level_figure: Rect,
) {
    let x = plot.x(f64::from(entry.range.start));
    let [before_y, y] = levels_y;
    let (top, bottom) = (before_y.min(y), before_y.max(y));
    painter.vline(x, top..=bottom, Stroke::new(1.2, look.palette.ink));
    let Some(by) = entry.louder_by.filter(|_| bottom - top > STEP_FROM_PT) else { return };
    let font = regular(look.sizes.small);
    let figure = signed_one_decimal(by.0);
    let width = label::width(painter, &figure, &font);
    let at = pos2(x + 5.0, f32::midpoint(top, bottom));
    let size = vec2(width, look.sizes.small * 1.1);
    let place = Align2::LEFT_CENTER.anchor_size(at, size).expand2(vec2(2.0, 0.0));
    let room = plot.x(f64::from(entry.range.end)) - x;
    if room < width + 10.0 || place.intersects(level_figure) {
        return;
    }
    painter.rect_filled(place, 2.0, look.palette.paper.gamma_multiply(HALO));
    painter.text(at, Align2::LEFT_CENTER, figure, font, look.palette.ink);
}

/// The lane: names to select, edges to drag, and what can be done with both.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    plot: &Plot,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    if plot.lane.height() < 1.0 {
        return;
    }
    let lane = plot.lane;
    if model.song.sections.is_empty() {
        let at = pos2(lane.left() + 4.0, lane.center().y);
        let font = regular(look.sizes.small);
        let room = lane.width() - 8.0;
        let hint = text::NO_SECTIONS;
        label::cut(ui.painter(), at, Align2::LEFT_CENTER, hint, &font, look.palette.line, room);
        let id = ui.scope_id().with("no sections");
        ui.interact(lane, id, Sense::hover())
            .widget_info(|| WidgetInfo::labeled(Role::Label, true, hint));
        return;
    }
    for (index, section) in model.song.sections.iter().enumerate() {
        let [start, end] = edges(plot, section);
        let rect = Rect::from_x_y_ranges(
            start.max(lane.left())..=end.min(lane.right()),
            lane.top() + 3.0..=lane.bottom() - 1.0,
        );
        if rect.width() > 0.5 {
            span(ui, look, rect, section, index, model, view, actions);
        }
    }
    for (index, section) in model.song.sections.iter().enumerate() {
        let touches =
            |at_s: f64| model.song.sections.get(index + 1).is_some_and(|next| next.start_s == at_s);
        edge(ui, look, plot, section, Side::Start, model, view, actions);
        // A shared edge is the start of the next; an open end follows the song.
        if !section.open && !touches(section.end_s) {
            edge(ui, look, plot, section, Side::End, model, view, actions);
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "one widget, drawn in one place")]
fn span(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    section: &Section,
    index: usize,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let palette = &look.palette;
    let id = ui.scope_id().with(("span", section.id));
    let response = ui.interact(rect, id, Sense::click());
    let is_selected = view.selected == Some(section.id);
    let spoken = text::section_spoken(&section.name, section.start_s, section.end_s);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_selected, &spoken));
    let share = if is_selected {
        0.16
    } else if response.hovered() {
        0.08
    } else {
        0.03
    };
    let frame = if is_selected || response.has_focus() {
        Stroke::new(if response.has_focus() { 2.0 } else { 1.0 }, palette.ink)
    } else {
        Stroke::new(1.0, palette.over_paper(palette.line, 0.5))
    };
    let painter = ui.painter();
    painter.rect(rect, 0.0, palette.over_paper(palette.ink, share), frame, StrokeKind::Inside);
    if rect.width() > look.sizes.small * 1.6 {
        let at = pos2(rect.left() + 6.0, rect.center().y);
        let room = rect.width() - 10.0;
        let font = regular(look.sizes.small);
        label::cut(painter, at, Align2::LEFT_CENTER, &section.name, &font, palette.ink, room);
    }
    if response.clicked() {
        view.selected = Some(section.id).filter(|_| !is_selected);
    }
    if response.double_clicked() {
        view.selected = Some(section.id);
        view.dialog = Some(Dialog::rename(section));
    }
    let response = if Popup::is_any_open(ui.ctx()) {
        response
    } else {
        response.on_hover_ui(|ui| tooltip(ui, look, section, index, model))
    };
    Popup::context_menu(&response).close_behavior(PopupCloseBehavior::CloseOnClick).show(|ui| {
        view.selected = Some(section.id);
        super::sections_menu::of_section(ui, look, section, model, view, actions);
    });
}

fn tooltip(ui: &mut Ui, look: &Look, section: &Section, index: usize, model: &Model) {
    ui.label(egui::RichText::new(&section.name).font(semibold(look.sizes.body)));
    ui.label(text::section_range(section));
    if let Some(entry) = model.song.log.get(index) {
        for line in text::section_lines(entry) {
            ui.label(line);
        }
    }
    ui.weak(text::SPAN_HINT);
}

#[expect(clippy::too_many_arguments, reason = "one widget, drawn in one place")]
fn edge(
    ui: &mut Ui,
    look: &Look,
    plot: &Plot,
    section: &Section,
    side: Side,
    model: &Model,
    view: &ViewState,
    actions: &mut Vec<Action>,
) {
    let at_s = if side == Side::Start { section.start_s } else { section.end_s };
    let x = plot.x(at_s * 100.0);
    if x < plot.lane.left() - 0.5 || x > plot.lane.right() + 0.5 {
        return;
    }
    let rect = Rect::from_x_y_ranges(x - REACH_PT..=x + REACH_PT, plot.lane.y_range());
    let id = ui.scope_id().with(("edge", section.id, side == Side::Start));
    let response = ui.interact(rect, id, Sense::click_and_drag());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Slider, true, text::edge_spoken(&section.name, side, at_s))
    });
    let is_held = response.dragged() || response.hovered() || response.has_focus();
    if is_held {
        ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
        let x = ui.painter().round_to_pixel_center(x);
        let stroke = Stroke::new(2.0, look.palette.ink);
        ui.painter().vline(x, plot.lane.y_range(), stroke);
    }
    let mut move_to = |to_s: f64| {
        actions.push(Action::Song(SongEdit::MoveEdge(section.id, side, to_s)));
    };
    if let Some(pointer) = pointer::held_at(&response, PointerButton::Primary) {
        move_to(plot.hop(pointer.x.clamp(plot.rect.left(), plot.rect.right())) / 100.0);
    }
    if let Some(to_s) = nudge(ui, &response, at_s, model, view) {
        move_to(to_s);
    }
    if response.drag_stopped() || response.lost_focus() {
        actions.push(Action::Song(SongEdit::EndDrag));
    }
    if !response.dragged() {
        response.on_hover_text(text::EDGE_HINT);
    }
}

/// Where arrow keys move an edge that has the focus: to the next bar line, or a tenth of a second.
fn nudge(ui: &Ui, response: &Response, at_s: f64, model: &Model, view: &ViewState) -> Option<f64> {
    if !response.has_focus() {
        return None;
    }
    let filter = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    let by = ui.input(|input| {
        f64::from(i8::from(input.key_pressed(Key::ArrowRight)))
            - f64::from(i8::from(input.key_pressed(Key::ArrowLeft)))
    });
    if by == 0.0 {
        return None;
    }
    let bars = model.bars.as_ref().filter(|_| view.prefs.snap_to_bars);
    let on_bars = bars.and_then(|bars| {
        let bar = bars.bar_at(at_s)?;
        // The next line beyond the one that the edge stands on.
        let next = if by > 0.0 { (bar + 1e-6).floor() + 1.0 } else { (bar - 1e-6).ceil() - 1.0 };
        bars.seconds_at(next)
    });
    Some(on_bars.unwrap_or(by.mul_add(NUDGE_S, at_s)))
}
