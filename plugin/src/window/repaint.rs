//! Asks for frames of the editor while somebody can see them.

use nice_plug_egui::RepaintNotifier;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Asks for frames of one plugin instance's editor.
#[derive(Clone, Default)]
pub struct Repaint {
    notifier: RepaintNotifier,
    /// The window is there but not to be seen: the host hid it or the window that it lies in.
    is_hidden: Arc<AtomicBool>,
}

impl Repaint {
    /// `[any-thread]` Asks for a frame. One that nobody would see is not drawn; a window that
    /// appears is drawn whether it was asked for or not.
    pub fn request(&self) {
        if !self.is_hidden.load(Ordering::Relaxed) {
            self.notifier.request_repaint();
        }
    }

    /// Tells that the window can be seen, or cannot.
    pub(super) fn set_hidden(&self, is_hidden: bool) {
        self.is_hidden.store(is_hidden, Ordering::Relaxed);
    }

    /// What the window library looks at.
    pub(super) fn notifier(&self) -> RepaintNotifier {
        self.notifier.clone()
    }
}
