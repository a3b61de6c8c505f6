//! What the pointer does on the strip: reading off a place, zoom and pan.

use super::super::label::{self, LoudnessScale};
use super::super::model::Model;
use super::super::view::{TimeWindow, ViewState};
use super::super::{Look, text};
use super::geometry::Plot;
use crate::units::Dbtp;
use egui::{Response, RichText, Stroke, Ui};

/// Shortest window that can be zoomed into, hops (2 s).
const NARROWEST_HOPS: f64 = 200.0;

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
            let about = plot.hop(pointer.x);
            let whole = plot.whole.end_hop - plot.whole.start_hop;
            let wanted = (span / factor).clamp(NARROWEST_HOPS.min(whole), whole);
            let ratio = wanted / span;
            window.start_hop = about - (about - window.start_hop) * ratio;
            window.end_hop = window.start_hop + wanted;
        }
        shift(&mut window, -f64::from(scroll.x) * hops_per_pt);
    }
    let pans = response.dragged_by(egui::PointerButton::Secondary)
        || response.dragged_by(egui::PointerButton::Middle);
    if pans && view.window.is_some() {
        shift(&mut window, -f64::from(response.drag_delta().x) * hops_per_pt);
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

/// The values at the pointer.
pub(super) fn show(
    ui: &Ui,
    look: &Look,
    response: &Response,
    plot: &Plot,
    model: &Model,
    scale: LoudnessScale,
) {
    let Some(pointer) = response.hover_pos() else { return };
    if response.dragged() {
        return;
    }
    let hop = plot.hop(pointer.x);
    let x = ui.painter().round_to_pixel_center(pointer.x);
    let hair = Stroke::new(1.0, look.palette.over_paper(look.palette.line, 0.6));
    ui.painter().vline(x, plot.rect.y_range(), hair);

    let strip = &model.strip;
    let offset = (hop - f64::from(strip.first_hop)) / f64::from(strip.step_hops.max(1));
    let point = (offset >= 0.0)
        .then(|| strip.points.get(super::super::cast::index(super::super::cast::single(offset))))
        .flatten()
        .copied()
        .flatten();
    egui::Tooltip::for_enabled(response).at_pointer().gap(14.0).show(|ui| {
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
