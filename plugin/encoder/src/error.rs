//! Why a file is not written.

use std::fmt;

/// Why a file is not written, in one line.
#[derive(Debug)]
pub enum EncodeError {
    /// More than two channels, or none, or others than stated.
    Channels {
        /// How many.
        channels: usize,
    },
    /// What the encoder's library says.
    Library {
        /// Its words.
        what: String,
    },
    /// No room, or no folder for passing files.
    Io(std::io::Error),
}

impl EncodeError {
    pub(crate) fn library(what: &impl ToString) -> Self {
        Self::Library { what: what.to_string() }
    }
}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Channels { channels } => {
                write!(f, "{channels} channels: mono and stereo are encoded")
            }
            Self::Library { what } => write!(f, "the encoder says: {what}"),
            Self::Io(error) => {
                let folder = std::env::temp_dir();
                write!(f, "no passing file in {}: {error}", folder.display())
            }
        }
    }
}

impl std::error::Error for EncodeError {}

impl From<std::io::Error> for EncodeError {
    fn from(error: std::io::Error) -> Self {
        Self::Io(error)
    }
}
