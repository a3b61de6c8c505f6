//! Where something that is dragged is held.

use egui::{Event, PointerButton, Pos2, Response};

/// Where the pointer holds what it drags with `button`, points; in the frame of letting go, where it
/// let go. To egui the drag is over by then, although what the pointer went since the frame before
/// comes with it, which is far when frames are slow, and so may what it went afterwards.
pub(super) fn held_at(response: &Response, button: PointerButton) -> Option<Pos2> {
    if response.dragged_by(button) {
        return response.interact_pointer_pos();
    }
    let let_go_at = |event: &Event| match event {
        Event::PointerButton { pos, button: of, pressed: false, .. } if *of == button => Some(*pos),
        _ => None,
    };
    let stopped = response.drag_stopped_by(button);
    stopped.then(|| response.ctx.input(|input| input.events.iter().find_map(let_go_at))).flatten()
}
