//! Walks over the chunks of a file. A chunk's body is cut to what is really there.

use crate::ReadError;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

/// Most chunks that are looked at. The project's own choice, no source.
const MAX_CHUNKS: usize = 10_000;

/// How the head of a chunk is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// Four letters, 32-bit size, least significant byte first; begins at even places.
    Riff,
    /// The same with the most significant byte first.
    Aiff,
    /// 16 bytes of name, 64-bit size with the head in it; begins at multiples of eight.
    Wave64,
}

/// A chunk.
#[derive(Debug, Clone, Copy)]
pub struct Chunk {
    /// Its name, or the first letters of it.
    pub id: [u8; 4],
    /// Where its body begins.
    pub start: u64,
    /// Bytes of its body as the head states them.
    pub stated_bytes: u64,
    /// Bytes of its body that the file holds.
    pub len_bytes: u64,
}

/// Walks over the chunks of a file from one place on.
pub struct Chunks<'a> {
    file: &'a mut File,
    style: Style,
    at: u64,
    end: u64,
    left: usize,
    /// Size of 'data' out of 'ds64' (RF64, BW64).
    pub large_data_bytes: Option<u64>,
}

impl<'a> Chunks<'a> {
    /// The chunks from `at` on.
    pub fn new(file: &'a mut File, style: Style, at: u64) -> Result<Self, ReadError> {
        let end = file.seek(SeekFrom::End(0))?;
        Ok(Self { file, style, at, end, left: MAX_CHUNKS, large_data_bytes: None })
    }

    /// The next chunk.
    pub fn next(&mut self) -> Result<Option<Chunk>, ReadError> {
        if self.left == 0 {
            return Err(ReadError::damaged(format!("more than {MAX_CHUNKS} chunks")));
        }
        self.left -= 1;
        let (id, start, stated_bytes) = match self.style {
            Style::Riff | Style::Aiff => {
                let Some([i0, i1, i2, i3, size @ ..]) = self.bytes_at::<8>(self.at)? else {
                    return Ok(None);
                };
                let id = [i0, i1, i2, i3];
                let size = if self.style == Style::Riff {
                    u32::from_le_bytes(size)
                } else {
                    u32::from_be_bytes(size)
                };
                let large = self.large_data_bytes.filter(|_| size == u32::MAX && &id == b"data");
                (id, self.at + 8, large.unwrap_or(u64::from(size)))
            }
            Style::Wave64 => {
                let Some([i0, i1, i2, i3]) = self.bytes_at::<4>(self.at)? else {
                    return Ok(None);
                };
                let Some(size) = self.bytes_at::<8>(self.at + 16)? else {
                    return Ok(None);
                };
                let size = u64::from_le_bytes(size);
                ([i0, i1, i2, i3], self.at + 24, size.saturating_sub(24))
            }
        };
        let align = if self.style == Style::Wave64 { 8 } else { 2 };
        self.at =
            start.saturating_add(stated_bytes).checked_next_multiple_of(align).unwrap_or(self.end);
        let len_bytes = stated_bytes.min(self.end.saturating_sub(start));
        Ok(Some(Chunk { id, start, stated_bytes, len_bytes }))
    }

    /// `N` bytes at `at`; `None` where the file is too short.
    fn bytes_at<const N: usize>(&mut self, at: u64) -> Result<Option<[u8; N]>, ReadError> {
        if at.checked_add(N as u64).is_none_or(|end| end > self.end) {
            return Ok(None);
        }
        let mut bytes = [0; N];
        self.file.seek(SeekFrom::Start(at))?;
        self.file.read_exact(&mut bytes)?;
        Ok(Some(bytes))
    }

    /// The first bytes of a chunk's body, at most `N`; what is missing is zero. Also gives how
    /// many there are.
    pub fn head<const N: usize>(&mut self, chunk: &Chunk) -> Result<([u8; N], usize), ReadError> {
        let mut bytes = [0; N];
        let len = usize::try_from(chunk.len_bytes).unwrap_or(N).min(N);
        self.file.seek(SeekFrom::Start(chunk.start))?;
        if let Some(there) = bytes.get_mut(..len) {
            self.file.read_exact(there)?;
        }
        Ok((bytes, len))
    }

    /// Where the samples in the body of `chunk` begin and how many bytes of them there are, and
    /// what to say of a size that lies.
    pub fn samples(
        &mut self,
        chunk: &Chunk,
        skip_bytes: u64,
    ) -> Result<(u64, u64, Vec<String>), ReadError> {
        let start = chunk.start.saturating_add(skip_bytes);
        let rest = self.end.saturating_sub(start);
        let stated = chunk.stated_bytes.saturating_sub(skip_bytes);
        // A writer puts the size in last of all: until then it is zero, or the largest there is.
        let is_largest = chunk.stated_bytes >= u64::from(u32::MAX)
            && self.style != Style::Wave64
            && self.large_data_bytes.is_none();
        let unfinished = rest > 0 && (is_largest || stated == 0 && !self.is_chunk_at(start)?);
        if unfinished {
            let line = format!(
                "the header states no length (its writer did not finish): {rest} bytes are read"
            );
            return Ok((start, rest, vec![line]));
        }
        let mut warnings = Vec::new();
        if stated > rest {
            warnings.push(format!(
                "the header states {stated} bytes of samples and the file holds {rest}: cut off?"
            ));
        }
        Ok((start, stated.min(rest), warnings))
    }

    /// Whether what stands at `at` can be the name of a chunk.
    fn is_chunk_at(&mut self, at: u64) -> Result<bool, ReadError> {
        let id = self.bytes_at::<4>(at)?;
        Ok(id.is_some_and(|id| id.iter().all(|byte| (b' '..=b'~').contains(byte))))
    }
}
