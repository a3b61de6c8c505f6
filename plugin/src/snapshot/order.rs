//! What is asked for, and what became of it: plain data between the editor and who writes.

use super::Format;
use std::path::PathBuf;

/// What became of the last snapshot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Export {
    /// Nothing to say.
    #[default]
    None,
    /// It is being taken and written.
    Writing,
    /// It was written; the paths.
    Saved(Vec<PathBuf>),
    /// Its summary is in the clipboard.
    Copied,
    /// It could not be written, and is kept to be saved elsewhere; why.
    Failed(String),
}

/// A snapshot to be taken.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SnapshotOrder {
    /// The name of the song.
    pub song: String,
    /// The folder to write into.
    pub folder: String,
    /// The forms; none of them only copies the summary.
    pub formats: Vec<Format>,
    /// Whether the summary goes to the clipboard.
    pub copy: bool,
}
