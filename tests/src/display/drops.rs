//! A file manager that drags files onto an editor: the source's side of XDND, version 5.

use super::AnyError;
use std::path::Path;
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConnectionExt as _, CreateWindowAux, EventMask, PropMode,
    SELECTION_NOTIFY_EVENT, SelectionNotifyEvent, Window, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

x11rb::atom_manager! {
    Atoms: AtomsCookie {
        XdndAware, XdndProxy, XdndSelection, XdndActionCopy,
        XdndEnter, XdndPosition, XdndStatus, XdndLeave, XdndDrop, XdndFinished,
        URI_LIST: b"text/uri-list",
        TEXT: b"text/plain",
    }
}

/// What is dragged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dragged {
    /// Files, let go over the window.
    Files,
    /// Files that leave the window again.
    FilesAndAway,
    /// Something else, let go over the window.
    Text,
}

/// Drags something over window number `target`; gives whether it was taken.
pub(super) fn drag(target: Window, what: Dragged, paths: &[&Path]) -> Result<bool, AnyError> {
    let (connection, screen) = x11rb::connect(None)?;
    let root = connection.setup().roots.get(screen).ok_or("no screen")?.root;
    let atoms = Atoms::new(&connection)?.reply()?;
    let source = connection.generate_id()?;
    let (class, aux) = (WindowClass::INPUT_ONLY, CreateWindowAux::new());
    connection.create_window(0, source, root, 0, 0, 1, 1, 0, class, 0, &aux)?.check()?;
    connection.set_selection_owner(source, atoms.XdndSelection, x11rb::CURRENT_TIME)?.check()?;

    let number = |window, name, kind| -> Result<Option<u32>, AnyError> {
        let property = connection.get_property(false, window, name, kind, 0, 1)?.reply()?;
        Ok(property.value32().and_then(|mut values| values.next()))
    };
    // Messages go to the proxy of a window that has one, if it names itself as that.
    let proxy = number(target, atoms.XdndProxy, AtomEnum::WINDOW)?;
    let proxy = match proxy {
        Some(proxy) => {
            let own = number(proxy, atoms.XdndProxy, AtomEnum::WINDOW)?;
            (own == Some(proxy)).then_some(proxy)
        }
        None => None,
    };
    let receiver = proxy.unwrap_or(target);
    let version = number(receiver, atoms.XdndAware, AtomEnum::ATOM)?.ok_or("takes no drops")?;
    let send = |kind, data: [u32; 5]| -> Result<(), AnyError> {
        let message = ClientMessageEvent::new(32, target, kind, data);
        connection.send_event(false, receiver, EventMask::NO_EVENT, message)?;
        Ok(connection.flush()?)
    };
    let form = if what == Dragged::Text { atoms.TEXT } else { atoms.URI_LIST };
    send(atoms.XdndEnter, [source, version.min(5) << 24, form, 0, 0])?;
    let time = x11rb::CURRENT_TIME;
    send(atoms.XdndPosition, [source, 0, (100 << 16) | 100, time, atoms.XdndActionCopy])?;
    let status = answer(&connection, atoms.XdndStatus, target, &[], &atoms)?;
    if what == Dragged::FilesAndAway {
        send(atoms.XdndLeave, [source, 0, 0, 0, 0])?;
        return Ok(false);
    }
    let accepts = status & 1 == 1;
    assert_eq!(accepts, what != Dragged::Text);
    send(atoms.XdndDrop, [source, 0, time, 0, 0])?;
    let list: String = paths.iter().map(|path| address(path) + "\r\n").collect();
    Ok(answer(&connection, atoms.XdndFinished, target, list.as_bytes(), &atoms)? & 1 == 1)
}

/// Waits for a message and gives its second word; meanwhile hands out what is dragged.
fn answer(
    connection: &RustConnection,
    kind: u32,
    target: Window,
    list: &[u8],
    atoms: &Atoms,
) -> Result<u32, AnyError> {
    let start = Instant::now();
    while start.elapsed() < Duration::from_secs(10) {
        match connection.poll_for_event()? {
            Some(Event::ClientMessage(message)) if message.type_ == kind => {
                let [about, word, ..] = message.data.as_data32();
                assert_eq!(about, target, "a source knows the window and not its proxy");
                return Ok(word);
            }
            Some(Event::SelectionRequest(asked)) => {
                let (to, property) = (asked.requestor, asked.property);
                connection.change_property8(
                    PropMode::REPLACE,
                    to,
                    property,
                    atoms.URI_LIST,
                    list,
                )?;
                let notice = SelectionNotifyEvent {
                    response_type: SELECTION_NOTIFY_EVENT,
                    sequence: 0,
                    time: asked.time,
                    requestor: to,
                    selection: asked.selection,
                    target: asked.target,
                    property,
                };
                connection.send_event(false, to, EventMask::NO_EVENT, notice)?;
                connection.flush()?;
            }
            Some(_) => {}
            None => std::thread::sleep(Duration::from_millis(5)),
        }
    }
    Err("no answer".into())
}

/// The address of a file, as file managers write it.
fn address(path: &Path) -> String {
    let bytes = path.as_os_str().as_encoded_bytes().iter();
    let written = bytes.map(|&byte| match byte {
        b'/' | b'.' | b'-' | b'_' | b'0'..=b'9' | b'a'..=b'z' | b'A'..=b'Z' => {
            char::from(byte).to_string()
        }
        _ => format!("%{byte:02X}"),
    });
    format!("file://{}", written.collect::<String>())
}
