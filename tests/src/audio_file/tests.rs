use super::*;
use crate::noise::white;

/// A folder of its own for each test, below the system's temporary folder.
fn folder(name: &str) -> PathBuf {
    let folder =
        std::env::temp_dir().join(format!("plimsoll-audio-file-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
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
fn what_is_not_read_is_told_in_one_line_with_file_value_and_rule() {
    let folder = folder("bad");
    let put = |name: &str, rate_hz: u32, channels: usize| {
        let path = folder.join(name);
        write_wav_f32(&path, &Audio { rate_hz, channels: vec![vec![0.1; 100]; channels] }).unwrap();
        path
    };
    let text = folder.join("notes.txt");
    std::fs::write(&text, "dear diary").unwrap();
    for (path, expected) in [
        (folder.join("absent.wav"), "absent.wav: no such file"),
        (text, "notes.txt: not audio (begins with \"dear\")"),
        (put("slow.wav", 7_999, 2), "slow.wav: sample rate 7999 Hz: the meters work from 8000"),
        (put("fast.wav", 384_001, 2), "fast.wav: sample rate 384001 Hz"),
        (put("six.wav", 48_000, 6), "six.wav: 6 channels: one (mono) or two (stereo)"),
        (folder.clone(), "a folder, not a file"),
    ] {
        let said = read(&path).unwrap_err().to_string();
        assert!(said.contains(expected) && !said.contains('\n'), "{said:?}");
    }
}
