//! A file of chunks, read at places that were checked against its true length.

use super::{MarkerError, clean_name};
use std::io::{Read, Seek, SeekFrom};

/// Most bytes of a text that are read: more than the longest name. The project's own choice.
const MAX_TEXT_BYTES: u64 = 1_024;

/// A chunk: its body lies from `start` to `end`, cut to what is really there.
#[derive(Debug, Clone, Copy)]
pub struct Chunk {
    pub id: [u8; 4],
    pub start: u64,
    pub end: u64,
}

/// The file with its true length.
pub struct File<'a, S> {
    source: &'a mut S,
    length: u64,
}

impl<'a, S: Read + Seek> File<'a, S> {
    pub fn new(source: &'a mut S) -> Result<Self, MarkerError> {
        let length = source.seek(SeekFrom::End(0))?;
        Ok(Self { source, length })
    }

    /// `N` bytes at `at`; `None` where the file is too short.
    pub fn bytes<const N: usize>(&mut self, at: u64) -> Result<Option<[u8; N]>, MarkerError> {
        let wanted = u64::try_from(N).unwrap_or(u64::MAX);
        if at.checked_add(wanted).is_none_or(|end| end > self.length) {
            return Ok(None);
        }
        let mut bytes = [0; N];
        self.source.seek(SeekFrom::Start(at))?;
        self.source.read_exact(&mut bytes)?;
        Ok(Some(bytes))
    }

    /// `N` bytes at `offset` in the body of `chunk`; `None` where that is too short.
    pub fn bytes_in<const N: usize>(
        &mut self,
        chunk: &Chunk,
        offset: u64,
    ) -> Result<Option<[u8; N]>, MarkerError> {
        let at = chunk.start.saturating_add(offset);
        let wanted = u64::try_from(N).unwrap_or(u64::MAX);
        if at.saturating_add(wanted) > chunk.end {
            return Ok(None);
        }
        self.bytes(at)
    }

    /// The length of the whole file, bytes.
    pub const fn length(&self) -> u64 {
        self.length
    }

    /// A 32-bit word, least significant byte first.
    pub fn word(&mut self, chunk: &Chunk, offset: u64) -> Result<Option<u32>, MarkerError> {
        Ok(self.bytes_in::<4>(chunk, offset)?.map(u32::from_le_bytes))
    }

    /// A 64-bit word, least significant byte first.
    pub fn long(&mut self, chunk: &Chunk, offset: u64) -> Result<Option<u64>, MarkerError> {
        Ok(self.bytes_in::<8>(chunk, offset)?.map(u64::from_le_bytes))
    }

    /// The text of at most `most_bytes` from `offset` up to the zero that ends it or the chunk's
    /// end, as a name.
    pub fn text(
        &mut self,
        chunk: &Chunk,
        offset: u64,
        most_bytes: u64,
    ) -> Result<String, MarkerError> {
        let start = chunk.start.saturating_add(offset);
        let Some(length) = chunk.end.checked_sub(start) else {
            return Ok(String::new());
        };
        self.source.seek(SeekFrom::Start(start))?;
        let mut bytes = Vec::new();
        let length = length.min(most_bytes).min(MAX_TEXT_BYTES);
        self.source.by_ref().take(length).read_to_end(&mut bytes)?;
        let text = bytes.split(|&byte| byte == 0).next().unwrap_or_default();
        // The chunk says nothing of its encoding: UTF-8 if it is that, else each byte as the
        // character of the same number (ISO 8859-1).
        Ok(clean_name(&match std::str::from_utf8(text) {
            Ok(text) => text.to_owned(),
            // The cut at the most bytes may have gone through a character.
            Err(error) if error.error_len().is_none() => {
                String::from_utf8_lossy(text.get(..error.valid_up_to()).unwrap_or_default())
                    .into_owned()
            }
            Err(_) => text.iter().copied().map(char::from).collect(),
        }))
    }
}
