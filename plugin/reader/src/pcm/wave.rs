//! RIFF WAVE, RF64, BW64 and Wave64.

use super::Layout;
use super::chunks::{Chunk, Chunks, Style};
use super::samples::SampleKind;
use crate::ReadError;
use std::fs::File;

/// Format tags of WAVE (mmreg.h; from memory).
const TAG_PCM: u16 = 1;
const TAG_FLOAT: u16 = 3;
const TAG_EXTENSIBLE: u16 = 0xFFFE;

/// Bytes of a 'fmt ' chunk with everything that is looked at: the sub-format of the extensible one
/// begins with its tag at byte 24.
const FORMAT_BYTES: usize = 26;

/// What the 'fmt ' chunk states.
struct Format {
    kind: SampleKind,
    bits: u32,
    channels: usize,
    rate_hz: u32,
}

/// RIFF, RF64 and BW64.
pub fn riff(file: &mut File) -> Result<Layout, ReadError> {
    let mut chunks = Chunks::new(file, Style::Riff, 0)?;
    let large = !matches!(chunks.next()?, Some(Chunk { id, .. }) if &id == b"RIFF");
    let chunks = Chunks::new(file, Style::Riff, 12)?;
    layout(chunks, if large { "RF64" } else { "WAV" })
}

/// Wave64: the same chunks with longer names.
pub fn wave64(file: &mut File) -> Result<Layout, ReadError> {
    let chunks = Chunks::new(file, Style::Wave64, 40)?;
    layout(chunks, "Wave64")
}

fn layout(mut chunks: Chunks<'_>, name: &'static str) -> Result<Layout, ReadError> {
    let mut format = None;
    while let Some(chunk) = chunks.next()? {
        match &chunk.id {
            b"ds64" => {
                let (bytes, len) = chunks.head::<16>(&chunk)?;
                if let (16, Some(&data)) = (len, bytes.last_chunk::<8>()) {
                    chunks.large_data_bytes = Some(u64::from_le_bytes(data));
                }
            }
            b"fmt " => format = Some(read_format(&mut chunks, &chunk)?),
            b"data" => {
                let Some(format) = format else {
                    return Err(ReadError::damaged("no 'fmt ' chunk before the 'data' chunk"));
                };
                let (start, len_bytes, warnings) = chunks.samples(&chunk, 0)?;
                return Ok(Layout {
                    format: name,
                    kind: format.kind,
                    bits: format.bits,
                    channels: format.channels,
                    rate_hz: format.rate_hz,
                    start,
                    len_bytes,
                    warnings,
                });
            }
            _ => {}
        }
    }
    Err(ReadError::damaged("no 'data' chunk"))
}

fn read_format(chunks: &mut Chunks<'_>, chunk: &Chunk) -> Result<Format, ReadError> {
    let (bytes, len) = chunks.head::<FORMAT_BYTES>(chunk)?;
    if len < 16 {
        return Err(ReadError::damaged(format!(
            "'fmt ' chunk of {len} bytes, at least 16 are needed"
        )));
    }
    let [
        t0,
        t1,
        c0,
        c1,
        r0,
        r1,
        r2,
        r3,
        _,
        _,
        _,
        _,
        a0,
        a1,
        b0,
        b1,
        _,
        _,
        v0,
        v1,
        _,
        _,
        _,
        _,
        s0,
        s1,
    ] = bytes;
    let mut tag = u16::from_le_bytes([t0, t1]);
    let channels = usize::from(u16::from_le_bytes([c0, c1]));
    let frame_bytes = usize::from(u16::from_le_bytes([a0, a1]));
    let container_bits = u16::from_le_bytes([b0, b1]);
    let mut bits = container_bits;
    if tag == TAG_EXTENSIBLE && len == FORMAT_BYTES {
        // The true tag is the first word of the sub-format; the bits in use may be fewer.
        tag = u16::from_le_bytes([s0, s1]);
        let valid = u16::from_le_bytes([v0, v1]);
        if (1..=container_bits).contains(&valid) {
            bits = valid;
        }
    }
    // A sample of 20 bits stands left-aligned in three bytes: the frame tells how many.
    let width = match frame_bytes.checked_div(channels) {
        Some(width @ 1..=8)
            if width * channels == frame_bytes && width * 8 >= usize::from(bits) =>
        {
            width
        }
        _ => usize::from(container_bits).div_ceil(8),
    };
    let kind = match (tag, width) {
        (TAG_PCM, 1) => SampleKind::U8,
        (TAG_PCM, 2) => SampleKind::I16Le,
        (TAG_PCM, 3) => SampleKind::I24Le,
        (TAG_PCM, 4) => SampleKind::I32Le,
        (TAG_FLOAT, 4) => SampleKind::F32Le,
        (TAG_FLOAT, 8) => SampleKind::F64Le,
        _ => {
            return Err(ReadError::Unsupported {
                what: format!(
                    "WAV format tag {tag} with {bits} bits: PCM of 8 to 32 bits (tag 1) and float \
                     of 32 or 64 bits (tag 3) are read"
                ),
            });
        }
    };
    let rate_hz = u32::from_le_bytes([r0, r1, r2, r3]);
    Ok(Format { kind, bits: u32::from(bits), channels, rate_hz })
}
