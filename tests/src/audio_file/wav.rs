//! RIFF WAVE, read from memory. Chunk sizes are not believed further than the file reaches.

use super::{Audio, AudioFileError, check_shape};
use std::path::Path;

/// Format tags of WAVE (from memory of the Microsoft/IBM multimedia documents).
const TAG_PCM: u16 = 1;
const TAG_FLOAT: u16 = 3;
const TAG_EXTENSIBLE: u16 = 0xFFFE;

/// What the 'fmt ' chunk states.
struct Format {
    tag: u16,
    channels: u16,
    rate_hz: u32,
    bits: u16,
}

/// One sample out of its little-endian bytes; 1.0 is full scale.
type Decode = fn(&[u8]) -> f32;

pub(super) fn decode(path: &Path, bytes: &[u8]) -> Result<Audio, AudioFileError> {
    let mut format = None;
    let mut rest = bytes.get(12..).unwrap_or_default();
    while let Some((header, body)) = rest.split_at_checked(8) {
        let (id, size) = header.split_at(4);
        let size = u32::from_le_bytes(size.try_into().unwrap_or_default());
        let chunk = usize::try_from(size).ok().and_then(|size| body.get(..size)).unwrap_or(body);
        match id {
            b"fmt " => format = Some(read_format(path, chunk)?),
            b"data" => {
                let format = format.ok_or_else(|| AudioFileError::Damaged {
                    path: path.to_owned(),
                    what: "no 'fmt ' chunk before the 'data' chunk".to_owned(),
                })?;
                return read_samples(path, &format, chunk);
            }
            _ => {}
        }
        // Chunks are padded to an even length.
        rest = body.get(chunk.len() + chunk.len() % 2..).unwrap_or_default();
    }
    Err(AudioFileError::Damaged { path: path.to_owned(), what: "no 'data' chunk".to_owned() })
}

fn read_format(path: &Path, chunk: &[u8]) -> Result<Format, AudioFileError> {
    let short = || AudioFileError::Damaged {
        path: path.to_owned(),
        what: format!("'fmt ' chunk of {} bytes, at least 16 are needed", chunk.len()),
    };
    let word = |at: usize| {
        chunk
            .get(at..at + 2)
            .and_then(|bytes| bytes.try_into().ok())
            .map(u16::from_le_bytes)
            .ok_or_else(short)
    };
    let rate_hz = u32::from(word(4)?) | u32::from(word(6)?) << 16;
    let mut tag = word(0)?;
    let bits = word(14)?;
    if tag == TAG_EXTENSIBLE {
        // The true tag is the first word of the sub-format.
        tag = word(24)?;
    }
    Ok(Format { tag, channels: word(2)?, rate_hz, bits })
}

fn read_samples(path: &Path, format: &Format, data: &[u8]) -> Result<Audio, AudioFileError> {
    let channels = usize::from(format.channels);
    check_shape(path, format.rate_hz, channels)?;
    let decode: Decode = match (format.tag, format.bits) {
        // 8-bit PCM is unsigned.
        (TAG_PCM, 8) => |b| (f32::from(first(b)) - 128.0) / 128.0,
        (TAG_PCM, 16) => |b| (f64::from(left_aligned(b)) / 2_147_483_648.0) as f32,
        (TAG_PCM, 24) => |b| (f64::from(left_aligned(b)) / 2_147_483_648.0) as f32,
        (TAG_PCM, 32) => |b| (f64::from(left_aligned(b)) / 2_147_483_648.0) as f32,
        (TAG_FLOAT, 32) => |b| f32::from_le_bytes(b.try_into().unwrap_or_default()),
        (TAG_FLOAT, 64) => |b| f64::from_le_bytes(b.try_into().unwrap_or_default()) as f32,
        (tag, bits) => {
            return Err(AudioFileError::SampleFormat { path: path.to_owned(), tag, bits });
        }
    };
    let width_bytes = usize::from(format.bits / 8);
    let frame_bytes = width_bytes * channels;
    let len_frames = data.len() / frame_bytes;
    let mut planes = vec![Vec::with_capacity(len_frames); channels];
    for frame in data.chunks_exact(frame_bytes) {
        for (plane, sample) in planes.iter_mut().zip(frame.chunks_exact(width_bytes)) {
            plane.push(decode(sample));
        }
    }
    Ok(Audio { rate_hz: format.rate_hz, channels: planes })
}

fn first(bytes: &[u8]) -> u8 {
    bytes.first().copied().unwrap_or(128)
}

/// A signed sample of two to four bytes, moved to the top of 32 bits.
fn left_aligned(bytes: &[u8]) -> i32 {
    bytes.iter().fold(0u32, |value, &byte| value >> 8 | u32::from(byte) << 24).cast_signed()
}
