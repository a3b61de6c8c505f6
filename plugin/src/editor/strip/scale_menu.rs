//! The menu of scales and readings (EBU Tech 3341 §2.7).

use super::super::fonts::{regular, semibold};
use super::super::header::down_triangle;
use super::super::label::LoudnessScale;
use super::super::view::{Reading, ScaleChoice, ViewState};
use super::super::{Look, text};
use super::geometry::Plot;
use egui::{Align2, Popup, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

/// The unit at the foot of the loudness axis: a button that opens scales and readings.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    view: &mut ViewState,
) {
    let font = regular(look.sizes.small);
    let arrow = look.sizes.small * 0.6;
    let rect = Rect::from_min_max(
        pos2(plot.outer.left(), plot.rect.bottom() + 3.0),
        pos2(plot.rect.left() - 3.0, plot.rect.bottom() + 3.0 + look.sizes.small * 1.4),
    );
    let response = ui.interact(rect, ui.scope_id().with("scale"), Sense::click());
    response.widget_info(|| {
        let name = format!("{}: {}", text::SCALE_HEADING, scale.unit());
        WidgetInfo::labeled(Role::Button, true, name)
    });
    let active = response.hovered() || response.has_focus();
    let color = if active { look.palette.ink } else { look.palette.line };
    if response.has_focus() {
        let stroke = Stroke::new(1.5, look.palette.ink);
        ui.painter().rect_stroke(rect, 2.0, stroke, StrokeKind::Outside);
    }
    let tip = pos2(rect.right() - 4.0 - arrow / 2.0, rect.center().y + arrow * 0.35);
    ui.painter().add(down_triangle(tip, arrow, color));
    let at = pos2(rect.right() - 4.0 - arrow - 4.0, rect.center().y);
    ui.painter().text(at, Align2::RIGHT_CENTER, scale.unit(), font, color);
    let response = response.on_hover_text(text::SCALE_HINT);

    Popup::menu(&response).show(|ui| {
        ui.set_width(look.sizes.body * 23.0);
        ui.spacing_mut().item_spacing.y = 2.0;
        let heading = |ui: &mut Ui, text: &str| {
            ui.label(egui::RichText::new(text).font(semibold(look.sizes.body)));
        };
        heading(ui, text::SCALE_HEADING);
        for (choice, name) in [
            (ScaleChoice::Auto, text::SCALE_AUTO),
            (ScaleChoice::EbuPlus9, text::SCALE_PLUS_9),
            (ScaleChoice::EbuPlus18, text::SCALE_PLUS_18),
        ] {
            if choice_row(ui, look, view.prefs.scale == choice, name) {
                view.prefs.scale = choice;
            }
        }
        ui.add_space(look.sizes.body * 0.4);
        heading(ui, text::READING_HEADING);
        for (reading, name) in [
            (Reading::Absolute, text::READING_ABSOLUTE),
            (Reading::RelativeToEbu, text::READING_EBU),
            (Reading::RelativeToTarget, text::READING_TARGET),
        ] {
            if choice_row(ui, look, view.prefs.reading == reading, name) {
                view.prefs.reading = reading;
            }
        }
    });
}

/// One choice; the chosen one has a bar before it. Whether it was clicked.
fn choice_row(ui: &mut Ui, look: &Look, is_chosen: bool, name: &str) -> bool {
    let palette = &look.palette;
    let size = vec2(ui.available_width(), look.sizes.body * 1.8);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, is_chosen, name));
    let painter = ui.painter();
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 2.0, palette.over_paper(palette.ink, 0.08));
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 2.0, Stroke::new(1.5, palette.ink), StrokeKind::Inside);
    }
    if is_chosen {
        let bar = Rect::from_min_size(rect.min + vec2(2.0, 3.0), vec2(3.0, rect.height() - 6.0));
        painter.rect_filled(bar, 0.0, palette.ink);
    }
    let at = pos2(rect.left() + look.sizes.body, rect.center().y);
    painter.text(at, Align2::LEFT_CENTER, name, regular(look.sizes.body), palette.ink);
    response.clicked()
}
