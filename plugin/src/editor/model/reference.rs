//! Reference songs on screen, and what the user does with them.

use crate::reference::{Comparison, Reference};
use crate::shared::Measuring;
use std::path::PathBuf;

/// What the reference input does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum InputState {
    /// The host runs the plugin without it.
    #[default]
    Absent,
    /// It is there, and nothing comes.
    Silent,
    /// Sound comes.
    Arrives,
}

/// The reference songs and the song beside them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReferenceData {
    /// All of them, in the order in which they came.
    pub list: Vec<Reference>,
    /// The song beside those that are used; `None` if none is, nothing was measured, or it was not
    /// asked for.
    pub comparison: Option<Comparison>,
    /// The file that is being measured.
    pub measuring: Option<Measuring>,
    /// What the reference input does.
    pub input: InputState,
    /// Whether more came over the reference input than is in [`Self::list`].
    pub is_behind: bool,
}

/// What the user does with reference songs.
#[derive(Debug, Clone, PartialEq)]
pub enum ReferenceEdit {
    /// Measure these files.
    Add(Vec<PathBuf>),
    /// Call off what is being measured.
    CallOff,
    /// Hold the song against the one with this id, or not any more.
    Use(u32, bool),
    /// Give it another name.
    Rename(u32, String),
    /// Remove it.
    Remove(u32),
}
