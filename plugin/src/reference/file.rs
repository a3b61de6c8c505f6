//! A file as a reference.

use super::Reference;
use crate::loudness::FileMeter;
use crate::meters::layout::Layout;
use crate::section::{log_markers, log_proposal, measure, read_file_markers};
use crate::units::{SampleRate, UnsupportedRate};
use plimsoll_reader::{Block, ReadError, Reader};
use std::fmt;
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// Longest reference, seconds: what a record holds, and a compressed file can claim to be far longer.
const MAX_LENGTH_S: u64 = 7_200;

/// Why a file is no reference; without its path.
#[derive(Debug)]
pub enum FileError {
    /// It cannot be read.
    Read(ReadError),
    /// A sample rate that the meters are not built for.
    Rate(UnsupportedRate),
    /// Channels that no layout has.
    Channels {
        /// How many.
        channels: usize,
    },
    /// Longer than two hours.
    TooLong,
    /// Too short or too quiet to have a loudness to compare at.
    NoLoudness {
        /// Its length, seconds.
        length_s: f64,
    },
    /// The user called it off.
    Cancelled,
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Read(error) => error.fmt(f),
            Self::Rate(error) => error.fmt(f),
            Self::Channels { channels } => {
                write!(f, "{channels} channels: mono, stereo, 5.1 and 7.1 are measured")
            }
            Self::TooLong => write!(f, "longer than {} h", MAX_LENGTH_S / 3_600),
            Self::NoLoudness { length_s } => write!(
                f,
                "{length_s:.1} s without a loudness: at least 0.4 s above −70 LUFS are needed"
            ),
            Self::Cancelled => write!(f, "called off"),
        }
    }
}

impl std::error::Error for FileError {}

impl From<ReadError> for FileError {
    fn from(error: ReadError) -> Self {
        Self::Read(error)
    }
}

/// Measures the file at `path`. Sections are those of its own markers, else what its changes of
/// loudness and width propose. `go_on` is told the share that is done, 0 to 1, some hundred times,
/// and ends it by giving `false`. Some seconds for a song: for a thread of its own.
///
/// # Errors
/// See [`FileError`].
pub fn measure_file(path: &Path, go_on: &dyn Fn(f64) -> bool) -> Result<Reference, FileError> {
    let mut reader = Reader::open(path)?;
    let rate_hz = reader.facts().rate_hz;
    let rate = SampleRate::new(rate_hz).map_err(FileError::Rate)?;
    let channels = reader.facts().channels;
    let layout = Layout::from_channel_count(channels).ok_or(FileError::Channels { channels })?;
    let stated = reader.facts().len_frames.unwrap_or(u64::MAX);
    let mut meter = FileMeter::with_tone(rate, layout);
    let mut block = Block::default();
    let mut len_frames: u64 = 0;
    loop {
        reader.read(&mut block)?;
        let frames = block.len_frames() as u64;
        if frames == 0 {
            break;
        }
        let planes: Vec<&[f32]> = block.planes().iter().map(Vec::as_slice).collect();
        meter.push(&planes);
        len_frames += frames;
        if len_frames > MAX_LENGTH_S * u64::from(rate_hz) {
            return Err(FileError::TooLong);
        }
        if !go_on(share(len_frames, stated)) {
            return Err(FileError::Cancelled);
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "at most two hours of frames")]
    let length_s = len_frames as f64 / f64::from(rate_hz);
    let mut analysis = meter.finish();
    let range = analysis.extent().ok_or(ReadError::ZeroFrames)?;
    let whole = measure(&mut analysis, range);
    if !whole.figures.integrated.is_some_and(|integrated| integrated.0.is_finite()) {
        return Err(FileError::NoLoudness { length_s });
    }
    // A damaged list of markers costs the sections, not the song.
    let markers = File::open(path)
        .ok()
        .and_then(|file| read_file_markers(&mut BufReader::new(file)).ok().flatten());
    let log = match markers.filter(|markers| !markers.is_empty()) {
        Some(markers) => log_markers(&markers, length_s, &mut analysis).map(|(log, _)| log),
        None => log_proposal(length_s, &mut analysis),
    };
    let name = path.file_stem().unwrap_or(path.as_os_str()).to_string_lossy();
    Ok(Reference::new(&name, length_s, &whole, &log.unwrap_or_default()))
}

#[expect(clippy::cast_precision_loss, reason = "a share for a bar")]
fn share(done: u64, stated: u64) -> f64 {
    (done as f64 / stated.max(1) as f64).min(1.0)
}
