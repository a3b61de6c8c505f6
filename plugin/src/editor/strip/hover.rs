//! What pointer and keys do on the strip: reading off a place, zoom and pan.

use super::super::label::{self, LoudnessScale};
use super::super::model::Model;
use super::super::view::{TimeWindow, ViewState};
use super::super::{Look, pointer, text};
use super::geometry::Plot;
use crate::record::hop_seconds;
use crate::section::MIN_SECTION_S;
use crate::units::Dbtp;
use egui::{EventFilter, Key, PointerButton, Response, RichText, Stroke, StrokeKind, Ui, pos2};

/// Shortest window that can be zoomed into, hops (2 s).
const NARROWEST_HOPS: f64 = 200.0;

/// A key moves the reading hair by this share of what is in view. Own choice.
const KEY_SHARE: f64 = 0.02;
/// A key zooms by this factor. Own choice.
const KEY_ZOOM: f64 = 1.5;

/// With the focus on the strip: left and right move the reading hair, with Shift they select from
/// where it stood, up and down zoom about it, Home shows the whole song again.
pub(super) fn keys(
    ui: &Ui,
    look: &Look,
    response: &Response,
    plot: &Plot,
    model: &Model,
    view: &mut ViewState,
) {
    if !response.has_focus() {
        return;
    }
    let stroke = Stroke::new(1.5, look.palette.ink);
    ui.painter().rect_stroke(plot.rect.expand(2.0), 2.0, stroke, StrokeKind::Inside);
    let filter =
        EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    let pressed = |key: Key| ui.input(|input| input.key_pressed(key));
    let one_of =
        |plus: Key, minus: Key| f64::from(i8::from(pressed(plus)) - i8::from(pressed(minus)));
    let (along, zoom) =
        (one_of(Key::ArrowRight, Key::ArrowLeft), one_of(Key::ArrowUp, Key::ArrowDown));
    let span = plot.window.end_hop - plot.window.start_hop;
    let from_s = view.cursor_s.unwrap_or_else(|| {
        let middle_s = f64::midpoint(plot.window.start_hop, plot.window.end_hop) / 100.0;
        model.playhead_hop.map_or(middle_s, hop_seconds)
    });
    let whole_s = [plot.whole.start_hop, plot.whole.end_hop].map(|hop| hop / 100.0);
    let [first_s, last_s] = whole_s;
    let moved_s = (along * span * KEY_SHARE).mul_add(0.01, from_s).clamp(first_s, last_s);
    // To the hop: what is shown is what is measured.
    let to_s = (moved_s * 100.0).round() / 100.0;
    view.cursor_s = Some(to_s);
    if along != 0.0 {
        if ui.input(|input| input.modifiers.shift) {
            let anchor_s = *view.dragged_from_s.get_or_insert(from_s);
            let range = (anchor_s.min(to_s), anchor_s.max(to_s));
            view.range_s = Some(range).filter(|(start_s, end_s)| end_s - start_s >= MIN_SECTION_S);
        } else {
            view.dragged_from_s = None;
        }
    }
    let mut window = plot.window;
    if zoom != 0.0 {
        zoom_about(&mut window, to_s * 100.0, KEY_ZOOM.powf(zoom), plot.whole);
    }
    // The hair stays in view.
    let to_hop = to_s * 100.0;
    let by = (to_hop - window.end_hop).max(0.0) - (window.start_hop - to_hop).max(0.0);
    shift(&mut window, by);
    if pressed(Key::Home) {
        view.window = None;
    } else if window != plot.window {
        view.window = keep_inside(window, plot.whole);
    }
    if along != 0.0 || zoom != 0.0 || pressed(Key::Home) {
        ui.ctx().request_repaint();
    }
}

/// Makes what is in view shorter by `factor`, and leaves `about_hop` where it is.
fn zoom_about(window: &mut TimeWindow, about_hop: f64, factor: f64, whole: TimeWindow) {
    let span = window.end_hop - window.start_hop;
    let most = whole.end_hop - whole.start_hop;
    let wanted = (span / factor).clamp(NARROWEST_HOPS.min(most), most);
    window.start_hop = about_hop - (about_hop - window.start_hop) * (wanted / span);
    window.end_hop = window.start_hop + wanted;
}

/// Wheel zooms about the pointer, sideways wheel and a drag with another than the first button move
/// along, a double click shows the whole song again.
pub(super) fn navigate(ui: &Ui, response: &Response, plot: &Plot, view: &mut ViewState) {
    if response.double_clicked() {
        view.window = None;
        return;
    }
    let mut window = plot.window;
    let span = window.end_hop - window.start_hop;
    let hops_per_pt = span / f64::from(plot.rect.width());
    if let Some(pointer) = response.hover_pos() {
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
        let factor = f64::from(pinch) * (f64::from(scroll.y) / 200.0).exp();
        if (factor - 1.0).abs() > 1e-4 {
            zoom_about(&mut window, plot.hop(pointer.x), factor, plot.whole);
        }
        shift(&mut window, -f64::from(scroll.x) * hops_per_pt);
    }
    let held_at = [PointerButton::Secondary, PointerButton::Middle]
        .into_iter()
        .find_map(|button| pointer::held_at(response, button));
    if let (Some(held_at), Some(latest)) = (held_at, response.interact_pointer_pos())
        && view.window.is_some()
    {
        let before = latest - ui.input(|input| input.pointer.delta());
        shift(&mut window, -f64::from(held_at.x - before.x) * hops_per_pt);
    }
    if window != plot.window {
        view.window = keep_inside(window, plot.whole);
        ui.ctx().request_repaint();
    }
}

fn shift(window: &mut TimeWindow, hops: f64) {
    window.start_hop += hops;
    window.end_hop += hops;
}

/// Moved so that it lies in the whole song; `None` if it shows all of it.
fn keep_inside(mut window: TimeWindow, whole: TimeWindow) -> Option<TimeWindow> {
    if window.end_hop - window.start_hop >= whole.end_hop - whole.start_hop - 1e-6 {
        return None;
    }
    let too_early = (whole.start_hop - window.start_hop).max(0.0);
    shift(&mut window, too_early);
    let too_late = (window.end_hop - whole.end_hop).max(0.0);
    shift(&mut window, -too_late);
    Some(window)
}

/// The values at the pointer, else at the reading hair while the strip has the focus.
pub(super) fn show(
    ui: &Ui,
    look: &Look,
    response: &Response,
    plot: &Plot,
    model: &Model,
    scale: LoudnessScale,
    view: &ViewState,
) {
    let pointer = response.hover_pos();
    let read_s = view.cursor_s.filter(|_| response.has_focus());
    let Some(hop) = pointer.map(|at| plot.hop(at.x)).or(read_s.map(|at_s| at_s * 100.0)) else {
        return;
    };
    if response.dragged() {
        return;
    }
    let x = ui.painter().round_to_pixel_center(plot.x(hop));
    let hair = Stroke::new(1.0, look.palette.over_paper(look.palette.line, 0.6));
    ui.painter().vline(x, plot.rect.y_range(), hair);

    let strip = &model.strip;
    let offset = (hop - f64::from(strip.first_hop)) / f64::from(strip.step_hops.max(1));
    let point = (offset >= 0.0)
        .then(|| strip.points.get(super::super::cast::index(super::super::cast::single(offset))))
        .flatten()
        .copied()
        .flatten();
    let tooltip = match pointer {
        Some(_) => egui::Tooltip::for_enabled(response).at_pointer().gap(14.0),
        None => {
            let at = pos2(x + 8.0, plot.rect.top() + 8.0);
            egui::Tooltip::always_open(ui.ctx().clone(), response.layer_id, response.id, at)
        }
    };
    let section = model
        .song
        .log
        .iter()
        .find(|entry| f64::from(entry.range.start) <= hop && hop < f64::from(entry.range.end));
    tooltip.show(|ui| {
        let heading = place_text(hop, model);
        ui.label(RichText::new(heading).font(super::super::fonts::semibold(look.sizes.body)));
        let Some(point) = point else {
            ui.label(text::NOT_MEASURED_HERE);
            return;
        };
        let peak = label::signed(point.true_peak.map(|peak| peak.0));
        for (name, value) in [
            (text::SHORT_TERM, scale.with_unit(point.short_term)),
            (text::MOMENTARY, scale.with_unit(point.momentary)),
            (text::TRUE_PEAK, format!("{peak} {}", Dbtp::UNIT)),
        ] {
            ui.label(format!("{name} {value}"));
        }
        if point.playthrough < strip.newest_playthrough {
            ui.weak(text::EARLIER_PLAYTHROUGH);
        }
        if let Some(entry) = section {
            let level = scale.with_unit(entry.measured.figures.integrated);
            ui.weak(format!("{}: {} {level}", entry.name, text::INTEGRATED));
        }
    });
}

/// Song time, and the bar if the host tells it.
fn place_text(hop: f64, model: &Model) -> String {
    let time = text::song_time(hop / 100.0, true);
    match model.bars.as_ref().and_then(|bars| bars.bar_at(hop / 100.0)) {
        Some(bar) => format!("{time} · {}", text::bar(bar)),
        None => time,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: TimeWindow = TimeWindow { start_hop: -100.0, end_hop: 9000.0 };

    #[test]
    fn a_window_never_leaves_the_song_and_the_whole_song_is_no_window() {
        let left = TimeWindow { start_hop: -500.0, end_hop: 500.0 };
        let kept = TimeWindow { start_hop: -100.0, end_hop: 900.0 };
        assert_eq!(keep_inside(left, WHOLE), Some(kept));
        let right = TimeWindow { start_hop: 8500.0, end_hop: 9500.0 };
        let kept = TimeWindow { start_hop: 8000.0, end_hop: 9000.0 };
        assert_eq!(keep_inside(right, WHOLE), Some(kept));
        assert_eq!(keep_inside(WHOLE, WHOLE), None);
    }
}
