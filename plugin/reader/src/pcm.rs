//! Files of plain samples: RIFF WAVE (Multimedia Programming Interface and Data Specifications
//! 1.0, 1991), RF64 and BW64 (EBU Tech 3306, ITU-R BS.2088), Wave64, AIFF and AIFF-C (1989, 1991);
//! all from memory.

mod aiff;
mod chunks;
mod samples;
mod wave;

use crate::{BLOCK_FRAMES, Block, Coding, FileFacts, MAX_CHANNELS, ReadError};
use samples::SampleKind;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

/// What a file of plain samples begins with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Container {
    /// RIFF, RF64 or BW64 of the form WAVE.
    Riff,
    /// Wave64.
    Wave64,
    /// FORM of the type AIFF or AIFC.
    Aiff,
}

/// The container that a file with these first 12 bytes is; `None` for any other file.
pub fn container_of(start: &[u8]) -> Option<Container> {
    let form = start.get(8..12).unwrap_or_default();
    match start.get(..4).unwrap_or_default() {
        b"RIFF" | b"RF64" | b"BW64" if form == b"WAVE" => Some(Container::Riff),
        b"riff" => Some(Container::Wave64),
        b"FORM" if form == b"AIFF" || form == b"AIFC" => Some(Container::Aiff),
        _ => None,
    }
}

/// What the header says of the samples.
#[derive(Debug)]
struct Layout {
    format: &'static str,
    kind: SampleKind,
    /// Bits per sample that the header states.
    bits: u32,
    channels: usize,
    rate_hz: u32,
    /// Where the samples lie in the file, as far as it reaches.
    start: u64,
    len_bytes: u64,
    warnings: Vec<String>,
}

/// A file of plain samples.
pub struct Pcm {
    file: File,
    kind: SampleKind,
    channels: usize,
    left_bytes: u64,
    /// Frames given so far.
    given_frames: u64,
    bytes: Vec<u8>,
    warnings: Vec<String>,
}

impl Pcm {
    /// Reads the header.
    pub fn open(mut file: File, container: Container) -> Result<(Self, FileFacts), ReadError> {
        let layout = match container {
            Container::Riff => wave::riff(&mut file)?,
            Container::Wave64 => wave::wave64(&mut file)?,
            Container::Aiff => aiff::aiff(&mut file)?,
        };
        if !(1..=MAX_CHANNELS).contains(&layout.channels) {
            return Err(ReadError::Channels { channels: layout.channels });
        }
        if layout.rate_hz == 0 {
            return Err(ReadError::ZeroRate);
        }
        file.seek(SeekFrom::Start(layout.start))?;
        let frame_bytes = layout.kind.bytes() * layout.channels;
        let facts = FileFacts {
            format: layout.format,
            coding: if layout.kind.is_float() {
                Coding::Float { bits: layout.bits }
            } else {
                Coding::Integer { bits: layout.bits }
            },
            rate_hz: layout.rate_hz,
            channels: layout.channels,
            len_frames: Some(layout.len_bytes / frame_bytes as u64),
        };
        let pcm = Self {
            file,
            kind: layout.kind,
            channels: layout.channels,
            left_bytes: layout.len_bytes,
            given_frames: 0,
            bytes: vec![0; BLOCK_FRAMES * frame_bytes],
            warnings: layout.warnings,
        };
        Ok((pcm, facts))
    }

    /// See [`Reader::warnings`](crate::Reader::warnings).
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// See [`Reader::read`](crate::Reader::read).
    pub fn read(&mut self, block: &mut Block) -> Result<(), ReadError> {
        let frame_bytes = self.kind.bytes() * self.channels;
        let wanted = usize::try_from(self.left_bytes).unwrap_or(usize::MAX);
        let wanted = wanted.min(self.bytes.len());
        let mut found = 0;
        while let Some(rest) = self.bytes.get_mut(found..wanted).filter(|rest| !rest.is_empty()) {
            match self.file.read(rest) {
                Ok(0) => break,
                Ok(more) => found += more,
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error.into()),
            }
        }
        self.left_bytes -= found as u64;
        let over_bytes = found % frame_bytes;
        if found < wanted {
            // Somebody else cut the file while it was read.
            self.left_bytes = 0;
            self.warnings.push("the file became shorter while it was read".to_owned());
        }
        if over_bytes > 0 {
            self.left_bytes = 0;
            self.warnings.push(format!(
                "the last frame has {over_bytes} of its {frame_bytes} bytes: it is left out"
            ));
        }
        let whole = self.bytes.get(..found - over_bytes).unwrap_or_default();
        block.below_24_bits = self.kind.decode(whole, &mut block.planes);
        self.given_frames += block.len_frames() as u64;
        if self.given_frames == 0 {
            return Err(ReadError::ZeroFrames);
        }
        Ok(())
    }
}
