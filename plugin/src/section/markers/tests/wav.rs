use super::super::super::testing::Dice;
use super::super::{Marker, MarkerError, read_wav_markers};
use super::marker;
use std::io::{Cursor, Read, Seek, SeekFrom};

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = id.to_vec();
    bytes.extend(u32::try_from(body.len()).unwrap().to_le_bytes());
    bytes.extend(body);
    if body.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes
}

fn words(values: &[u32]) -> Vec<u8> {
    values.iter().flat_map(|value| value.to_le_bytes()).collect()
}

/// A 'fmt ' chunk of 16-bit stereo.
fn format(rate_hz: u32) -> Vec<u8> {
    let mut body = vec![1, 0, 2, 0];
    body.extend(words(&[rate_hz, rate_hz * 4]));
    body.extend([4, 0, 16, 0]);
    chunk(b"fmt ", &body)
}

fn cues(points: &[(u32, u32)]) -> Vec<u8> {
    let mut body = words(&[u32::try_from(points.len()).unwrap()]);
    for (number, frame) in points {
        body.extend(words(&[*number, *frame]));
        body.extend(b"data");
        body.extend(words(&[0, 0, *frame]));
    }
    chunk(b"cue ", &body)
}

fn label(id: &[u8; 4], number: u32, text: &[u8]) -> Vec<u8> {
    let mut body = words(&[number]);
    body.extend(text);
    body.push(0);
    chunk(id, &body)
}

fn labelled_text(number: u32, length_frames: u32, text: &[u8]) -> Vec<u8> {
    let mut body = words(&[number, length_frames]);
    body.extend(b"rgn ");
    body.extend([0; 8]);
    body.extend(text);
    chunk(b"ltxt", &body)
}

fn list(entries: &[Vec<u8>]) -> Vec<u8> {
    let mut body = b"adtl".to_vec();
    body.extend(entries.concat());
    chunk(b"LIST", &body)
}

fn file(form: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    let mut body = b"WAVE".to_vec();
    body.extend(chunks.concat());
    let mut bytes = form.to_vec();
    bytes.extend(u32::try_from(body.len()).unwrap().to_le_bytes());
    bytes.extend(body);
    bytes
}

fn read(bytes: &[u8]) -> Result<Vec<Marker>, MarkerError> {
    read_wav_markers(&mut Cursor::new(bytes))
}

fn song() -> Vec<u8> {
    let names = [
        label(b"labl", 1, b"Intro"),
        label(b"labl", 7, "Réfrain".as_bytes()),
        label(b"note", 2, b"loud"),
        label(b"note", 7, b"not the name"),
        labelled_text(2, 96_000, b""),
        label(b"labl", 9, b"Br\xfccke"),
    ];
    let points = [(7, 96_000), (1, 0), (2, 144_000), (9, 240_001), (3, 480_000)];
    file(
        b"RIFF",
        &[
            format(48_000),
            chunk(b"LIST", b"INFOISFT\x05\0\0\0abcde\0"),
            chunk(b"data", &[1; 4_001]),
            list(&names),
            cues(&points),
        ],
    )
}

#[test]
fn cue_points_are_read_with_names_and_lengths() {
    assert_eq!(
        read(&song()),
        Ok(vec![
            marker(0.0, "Intro"),
            marker(2.0, "Réfrain"),
            Marker { length_s: Some(2.0), ..marker(3.0, "loud") },
            // 240 001 frames; not UTF-8, so ISO 8859-1.
            marker(240_001.0 / 48_000.0, "Brücke"),
            marker(10.0, ""),
        ])
    );
}

#[test]
fn a_file_without_markers_has_none() {
    assert_eq!(read(&file(b"RIFF", &[format(44_100), chunk(b"data", &[0; 8])])), Ok(vec![]));
    assert_eq!(read(&file(b"RIFF", &[])), Ok(vec![]));
}

#[test]
fn what_is_no_wave_file_or_has_no_rate_is_refused() {
    assert_eq!(read(b""), Err(MarkerError::NotWave));
    assert_eq!(read(b"RIFF\0\0\0\0AVI "), Err(MarkerError::NotWave));
    assert_eq!(read(&file(b"FORM", &[])), Err(MarkerError::NotWave));
    assert_eq!(read(&file(b"RIFF", &[cues(&[(1, 0)])])), Err(MarkerError::NoFormat));
    assert_eq!(read(&file(b"RIFF", &[format(0), cues(&[(1, 0)])])), Err(MarkerError::ZeroRate));
    let points: Vec<(u32, u32)> = (0..10_001).map(|number| (number, number)).collect();
    let many = read(&file(b"RIFF", &[format(48_000), cues(&points)]));
    assert_eq!(many.unwrap_err().to_string(), "too many markers: at most 10000 are read");
}

#[test]
fn sizes_that_lie_are_not_believed() {
    // A count of cue points beyond the chunk, and a chunk beyond the file.
    let mut cue = cues(&[(1, 48_000), (2, 96_000)]);
    cue[8..12].copy_from_slice(&u32::MAX.to_le_bytes());
    let two = vec![marker(1.0, ""), marker(2.0, "")];
    assert_eq!(read(&file(b"RIFF", &[format(48_000), cue.clone()])), Ok(two.clone()));
    cue[4..8].copy_from_slice(&(u32::MAX - 1).to_le_bytes());
    assert_eq!(read(&file(b"RIFF", &[format(48_000), cue])), Ok(two));
    // A label whose size reaches beyond its list, and one of a gigabyte that is not there.
    let mut names = list(&[label(b"labl", 1, b"A")]);
    let size_at = 8 + 4 + 4;
    names[size_at..size_at + 4].copy_from_slice(&(1_u32 << 30).to_le_bytes());
    let read_names = read(&file(b"RIFF", &[format(48_000), cues(&[(1, 48_000)]), names]));
    assert_eq!(read_names, Ok(vec![marker(1.0, "A")]));
    // One without the zero that ends it does not run on into the next chunk.
    let mut body = words(&[1]);
    body.extend(b"AB");
    let mut names = list(&[chunk(b"labl", &body)]);
    names[size_at..size_at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
    let after = chunk(b"data", b"CDEF");
    let read_names = read(&file(b"RIFF", &[format(48_000), cues(&[(1, 48_000)]), names, after]));
    assert_eq!(read_names, Ok(vec![marker(1.0, "AB")]));
}

#[test]
fn a_file_cut_short_or_altered_anywhere_never_panics() {
    let whole = song();
    for length in 0..whole.len() {
        let _ = read(&whole[..length]);
    }
    let mut dice = Dice(9);
    for _ in 0..20_000 {
        let mut bytes = whole.clone();
        for _ in 0..=dice.below(4) {
            let length = u32::try_from(bytes.len()).unwrap();
            let at = usize::try_from(dice.below(length)).unwrap();
            let [byte, ..] = dice.next().to_le_bytes();
            bytes[at] = if dice.below(3) == 0 { 0xFF } else { byte };
        }
        if let Ok(markers) = read(&bytes) {
            assert!(
                markers.iter().all(|marker| marker.at_s.is_finite() && marker.name.len() <= 320)
            );
        }
    }
}

/// A file whose middle is zeros that take no memory.
struct Sparse {
    head: Vec<u8>,
    gap_bytes: u64,
    tail: Vec<u8>,
    at: u64,
    read_bytes: u64,
}

impl Read for Sparse {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let head = u64::try_from(self.head.len()).unwrap();
        let (source, start) = if self.at < head {
            (self.head.as_slice(), 0)
        } else if self.at < head + self.gap_bytes {
            (&[0; 64][..], self.at)
        } else {
            (self.tail.as_slice(), head + self.gap_bytes)
        };
        let offset = usize::try_from(self.at - start).unwrap();
        let mut rest = source.get(offset..).unwrap_or_default();
        let count = rest.read(buffer)?;
        self.at += u64::try_from(count).unwrap();
        self.read_bytes += u64::try_from(count).unwrap();
        Ok(count)
    }
}

impl Seek for Sparse {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let length = self.head.len() + self.tail.len();
        self.at = match to {
            SeekFrom::Start(at) => at,
            SeekFrom::End(0) => u64::try_from(length).unwrap() + self.gap_bytes,
            _ => return Err(std::io::ErrorKind::Unsupported.into()),
        };
        Ok(self.at)
    }
}

#[test]
fn sizes_beyond_32_bits_come_from_ds64_and_the_audio_is_not_read() {
    for form in [b"RF64", b"BW64"] {
        let gap_bytes: u64 = 5_000_000_000;
        let mut ds64 = Vec::new();
        for size in [gap_bytes + 1_000, gap_bytes, gap_bytes / 4] {
            ds64.extend(size.to_le_bytes());
        }
        ds64.extend(words(&[0]));
        let mut head = file(form, &[chunk(b"ds64", &ds64), format(48_000)]);
        head.extend(b"data");
        head.extend(u32::MAX.to_le_bytes());
        let tail = [cues(&[(1, 4_000_000_000)]), list(&[label(b"labl", 1, b"Far")])].concat();
        let mut sparse = Sparse { head, gap_bytes, tail, at: 0, read_bytes: 0 };
        let markers = read_wav_markers(&mut sparse);
        assert_eq!(markers, Ok(vec![marker(4e9 / 48_000.0, "Far")]));
        assert!(sparse.read_bytes < 2_000);
    }
}

#[test]
fn a_file_of_nothing_but_empty_chunks_is_given_up() {
    let mut sparse = Sparse {
        head: file(b"RIFF", &[format(48_000)]),
        gap_bytes: 1 << 40,
        tail: cues(&[(1, 0)]),
        at: 0,
        read_bytes: 0,
    };
    assert_eq!(read_wav_markers(&mut sparse), Ok(vec![]));
    assert!(sparse.read_bytes < 1_000_000);
}
