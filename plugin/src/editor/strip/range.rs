//! A range of song time, dragged on the strip: its figures, and what can be made of it.

use super::super::fonts::semibold;
use super::super::label::LoudnessScale;
use super::super::model::{Action, Model, SongEdit};
use super::super::view::{TimeWindow, ViewState};
use super::super::{Look, button, figure, label, pointer, text};
use super::geometry::Plot;
use crate::section::MIN_SECTION_S;
use crate::units::Dbtp;
use egui::{Align2, PointerButton, Rect, Response, Sense, Stroke, Ui, pos2, vec2};

/// A drag selects; a plain click takes the selection away.
pub(super) fn select(ui: &Ui, response: &Response, plot: &Plot, view: &mut ViewState) {
    let at_s = |x: f32| {
        let inside = x.clamp(plot.rect.left(), plot.rect.right());
        // To the hop: what is shown is what is measured.
        plot.hop(inside).round() / 100.0
    };
    if response.drag_started_by(PointerButton::Primary) {
        let origin = ui.input(|input| input.pointer.press_origin());
        view.dragged_from_s = origin.map(|origin| at_s(origin.x));
    }
    let held_at = pointer::held_at(response, PointerButton::Primary);
    if let (Some(from_s), Some(pointer)) = (view.dragged_from_s, held_at) {
        let to_s = at_s(pointer.x);
        let range = (from_s.min(to_s), from_s.max(to_s));
        view.range_s = Some(range).filter(|(start_s, end_s)| end_s - start_s >= MIN_SECTION_S);
    }
    if response.drag_stopped() {
        view.dragged_from_s = None;
    }
    if response.clicked() {
        view.range_s = None;
    }
}

/// The range as a band, under everything that is read.
pub(super) fn paint(ui: &Ui, look: &Look, plot: &Plot, view: &ViewState) {
    let Some((start_s, end_s)) = view.range_s else { return };
    let [left, right] = [start_s, end_s]
        .map(|at_s| plot.x(at_s * 100.0).clamp(plot.rect.left(), plot.rect.right()));
    let band = Rect::from_x_y_ranges(left..=right, plot.rect.y_range());
    let painter = ui.painter();
    painter.rect_filled(band, 0.0, look.palette.ink.gamma_multiply(0.08));
    for x in [left, right] {
        let x = painter.round_to_pixel_center(x);
        painter.vline(x, plot.rect.y_range(), Stroke::new(1.0, look.palette.ink));
    }
}

/// The figures of the range in a box at the foot of the chart, where the water is deep, with its
/// buttons.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let Some((start_s, end_s)) = view.range_s else { return };
    let Some((_, measured)) = &model.song.range else { return };
    let figures = &measured.figures;
    let peak = label::signed(figures.max_true_peak.map(|peak| peak.0));
    let hints = [
        text::RANGE_HINT,
        text::INTEGRATED_HINT,
        text::SHORT_TERM_HINT,
        text::TRUE_PEAK_HINT,
        text::COVERAGE_HINT,
    ];
    let lines = [
        text::time_range(start_s, end_s),
        format!("{} {}", text::INTEGRATED, scale.with_unit(figures.integrated)),
        format!("{} {} {}", text::SHORT_TERM, text::MAX, scale.with_unit(figures.max_short_term)),
        format!("{} {peak} {}", text::TRUE_PEAK, Dbtp::UNIT),
        text::measured_share(figures.coverage.share()),
    ];
    let small = super::super::fonts::regular(look.sizes.small);
    let head = semibold(look.sizes.small);
    let line_pt = look.sizes.small * 1.35;
    let names = [text::MAKE_SECTION, text::ZOOM_TO_RANGE, text::COPY_RANGE, text::CLEAR_RANGE];
    let widths = names.map(|name| button::width_pt(ui, look, &[name]));
    let buttons_pt = widths.iter().sum::<f32>() + 12.0;
    let text_pt =
        lines.iter().map(|line| label::width(ui.painter(), line, &head)).fold(0.0, f32::max);
    let size = vec2(text_pt.max(buttons_pt) + 16.0, line_pt * 5.0 + button::height_pt(look) + 18.0);
    let middle = plot.x((start_s + end_s) * 50.0);
    let left = (middle - size.x / 2.0).clamp(
        plot.rect.left() + 4.0,
        (plot.rect.right() - size.x - 4.0).max(plot.rect.left() + 4.0),
    );
    let place = Rect::from_min_size(pos2(left, plot.rect.bottom() - size.y - 8.0), size);
    let palette = &look.palette;
    let frame = Stroke::new(1.0, palette.over_paper(palette.line, 0.6));
    // Takes the pointer, so that the chart under it does not.
    ui.interact(place, ui.scope_id().with("range"), Sense::drag());
    ui.painter().rect(place, 2.0, palette.paper, frame, egui::StrokeKind::Inside);
    let mut y = place.top() + 6.0;
    for (index, (line, hint)) in lines.iter().zip(hints).enumerate() {
        let font = if index == 0 { &head } else { &small };
        let at = pos2(place.left() + 8.0, y);
        let drawn = ui.painter().text(at, Align2::LEFT_TOP, line, font.clone(), palette.ink);
        let id = ui.scope_id().with(("range", index));
        figure::ask(ui, look, drawn, id, line, hint);
        y += line_pt;
    }
    let mut x = place.left() + 8.0;
    let top = place.bottom() - button::height_pt(look) - 6.0;
    let mut clicked = [false; 4];
    for ((name, width), clicked) in names.into_iter().zip(widths).zip(&mut clicked) {
        let rect = Rect::from_min_size(pos2(x, top), vec2(width, button::height_pt(look)));
        *clicked = button::at(ui, look, rect, name, name).clicked();
        x += width + 4.0;
    }
    let [make, zoom, copy, clear] = clicked;
    if copy {
        figure::copy(ui.ctx(), place, lines.join("\n") + "\n");
    }
    if make {
        actions.push(Action::Song(SongEdit::AddRange(start_s, end_s)));
    }
    if zoom {
        view.window = Some(TimeWindow { start_hop: start_s * 100.0, end_hop: end_s * 100.0 });
    }
    if make || clear || zoom {
        view.range_s = None;
        ui.ctx().request_repaint();
    }
}
