//! A screen without a screen: an X server in memory, a parent window as a host gives one, a
//! pointer, and pictures of what is shown. Linux only.

use crate::raster::Picture;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ConnectionExt, CreateWindowAux, ImageFormat,
    MOTION_NOTIFY_EVENT, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

type AnyError = Box<dyn std::error::Error>;

/// An X server in memory; it ends with this value.
pub struct XServer {
    process: Child,
    /// What programs find in `DISPLAY`.
    pub display: String,
}

impl XServer {
    /// Starts one with a screen of 1920×1200 and OpenGL.
    ///
    /// # Errors
    /// Xvfb is not installed or does not come up.
    pub fn start() -> Result<Self, AnyError> {
        let mut process = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", "1920x1200x24"])
            .args(["+extension", "GLX", "-noreset", "-nolisten", "tcp"])
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

/// A window for an editor to live in, as a host makes it.
pub struct ParentWindow {
    connection: RustConnection,
    root: u32,
    /// The window's X11 number.
    pub id: u32,
}

impl ParentWindow {
    /// Opens a window of this size, in pixels, on the screen that `DISPLAY` names.
    ///
    /// # Errors
    /// No X server, or it refuses.
    pub fn open(width: u16, height: u16) -> Result<Self, AnyError> {
        let (connection, screen) = x11rb::connect(None)?;
        let root = connection.setup().roots.get(screen).ok_or("no screen")?.root;
        let id = connection.generate_id()?;
        let class = WindowClass::INPUT_OUTPUT;
        let aux = CreateWindowAux::new().background_pixel(0x00FF_00FF);
        connection.create_window(0, id, root, 0, 0, width, height, 0, class, 0, &aux)?;
        connection.map_window(id)?;
        connection.flush()?;
        Ok(Self { connection, root, id })
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

    fn act(&self, events: &[(u8, u8, i16, i16)]) -> Result<(), AnyError> {
        for &(kind, button, x, y) in events {
            self.connection.xtest_fake_input(kind, button, 0, self.root, x, y, 0)?;
            self.connection.flush()?;
            std::thread::sleep(Duration::from_millis(80));
        }
        Ok(())
    }

    /// What the window shows, its first `width`×`height` pixels.
    ///
    /// # Errors
    /// The X server is gone, or the part lies outside of the screen.
    pub fn picture(&self, width: u16, height: u16) -> Result<Picture, AnyError> {
        shown(&self.connection, self.root, (0, 0, width, height))
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
