//! Files that are dropped on the window under X11. The window library takes drops and hands none on,
//! so a window of our own takes them in its stead, by what the protocol has for that: the editor's
//! window names it as its proxy (`XdndProxy`), and sources send their messages there.
//!
//! XDND, version 5: <https://www.freedesktop.org/wiki/Specifications/XDND/>.

use nice_plug::nice_error;
use percent_encoding::percent_decode;
use raw_window_handle::{HasWindowHandle, RawWindowHandle};
use std::ffi::OsString;
use std::os::unix::ffi::OsStringExt as _;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;
use x11rb::connection::Connection as _;
use x11rb::errors::{ConnectionError, ReplyError, ReplyOrIdError};
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConnectionExt as _, CreateWindowAux, EventMask, PropMode,
    SelectionNotifyEvent, Window, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

x11rb::atom_manager! {
    Atoms: AtomsCookie {
        XdndAware, XdndProxy, XdndSelection, XdndTypeList, XdndActionCopy,
        XdndEnter, XdndPosition, XdndStatus, XdndLeave, XdndDrop, XdndFinished,
        URI_LIST: b"text/uri-list",
        PLIMSOLL_CLOSE,
    }
}

/// The version of the protocol.
const VERSION: u32 = 5;
/// A longer list of files, in units of 4 bytes, is not read: 1 MB.
const MAX_WORDS: u32 = 1 << 18;

/// Takes what is dropped on one window, on a thread of its own. Dropping it ends the thread.
pub struct Drops {
    inbox: Arc<Inbox>,
    thread: Option<JoinHandle<()>>,
}

/// Our window and the connection that its messages come on.
struct Inbox {
    connection: RustConnection,
    atoms: Atoms,
    window: Window,
}

/// What is being dragged.
struct Drag {
    /// The window that it comes from.
    source: Window,
    /// The window that the source believes to speak to.
    target: Window,
    is_files: bool,
}

impl Drops {
    /// For this window; `None` if it is none of X11's, or the X server refuses. `dropped` is called
    /// with the files of each drop, from another thread.
    pub fn new(
        window: &impl HasWindowHandle,
        dropped: impl Fn(Vec<PathBuf>) + Send + 'static,
    ) -> Option<Self> {
        let window = match window.window_handle().ok()?.as_raw() {
            RawWindowHandle::Xlib(handle) => Window::try_from(handle.window).ok()?,
            RawWindowHandle::Xcb(handle) => handle.window.get(),
            _ => return None,
        };
        let inbox = Arc::new(Inbox::open(window).ok()?);
        let its_inbox = Arc::clone(&inbox);
        let run = move || its_inbox.serve(&dropped);
        match std::thread::Builder::new().name("plimsoll drops".to_owned()).spawn(run) {
            Ok(thread) => Some(Self { inbox, thread: Some(thread) }),
            Err(error) => {
                nice_error!("no thread for files that are dropped ({error})");
                None
            }
        }
    }
}

impl Drop for Drops {
    fn drop(&mut self) {
        let Inbox { window, atoms, .. } = *self.inbox;
        // Where it does not arrive the X server is gone, and the thread with it.
        let _ = self.inbox.send(window, atoms.PLIMSOLL_CLOSE, [0; 5]);
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            nice_error!("the thread for files that are dropped failed");
        }
    }
}

impl Inbox {
    /// Makes a window that is never shown, and makes it the proxy of `target`.
    fn open(target: Window) -> Result<Self, ReplyOrIdError> {
        let (connection, screen) =
            x11rb::connect(None).map_err(|_| ConnectionError::UnknownError)?;
        let atoms = Atoms::new(&connection)?.reply()?;
        let root = connection.setup().roots.get(screen).map_or(0, |screen| screen.root);
        let window = connection.generate_id()?;
        let class = WindowClass::INPUT_ONLY;
        let aux = CreateWindowAux::new();
        connection.create_window(0, window, root, 0, 0, 1, 1, 0, class, 0, &aux)?.check()?;
        let (aware, proxy) = (atoms.XdndAware, atoms.XdndProxy);
        let set = |of, name, kind, value| {
            connection.change_property32(PropMode::REPLACE, of, name, kind, &[value])?.check()
        };
        set(window, aware, AtomEnum::ATOM, VERSION)?;
        // A proxy names itself: so a source sees that it is still there.
        set(window, proxy, AtomEnum::WINDOW, window)?;
        set(target, proxy, AtomEnum::WINDOW, window)?;
        Ok(Self { connection, atoms, window })
    }

    fn serve(&self, dropped: &impl Fn(Vec<PathBuf>)) {
        let mut drag = None;
        while let Ok(event) = self.connection.wait_for_event() {
            let served = match event {
                Event::ClientMessage(message) if message.type_ == self.atoms.PLIMSOLL_CLOSE => {
                    return;
                }
                Event::ClientMessage(message) if message.format == 32 => {
                    self.heed(&message, &mut drag)
                }
                Event::SelectionNotify(answer) => self.take(answer, drag.take(), dropped),
                _ => Ok(()),
            };
            if let Err(ReplyError::ConnectionError(_)) = served {
                return;
            }
        }
    }

    /// Does what a message of the source asks for.
    fn heed(
        &self,
        message: &ClientMessageEvent,
        drag: &mut Option<Drag>,
    ) -> Result<(), ReplyError> {
        let [source, flags, time, types @ ..] = message.data.as_data32();
        let (target, atoms) = (message.window, &self.atoms);
        if message.type_ == atoms.XdndEnter {
            let is_listed = flags & 1 == 1;
            let is_files = if is_listed {
                self.offers_files(source)?
            } else {
                time == atoms.URI_LIST || types.contains(&atoms.URI_LIST)
            };
            *drag = Some(Drag { source, target, is_files });
            return Ok(());
        }
        let Some(present) = drag.as_ref().filter(|drag| drag.source == source) else {
            return Ok(());
        };
        if message.type_ == atoms.XdndPosition {
            let accepts = u32::from(present.is_files);
            let action = if present.is_files { atoms.XdndActionCopy } else { 0 };
            self.send(source, atoms.XdndStatus, [present.target, accepts, 0, 0, action])?;
        } else if message.type_ == atoms.XdndDrop && present.is_files {
            let (selection, kind) = (atoms.XdndSelection, atoms.URI_LIST);
            self.connection.convert_selection(self.window, selection, kind, selection, time)?;
            self.connection.flush()?;
        } else if message.type_ == atoms.XdndDrop {
            self.finish(drag.take(), false)?;
        } else if message.type_ == atoms.XdndLeave {
            *drag = None;
        }
        Ok(())
    }

    /// Whether files are among the more than three forms that the source has its data in.
    fn offers_files(&self, source: Window) -> Result<bool, ReplyError> {
        let (list, kind) = (self.atoms.XdndTypeList, AtomEnum::ATOM);
        let types =
            self.connection.get_property(false, source, list, kind, 0, MAX_WORDS)?.reply()?;
        Ok(types.value32().is_some_and(|mut types| types.any(|kind| kind == self.atoms.URI_LIST)))
    }

    /// Takes the list of files that the source has answered with.
    fn take(
        &self,
        answer: SelectionNotifyEvent,
        drag: Option<Drag>,
        dropped: &impl Fn(Vec<PathBuf>),
    ) -> Result<(), ReplyError> {
        let (name, kind) = (self.atoms.XdndSelection, self.atoms.URI_LIST);
        let paths = if answer.property == name {
            let list = self.connection.get_property(true, self.window, name, kind, 0, MAX_WORDS)?;
            files(&list.reply()?.value)
        } else {
            Vec::new()
        };
        self.finish(drag, !paths.is_empty())?;
        if !paths.is_empty() {
            dropped(paths);
        }
        Ok(())
    }

    fn finish(&self, drag: Option<Drag>, is_taken: bool) -> Result<(), ReplyError> {
        let Some(Drag { source, target, .. }) = drag else { return Ok(()) };
        let action = if is_taken { self.atoms.XdndActionCopy } else { 0 };
        let data = [target, u32::from(is_taken), action, 0, 0];
        Ok(self.send(source, self.atoms.XdndFinished, data)?)
    }

    fn send(&self, to: Window, type_: u32, data: [u32; 5]) -> Result<(), ConnectionError> {
        let message = ClientMessageEvent::new(32, to, type_, data);
        self.connection.send_event(false, to, EventMask::NO_EVENT, message)?;
        self.connection.flush()
    }
}

/// The files of this machine in a list of addresses (RFC 2483 §5).
fn files(list: &[u8]) -> Vec<PathBuf> {
    let lines = list.split(|byte| b"\r\n\0".contains(byte));
    let paths = lines.filter_map(|line| {
        let rest = line.strip_prefix(b"file://")?;
        let path = rest.strip_prefix(b"localhost").unwrap_or(rest);
        path.starts_with(b"/").then(|| OsString::from_vec(percent_decode(path).collect()).into())
    });
    paths.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_this_machine_are_taken_from_a_list_and_nothing_else() {
        let list = b"# a comment\r\nfile:///music/Copper%20Weather.wav\r\n\
            file://localhost/music/%C3%A9t%C3%A9.flac\r\nfile://elsewhere/music/a.wav\r\n\
            https://example.org/b.wav\r\nfile:relative.wav\r\n\0";
        let paths = ["/music/Copper Weather.wav", "/music/\u{e9}t\u{e9}.flac"].map(PathBuf::from);
        assert_eq!(files(list), paths);
        assert!(files(b"").is_empty());
    }
}
