//! MP3 by LAME at a constant bit rate. Its information frame at the head states delay and padding.

use super::Code;
use crate::EncodeError;
use mp3lame_encoder::{
    Bitrate, Builder, DualPcm, Encoder, FlushGap, MonoPcm, Quality, max_required_buffer_size,
};
use std::fs::File;
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::num::NonZeroU32;

/// Bytes that the library asks for at the end (lame.h).
const FLUSH_BYTES: usize = 7_200;

/// Writes it.
pub struct Mp3 {
    encoder: Encoder,
    sink: BufWriter<File>,
    bytes: Vec<u8>,
}

impl Mp3 {
    /// Starts the file.
    pub fn new(
        file: File,
        bits_per_second: u32,
        rate_hz: u32,
        channels: usize,
    ) -> Result<Self, EncodeError> {
        let no_room = || EncodeError::Library { what: "no memory".to_owned() };
        let mut builder = Builder::new().ok_or_else(no_room)?;
        let channels = u8::try_from(channels).unwrap_or(0);
        builder
            .set_num_channels(channels)
            .and_then(|()| builder.set_sample_rate(rate_hz))
            // By itself it would take a lower one at low bit rates.
            .and_then(|()| builder.set_output_sample_rate(NonZeroU32::new(rate_hz)))
            .and_then(|()| builder.set_brate(bit_rate(bits_per_second)))
            .and_then(|()| builder.set_quality(Quality::NearBest))
            .and_then(|()| builder.set_to_write_vbr_tag(true))
            .map_err(|error| EncodeError::library(&error))?;
        let encoder = builder.build().map_err(|error| EncodeError::library(&error))?;
        Ok(Self { encoder, sink: BufWriter::new(file), bytes: Vec::new() })
    }

    fn write(&mut self) -> Result<(), EncodeError> {
        self.sink.write_all(&self.bytes)?;
        self.bytes.clear();
        Ok(())
    }
}

impl Code for Mp3 {
    fn push(&mut self, planes: &[Vec<f32>]) -> Result<(), EncodeError> {
        self.bytes.reserve(max_required_buffer_size(planes.first().map_or(0, Vec::len)));
        let outcome = match planes {
            [only] => self.encoder.encode_to_vec(MonoPcm(only), &mut self.bytes),
            [left, right] => self.encoder.encode_to_vec(DualPcm { left, right }, &mut self.bytes),
            _ => return Err(EncodeError::Channels { channels: planes.len() }),
        };
        outcome.map_err(|error| EncodeError::library(&error))?;
        self.write()
    }

    fn finish(mut self: Box<Self>) -> Result<File, EncodeError> {
        self.bytes.reserve(FLUSH_BYTES);
        self.encoder
            .flush_to_vec::<FlushGap>(&mut self.bytes)
            .map_err(|error| EncodeError::library(&error))?;
        self.write()?;
        // The first frame was kept free for what only the end tells.
        self.bytes.reserve(self.encoder.lame_tag_size());
        if self.encoder.lame_tag_encode_to_vec(&mut self.bytes).is_some() {
            self.sink.seek(SeekFrom::Start(0))?;
            self.write()?;
        }
        self.sink.into_inner().map_err(|error| EncodeError::Io(error.into_error()))
    }
}

/// The next lower bit rate that MP3 has.
const fn bit_rate(bits_per_second: u32) -> Bitrate {
    match bits_per_second / 1_000 {
        320.. => Bitrate::Kbps320,
        256.. => Bitrate::Kbps256,
        224.. => Bitrate::Kbps224,
        192.. => Bitrate::Kbps192,
        160.. => Bitrate::Kbps160,
        128.. => Bitrate::Kbps128,
        112.. => Bitrate::Kbps112,
        96.. => Bitrate::Kbps96,
        80.. => Bitrate::Kbps80,
        64.. => Bitrate::Kbps64,
        48.. => Bitrate::Kbps48,
        40.. => Bitrate::Kbps40,
        _ => Bitrate::Kbps32,
    }
}
