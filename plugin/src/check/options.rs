//! What is asked of a check.

use crate::section::Marker;
use crate::target::Target;
use plimsoll_encoder::Encoding;

/// What is asked of a check.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// The targets to compare with.
    pub targets: Vec<Target>,
    /// Where sections begin; `None`: at the file's own cue markers.
    pub sections: Option<Vec<Marker>>,
    /// Take a snapshot of each file, to write a page.
    pub with_snapshot: bool,
    /// Leave the second reading out.
    pub one_reading: bool,
    /// Lossy codes in which the file is encoded, to measure what arrives.
    pub encodings: Vec<Encoding>,
}
