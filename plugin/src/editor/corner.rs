//! The corner of the window: a drag resizes it, a click offers to draw everything larger.

use super::view::{MIN_SIZE, ViewState};
use super::{Look, button, pointer, text};
use egui::{
    CursorIcon, PointerButton, Popup, Rect, Role, Sense, Stroke, Ui, Vec2, WidgetInfo, vec2,
};

/// Side of the square that is taken hold of, points.
const SIDE_PT: f32 = 16.0;

/// Magnifications to choose from.
const ZOOMS: [f32; 5] = [1.0, 1.25, 1.5, 2.0, 3.0];

/// Draws it, where the window can be resized.
pub(super) fn show(ui: &mut Ui, look: &Look, view: &mut ViewState) {
    if !view.resizable {
        return;
    }
    let window = ui.max_rect();
    let place = Rect::from_min_max(window.max - Vec2::splat(SIDE_PT), window.max);
    let response = ui.interact(place, ui.scope_id().with("corner"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, text::CORNER));
    let is_held = response.hovered() || response.dragged() || response.has_focus();
    let color = if is_held { look.palette.ink } else { look.palette.line };
    let foot = window.max - vec2(3.0, 3.0);
    for reach in [4.0, 8.0, 12.0] {
        let line = [foot - vec2(reach, 0.0), foot - vec2(0.0, reach)];
        ui.painter().line_segment(line, Stroke::new(1.0, color));
    }
    if response.has_focus() {
        let frame = Stroke::new(2.0, look.palette.ink);
        ui.painter().rect_stroke(place, 2.0, frame, egui::StrokeKind::Inside);
    }
    drag(ui, &response, window.size());
    let response =
        response.on_hover_cursor(CursorIcon::ResizeNwSe).on_hover_text(text::CORNER_HINT);
    Popup::menu(&response).show(|ui| {
        ui.set_width(look.sizes.body * 12.0);
        ui.weak(text::ZOOM_TITLE);
        for zoom in ZOOMS {
            // Chosen from this list, hence equal to the bit.
            let is_chosen = view.prefs.zoom.to_bits() == zoom.to_bits();
            let choice = |ui: &mut Ui| ui.radio(is_chosen, text::zoom(zoom));
            if button::with_frames(ui, look, choice).clicked() {
                view.prefs.zoom = zoom;
                ui.close();
            }
        }
    });
}

/// Asks for the size that the pointer draws; the host decides.
fn drag(ui: &Ui, response: &egui::Response, size: Vec2) {
    let start = response.id.with("size less place at the start");
    if response.drag_started()
        && let Some(origin) = ui.input(|input| input.pointer.press_origin())
    {
        ui.data_mut(|data| data.insert_temp(start, size - origin.to_vec2()));
    }
    let Some(past_pointer) = ui.data(|data| data.get_temp::<Vec2>(start)) else { return };
    let Some(pointer) = pointer::held_at(response, PointerButton::Primary) else { return };
    let wanted = (pointer.to_vec2() + past_pointer).round().max(MIN_SIZE.into());
    if (wanted - size).abs().max_elem() >= 1.0 {
        ui.send_viewport_cmd(egui::ViewportCommand::InnerSize(wanted));
    }
}
