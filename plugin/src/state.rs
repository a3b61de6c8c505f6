//! What the plugin keeps in the host's project: versioned, decoded into a temporary first, and
//! never trusted.
//!
//! Fields of the framework's state: `settings` (what the user chose), `song` (its sections and the
//! logs of its playthroughs), `record` (every hop of the song), `references` (what reference songs measured),
//! `reference_input` (every hop that came over that port) and `measurement` (the figures of the last
//! measurement, so that a reopened project can show them as from then).

mod measurement;
mod planes;
mod recording;
mod references;
mod settings;
mod song;

pub use measurement::{MEASUREMENT_VERSION, Measurement, SavedFigures};
pub use recording::{RECORD_VERSION, Recording};
pub use references::{REFERENCES_VERSION, load_references, save_references};
pub use settings::{SETTINGS_VERSION, Settings};
pub use song::{MAX_SONG_NAME_CHARS, SONG_VERSION, Song, plain_name};

use serde::Deserialize;
use serde_json::Value;
use std::fmt;

/// Why a saved field was not taken over. The defaults, or what was there before, stay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StateError {
    /// Saved by a version of the plugin that is newer than this one.
    TooNew {
        /// Which field.
        field: &'static str,
        /// Its version.
        version: u32,
        /// The newest version that is read here.
        newest: u32,
    },
    /// Not what the field's version says it is.
    Malformed {
        /// Which field.
        field: &'static str,
        /// What the decoder says.
        why: String,
    },
}

impl fmt::Display for StateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooNew { field, version, newest } => write!(
                f,
                "saved {field} has version {version}, this plugin reads up to {newest}: \
                 it is left aside"
            ),
            Self::Malformed { field, why } => {
                write!(f, "saved {field} cannot be read ({why}): it is left aside")
            }
        }
    }
}

impl std::error::Error for StateError {}

#[derive(Deserialize)]
struct AnyVersion {
    version: u32,
}

/// Refuses a saved field without a version, or with one that is newer than `newest`.
fn check_version(saved: &Value, field: &'static str, newest: u32) -> Result<(), StateError> {
    let found = AnyVersion::deserialize(saved);
    let version =
        found.map_err(|error| StateError::Malformed { field, why: error.to_string() })?.version;
    if version > newest {
        return Err(StateError::TooNew { field, version, newest });
    }
    Ok(())
}
