//! Where something that is dragged is held.

use egui::{PointerButton, Pos2, Response};

/// Where the pointer holds what it drags with `button`, points; in the frame of letting go, where it
/// let go. To egui the drag is over by then, although what the pointer went since the frame before
/// comes with it, which is far when frames are slow.
pub(super) fn held_at(response: &Response, button: PointerButton) -> Option<Pos2> {
    let is_held = response.dragged_by(button) || response.drag_stopped_by(button);
    response.interact_pointer_pos().filter(|_| is_held)
}
