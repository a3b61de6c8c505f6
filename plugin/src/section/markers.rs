//! Markers out of files, and sections out of markers.

mod aiff;
mod file;
mod text;
mod wav;

pub use aiff::read_aiff_markers;
pub use text::{parse_marker_list, read_marker_list};
pub use wav::read_wav_markers;

use super::{
    END_S, FIRST_S, MAX_NAME_CHARS, MAX_SECTIONS, MIN_SECTION_S, NewSection, Place, SAME_TIME_S,
};
use std::fmt;
use std::io::{Read, Seek};

/// Most markers that are read from one file. The project's own choice, no source.
pub const MAX_MARKERS: usize = 10_000;

/// A named place in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Marker {
    /// Time from the start of the file, or as the list says, seconds.
    pub at_s: f64,
    /// How long the marked range is, seconds; `None` for a place only.
    pub length_s: Option<f64>,
    /// Its name: plain text, at most [`MAX_NAME_CHARS`] characters; empty if it has none.
    pub name: String,
}

/// Why no markers were read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MarkerError {
    /// The file could not be read.
    Io {
        /// What the system says.
        message: String,
    },
    /// No RIFF, RF64 or BW64 file of the form WAVE.
    NotWave,
    /// No FORM file of the type AIFF or AIFC.
    NotAiff,
    /// The file has cue points, but no format to tell their time from.
    NoFormat,
    /// The format gives a rate of 0 Hz.
    ZeroRate,
    /// More than [`MAX_MARKERS`].
    TooMany,
    /// A list longer than `max_bytes`.
    TooLong {
        /// Longest list allowed, bytes.
        max_bytes: u64,
    },
    /// A list that is not UTF-8.
    NotUtf8 {
        /// The line, from 1.
        line: usize,
    },
    /// A line of a list that does not begin with a time.
    BadTime {
        /// The line, from 1.
        line: usize,
        /// What stands in place of the time, cut short.
        found: String,
    },
    /// Minutes or seconds of 60 and more after a colon.
    SixtyOrMore {
        /// The line, from 1.
        line: usize,
        /// The value, as it stands there.
        found: String,
    },
    /// A time outside of the record.
    OutOfRange {
        /// The line, from 1.
        line: usize,
        /// The time, as it stands there.
        found: String,
    },
}

impl fmt::Display for MarkerError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io { message } => write!(f, "the file cannot be read: {message}"),
            Self::NotWave => {
                write!(f, "no WAV file: it must begin with RIFF, RF64 or BW64 and WAVE")
            }
            Self::NotAiff => write!(f, "no AIFF file: it must begin with FORM and AIFF or AIFC"),
            Self::NoFormat => {
                write!(f, "no sample rate: a 'fmt ' (WAV) or 'COMM' (AIFF) chunk must tell it")
            }
            Self::ZeroRate => write!(f, "sample rate 0 Hz: must be above zero"),
            Self::TooMany => write!(f, "too many markers: at most {MAX_MARKERS} are read"),
            Self::TooLong { max_bytes } => {
                write!(f, "list too long: at most {max_bytes} bytes are read")
            }
            Self::NotUtf8 { line } => write!(f, "line {line}: must be UTF-8 text"),
            Self::BadTime { line, found } => write!(
                f,
                "line {line}: \"{found}\" is no time: must begin with seconds, m:ss or h:mm:ss"
            ),
            Self::SixtyOrMore { line, found } => write!(
                f,
                "line {line}: \"{found}\" after a colon: minutes and seconds must be below 60"
            ),
            Self::OutOfRange { line, found } => {
                write!(f, "line {line}: time {found}: must lie from {FIRST_S} to {END_S} s")
            }
        }
    }
}

impl std::error::Error for MarkerError {}

impl From<std::io::Error> for MarkerError {
    fn from(error: std::io::Error) -> Self {
        Self::Io { message: error.to_string() }
    }
}

/// Why a marker did not become a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyLeftOut {
    /// Its time is not in the range of the record.
    OutOfRange,
    /// Less than [`MIN_SECTION_S`] after the marker before it.
    TooClose,
    /// There are [`MAX_SECTIONS`] already.
    TooMany,
}

/// A marker that did not become a section.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// The marker.
    pub marker: Marker,
    /// Why not.
    pub why: WhyLeftOut,
}

/// Sections made of markers, for [`Sections::replace_all`](super::Sections::replace_all).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MarkerImport {
    /// One section for each marker: from there to its own end or to the next marker, whichever
    /// is sooner; the last one with the song.
    pub sections: Vec<NewSection>,
    /// The markers that could not become sections.
    pub left_out: Vec<LeftOut>,
}

impl MarkerImport {
    /// Makes sections of `markers`. `file_start_s` is the song time at which the file begins.
    #[must_use]
    pub fn new(markers: &[Marker], file_start_s: f64) -> Self {
        let mut markers = markers.to_vec();
        markers.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let mut import = Self::default();
        let mut kept: Vec<(f64, Marker)> = Vec::new();
        for marker in markers {
            let at_s = file_start_s + marker.at_s;
            let why = if !(FIRST_S..=END_S - MIN_SECTION_S).contains(&at_s) {
                Some(WhyLeftOut::OutOfRange)
            } else if kept.last().is_some_and(|last| at_s - last.0 < MIN_SECTION_S - SAME_TIME_S) {
                Some(WhyLeftOut::TooClose)
            } else if kept.len() == MAX_SECTIONS {
                Some(WhyLeftOut::TooMany)
            } else {
                None
            };
            match why {
                Some(why) => import.left_out.push(LeftOut { marker, why }),
                None => kept.push((at_s, marker)),
            }
        }
        let nexts: Vec<f64> = kept.iter().skip(1).map(|(at_s, _)| *at_s).chain([END_S]).collect();
        for ((at_s, marker), next_s) in kept.into_iter().zip(nexts) {
            // A length too short for a section is a mark, not a range.
            let length_s = marker.length_s.filter(|length_s| *length_s >= MIN_SECTION_S);
            import.sections.push(NewSection {
                name: Some(marker.name).filter(|name| !name.is_empty()),
                start: Place::at(at_s),
                end: length_s.map(|length_s| Place::at((at_s + length_s).min(next_s))),
            });
        }
        import
    }
}

/// Reads the markers of a WAV or AIFF file, in order of time; none if it has none. `None` for a
/// file that begins as neither.
///
/// # Errors
/// See [`read_wav_markers`] and [`read_aiff_markers`].
pub fn read_file_markers(
    source: &mut (impl Read + Seek),
) -> Result<Option<Vec<Marker>>, MarkerError> {
    match read_aiff_markers(source) {
        Err(MarkerError::NotAiff) => {}
        markers => return markers.map(Some),
    }
    match read_wav_markers(source) {
        Err(MarkerError::NotWave) => Ok(None),
        markers => markers.map(Some),
    }
}

/// `text` as a name: control characters as spaces, no spaces at the ends, cut to the longest name.
fn clean_name(text: &str) -> String {
    let plain: String =
        text.chars().map(|found| if found.is_control() { ' ' } else { found }).collect();
    let cut: String = plain.trim().chars().take(MAX_NAME_CHARS).collect();
    cut.trim_end().to_owned()
}

#[cfg(test)]
mod tests;
