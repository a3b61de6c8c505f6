//! AIFF and AIFF-C.

use super::Layout;
use super::chunks::{Chunk, Chunks, Style};
use super::samples::SampleKind;
use crate::ReadError;
use std::fs::File;

/// Bytes of a 'COMM' chunk with everything that is looked at.
const COMMON_BYTES: usize = 22;

/// What the 'COMM' chunk states.
struct Common {
    kind: SampleKind,
    bits: u32,
    channels: usize,
    rate_hz: u32,
    frames: u64,
}

/// AIFF and AIFF-C: 'COMM' may stand behind 'SSND'.
pub fn aiff(file: &mut File) -> Result<Layout, ReadError> {
    let mut chunks = Chunks::new(file, Style::Aiff, 12)?;
    let (mut common, mut sound) = (None, None);
    while let Some(chunk) = chunks.next()? {
        match &chunk.id {
            b"COMM" => common = Some(read_common(&mut chunks, &chunk)?),
            b"SSND" => {
                let (bytes, len) = chunks.head::<4>(&chunk)?;
                let offset = if len == 4 { u32::from_be_bytes(bytes) } else { 0 };
                sound = Some(chunks.samples(&chunk, 8 + u64::from(offset))?);
            }
            _ => {}
        }
        if common.is_some() && sound.is_some() {
            break;
        }
    }
    let common = common.ok_or_else(|| ReadError::damaged("no 'COMM' chunk"))?;
    let (start, len_bytes, mut warnings) =
        sound.ok_or_else(|| ReadError::damaged("no 'SSND' chunk"))?;
    // The chunk may be longer than the frames that count.
    let frame_bytes = (common.kind.bytes() * common.channels) as u64;
    let stated_bytes = match common.frames {
        0 => len_bytes,
        frames => frames.saturating_mul(frame_bytes),
    };
    if stated_bytes > len_bytes && warnings.is_empty() {
        warnings.push(format!(
            "the header states {stated_bytes} bytes of samples and the file holds {len_bytes}: \
             cut off?"
        ));
    }
    Ok(Layout {
        format: "AIFF",
        kind: common.kind,
        bits: common.bits,
        channels: common.channels,
        rate_hz: common.rate_hz,
        start,
        len_bytes: len_bytes.min(stated_bytes),
        warnings,
    })
}

fn read_common(chunks: &mut Chunks<'_>, chunk: &Chunk) -> Result<Common, ReadError> {
    let (bytes, len) = chunks.head::<COMMON_BYTES>(chunk)?;
    if len < 18 {
        return Err(ReadError::damaged(format!(
            "'COMM' chunk of {len} bytes, at least 18 are needed"
        )));
    }
    let [c0, c1, f0, f1, f2, f3, b0, b1, rate @ .., k0, k1, k2, k3] = bytes;
    let bits = u16::from_be_bytes([b0, b1]);
    let code = if len == COMMON_BYTES { [k0, k1, k2, k3] } else { *b"NONE" };
    let kind = match (&code, bits) {
        (b"NONE" | b"none" | b"twos", 1..=8) => SampleKind::I8,
        (b"NONE" | b"none" | b"twos", 9..=16) => SampleKind::I16Be,
        (b"NONE" | b"none" | b"twos" | b"in24", 17..=24) => SampleKind::I24Be,
        (b"NONE" | b"none" | b"twos" | b"in32", 25..=32) => SampleKind::I32Be,
        (b"sowt", 9..=16) => SampleKind::I16Le,
        (b"sowt", 17..=24) => SampleKind::I24Le,
        (b"sowt", 25..=32) => SampleKind::I32Le,
        (b"fl32" | b"FL32", 32) => SampleKind::F32Be,
        (b"fl64" | b"FL64", 64) => SampleKind::F64Be,
        _ => {
            return Err(ReadError::Unsupported {
                what: format!(
                    "AIFF-C type \"{}\" with {bits} bits: NONE, twos and sowt of 1 to 32 bits and \
                     fl32, fl64 are read",
                    code.escape_ascii()
                ),
            });
        }
    };
    Ok(Common {
        kind,
        bits: u32::from(bits),
        channels: usize::from(u16::from_be_bytes([c0, c1])),
        rate_hz: extended_to_hz(rate),
        frames: u64::from(u32::from_be_bytes([f0, f1, f2, f3])),
    })
}

/// A rate in the 80-bit floats of IEEE 754 that AIFF uses, cut to whole Hz; 0 for what is below
/// 1 Hz, negative, infinite or no number.
fn extended_to_hz([e0, e1, m @ ..]: [u8; 10]) -> u32 {
    let exponent = u16::from_be_bytes([e0, e1]);
    let mantissa = u64::from_be_bytes(m);
    // Bias 16 383; the mantissa has its binary point behind the first bit.
    match exponent.checked_sub(16_383) {
        Some(shift @ 0..=31) => u32::try_from(mantissa >> (63 - shift)).unwrap_or(0),
        Some(32..=16_384) => u32::MAX,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_come_out_of_80_bits() {
        // 44 100 = 0xAC44 · 2^0: exponent 15.
        let float = |exponent: u16, mantissa: u64| {
            let mut bytes = [0; 10];
            bytes[..2].copy_from_slice(&exponent.to_be_bytes());
            bytes[2..].copy_from_slice(&mantissa.to_be_bytes());
            bytes
        };
        assert_eq!(extended_to_hz(float(16_383 + 15, 0xAC44 << 48)), 44_100);
        assert_eq!(extended_to_hz(float(16_383 + 16, 96_000 << 47)), 96_000);
        assert_eq!(extended_to_hz(float(16_383 + 31, 1 << 63)), 1 << 31);
        assert_eq!(extended_to_hz(float(16_383 + 40, 1 << 63)), u32::MAX);
        assert_eq!(extended_to_hz(float(0x8000 | (16_383 + 15), 0xAC44 << 48)), 0);
        assert_eq!(extended_to_hz([0; 10]), 0);
    }
}
