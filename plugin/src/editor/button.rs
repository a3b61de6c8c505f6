//! The editor's button: a word in a fine frame.

use super::Look;
use super::fonts::regular;
use super::label;
use egui::{Align2, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

/// Room between the word and the frame, left and right.
const PADDING_PT: f32 = 8.0;

/// Width of a button with the widest of `words` on it.
pub(super) fn width_pt(ui: &Ui, look: &Look, words: &[&str]) -> f32 {
    let font = regular(look.sizes.body);
    let widest = words.iter().map(|word| label::width(ui.painter(), word, &font));
    (widest.fold(0.0, f32::max) + PADDING_PT * 2.0).ceil()
}

/// Height of a button.
pub(super) fn height_pt(look: &Look) -> f32 {
    (look.sizes.body * 1.7).round()
}

/// A button at `rect`; `spoken` is its name for screen readers.
pub(super) fn at(ui: &mut Ui, look: &Look, rect: Rect, word: &str, spoken: &str) -> Response {
    let response = ui.interact(rect, ui.scope_id().with(("button", spoken)), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, ui.is_enabled(), spoken));
    let palette = &look.palette;
    let (fill, frame) = if response.is_pointer_button_down_on() {
        (0.16, Stroke::new(1.0, palette.ink))
    } else if response.hovered() {
        (0.08, Stroke::new(1.0, palette.ink))
    } else {
        (0.0, Stroke::new(1.0, palette.over_paper(palette.line, 0.6)))
    };
    let frame = if response.has_focus() { Stroke::new(2.0, palette.ink) } else { frame };
    let painter = ui.painter();
    painter.rect(rect, 2.0, palette.over_paper(palette.ink, fill), frame, StrokeKind::Inside);
    let color = if ui.is_enabled() { palette.ink } else { palette.line };
    painter.text(rect.center(), Align2::CENTER_CENTER, word, regular(look.sizes.body), color);
    response
}

/// A button where the layout of `ui` puts it.
pub(super) fn add(ui: &mut Ui, look: &Look, word: &str) -> Response {
    let size = vec2(width_pt(ui, look, &[word]), height_pt(look));
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    at(ui, look, rect, word, word)
}

/// Draws what is ticked or chosen in a menu with the frame that egui's style of menus takes off.
pub(super) fn with_frames<R>(ui: &mut Ui, look: &Look, add: impl FnOnce(&mut Ui) -> R) -> R {
    ui.scope(|ui| {
        let palette = &look.palette;
        let widgets = &mut ui.visuals_mut().widgets;
        widgets.inactive.bg_stroke = Stroke::new(1.0, palette.line);
        widgets.hovered.bg_stroke = Stroke::new(1.0, palette.ink);
        widgets.active.bg_stroke = Stroke::new(1.5, palette.ink);
        add(ui)
    })
    .inner
}
