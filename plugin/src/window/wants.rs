//! What the editor does with keys.

/// What the editor does with keys at the moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wants {
    /// A text field has the focus: all of them.
    Text,
    /// Another widget was reached by Tab, or a menu or dialog is open: those that move the focus,
    /// press a button, copy, and close what is open.
    Moves,
    /// Nothing has the focus: Tab, which brings it.
    Tab,
}

impl Wants {
    /// By what has the focus in `ctx`.
    pub fn of(ctx: &egui::Context) -> Self {
        let is_open = egui::Popup::is_any_open(ctx)
            || ctx.memory(|memory| memory.top_modal_layer().is_some());
        if ctx.text_edit_focused() {
            Self::Text
        } else if is_open || ctx.egui_wants_keyboard_input() {
            Self::Moves
        } else {
            Self::Tab
        }
    }
}
