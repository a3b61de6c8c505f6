//! Markers of an AIFF or AIFF-C file: the chunk 'MARK' (Audio Interchange File Format 1.3, 1989,
//! section "The Marker Chunk"; AIFF-C, 1991; from memory), with the rate out of 'COMM'.
//!
//! As for WAV, sizes that the file declares are only ever used to skip.

use super::file::{Chunk, File};
use super::{MAX_MARKERS, Marker, MarkerError};
use std::io::{Read, Seek};

/// Most chunks that are looked at. The project's own choice, no source.
const MAX_CHUNKS: usize = 10_000;

/// Where the rate stands in 'COMM': behind channels, frames and bits.
const RATE_AT: u64 = 8;

/// Bytes of a marker before its name: number, frame, and the name's length.
const MARKER_HEAD_BYTES: u64 = 7;

/// Reads the markers of an AIFF file, in order of time; none if it has none.
///
/// # Errors
/// A file that cannot be read, that is no AIFF file, that has markers but no sample rate, or more
/// than [`MAX_MARKERS`] of them.
pub fn read_aiff_markers(source: &mut (impl Read + Seek)) -> Result<Vec<Marker>, MarkerError> {
    let mut file = File::new(source)?;
    let Some([b'F', b'O', b'R', b'M', _, _, _, _, b'A', b'I', b'F', b'F' | b'C']) =
        file.bytes::<12>(0)?
    else {
        return Err(MarkerError::NotAiff);
    };
    let (mut rate_hz, mut found) = (None, Vec::new());
    let mut at = 12;
    for _ in 0..MAX_CHUNKS {
        let Some([i0, i1, i2, i3, size @ ..]) = file.bytes::<8>(at)? else {
            break;
        };
        let start = at + 8;
        let stated_end = start + u64::from(u32::from_be_bytes(size));
        let chunk = Chunk { id: [i0, i1, i2, i3], start, end: stated_end.min(file.length()) };
        match &chunk.id {
            b"COMM" => rate_hz = file.bytes_in::<10>(&chunk, RATE_AT)?.map(extended),
            b"MARK" => found = read_marks(&mut file, &chunk)?,
            _ => {}
        }
        // Chunks begin at even places.
        at = stated_end + stated_end % 2;
    }
    if found.is_empty() {
        return Ok(Vec::new());
    }
    let rate_hz = rate_hz.ok_or(MarkerError::NoFormat)?;
    if rate_hz < 1.0 {
        return Err(MarkerError::ZeroRate);
    }
    found.sort_by_key(|(frame, _)| *frame);
    let marker = |(frame, name): (u32, String)| Marker {
        at_s: f64::from(frame) / rate_hz,
        length_s: None,
        name,
    };
    Ok(found.into_iter().map(marker).collect())
}

/// Frame and name of each marker.
fn read_marks<S: Read + Seek>(
    file: &mut File<'_, S>,
    chunk: &Chunk,
) -> Result<Vec<(u32, String)>, MarkerError> {
    let count = file.bytes_in::<2>(chunk, 0)?.map_or(0, u16::from_be_bytes);
    let mut marks = Vec::new();
    let mut at = 2;
    for _ in 0..count {
        let Some([_, _, f0, f1, f2, f3, name_bytes]) = file.bytes_in::<7>(chunk, at)? else {
            break;
        };
        if marks.len() == MAX_MARKERS {
            return Err(MarkerError::TooMany);
        }
        let name_bytes = u64::from(name_bytes);
        let name = file.text(chunk, at + MARKER_HEAD_BYTES, name_bytes)?;
        marks.push((u32::from_be_bytes([f0, f1, f2, f3]), name));
        // A name and the byte of its length together take an even number of bytes.
        at += MARKER_HEAD_BYTES + name_bytes + (name_bytes + 1) % 2;
    }
    Ok(marks)
}

/// A float of 80 bits (IEEE 754); 0 for what is negative, infinite or no number.
fn extended([e0, e1, m @ ..]: [u8; 10]) -> f64 {
    let exponent = u16::from_be_bytes([e0, e1]);
    if exponent >= 0x7FFF {
        return 0.0;
    }
    #[expect(clippy::cast_precision_loss, reason = "a rate has few digits")]
    let mantissa = u64::from_be_bytes(m) as f64;
    // Bias 16 383; the mantissa has its binary point behind the first of its 64 bits.
    mantissa * 2_f64.powi(i32::from(exponent) - 16_383 - 63)
}
