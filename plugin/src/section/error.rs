//! What can be wrong with an edit or with a saved list.

use super::{END_S, FIRST_S, MAX_NAME_CHARS, MAX_SECTIONS, MIN_SECTION_S};
use std::fmt;

/// An edit of the sections, or a saved list of them, that breaks a rule; nothing was changed.
#[derive(Debug, Clone, PartialEq)]
pub enum SectionError {
    /// More than [`MAX_SECTIONS`].
    TooMany {
        /// How many there would be.
        count: usize,
    },
    /// There is no section with this id.
    NoSuchSection {
        /// The id that was asked for.
        id: u32,
    },
    /// Two sections have the same id.
    SameId {
        /// The id.
        id: u32,
    },
    /// The name is empty or only spaces.
    NoName,
    /// The name has more than [`MAX_NAME_CHARS`] characters.
    NameTooLong {
        /// How many it has.
        chars: usize,
    },
    /// The name has a line break or another control character in it.
    NameControl {
        /// The character.
        found: char,
    },
    /// A time that is no number or not in the range of the record.
    OutOfRange {
        /// Which time.
        what: &'static str,
        /// Its value, seconds.
        at_s: f64,
    },
    /// A bar that is no number.
    BarNotFinite {
        /// Its value.
        bar: f64,
    },
    /// A section would be shorter than [`MIN_SECTION_S`].
    TooShort {
        /// Its length, seconds.
        length_s: f64,
    },
    /// Two sections overlap.
    Overlap {
        /// Name of the section that starts before the other has ended.
        name: String,
        /// Its start, seconds.
        start_s: f64,
        /// End of the section before it, seconds.
        end_before_s: f64,
    },
    /// The place to split at is not inside of the section.
    NotInside {
        /// The place, seconds.
        at_s: f64,
        /// Start of the section, seconds.
        start_s: f64,
        /// End of the section, seconds.
        end_s: f64,
    },
    /// There is no section after the one that should be merged with the next.
    NoNext {
        /// Its name.
        name: String,
    },
    /// A section follows the one that is said to be open.
    OpenInside {
        /// Name of the open section.
        name: String,
    },
    /// Two edges whose bars are in one order and whose times are in the other.
    BarsOutOfOrder {
        /// The bar of the earlier edge.
        bar: f64,
        /// The bar of the later edge.
        next_bar: f64,
    },
}

impl fmt::Display for SectionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMany { count } => {
                write!(f, "{count} sections: at most {MAX_SECTIONS} fit in a song")
            }
            Self::NoSuchSection { id } => write!(f, "section {id}: there is none with this number"),
            Self::SameId { id } => write!(f, "section {id}: two sections have this number"),
            Self::NoName => write!(f, "a section needs a name"),
            Self::NameTooLong { chars } => {
                write!(f, "name of {chars} characters: at most {MAX_NAME_CHARS} are allowed")
            }
            Self::NameControl { found } => write!(
                f,
                "name with the control character {}: names are plain text",
                found.escape_unicode()
            ),
            Self::OutOfRange { what, at_s } => {
                write!(f, "{what} {at_s} s: must lie from {FIRST_S} to {END_S} s of song time")
            }
            Self::BarNotFinite { bar } => write!(f, "bar {bar}: must be a number"),
            Self::TooShort { length_s } => write!(
                f,
                "section of {length_s:.3} s: must be at least {MIN_SECTION_S} s, one gating block"
            ),
            Self::Overlap { name, start_s, end_before_s } => write!(
                f,
                "section \"{name}\" starts at {start_s} s, before the one before it ends at \
                 {end_before_s} s: sections must not overlap"
            ),
            Self::NotInside { at_s, start_s, end_s } => write!(
                f,
                "split at {at_s} s: must lie inside of the section, from {start_s} to {end_s} s"
            ),
            Self::NoNext { name } => {
                write!(f, "section \"{name}\" is the last: there is none to merge it with")
            }
            Self::OpenInside { name } => {
                write!(f, "section \"{name}\" runs on to the song's end: only the last section may")
            }
            Self::BarsOutOfOrder { bar, next_bar } => {
                write!(f, "bar {bar} stands before bar {next_bar}: bars must rise with song time")
            }
        }
    }
}

impl std::error::Error for SectionError {}
