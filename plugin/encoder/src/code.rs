//! One writer for each code.

#[cfg(feature = "mp3")]
mod mp3;
mod opus;
mod vorbis;

#[cfg(feature = "mp3")]
pub use mp3::Mp3;
pub use opus::Opus;
pub use vorbis::Vorbis;

use crate::EncodeError;
use std::fs::File;

/// What writes one code.
pub trait Code {
    /// Encodes the next frames: planar channels, no sample over full scale.
    fn push(&mut self, planes: &[Vec<f32>]) -> Result<(), EncodeError>;

    /// Ends the file.
    fn finish(self: Box<Self>) -> Result<File, EncodeError>;
}
