//! Audio files in and out: read by the project's own reader, written by hound.

#![deny(clippy::indexing_slicing, clippy::unwrap_used, clippy::expect_used)]

use plimsoll_reader::{Block, ReadError, Reader};
use std::fmt;
use std::path::{Path, PathBuf};

/// Lowest rate that the meters are built for, in Hz.
pub const MIN_RATE_HZ: u32 = 8_000;
/// Highest rate that the meters are built for, in Hz.
pub const MAX_RATE_HZ: u32 = 384_000;
/// Most channels that are measured.
pub const MAX_CHANNELS: usize = 2;

/// Sound in memory.
#[derive(Debug, Clone, PartialEq)]
pub struct Audio {
    /// Frames per second, in Hz.
    pub rate_hz: u32,
    /// One list of samples per channel, all of the same length; 1.0 is full scale.
    pub channels: Vec<Vec<f32>>,
}

impl Audio {
    /// Length in frames: one frame is one sample per channel.
    #[must_use]
    pub fn len_frames(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    /// Length in seconds.
    #[must_use]
    pub fn len_s(&self) -> f64 {
        self.len_frames() as f64 / f64::from(self.rate_hz)
    }

    /// Appends the frames of `other`, which has the same rate and channel count.
    ///
    /// # Panics
    /// If rate or channel count differ.
    pub fn append(&mut self, other: &Self) {
        assert_eq!(self.rate_hz, other.rate_hz, "rates differ");
        assert_eq!(self.channels.len(), other.channels.len(), "channels differ");
        for (to, from) in self.channels.iter_mut().zip(&other.channels) {
            to.extend_from_slice(from);
        }
    }

    /// A copy in which the frames of `range` (clipped to the length) are multiplied by `gain`.
    #[must_use]
    pub fn with_gain(&self, range: std::ops::Range<usize>, gain: f32) -> Self {
        let mut copy = self.clone();
        for channel in &mut copy.channels {
            let end = range.end.min(channel.len());
            if let Some(part) = channel.get_mut(range.start.min(end)..end) {
                for sample in part {
                    *sample *= gain;
                }
            }
        }
        copy
    }
}

/// Why a file is not read or not written. Displayed in one line with the file's name.
#[derive(Debug)]
pub enum AudioFileError {
    /// It is not read.
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: ReadError,
    },
    /// It cannot be written.
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        source: hound::Error,
    },
    /// A sample rate that the meters are not built for.
    Rate {
        /// The file.
        path: PathBuf,
        /// The rate that the file states, in Hz.
        rate_hz: u32,
    },
    /// A channel count that is not measured.
    Channels {
        /// The file.
        path: PathBuf,
        /// The count that the file states.
        channels: usize,
    },
}

impl fmt::Display for AudioFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Read { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Write { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Rate { path, rate_hz } => write!(
                f,
                "{}: sample rate {rate_hz} Hz: the meters work from {MIN_RATE_HZ} to \
                 {MAX_RATE_HZ} Hz",
                path.display()
            ),
            Self::Channels { path, channels } => write!(
                f,
                "{}: {channels} channels: one (mono) or two (stereo) are measured",
                path.display()
            ),
        }
    }
}

impl std::error::Error for AudioFileError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Read { source, .. } => Some(source),
            Self::Write { source, .. } => Some(source),
            Self::Rate { .. } | Self::Channels { .. } => None,
        }
    }
}

/// Reads a whole file in any of the formats that `plimsoll check` reads.
///
/// # Errors
/// See [`AudioFileError`].
pub fn read(path: impl AsRef<Path>) -> Result<Audio, AudioFileError> {
    let path = path.as_ref();
    let failed = |source| AudioFileError::Read { path: path.to_owned(), source };
    let mut reader = Reader::open(path).map_err(failed)?;
    let (rate_hz, channels) = (reader.facts().rate_hz, reader.facts().channels);
    if !(MIN_RATE_HZ..=MAX_RATE_HZ).contains(&rate_hz) {
        return Err(AudioFileError::Rate { path: path.to_owned(), rate_hz });
    }
    if !(1..=MAX_CHANNELS).contains(&channels) {
        return Err(AudioFileError::Channels { path: path.to_owned(), channels });
    }
    let mut audio = Audio { rate_hz, channels: vec![Vec::new(); channels] };
    let mut block = Block::default();
    loop {
        reader.read(&mut block).map_err(failed)?;
        if block.len_frames() == 0 {
            return Ok(audio);
        }
        for (channel, plane) in audio.channels.iter_mut().zip(block.planes()) {
            channel.extend_from_slice(plane);
        }
    }
}

/// Writes float WAV of 32 bits: the very bits of `audio`.
///
/// # Errors
/// The file cannot be written.
pub fn write_wav_f32(path: impl AsRef<Path>, audio: &Audio) -> Result<(), AudioFileError> {
    write_wav(path.as_ref(), audio, hound::SampleFormat::Float, 32, |sample, writer| {
        writer.write_sample(sample)
    })
}

/// Writes PCM WAV of 24 bits: rounded to the nearest step, clipped at full scale, no dither.
///
/// # Errors
/// The file cannot be written.
pub fn write_wav_i24(path: impl AsRef<Path>, audio: &Audio) -> Result<(), AudioFileError> {
    write_wav(path.as_ref(), audio, hound::SampleFormat::Int, 24, |sample, writer| {
        const STEPS: f64 = 8_388_608.0; // 2^23
        let step = (f64::from(sample) * STEPS).round().clamp(-STEPS, STEPS - 1.0);
        writer.write_sample(step as i32)
    })
}

type Writer = hound::WavWriter<std::io::BufWriter<std::fs::File>>;

fn write_wav(
    path: &Path,
    audio: &Audio,
    sample_format: hound::SampleFormat,
    bits_per_sample: u16,
    write: impl Fn(f32, &mut Writer) -> hound::Result<()>,
) -> Result<(), AudioFileError> {
    let channels = u16::try_from(audio.channels.len()).map_err(|_| AudioFileError::Channels {
        path: path.to_owned(),
        channels: audio.channels.len(),
    })?;
    let spec =
        hound::WavSpec { channels, sample_rate: audio.rate_hz, bits_per_sample, sample_format };
    let failed = |source| AudioFileError::Write { path: path.to_owned(), source };
    let mut writer = hound::WavWriter::create(path, spec).map_err(failed)?;
    for frame in 0..audio.len_frames() {
        for channel in &audio.channels {
            write(channel.get(frame).copied().unwrap_or(0.0), &mut writer).map_err(failed)?;
        }
    }
    writer.finalize().map_err(failed)
}

#[cfg(test)]
mod tests;
