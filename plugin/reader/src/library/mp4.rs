//! What is looked at in an MP4 file before the decoder is: tables that state more entries than
//! they have room for, and the edit that tells the encoder's delay (ISO/IEC 14496-12 §8; from
//! memory).

use crate::ReadError;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

/// Deepest nesting and most boxes that are looked at. The project's own choice, no source.
const MAX_DEPTH: usize = 8;
const MAX_BOXES: usize = 100_000;

/// Which frames of the sound count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edit {
    /// Frames before the first that counts: the encoder's delay.
    pub delay_frames: u64,
    /// Frames that count.
    pub len_frames: Option<u64>,
}

/// A box: its body lies from `start` to `end`.
#[derive(Debug, Clone, Copy)]
struct Body {
    id: [u8; 4],
    start: u64,
    end: u64,
}

/// Refuses tables that state more entries than they have room for.
pub fn check_tables(file: &mut File, len_bytes: u64) -> Result<(), ReadError> {
    let mut wrong = None;
    walk(file, len_bytes, &mut |file, body| {
        // Bytes of an entry, and where the count of entries stands.
        let (entry_bytes, at) = match &body.id {
            b"stco" => (4, 4),
            b"stts" | b"co64" | b"ctts" => (8, 4),
            b"stsc" => (12, 4),
            // With one size for all samples there is no table.
            b"stsz" if word(file, body, 4)? == 0 => (4, 8),
            _ => return Ok(()),
        };
        let entries = u64::from(word(file, body, at)?);
        let room = body.end.saturating_sub(body.start + at + 4) / entry_bytes;
        if entries > room {
            wrong.get_or_insert_with(|| {
                let name = body.id.escape_ascii().to_string();
                format!("table '{name}' states {entries} entries and has room for {room}")
            });
        }
        Ok(())
    })?;
    wrong.map_or(Ok(()), |what| Err(ReadError::damaged(what)))
}

/// The edit of the first track; `None` where there is none, or none that can be made use of.
pub fn edit_of(file: &mut File) -> Result<Option<Edit>, ReadError> {
    let len_bytes = file.seek(SeekFrom::End(0))?;
    let (mut tracks, mut movie_scale, mut media_scale, mut edit) = (0, None, None, None);
    walk(file, len_bytes, &mut |file, body| {
        // Version 1 has times of 64 bits.
        let is_long = |file: &mut File| Ok::<_, ReadError>(word(file, body, 0)? >> 24 == 1);
        match &body.id {
            b"trak" => tracks += 1,
            b"mvhd" => {
                let at = if is_long(file)? { 20 } else { 12 };
                movie_scale = Some(word(file, body, at)?);
            }
            b"mdhd" if tracks == 1 => {
                let at = if is_long(file)? { 20 } else { 12 };
                media_scale = Some(word(file, body, at)?);
            }
            b"elst" if tracks == 1 && word(file, body, 4)? == 1 => {
                edit = Some(if is_long(file)? {
                    (long(file, body, 8)?, long(file, body, 16)?)
                } else {
                    (u64::from(word(file, body, 8)?), u64::from(word(file, body, 12)?))
                });
            }
            _ => {}
        }
        Ok(())
    })?;
    let (Some(movie_scale), Some(media_scale), Some((duration, delay_frames))) =
        (movie_scale.filter(|scale| *scale > 0), media_scale, edit)
    else {
        return Ok(None);
    };
    // Where the movie's clock is coarser than a frame its duration does not tell the last one.
    let len_frames = (movie_scale == media_scale && duration > 0).then_some(duration);
    // A delay of a second and more is no encoder's: an empty edit, or a cut by hand.
    Ok((tracks == 1 && delay_frames < u64::from(media_scale))
        .then_some(Edit { delay_frames, len_frames }))
}

type Look<'a> = &'a mut dyn FnMut(&mut File, &Body) -> Result<(), ReadError>;

fn walk(file: &mut File, len_bytes: u64, look: Look<'_>) -> Result<(), ReadError> {
    let mut left = MAX_BOXES;
    let whole = Body { id: *b"file", start: 0, end: len_bytes };
    walk_in(file, whole, 0, &mut left, look)
}

fn walk_in(
    file: &mut File,
    outer: Body,
    depth: usize,
    left: &mut usize,
    look: Look<'_>,
) -> Result<(), ReadError> {
    let mut at = outer.start;
    while at.saturating_add(8) <= outer.end && *left > 0 {
        *left -= 1;
        let head = Body { id: outer.id, start: at, end: outer.end };
        let size = word(file, &head, 0)?;
        let id = word(file, &head, 4)?.to_be_bytes();
        let (head_bytes, size) = match size {
            0 => (8, outer.end - at),
            1 => (16, long(file, &head, 8)?),
            size => (8, u64::from(size)),
        };
        if size < head_bytes {
            break;
        }
        let end = at.saturating_add(size).min(outer.end);
        let body = Body { id, start: at + head_bytes, end };
        look(file, &body)?;
        let holds_boxes = matches!(
            &id,
            b"moov" | b"trak" | b"mdia" | b"minf" | b"stbl" | b"edts" | b"moof" | b"traf"
        );
        if holds_boxes && depth < MAX_DEPTH {
            walk_in(file, body, depth + 1, left, look)?;
        }
        at = end;
    }
    Ok(())
}

/// A 32-bit word of a body; 0 where the body ends before it.
fn word(file: &mut File, body: &Body, offset: u64) -> Result<u32, ReadError> {
    Ok(bytes::<4>(file, body, offset)?.map_or(0, u32::from_be_bytes))
}

fn long(file: &mut File, body: &Body, offset: u64) -> Result<u64, ReadError> {
    Ok(bytes::<8>(file, body, offset)?.map_or(0, u64::from_be_bytes))
}

fn bytes<const N: usize>(
    file: &mut File,
    body: &Body,
    offset: u64,
) -> Result<Option<[u8; N]>, ReadError> {
    let at = body.start.saturating_add(offset);
    if at.saturating_add(N as u64) > body.end {
        return Ok(None);
    }
    let mut bytes = [0; N];
    file.seek(SeekFrom::Start(at))?;
    file.read_exact(&mut bytes)?;
    Ok(Some(bytes))
}
