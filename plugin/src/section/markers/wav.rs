//! Cue markers of a WAV file: the chunks 'cue ' and 'LIST' of type 'adtl' with 'labl', 'ltxt' and
//! 'note' (Multimedia Programming Interface and Data Specifications 1.0, 1991; from memory), and
//! the 64-bit sizes of RF64 and BW64 in 'ds64' (EBU Tech 3306 and ITU-R BS.2088; from memory).
//!
//! A malformed file gives what can be read of it, or an error: sizes that it declares are only
//! ever used to skip, never to allocate, and the number of chunks is bounded.

use super::file::{Chunk, File};
use super::{MAX_MARKERS, Marker, MarkerError};
use std::collections::BTreeMap;
use std::io::{Read, Seek};

/// Most chunks that are looked at, those in lists included. The project's own choice, no source.
const MAX_CHUNKS: usize = 100_000;

/// The 32-bit size that stands for "see ds64".
const SIZE_IN_DS64: u32 = u32::MAX;

/// Bytes of one cue point and of the head of a chunk.
const CUE_POINT_BYTES: u64 = 24;
const HEAD_BYTES: u64 = 8;

/// Reads the cue markers of a WAV file, in order of time; none if it has none.
///
/// # Errors
/// A file that cannot be read, that is no WAV file, that has markers but no sample rate, or more
/// than [`MAX_MARKERS`] of them.
pub fn read_wav_markers(source: &mut (impl Read + Seek)) -> Result<Vec<Marker>, MarkerError> {
    let mut file = File::new(source)?;
    let [r0, r1, r2, r3, _, _, _, _, w0, w1, w2, w3] =
        file.bytes::<12>(0)?.ok_or(MarkerError::NotWave)?;
    let (form, wave) = ([r0, r1, r2, r3], [w0, w1, w2, w3]);
    if !matches!(&form, b"RIFF" | b"RF64" | b"BW64") || &wave != b"WAVE" {
        return Err(MarkerError::NotWave);
    }
    let mut found = Found::default();
    let end = file.length();
    let mut chunks = Chunks { at: 12, end, looked_at: 0 };
    while let Some(chunk) = chunks.next(&mut file, &found.large_sizes)? {
        match &chunk.id {
            b"ds64" => found.read_large_sizes(&mut file, &chunk)?,
            b"fmt " => {
                if let Some([.., r0, r1, r2, r3]) = file.bytes_in::<8>(&chunk, 0)? {
                    found.rate_hz = Some(u32::from_le_bytes([r0, r1, r2, r3]));
                }
            }
            b"cue " => found.read_cues(&mut file, &chunk)?,
            b"LIST" if file.bytes_in::<4>(&chunk, 0)?.as_ref() == Some(b"adtl") => {
                let (at, end) = (chunk.start + 4, chunk.end);
                let mut list = Chunks { at, end, looked_at: chunks.looked_at };
                while let Some(entry) = list.next(&mut file, &BTreeMap::new())? {
                    found.read_text(&mut file, &entry)?;
                }
                chunks.looked_at = list.looked_at;
            }
            _ => {}
        }
    }
    found.into_markers()
}

/// Walks over chunks.
struct Chunks {
    at: u64,
    end: u64,
    looked_at: usize,
}

impl Chunks {
    fn next<S: Read + Seek>(
        &mut self,
        file: &mut File<'_, S>,
        large_sizes: &BTreeMap<[u8; 4], u64>,
    ) -> Result<Option<Chunk>, MarkerError> {
        let start = self.at.saturating_add(HEAD_BYTES);
        if start > self.end || self.looked_at == MAX_CHUNKS {
            return Ok(None);
        }
        self.looked_at += 1;
        let Some([i0, i1, i2, i3, s0, s1, s2, s3]) = file.bytes::<8>(self.at)? else {
            return Ok(None);
        };
        let id = [i0, i1, i2, i3];
        let size = match (u32::from_le_bytes([s0, s1, s2, s3]), large_sizes.get(&id)) {
            (SIZE_IN_DS64, Some(&large)) => large,
            (size, _) => u64::from(size),
        };
        let declared_end = start.saturating_add(size);
        // Chunks begin at even places.
        self.at = declared_end.saturating_add(size % 2);
        Ok(Some(Chunk { id, start, end: declared_end.min(self.end) }))
    }
}

/// What was found so far.
#[derive(Default)]
struct Found {
    rate_hz: Option<u32>,
    /// Sizes out of 'ds64', by chunk.
    large_sizes: BTreeMap<[u8; 4], u64>,
    /// Frame of each cue point and its number.
    cues: Vec<(u32, u32)>,
    /// Names by number: 'labl'.
    labels: BTreeMap<u32, String>,
    /// Names for want of a label: the text of 'ltxt' or 'note'.
    other_names: BTreeMap<u32, String>,
    /// Lengths by number, frames: 'ltxt'.
    lengths: BTreeMap<u32, u32>,
}

impl Found {
    fn read_large_sizes<S: Read + Seek>(
        &mut self,
        file: &mut File<'_, S>,
        chunk: &Chunk,
    ) -> Result<(), MarkerError> {
        // Size of the whole file, of 'data', number of frames, then a table of other chunks.
        if let Some(data) = file.long(chunk, 8)? {
            self.large_sizes.insert(*b"data", data);
        }
        for entry in 0..u64::from(file.word(chunk, 24)?.unwrap_or(0)).min(64) {
            let at = 28 + entry * 12;
            match (file.bytes_in::<4>(chunk, at)?, file.long(chunk, at + 4)?) {
                (Some(id), Some(size)) => self.large_sizes.insert(id, size),
                _ => break,
            };
        }
        Ok(())
    }

    fn read_cues<S: Read + Seek>(
        &mut self,
        file: &mut File<'_, S>,
        chunk: &Chunk,
    ) -> Result<(), MarkerError> {
        let count = file.word(chunk, 0)?.unwrap_or(0);
        for index in 0..u64::from(count) {
            let at = 4 + index * CUE_POINT_BYTES;
            // Number, place in a play order, chunk, its start, block start, frame in the block.
            // In uncompressed audio the block is the whole of 'data'.
            let (Some(number), Some(frame)) = (file.word(chunk, at)?, file.word(chunk, at + 20)?)
            else {
                break;
            };
            if self.cues.len() == MAX_MARKERS {
                return Err(MarkerError::TooMany);
            }
            self.cues.push((frame, number));
        }
        Ok(())
    }

    fn read_text<S: Read + Seek>(
        &mut self,
        file: &mut File<'_, S>,
        entry: &Chunk,
    ) -> Result<(), MarkerError> {
        let Some(number) = file.word(entry, 0)? else {
            return Ok(());
        };
        let (names, text_at) = match &entry.id {
            b"labl" => (&mut self.labels, 4),
            b"note" => (&mut self.other_names, 4),
            b"ltxt" => {
                if let Some(length) = file.word(entry, 4)?
                    && length > 0
                    && self.lengths.len() < MAX_MARKERS
                {
                    self.lengths.entry(number).or_insert(length);
                }
                // Number, length, purpose, country, language, dialect, code page.
                (&mut self.other_names, 20)
            }
            _ => return Ok(()),
        };
        if names.len() < MAX_MARKERS && !names.contains_key(&number) {
            let name = file.text(entry, text_at, u64::MAX)?;
            if !name.is_empty() {
                names.insert(number, name);
            }
        }
        Ok(())
    }

    fn into_markers(mut self) -> Result<Vec<Marker>, MarkerError> {
        if self.cues.is_empty() {
            return Ok(Vec::new());
        }
        let rate_hz = match self.rate_hz {
            None => return Err(MarkerError::NoFormat),
            Some(0) => return Err(MarkerError::ZeroRate),
            Some(rate_hz) => f64::from(rate_hz),
        };
        self.cues.sort_unstable();
        let markers = self.cues.into_iter().map(|(frame, number)| {
            let name = self.labels.get(&number).or_else(|| self.other_names.get(&number));
            Marker {
                at_s: f64::from(frame) / rate_hz,
                length_s: self.lengths.get(&number).map(|&length| f64::from(length) / rate_hz),
                name: name.cloned().unwrap_or_default(),
            }
        });
        Ok(markers.collect())
    }
}
