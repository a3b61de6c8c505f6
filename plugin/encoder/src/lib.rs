//! Writes lossy files, to hear and to measure what comes back; knows nothing of meters.
//!
//! ```text
//! blocks ─> Encoder ─> resample (where the code wants another rate) ─> code ─> file without a name
//! ```
//!
//! Here are the codes that listeners get and for which an encoder is to be had as a library with a
//! free licence: Vorbis (libvorbis, BSD), Opus (libopus, BSD), and with the feature `mp3` MP3
//! (LAME, LGPL). AAC is not: [`WITHOUT_ENCODER`] says why.

mod code;
mod encoding;
mod error;
mod resample;

pub use encoding::{Encoding, EncodingError, Format};
pub use error::EncodeError;
pub use resample::Resampler;

use code::Code;
use std::fs::File;

/// What listeners get and cannot be encoded here, and why.
pub const WITHOUT_ENCODER: &str =
    "AAC is not encoded: there is no encoder of quality with a free licence as a library";

/// Most channels: lossy files of one and two channels are written.
pub const MAX_CHANNELS: usize = 2;

/// Writes one file.
pub struct Encoder {
    code: Box<dyn Code>,
    channels: usize,
    planes: Vec<Vec<f32>>,
    clipped_samples: u64,
}

impl Encoder {
    /// Starts a file of `channels` (1 or 2) at the rate that
    /// [`Format::rate_hz`] gives: what is pushed must have it.
    ///
    /// # Errors
    /// See [`EncodeError`].
    pub fn new(encoding: Encoding, rate_hz: u32, channels: usize) -> Result<Self, EncodeError> {
        if !(1..=MAX_CHANNELS).contains(&channels) {
            return Err(EncodeError::Channels { channels });
        }
        let file = tempfile::tempfile().map_err(EncodeError::Io)?;
        let bits_per_second = encoding.bits_per_second(channels);
        let code: Box<dyn Code> = match encoding.format {
            Format::Vorbis => {
                Box::new(code::Vorbis::new(file, bits_per_second, rate_hz, channels)?)
            }
            Format::Opus => Box::new(code::Opus::new(file, bits_per_second, channels)?),
            #[cfg(feature = "mp3")]
            Format::Mp3 => Box::new(code::Mp3::new(file, bits_per_second, rate_hz, channels)?),
        };
        Ok(Self { code, channels, planes: vec![Vec::new(); channels], clipped_samples: 0 })
    }

    /// Encodes the next frames, one slice per channel. Samples over full scale are clipped, as in
    /// the file of whole numbers that a recipient encodes; what is no number becomes silence.
    ///
    /// # Errors
    /// Another channel count than stated; what the library or the disk refuses.
    pub fn push<P: AsRef<[f32]>>(&mut self, planes: &[P]) -> Result<(), EncodeError> {
        if planes.len() != self.channels {
            return Err(EncodeError::Channels { channels: planes.len() });
        }
        for (plane, from) in self.planes.iter_mut().zip(planes) {
            plane.clear();
            plane.extend(from.as_ref().iter().map(|sample| {
                self.clipped_samples += u64::from(sample.abs() > 1.0);
                if sample.is_nan() { 0.0 } else { sample.clamp(-1.0, 1.0) }
            }));
        }
        self.code.push(&self.planes)
    }

    /// Samples that were over full scale so far.
    #[must_use]
    pub const fn clipped_samples(&self) -> u64 {
        self.clipped_samples
    }

    /// Ends the file and gives it, to be read from its start. It has no name, and is gone when it
    /// is closed.
    ///
    /// # Errors
    /// What the library or the disk refuses.
    pub fn finish(self) -> Result<File, EncodeError> {
        self.code.finish()
    }
}

#[cfg(test)]
mod tests;
