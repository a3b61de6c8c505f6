//! A screen without a screen: an X server in memory, a parent window as a host gives one, a
//! pointer, and pictures of what is shown. Linux only.

use crate::raster::Picture;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ConnectionExt, CreateWindowAux, EventMask,
    ImageFormat, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, MOTION_NOTIFY_EVENT, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

mod drops;
mod frames;

pub use drops::Dragged;
pub use frames::Frames;

type AnyError = Box<dyn std::error::Error>;

/// An X server in memory; it ends with this value.
pub struct XServer {
    process: Child,
    /// What programs find in `DISPLAY`.
    pub display: String,
}

/// What a screen is like.
#[derive(Debug, Clone, Copy)]
pub struct Like {
    /// Width and height, pixels.
    pub size: [u16; 2],
    /// Whether there is OpenGL.
    pub has_gl: bool,
}

impl Default for Like {
    fn default() -> Self {
        Self { size: [1920, 1200], has_gl: true }
    }
}

impl XServer {
    /// Starts one with such a screen.
    ///
    /// # Errors
    /// Xvfb is not installed or does not come up.
    pub fn start(like: Like) -> Result<Self, AnyError> {
        let [width, height] = like.size;
        let mut process = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &format!("{width}x{height}x24")])
            .args([if like.has_gl { "+extension" } else { "-extension" }, "GLX"])
            .args(["-noreset", "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()?;
        let mut number = String::new();
        let output = process.stdout.take().ok_or("Xvfb has no output")?;
        BufReader::new(output).read_line(&mut number)?;
        let number = number.trim();
        if number.is_empty() {
            let status = process.wait()?;
            return Err(format!("Xvfb did not start: {status}").into());
        }
        let display = format!(":{number}");
        Ok(Self { process, display })
    }
}

impl Drop for XServer {
    fn drop(&mut self) {
        // Nothing is left to be done where it has ended before.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// X11's names of keys that are no characters (X Window System Protocol, appendix A).
pub mod keysym {
    /// The key that ends a line.
    pub const RETURN: u32 = 0xFF0D;
}

/// A window for an editor to live in, as a host makes it.
pub struct ParentWindow {
    connection: RustConnection,
    root: u32,
    /// Its left top corner on the screen.
    at: [i16; 2],
    /// The window's X11 number.
    pub id: u32,
}

impl ParentWindow {
    /// Opens a window of this size, in pixels, on the screen that `DISPLAY` names.
    ///
    /// # Errors
    /// No X server, or it refuses.
    pub fn open(width: u16, height: u16) -> Result<Self, AnyError> {
        Self::open_at([0, 0], width, height)
    }

    /// The same with its left top corner at a place.
    ///
    /// # Errors
    /// See [`Self::open`].
    pub fn open_at(at: [i16; 2], width: u16, height: u16) -> Result<Self, AnyError> {
        let (connection, screen) = x11rb::connect(None)?;
        let root = connection.setup().roots.get(screen).ok_or("no screen")?.root;
        let id = connection.generate_id()?;
        let class = WindowClass::INPUT_OUTPUT;
        let aux = CreateWindowAux::new()
            .background_pixel(0x00FF_00FF)
            .event_mask(EventMask::KEY_PRESS | EventMask::KEY_RELEASE);
        let [x, y] = at;
        connection.create_window(0, id, root, x, y, width, height, 0, class, 0, &aux)?;
        connection.map_window(id)?;
        connection.flush()?;
        Ok(Self { connection, root, at, id })
    }

    /// Takes the window off the screen, as a host does that is minimised: nothing is said to the
    /// editor in it.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn hide(&self) -> Result<(), AnyError> {
        Ok(self.connection.unmap_window(self.id)?.check()?)
    }

    /// Brings it back.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn show(&self) -> Result<(), AnyError> {
        Ok(self.connection.map_window(self.id)?.check()?)
    }

    /// Moves the pointer over `x`, `y` in pixels of the window and presses the first button.
    /// Slowly, as a hand does: each event gets a frame.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn click(&self, x: i16, y: i16) -> Result<(), AnyError> {
        self.act(&[
            (MOTION_NOTIFY_EVENT, 0, x - 1, y),
            (MOTION_NOTIFY_EVENT, 0, x, y),
            (BUTTON_PRESS_EVENT, 1, x, y),
            (BUTTON_RELEASE_EVENT, 1, x, y),
        ])
    }

    /// Presses the first button at one place, in pixels of the window, and lets it go at another.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn drag(&self, from: (i16, i16), to: (i16, i16)) -> Result<(), AnyError> {
        const STEPS: i16 = 6;
        let between = |step: i16, from: i16, to: i16| from + (to - from) / STEPS * step;
        let mut events = vec![
            (MOTION_NOTIFY_EVENT, 0, from.0 - 1, from.1),
            (MOTION_NOTIFY_EVENT, 0, from.0, from.1),
            (BUTTON_PRESS_EVENT, 1, from.0, from.1),
        ];
        events.extend((1..STEPS).map(|step| {
            (MOTION_NOTIFY_EVENT, 0, between(step, from.0, to.0), between(step, from.1, to.1))
        }));
        events.push((MOTION_NOTIFY_EVENT, 0, to.0, to.1));
        events.push((BUTTON_RELEASE_EVENT, 1, to.0, to.1));
        self.act(&events)
    }

    /// Moves the pointer over `x`, `y` in pixels of the window.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn point(&self, x: i16, y: i16) -> Result<(), AnyError> {
        self.act(&[(MOTION_NOTIFY_EVENT, 0, x - 1, y), (MOTION_NOTIFY_EVENT, 0, x, y)])
    }

    /// Presses and lets go of the key of each character, or of the keys of these names: see
    /// [`keysym`].
    ///
    /// # Errors
    /// The X server is gone or has no such key.
    pub fn keys(&self, keysyms: impl IntoIterator<Item = u32>) -> Result<(), AnyError> {
        let setup = self.connection.setup();
        let (first, count) = (setup.min_keycode, setup.max_keycode - setup.min_keycode + 1);
        let mapping = self.connection.get_keyboard_mapping(first, count)?.reply()?;
        for keysym in keysyms {
            let mut keys = mapping.keysyms.chunks(usize::from(mapping.keysyms_per_keycode));
            let key = keys.position(|key| key.first() == Some(&keysym));
            let code = first + u8::try_from(key.ok_or("no such key")?)?;
            self.act(&[(KEY_PRESS_EVENT, code, 0, 0), (KEY_RELEASE_EVENT, code, 0, 0)])?;
        }
        Ok(())
    }

    /// Drags something over the editor that lives here, as a file manager does; gives whether it was
    /// taken. `paths` are those of files.
    ///
    /// # Errors
    /// The X server is gone, there is no editor, or it does not answer.
    pub fn drag_onto(&self, what: Dragged, paths: &[&Path]) -> Result<bool, AnyError> {
        drops::drag(self.editor()?, what, paths)
    }

    /// How many key presses came to this window since the last call.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn keys_that_came(&self) -> Result<usize, AnyError> {
        // What was sent before this is answered has arrived.
        self.connection.get_input_focus()?.reply()?;
        let mut count = 0;
        while let Some(event) = self.connection.poll_for_event()? {
            count += usize::from(matches!(event, Event::KeyPress(_)));
        }
        Ok(count)
    }

    /// Watches the frames that are drawn in the editor that lives here.
    ///
    /// # Errors
    /// The X server is gone, or there is no editor.
    pub fn frames(&self) -> Result<Frames, AnyError> {
        Frames::of(self.editor()?)
    }

    fn editor(&self) -> Result<u32, AnyError> {
        let children = self.connection.query_tree(self.id)?.reply()?.children;
        Ok(*children.first().ok_or("no editor")?)
    }

    /// Each event gets a frame of the editor that lives here, or as much time as a hand takes: a
    /// drag within one frame is none.
    fn act(&self, events: &[(u8, u8, i16, i16)]) -> Result<(), AnyError> {
        let [left, top] = self.at;
        let frames = self.frames()?;
        for &(kind, detail, x, y) in events {
            let (x, y) = (left + x, top + y);
            frames.drawn()?;
            self.connection.xtest_fake_input(kind, detail, 0, self.root, x, y, 0)?;
            self.connection.flush()?;
            std::thread::sleep(Duration::from_millis(40));
            let start = Instant::now();
            while frames.drawn()? == 0 && start.elapsed() < Duration::from_secs(1) {
                std::thread::sleep(Duration::from_millis(5));
            }
        }
        Ok(())
    }

    /// What the window shows, its first `width`×`height` pixels.
    ///
    /// # Errors
    /// The X server is gone, or the part lies outside of the screen.
    pub fn picture(&self, width: u16, height: u16) -> Result<Picture, AnyError> {
        let [x, y] = self.at;
        shown(&self.connection, self.root, (x, y, width, height))
    }
}

/// What the screen `display` shows where window number `window` lies.
///
/// # Errors
/// No X server, or the window is gone or lies partly outside of the screen.
pub fn picture(display: &str, window: u32) -> Result<Picture, AnyError> {
    let (connection, screen) = x11rb::connect(Some(display))?;
    let root = connection.setup().roots.get(screen).ok_or("no screen")?.root;
    let size = connection.get_geometry(window)?.reply()?;
    let place = connection.translate_coordinates(window, root, 0, 0)?.reply()?;
    shown(&connection, root, (place.dst_x, place.dst_y, size.width, size.height))
}

fn shown(
    connection: &RustConnection,
    root: u32,
    (x, y, width, height): (i16, i16, u16, u16),
) -> Result<Picture, AnyError> {
    let image =
        connection.get_image(ImageFormat::Z_PIXMAP, root, x, y, width, height, !0)?.reply()?;
    // 24 bits deep: blue, green, red and a byte of nothing.
    let rgba = image
        .data
        .chunks_exact(4)
        .flat_map(|pixel| match *pixel {
            [blue, green, red, _] => [red, green, blue, 255],
            _ => [0; 4],
        })
        .collect();
    Ok(Picture::from_rgba(usize::from(width), usize::from(height), rgba))
}
