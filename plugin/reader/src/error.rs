//! Why a file is not read.

use crate::MAX_CHANNELS;
use std::fmt;
use std::io;

/// Why a file is not read: the value and the rule, in one line without the file's name.
#[derive(Debug)]
pub enum ReadError {
    /// It could not be opened or read.
    Io(io::Error),
    /// It is a folder.
    Folder,
    /// It is not of a kind that is read.
    NotAudio {
        /// Its first bytes, at most four.
        found: Vec<u8>,
    },
    /// A kind of audio that is not read.
    Unsupported {
        /// What it is, and what is read.
        what: String,
    },
    /// The file breaks its own format.
    Damaged {
        /// What is wrong.
        what: String,
    },
    /// A sample rate of zero.
    ZeroRate,
    /// No channel, or more than are read.
    Channels {
        /// The count that the file states.
        channels: usize,
    },
    /// Not one frame of sound.
    ZeroFrames,
}

impl ReadError {
    pub(crate) fn damaged(what: impl Into<String>) -> Self {
        Self::Damaged { what: what.into() }
    }
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(error) if error.kind() == io::ErrorKind::NotFound => {
                write!(f, "no such file")
            }
            Self::Io(error) => write!(f, "cannot be read: {error}"),
            Self::Folder => write!(f, "a folder, not a file"),
            Self::NotAudio { found } => write!(
                f,
                "not audio (begins with \"{}\"): WAV, RF64, Wave64, AIFF, FLAC, MP3, AAC and ALAC \
                 in MP4, Ogg Vorbis, Ogg Opus and CAF are read",
                found.escape_ascii()
            ),
            Self::Unsupported { what } => write!(f, "{what}"),
            Self::Damaged { what } => write!(f, "damaged: {what}"),
            Self::ZeroRate => write!(f, "sample rate 0 Hz: must be above zero"),
            Self::Channels { channels } => {
                write!(f, "{channels} channels: must be 1 to {MAX_CHANNELS}")
            }
            Self::ZeroFrames => write!(f, "0 frames: there must be at least one to measure"),
        }
    }
}

impl std::error::Error for ReadError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Io(error) => Some(error),
            _ => None,
        }
    }
}

impl From<io::Error> for ReadError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}
