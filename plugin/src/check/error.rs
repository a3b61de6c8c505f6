//! Why a file is not measured.

use super::targets::TargetFileError;
use crate::section::{MarkerError, SectionError};
use crate::units::UnsupportedRate;
use plimsoll_encoder::EncodeError;
use plimsoll_reader::ReadError;
use std::fmt;

/// Why a file is not measured, in one line without the file's name.
#[derive(Debug)]
pub enum CheckError {
    /// It is not read.
    Read(ReadError),
    /// A sample rate that the meters are not built for.
    Rate(UnsupportedRate),
    /// A channel count that is no layout.
    Channels {
        /// How many.
        channels: usize,
    },
    /// A target that is not to be had.
    Target(TargetFileError),
    /// A list of sections that is not to be had.
    Markers(MarkerError),
    /// Sections that break a rule.
    Sections(SectionError),
    /// It is not encoded.
    Encode(EncodeError),
    /// Silent, like the file that it is to be compared with.
    Silent,
    /// Too short to be compared.
    TooShort {
        /// Its length, seconds.
        length_s: f64,
        /// The shortest that is compared, seconds.
        needs_s: f64,
    },
    /// The list of sections or a passing file cannot be opened.
    Io(std::io::Error),
    /// A program error in the measurement: caught, so that the other files are still measured.
    Panic,
}

impl fmt::Display for CheckError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Read(error) => write!(f, "{error}"),
            Self::Rate(error) => write!(f, "{error}"),
            Self::Channels { channels } => write!(
                f,
                "{channels} channels: 1 (mono), 2 (stereo), 6 (5.1) and 8 (7.1) are measured"
            ),
            Self::Target(error) => write!(f, "{error}"),
            Self::Markers(error) => write!(f, "{error}"),
            Self::Sections(error) => write!(f, "{error}"),
            Self::Encode(error) => write!(f, "{error}"),
            Self::Silent => {
                write!(f, "silent, like the other file: there is nothing to compare")
            }
            Self::TooShort { length_s, needs_s } => {
                write!(f, "{length_s:.3} s long: two versions are compared from {needs_s:.0} s on")
            }
            Self::Io(error) => write!(f, "{error}"),
            Self::Panic => write!(f, "an error of this program: please report it with the file"),
        }
    }
}

impl std::error::Error for CheckError {}

impl From<ReadError> for CheckError {
    fn from(error: ReadError) -> Self {
        Self::Read(error)
    }
}

impl From<EncodeError> for CheckError {
    fn from(error: EncodeError) -> Self {
        Self::Encode(error)
    }
}

impl From<UnsupportedRate> for CheckError {
    fn from(error: UnsupportedRate) -> Self {
        Self::Rate(error)
    }
}
