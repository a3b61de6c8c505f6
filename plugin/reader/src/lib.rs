//! Reads audio files block by block, as floats, whatever their format.
//!
//! ```text
//! file ─> pcm      (WAV, RF64, BW64, Wave64, AIFF: read here, to the last bit)  ─┐
//!      ├> library  (FLAC, MP3, AAC, ALAC, Vorbis, CAF: decoded by symphonia)    ─┼> Block
//!      └> ogg_opus (Ogg Opus: pages and gaps here, packets by libopus)          ─┘
//! ```
//!
//! A file is somebody else's bytes: whatever it holds, reading gives audio, audio with a warning,
//! or one clear line. Sizes that it declares are only ever used to skip, never to allocate; what
//! panics inside a decoder is caught. Memory does not grow with the file. What a lossy code makes
//! of a peak over full scale is given as it is, not clipped.

mod error;
mod facts;
mod library;
mod ogg_opus;
mod pcm;

pub use error::ReadError;
pub use facts::{Coding, FileFacts};
pub use library::is_in_decoder;

use library::Library;
use ogg_opus::OggOpus;
use pcm::Pcm;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// Most frames that [`Reader::read`] gives at once: a packet of Opus has up to 120 ms at 48 kHz
/// (RFC 6716 §2.1.4), and is small enough to stay near the processor.
pub const BLOCK_FRAMES: usize = 5_760;

/// Most channels of a file that is opened: more than any layout has. The project's own choice.
pub const MAX_CHANNELS: usize = 64;

/// A piece of the sound: planar channels of equal length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    planes: Vec<Vec<f32>>,
    below_24_bits: bool,
}

impl Block {
    /// A block of sound that is in memory: planar channels of equal length.
    #[must_use]
    pub const fn of(planes: Vec<Vec<f32>>) -> Self {
        Self { planes, below_24_bits: false }
    }

    /// One slice per channel, all of one length; 1.0 is full scale.
    #[must_use]
    pub fn planes(&self) -> &[Vec<f32>] {
        &self.planes
    }

    /// Length in frames.
    #[must_use]
    pub fn len_frames(&self) -> usize {
        self.planes.first().map_or(0, Vec::len)
    }

    /// Whether an integer sample of more than 24 bits used a bit below the 24th: such a sample is
    /// rounded in a plane, so the planes do not show it.
    #[must_use]
    pub const fn uses_below_24_bits(&self) -> bool {
        self.below_24_bits
    }

    fn clear(&mut self, channels: usize) {
        self.planes.resize_with(channels, Vec::new);
        self.planes.iter_mut().for_each(Vec::clear);
        self.below_24_bits = false;
    }
}

enum Source {
    Pcm(Pcm),
    Library(Box<Library>),
    Opus(Box<OggOpus>),
}

/// An open file.
pub struct Reader {
    source: Source,
    facts: FileFacts,
}

impl Reader {
    /// Opens a file and reads its header.
    ///
    /// # Errors
    /// See [`ReadError`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, ReadError> {
        let path = path.as_ref();
        if path.is_dir() {
            return Err(ReadError::Folder);
        }
        Self::of(File::open(path)?, path)
    }

    /// Reads the header of a file that is open; the ending of `name` helps to tell what it is.
    ///
    /// # Errors
    /// See [`ReadError`].
    pub fn of(mut file: File, name: &Path) -> Result<Self, ReadError> {
        file.seek(SeekFrom::Start(0))?;
        let mut start = [0; 36];
        let mut known = 0;
        while let Some(rest) = start.get_mut(known..).filter(|rest| !rest.is_empty()) {
            match file.read(rest)? {
                0 => break,
                more => known += more,
            }
        }
        let start = start.get(..known).unwrap_or_default();
        file.seek(SeekFrom::Start(0))?;
        if let Some(container) = pcm::container_of(start) {
            let (pcm, facts) = Pcm::open(file, container)?;
            return Ok(Self { source: Source::Pcm(pcm), facts });
        }
        if ogg_opus::knows(start) {
            let (opus, facts) = OggOpus::open(file)?;
            return Ok(Self { source: Source::Opus(Box::new(opus)), facts });
        }
        if !library::knows(start) {
            return Err(ReadError::NotAudio { found: start.iter().copied().take(4).collect() });
        }
        let (library, facts) = Library::open(file, name)?;
        Ok(Self { source: Source::Library(Box::new(library)), facts })
    }

    /// What the header says.
    #[must_use]
    pub const fn facts(&self) -> &FileFacts {
        &self.facts
    }

    /// Reads the next frames into `block`, at most [`BLOCK_FRAMES`] of them; none at the end.
    ///
    /// # Errors
    /// The file cannot be read, or not one frame of it can be decoded.
    pub fn read(&mut self, block: &mut Block) -> Result<(), ReadError> {
        block.clear(self.facts.channels);
        match &mut self.source {
            Source::Pcm(pcm) => pcm.read(block),
            Source::Library(library) => library.read(block),
            Source::Opus(opus) => opus.read(block),
        }
    }

    /// What is wrong with the file so far that did not keep it from being read, a line each. All
    /// of it is known when [`Self::read`] has given its last block.
    #[must_use]
    pub fn warnings(&self) -> &[String] {
        match &self.source {
            Source::Pcm(pcm) => pcm.warnings(),
            Source::Library(library) => library.warnings(),
            Source::Opus(opus) => opus.warnings(),
        }
    }
}

#[cfg(test)]
mod tests;
