//! Counts the frames that a window draws, from outside: the X server reports each time that its
//! contents change (extension DAMAGE).

use super::AnyError;
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::damage::{ConnectionExt as _, ReportLevel};
use x11rb::protocol::xproto::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

/// The frames of one window.
pub struct Frames {
    connection: RustConnection,
}

impl Frames {
    /// Counts from now on what window number `window` draws.
    ///
    /// # Errors
    /// No X server, or it has no such extension.
    pub fn of(window: u32) -> Result<Self, AnyError> {
        let (connection, _) = x11rb::connect(None)?;
        connection.damage_query_version(1, 1)?.reply()?;
        let damage = connection.generate_id()?;
        connection.damage_create(damage, window, ReportLevel::RAW_RECTANGLES)?.check()?;
        Ok(Self { connection })
    }

    /// How many were drawn since the last call.
    ///
    /// # Errors
    /// The X server is gone.
    pub fn drawn(&self) -> Result<usize, AnyError> {
        // What happened before this is answered has been reported.
        self.connection.get_input_focus()?.reply()?;
        let mut count = 0;
        while let Some(event) = self.connection.poll_for_event()? {
            count += usize::from(matches!(event, Event::DamageNotify(_)));
        }
        Ok(count)
    }
}
