//! What is read, what is warned of, what is refused.

#![allow(clippy::cast_possible_truncation, reason = "small numbers of test files")]

mod opus;

use super::*;
use std::path::PathBuf;

/// A file of its own below the system's temporary folder.
fn put(name: &str, bytes: &[u8]) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("plimsoll-reader-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// What the header says, everything that the file holds, and what is warned of.
type Whole = (FileFacts, Vec<Vec<f32>>, Vec<String>);

fn read_all(path: &Path) -> Result<Whole, ReadError> {
    let mut reader = Reader::open(path)?;
    let facts = reader.facts().clone();
    let mut block = Block::default();
    let mut planes = vec![Vec::new(); facts.channels];
    loop {
        reader.read(&mut block)?;
        if block.len_frames() == 0 {
            return Ok((facts, planes, reader.warnings().to_vec()));
        }
        for (all, plane) in planes.iter_mut().zip(block.planes()) {
            all.extend_from_slice(plane);
        }
    }
}

fn format(tag: u16, channels: u16, rate_hz: u32, bits: u16) -> Vec<u8> {
    let frame_bytes = channels * bits.div_ceil(8);
    let mut bytes = Vec::new();
    bytes.extend(tag.to_le_bytes());
    bytes.extend(channels.to_le_bytes());
    bytes.extend(rate_hz.to_le_bytes());
    bytes.extend(rate_hz.wrapping_mul(u32::from(frame_bytes)).to_le_bytes());
    bytes.extend(frame_bytes.to_le_bytes());
    bytes.extend(bits.to_le_bytes());
    bytes
}

fn chunk(id: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
    [&id[..], &size.to_le_bytes(), body].concat()
}

fn wav(format: &[u8], data: &[u8]) -> Vec<u8> {
    let format = chunk(b"fmt ", format.len() as u32, format);
    [b"RIFF\0\0\0\0WAVE", &format[..], &chunk(b"data", data.len() as u32, data)].concat()
}

/// −1 and −0.5 in every kind of sample.
fn samples(tag: u16, bits: u16) -> Vec<u8> {
    match (tag, bits) {
        (1, 8) => vec![0, 64],
        (1, 16) => vec![0, 0x80, 0, 0xC0],
        (1, 24) => vec![0, 0, 0x80, 0, 0, 0xC0],
        (1, 32) => vec![0, 0, 0, 0x80, 0, 0, 0, 0xC0],
        (3, 32) => [-1.0_f32, -0.5].iter().flat_map(|s| s.to_le_bytes()).collect(),
        _ => [-1.0_f64, -0.5].iter().flat_map(|s| s.to_le_bytes()).collect(),
    }
}

const KINDS: [(u16, u16); 6] = [(1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64)];

#[test]
fn every_kind_of_sample_scales_to_full_scale() {
    for (tag, bits) in KINDS {
        let path = put(
            &format!("kind-{tag}-{bits}.wav"),
            &wav(&format(tag, 1, 48_000, bits), &samples(tag, bits)),
        );
        let (facts, planes, warnings) = read_all(&path).unwrap();
        assert_eq!(planes, [[-1.0, -0.5]], "{tag} {bits}");
        assert_eq!(warnings, [""; 0]);
        let float = Coding::Float { bits: u32::from(bits) };
        let integer = Coding::Integer { bits: u32::from(bits) };
        assert_eq!(facts.coding, if tag == 3 { float } else { integer });
        assert_eq!((facts.format, facts.rate_hz, facts.len_frames), ("WAV", 48_000, Some(2)));
    }
}

#[test]
fn channels_come_apart_in_order() {
    for channels in [1_u16, 2, 3, 6, 8] {
        let frames = 5_000_u16;
        let data: Vec<u8> =
            (0..frames * channels).flat_map(|sample| sample.to_le_bytes()).collect();
        let path =
            put(&format!("order-{channels}.wav"), &wav(&format(1, channels, 8_000, 16), &data));
        let (_, planes, _) = read_all(&path).unwrap();
        assert_eq!(planes.len(), usize::from(channels));
        for (channel, plane) in (0..).zip(planes) {
            let expected = (0..frames).map(|frame| frame * channels + channel);
            let expected: Vec<f32> =
                expected.map(|value| f32::from(value.cast_signed()) / 32_768.0).collect();
            assert_eq!(plane, expected, "{channels} {channel}");
        }
    }
}

#[test]
fn extensible_tells_its_true_kind_and_the_bits_in_use() {
    let mut body = format(0xFFFE, 1, 44_100, 24);
    body.extend([22, 0, 20, 0, 4, 0, 0, 0, 1, 0]);
    body.extend([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71]);
    let path = put("extensible.wav", &wav(&body, &samples(1, 24)));
    let (facts, planes, _) = read_all(&path).unwrap();
    assert_eq!(facts.coding, Coding::Integer { bits: 20 });
    assert_eq!(planes, [[-1.0, -0.5]]);
}

#[test]
fn long_forms_are_read() {
    let data = samples(1, 24);
    let format = format(1, 1, 96_000, 24);
    let size64 = |size: usize| (size as u64).to_le_bytes().to_vec();
    let ds64 = [vec![0; 8], size64(data.len()), size64(2), vec![0; 4]].concat();
    let rf64 = [
        b"RF64\xFF\xFF\xFF\xFFWAVE".to_vec(),
        chunk(b"ds64", 28, &ds64),
        chunk(b"fmt ", 16, &format),
        chunk(b"data", u32::MAX, &data),
        // What follows is not sound.
        chunk(b"LIST", 4, b"adtl"),
    ]
    .concat();
    let (facts, planes, warnings) = read_all(&put("long.rf64", &rf64)).unwrap();
    assert_eq!((facts.format, facts.len_frames), ("RF64", Some(2)));
    assert_eq!((planes, warnings.len()), (vec![vec![-1.0, -0.5]], 0));

    let name = |id: &[u8; 4]| [&id[..], &[0; 12]].concat();
    let w64 = [
        name(b"riff"),
        vec![0; 8],
        name(b"wave"),
        name(b"fmt "),
        size64(16 + 24),
        format,
        name(b"data"),
        size64(data.len() + 24),
        data,
    ]
    .concat();
    let (facts, planes, warnings) = read_all(&put("long.w64", &w64)).unwrap();
    assert_eq!((facts.format, facts.rate_hz), ("Wave64", 96_000));
    assert_eq!((planes, warnings.len()), (vec![vec![-1.0, -0.5]], 0));
}

#[test]
fn aiff_is_read_in_both_byte_orders() {
    let rate = [0x40, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0];
    let aiff = |form: &[u8; 4], bits: u16, code: &[u8], data: &[u8]| {
        let common = [&[0, 1][..], &2_u32.to_be_bytes(), &bits.to_be_bytes(), &rate, code].concat();
        let head = |id: &[u8; 4], size: usize| [&id[..], &(size as u32).to_be_bytes()].concat();
        [
            head(b"FORM", 0),
            form.to_vec(),
            head(b"COMM", common.len()),
            common,
            head(b"SSND", data.len() + 8),
            vec![0; 8],
            data.to_vec(),
        ]
        .concat()
    };
    for (name, bytes) in [
        ("16.aiff", aiff(b"AIFF", 16, b"", &[0x80, 0, 0xC0, 0])),
        ("24.aiff", aiff(b"AIFF", 24, b"", &[0x80, 0, 0, 0xC0, 0, 0])),
        ("8.aiff", aiff(b"AIFF", 8, b"", &[0x80, 0xC0])),
        ("sowt.aifc", aiff(b"AIFC", 16, b"sowt\0\0", &[0, 0x80, 0, 0xC0])),
        ("fl32.aifc", aiff(b"AIFC", 32, b"fl32\0\0", &[0xBF, 0x80, 0, 0, 0xBF, 0, 0, 0])),
    ] {
        let (facts, planes, warnings) = read_all(&put(name, &bytes)).unwrap();
        assert_eq!((facts.format, facts.rate_hz), ("AIFF", 44_100), "{name}");
        assert_eq!(planes, [[-1.0, -0.5]], "{name}");
        assert_eq!(warnings, [""; 0], "{name}");
    }
}

#[test]
fn bits_below_the_24th_are_seen() {
    for (low, expected) in [(0, false), (1, true)] {
        let path = put("low.wav", &wav(&format(1, 1, 48_000, 32), &[low, 1, 2, 3]));
        let mut reader = Reader::open(path).unwrap();
        let mut block = Block::default();
        reader.read(&mut block).unwrap();
        assert_eq!(block.uses_below_24_bits(), expected);
    }
}

#[test]
fn sizes_that_lie_read_what_is_there_and_say_so() {
    let format = format(1, 1, 48_000, 16);
    let data = [1_u8; 100];
    let with_size = |size: u32| {
        [b"RIFF\0\0\0\0WAVE", &chunk(b"fmt ", 16, &format)[..], &chunk(b"data", size, &data)]
            .concat()
    };
    for (size, frames, warning) in [
        (100, 50, ""),
        (60, 30, ""),
        (1 << 30, 50, "states 1073741824 bytes of samples and the file holds 100"),
        (u32::MAX, 50, "its writer did not finish"),
        (0, 50, "its writer did not finish"),
        (99, 49, "the last frame has 1 of its 2 bytes"),
    ] {
        let (_, planes, warnings) = read_all(&put("lie.wav", &with_size(size))).unwrap();
        assert_eq!(planes[0].len(), frames, "{size}");
        let text = warnings.join("\n");
        assert!(text.contains(warning) && text.is_empty() == warning.is_empty(), "{size}: {text}");
    }
    // An empty chunk with another one behind it is just empty.
    let empty = [wav(&format, &[]), chunk(b"LIST", 4, b"adtl")].concat();
    assert!(matches!(read_all(&put("none.wav", &empty)), Err(ReadError::ZeroFrames)));
}

#[test]
fn what_is_not_read_is_refused_in_one_line() {
    let one = [0_u8; 16];
    let mut flac = b"fLaC\x80\0\0\x22".to_vec();
    flac.extend([0; 34 + 64]);
    let mut vorbis = b"OggS\0\x02".to_vec();
    vorbis.resize(28, 0);
    vorbis.extend(b"\x01vorbis\0\0\0\0\x02\0\0\0\0");
    let table = [
        &b"\0\0\0\x10ftypM4A \0\0\0\0"[..],
        b"\0\0\0\x18moov",
        b"\0\0\0\x10stco\0\0\0\0\x7F\xFF\xFF\xFF",
    ]
    .concat();
    let caf = [&b"caff\0\x01\0\0pakt\0\0\0\0\0\0\0\x18"[..], &[0x7F; 24]].concat();
    for (name, bytes, expected) in [
        ("notes.txt", b"dear diary".to_vec(), "not audio (begins with \"dear\")"),
        ("empty.wav", Vec::new(), "not audio (begins with \"\")"),
        ("zero.wav", wav(&format(1, 2, 48_000, 16), &[]), "0 frames"),
        ("still.wav", wav(&format(1, 2, 0, 16), &one), "sample rate 0 Hz: must be above zero"),
        ("none.wav", wav(&format(1, 0, 48_000, 16), &one), "0 channels: must be 1 to 64"),
        ("many.wav", wav(&format(1, 4_000, 48_000, 16), &one), "4000 channels: must be 1 to 64"),
        ("law.wav", wav(&format(7, 1, 8_000, 8), &one), "WAV format tag 7 with 8 bits"),
        ("odd.wav", wav(&format(1, 1, 8_000, 0), &one), "WAV format tag 1 with 0 bits"),
        ("headless.wav", b"RIFF\0\0\0\0WAVEdata\x04\0\0\0abcd".to_vec(), "no 'fmt ' chunk before"),
        ("cut.wav", b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0ab".to_vec(), "'fmt ' chunk of 2 bytes"),
        ("bare.wav", b"RIFF\0\0\0\0WAVE".to_vec(), "no 'data' chunk"),
        ("ogg.ogg", b"OggS\0\0\0\0".to_vec(), "damaged: "),
        ("flac.flac", b"fLaC".to_vec(), "damaged: "),
        ("still.flac", flac, "sample rate 0 Hz"),
        ("still.ogg", vorbis, "sample rate 0 Hz"),
        ("table.m4a", table, "table 'stco' states 2147483647 entries and has room for 0"),
        ("packets.caf", caf, "packets stated in a file of 44 bytes"),
    ] {
        let text = read_all(&put(name, &bytes)).unwrap_err().to_string();
        assert!(text.contains(expected), "{name}: {text:?} should contain {expected:?}");
        assert!(!text.contains('\n'), "{text:?} is more than one line");
    }
    let folder = read_all(&std::env::temp_dir()).unwrap_err().to_string();
    assert_eq!(folder, "a folder, not a file");
    let absent = read_all(Path::new("absent.wav")).unwrap_err().to_string();
    assert_eq!(absent, "no such file");
}

/// A xorshift generator; the seed is not zero.
struct Rng(u64);

impl Rng {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 16) as usize % end.max(1)
    }
}

#[test]
fn no_damage_makes_reading_panic_or_invent_sound() {
    let mut rng = Rng(0x5EED);
    let seeds = [
        wav(&format(1, 2, 48_000, 24), &[7; 600]),
        wav(&format(3, 6, 48_000, 32), &[7; 600]),
        [b"riff".to_vec(), vec![0; 400]].concat(),
        [
            b"FORM\0\0\0\0AIFFCOMM\0\0\0\x12\0\x02\0\0\0\x40\0\x10\x40\x0E\xAC\x44".to_vec(),
            vec![0; 300],
        ]
        .concat(),
    ];
    for round in 0..1_500 {
        let mut bytes = seeds[round % seeds.len()].clone();
        for _ in 0..=rng.below(8) {
            let at = rng.below(bytes.len());
            bytes[at] = rng.below(256) as u8;
        }
        bytes.truncate(rng.below(bytes.len() + 1));
        if let Ok((facts, planes, _)) = read_all(&put("fuzz", &bytes)) {
            assert!(facts.channels * planes[0].len() <= bytes.len());
        }
    }
}
