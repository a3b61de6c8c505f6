use super::*;
use crate::noise::{Rng, white};

/// A folder of its own for each test, below the system's temporary folder.
fn folder(name: &str) -> PathBuf {
    let folder =
        std::env::temp_dir().join(format!("plimsoll-audio-file-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn message(path: &Path) -> String {
    read(path).unwrap_err().to_string()
}

/// A WAV of one 'fmt ' and one 'data' chunk with the given header fields.
fn wav(tag: u16, channels: u16, rate_hz: u32, bits: u16, data: &[u8]) -> Vec<u8> {
    let mut bytes = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0".to_vec();
    bytes.extend(tag.to_le_bytes());
    bytes.extend(channels.to_le_bytes());
    bytes.extend(rate_hz.to_le_bytes());
    bytes.extend(0u32.to_le_bytes());
    bytes.extend(0u16.to_le_bytes());
    bytes.extend(bits.to_le_bytes());
    bytes.extend(b"data");
    bytes.extend(u32::try_from(data.len()).unwrap().to_le_bytes());
    bytes.extend(data);
    bytes
}

#[test]
fn float_wav_comes_back_bit_for_bit() {
    let path = folder("float").join("song.wav");
    let mut left = white(1, 1000, 1.5);
    left[3] = f32::NAN;
    left[4] = f32::INFINITY;
    left[5] = 1.0e-40;
    let audio = Audio { rate_hz: 48_000, channels: vec![left, white(2, 1000, 0.5)] };
    write_wav_f32(&path, &audio).unwrap();
    let back = read(&path).unwrap();
    assert_eq!(back.rate_hz, 48_000);
    for (a, b) in audio.channels.iter().zip(&back.channels) {
        let bits = |c: &[f32]| c.iter().map(|s| s.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(a), bits(b));
    }
}

#[test]
fn pcm_of_24_bits_comes_back_within_half_a_step() {
    let path = folder("i24").join("song.wav");
    let audio = Audio { rate_hz: 44_100, channels: vec![white(1, 1000, 0.99)] };
    write_wav_i24(&path, &audio).unwrap();
    let back = read(&path).unwrap();
    for (a, b) in audio.channels[0].iter().zip(&back.channels[0]) {
        assert!((a - b).abs() <= 0.5 / 8_388_608.0 + f32::EPSILON, "{a} {b}");
    }
}

#[test]
fn every_sample_format_scales_to_full_scale() {
    let folder = folder("formats");
    let cases: [(u16, u16, Vec<u8>); 6] = [
        (1, 8, vec![0, 64]),
        (1, 16, [i16::MIN, i16::MIN / 2].iter().flat_map(|s| s.to_le_bytes()).collect()),
        (1, 24, vec![0, 0, 0x80, 0, 0, 0xC0]),
        (1, 32, [i32::MIN, i32::MIN / 2].iter().flat_map(|s| s.to_le_bytes()).collect()),
        (3, 32, [-1.0f32, -0.5].iter().flat_map(|s| s.to_le_bytes()).collect()),
        (3, 64, [-1.0f64, -0.5].iter().flat_map(|s| s.to_le_bytes()).collect()),
    ];
    for (tag, bits, data) in cases {
        let path = folder.join(format!("{tag}-{bits}.wav"));
        std::fs::write(&path, wav(tag, 1, 48_000, bits, &data)).unwrap();
        assert_eq!(read(&path).unwrap().channels, vec![vec![-1.0, -0.5]], "{tag} {bits}");
    }
}

#[test]
fn bad_files_give_one_line_with_file_value_and_rule() {
    let folder = folder("bad");
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let samples = [0u8; 48];
    let cases = [
        (folder.join("absent.wav"), "absent.wav: no such file"),
        (put("notes.txt", b"dear diary"), "notes.txt: not audio (begins with \"dear\")"),
        (put("empty.wav", b""), "empty.wav: not audio (begins with \"\")"),
        (
            put("zero.wav", &wav(1, 2, 48_000, 16, &[])),
            "zero.wav: 0 frames: there must be at least one",
        ),
        (
            put("still.wav", &wav(1, 2, 0, 16, &samples)),
            "still.wav: sample rate 0 Hz: the meters work from 8000 to 384000 Hz",
        ),
        (put("slow.wav", &wav(1, 2, 7_999, 16, &samples)), "sample rate 7999 Hz"),
        (put("fast.wav", &wav(1, 2, 384_001, 16, &samples)), "sample rate 384001 Hz"),
        (
            put("none.wav", &wav(1, 0, 48_000, 16, &samples)),
            "none.wav: 0 channels: one (mono) or two (stereo)",
        ),
        (put("six.wav", &wav(1, 6, 48_000, 16, &samples)), "six.wav: 6 channels"),
        (put("law.wav", &wav(7, 1, 8_000, 8, &samples)), "law.wav: format tag 7 with 8 bits"),
        (put("odd.wav", &wav(1, 1, 8_000, 0, &samples)), "odd.wav: format tag 1 with 0 bits"),
        (
            put("headless.wav", b"RIFF\0\0\0\0WAVEdata\x04\0\0\0abcd"),
            "headless.wav: damaged: no 'fmt ' chunk",
        ),
        (
            put("cut.wav", b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0ab"),
            "cut.wav: damaged: 'fmt ' chunk of 2 bytes",
        ),
        (put("bare.wav", b"RIFF\0\0\0\0WAVE"), "bare.wav: damaged: no 'data' chunk"),
        (put("ogg.ogg", b"OggS\0\0\0\0"), "ogg.ogg: damaged: "),
        (put("flac.flac", b"fLaC"), "flac.flac: damaged: "),
    ];
    for (path, expected) in cases {
        let text = message(&path);
        assert!(text.contains(expected), "{text:?} should contain {expected:?}");
        assert!(!text.contains('\n'), "{text:?} is more than one line");
    }
    let text = message(&folder);
    assert!(text.starts_with(&folder.display().to_string()), "{text}");
}

#[test]
fn a_flac_or_vorbis_header_with_a_rate_of_zero_is_refused() {
    let folder = folder("zero-rate");
    let mut flac = b"fLaC\x80\0\0\x22".to_vec();
    flac.extend([0u8; 34 + 64]);
    let path = folder.join("still.flac");
    std::fs::write(&path, &flac).unwrap();
    assert!(message(&path).contains("still.flac: sample rate 0 Hz"), "{}", message(&path));

    let mut vorbis = b"OggS\0\x02".to_vec();
    vorbis.resize(28, 0);
    vorbis.extend(b"\x01vorbis\0\0\0\0\x02\0\0\0\0");
    let path = folder.join("still.ogg");
    std::fs::write(&path, &vorbis).unwrap();
    assert!(message(&path).contains("still.ogg: sample rate 0 Hz"), "{}", message(&path));
}

#[test]
fn chunk_sizes_beyond_the_file_read_what_is_there() {
    let path = folder("endless").join("endless.wav");
    let mut bytes = wav(3, 1, 48_000, 32, &[0u8; 40]);
    let at = bytes.len() - 44;
    bytes[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
    std::fs::write(&path, bytes).unwrap();
    assert_eq!(read(&path).unwrap().len_frames(), 10);
}

#[test]
fn no_damage_to_a_file_makes_reading_panic() {
    let folder = folder("fuzz");
    let path = folder.join("fuzz");
    let mut rng = Rng::new(0xF11E);
    let good = wav(1, 2, 48_000, 16, &[7u8; 400]);
    for _ in 0..20_000 {
        let mut bytes = good.clone();
        for _ in 0..rng.between(1, 8) {
            let at = rng.between(0, bytes.len() - 1);
            bytes[at] = rng.next_u64().to_le_bytes()[0];
        }
        bytes.truncate(rng.between(0, bytes.len()));
        if let Ok(audio) = wav::decode(&path, &bytes) {
            assert!(audio.len_frames() <= bytes.len());
        }
    }
}
