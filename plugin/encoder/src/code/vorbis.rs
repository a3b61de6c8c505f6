//! Ogg Vorbis by libvorbis: the bit rate varies around what is asked for. The file states where
//! the sound ends, so that nothing is to be aligned.

use super::Code;
use crate::EncodeError;
use std::fs::File;
use std::io::BufWriter;
use std::num::{NonZeroU8, NonZeroU32};
use vorbis_rs::{
    VorbisBitrateManagementStrategy, VorbisEncoder, VorbisEncoderBuilder, VorbisError,
};

/// Frames that the library takes at once: it states that more make it slow.
const BLOCK_FRAMES: usize = 4_096;

/// Serial number of the stream, the only one of its file.
const SERIAL: i32 = 1;

/// Writes it.
pub struct Vorbis {
    inner: VorbisEncoder<BufWriter<File>>,
}

impl Vorbis {
    /// Writes the head.
    pub fn new(
        file: File,
        bits_per_second: u32,
        rate_hz: u32,
        channels: usize,
    ) -> Result<Self, EncodeError> {
        let channels = u8::try_from(channels).ok().and_then(NonZeroU8::new);
        let (Some(rate_hz), Some(channels), Some(target_bitrate)) =
            (NonZeroU32::new(rate_hz), channels, NonZeroU32::new(bits_per_second))
        else {
            return Err(EncodeError::Library { what: "a rate or bit rate of zero".to_owned() });
        };
        let sink = BufWriter::new(file);
        let inner = VorbisEncoderBuilder::new_with_serial(rate_hz, channels, sink, SERIAL)
            .bitrate_management_strategy(VorbisBitrateManagementStrategy::Vbr { target_bitrate })
            .build()
            .map_err(failed)?;
        Ok(Self { inner })
    }
}

impl Code for Vorbis {
    fn push(&mut self, planes: &[Vec<f32>]) -> Result<(), EncodeError> {
        let len_frames = planes.first().map_or(0, Vec::len);
        for start in (0..len_frames).step_by(BLOCK_FRAMES) {
            let end = len_frames.min(start + BLOCK_FRAMES);
            let block: Vec<&[f32]> =
                planes.iter().map(|plane| plane.get(start..end).unwrap_or_default()).collect();
            self.inner.encode_audio_block(block).map_err(failed)?;
        }
        Ok(())
    }

    fn finish(self: Box<Self>) -> Result<File, EncodeError> {
        let sink = self.inner.finish().map_err(failed)?;
        sink.into_inner().map_err(|error| EncodeError::Io(error.into_error()))
    }
}

fn failed(error: VorbisError) -> EncodeError {
    match error {
        VorbisError::Io(error) => EncodeError::Io(error),
        error => EncodeError::library(&error),
    }
}
