//! Keys that the editor does not want go to the host: under X11 the window library takes every key
//! that is pressed over the editor, or after a click into it, and passes none on.

use super::wants::Wants;
use raw_window_handle::{HasWindowHandle, RawWindowHandle};
use std::ops::RangeInclusive;
use x11rb::connection::Connection;
use x11rb::errors::ReplyError;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    ChangeWindowAttributesAux, ConnectionExt, EventMask, KeyButMask, KeyPressEvent, MapState,
    Window,
};
use x11rb::rust_connection::RustConnection;

/// X11's names of keys (X Window System Protocol, appendix A).
const TAB: u32 = 0xFF09;
const BACK_TAB: u32 = 0xFE20;
const RETURN: u32 = 0xFF0D;
const ESCAPE: u32 = 0xFF1B;
const KEYPAD_ENTER: u32 = 0xFF8D;
const SPACE: u32 = 0x0020;
const HOME_AND_ARROWS: RangeInclusive<u32> = 0xFF50..=0xFF54;
const SMALL_C: u32 = 0x0063;

/// Listens to the keys of one window, on a connection of its own.
pub struct Keys {
    connection: RustConnection,
    window: Window,
    tab_codes: Vec<u8>,
    move_codes: Vec<u8>,
    /// With Control they copy.
    copy_codes: Vec<u8>,
}

impl Keys {
    /// For this window; `None` if it is none of X11's, or the X server refuses: then keys stay with
    /// the editor.
    pub fn new(window: &impl HasWindowHandle) -> Option<Self> {
        let window = match window.window_handle().ok()?.as_raw() {
            RawWindowHandle::Xlib(handle) => Window::try_from(handle.window).ok()?,
            RawWindowHandle::Xcb(handle) => handle.window.get(),
            _ => return None,
        };
        let (connection, _) = x11rb::connect(None).ok()?;
        Self::listen(connection, window).ok()
    }

    fn listen(connection: RustConnection, window: Window) -> Result<Self, ReplyError> {
        let mask = EventMask::KEY_PRESS | EventMask::KEY_RELEASE;
        let listen = ChangeWindowAttributesAux::new().event_mask(mask);
        connection.change_window_attributes(window, &listen)?.check()?;
        let (first, last) = (connection.setup().min_keycode, connection.setup().max_keycode);
        let count = last.saturating_sub(first).saturating_add(1);
        let mapping = connection.get_keyboard_mapping(first, count)?.reply()?;
        let per_code = usize::from(mapping.keysyms_per_keycode).max(1);
        let codes_of = |wanted: &dyn Fn(u32) -> bool| -> Vec<u8> {
            let meanings = (first..=last).zip(mapping.keysyms.chunks(per_code));
            meanings
                .filter(|(_, meanings)| meanings.iter().any(|&keysym| wanted(keysym)))
                .map(|(code, _)| code)
                .collect()
        };
        let tab_codes = codes_of(&|keysym| [TAB, BACK_TAB].contains(&keysym));
        let moves = [TAB, BACK_TAB, RETURN, ESCAPE, KEYPAD_ENTER, SPACE];
        let move_codes =
            codes_of(&|keysym| moves.contains(&keysym) || HOME_AND_ARROWS.contains(&keysym));
        let copy_codes = codes_of(&|keysym| keysym == SMALL_C);
        Ok(Self { connection, window, tab_codes, move_codes, copy_codes })
    }

    /// Whether the window and all that it lies in are on the screen; true where the X server does
    /// not say.
    pub fn window_is_viewable(&self) -> bool {
        let asked = self.connection.get_window_attributes(self.window);
        asked
            .ok()
            .and_then(|cookie| cookie.reply().ok())
            .is_none_or(|attributes| attributes.map_state == MapState::VIEWABLE)
    }

    /// Passes on what came since the last call, but for what the editor wants.
    pub fn pass_on(&self, wants: Wants) {
        while let Ok(Some(event)) = self.connection.poll_for_event() {
            let (Event::KeyPress(key) | Event::KeyRelease(key)) = event else { continue };
            let stays = match wants {
                Wants::Text => true,
                Wants::Moves => {
                    let copies = key.state.contains(KeyButMask::CONTROL)
                        && self.copy_codes.contains(&key.detail);
                    copies || self.move_codes.contains(&key.detail)
                }
                Wants::Tab => self.tab_codes.contains(&key.detail),
            };
            // What a program sent, not a keyboard, may come from the host itself.
            let is_typed = key.response_type & 0x80 == 0;
            if is_typed && !stays {
                // A host that is gone has no use for the key.
                let _ = self.send_up(key);
            }
        }
    }

    fn send_up(&self, key: KeyPressEvent) -> Result<(), ReplyError> {
        let tree = self.connection.query_tree(self.window)?.reply()?;
        if tree.parent == tree.root {
            return Ok(());
        }
        let mask = EventMask::KEY_PRESS | EventMask::KEY_RELEASE;
        let passed = KeyPressEvent { event: tree.parent, child: self.window, ..key };
        self.connection.send_event(true, tree.parent, mask, passed)?;
        self.connection.flush()?;
        Ok(())
    }
}
