//! Refuses headers that would make the decoder divide by zero or ask for more memory than the
//! file could fill.

use super::mp4;
use crate::ReadError;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

/// Looks at the headers that are known to be believed too much.
pub fn check(file: &mut File) -> Result<(), ReadError> {
    let len_bytes = file.seek(SeekFrom::End(0))?;
    let mut start = [0; 64];
    file.seek(SeekFrom::Start(0))?;
    let mut known = 0;
    while let Some(rest) = start.get_mut(known..).filter(|rest| !rest.is_empty()) {
        match file.read(rest)? {
            0 => break,
            more => known += more,
        }
    }
    let start = start.get(..known).unwrap_or_default();
    if stated_rate_hz(start) == Some(0) {
        return Err(ReadError::ZeroRate);
    }
    if start.starts_with(b"caff") {
        return caf(file, len_bytes);
    }
    if start.get(4..8) == Some(b"ftyp") { mp4::check_tables(file, len_bytes) } else { Ok(()) }
}

/// The rate that the first header states: the stream information of FLAC (RFC 9639 §8.2), the
/// identification header of Vorbis I (§4.2.2) at the start of the first Ogg page.
fn stated_rate_hz(start: &[u8]) -> Option<u32> {
    if start.starts_with(b"fLaC") {
        return Some(u32::from_be_bytes(*start.get(18..)?.first_chunk()?) >> 12);
    }
    let header = start.get(28..)?.strip_prefix(b"\x01vorbis")?;
    Some(u32::from_le_bytes(*header.get(5..)?.first_chunk()?))
}

/// The packet table of CAF: eight bytes of count, and at least a byte for each packet of varying
/// size (Core Audio Format Specification; from memory).
fn caf(file: &mut File, len_bytes: u64) -> Result<(), ReadError> {
    let mut at = 8;
    while at + 20 <= len_bytes {
        let mut head = [0; 20];
        file.seek(SeekFrom::Start(at))?;
        file.read_exact(&mut head)?;
        let (Some(id), Some(&size), Some(&packets)) =
            (head.first_chunk::<4>(), head[4..].first_chunk::<8>(), head.last_chunk::<8>())
        else {
            break;
        };
        let (size, packets) = (i64::from_be_bytes(size), u64::from_be_bytes(packets));
        if id == b"pakt" && packets > len_bytes {
            return Err(ReadError::damaged(format!(
                "{packets} packets stated in a file of {len_bytes} bytes"
            )));
        }
        match u64::try_from(size) {
            Ok(size) => at = at.saturating_add(12).saturating_add(size),
            Err(_) => break,
        }
    }
    Ok(())
}
