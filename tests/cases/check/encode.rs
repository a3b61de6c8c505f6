//! `--after-encode`.

use super::{folder, program, put, run};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::noise::pink;
use serde_json::Value;

/// A song pressed against full scale: every beat of it reaches the same height. It lies below
/// 2 kHz mostly, so that what a code leaves out above 16 kHz is no loudness.
fn pressed(rate_hz: u32, len_s: usize, channels: u64) -> Audio {
    let len_frames = len_s * rate_hz as usize;
    let step = 1.0 - (-std::f32::consts::TAU * 2_000.0 / rate_hz as f32).exp();
    let plane = |seed| {
        let (mut once, mut twice) = (0.0_f32, 0.0_f32);
        let press = |sample: f32| {
            once += step * (sample - once);
            twice += step * (once - twice);
            0.7 * (6.0 * twice).tanh()
        };
        pink(seed, len_frames, 0.9).into_iter().map(press).collect()
    };
    Audio { rate_hz, channels: (0..channels).map(|channel| plane(31 + channel)).collect() }
}

#[test]
fn after_a_lossy_encode_peaks_are_back_over_a_ceiling_that_held() {
    let Some(program) = program() else { return };
    let folder = folder("encode");
    let file = put(&folder, "pressed.wav", &pressed(48_000, 10, 2));
    let before = run(&program, &["check", "--json", "-", "--one-reading"], &[&file]).json();
    let peak = before["files"][0]["max_true_peak_dbtp"].as_f64().unwrap();
    let target = folder.join("target.json");
    // Held by a hair: the JSON has every digit.
    let ceiling = peak + 1e-6;
    let text = format!(r#"{{"name":"Label","source":"mail","true_peak_ceiling":{ceiling}}}"#);
    std::fs::write(&target, text).unwrap();
    let words = ["check", "--after-encode", "--target", target.to_str().unwrap(), "--json", "-"];
    let said = run(&program, &words, &[&file]);
    // What an encoder makes of it is no part of the verdict on the file.
    assert_eq!(said.status, 0, "{}", said.err);
    let report = said.json();
    let encoded = report["files"][0]["after_encode"].as_array().unwrap();
    assert!(encoded.len() >= 2, "{report}");
    for one in encoded {
        assert_eq!(one["error"], Value::Null, "{one}");
        let number = |key: &str| one[key].as_f64().unwrap_or_else(|| panic!("{key}: {one}"));
        // The noise that a code adds lies 12 dB or more below such a song, and of thousands of tops
        // at one height hardly one gets more than four times its RMS value:
        // 20 lg(1 + 4 * 10^(-12/20)) = 6 dB. It has either sign, so that the highest of them rises.
        let rise = number("true_peak_change_db");
        assert!((1e-6..6.0).contains(&rise), "{one}");
        assert!((number("max_true_peak_dbtp") - peak - rise).abs() < 1e-9, "{one}");
        // Noise 12 dB below that is added or left out: 10 lg(1 - 10^(-12/10)) = -0.28 LU.
        assert!(number("integrated_change_lu").abs() < 0.3, "{one}");
        let stated = number("stated_bit_rate_kbps");
        assert!((0.5..2.0).contains(&(number("bit_rate_kbps") / stated)), "{one}");
        let held = &one["ceilings"][0];
        assert_eq!((&held["target"], &held["holds"]), (&"Label".into(), &false.into()), "{one}");
        assert!((held["over_db"].as_f64().unwrap() - (rise - 1e-6)).abs() < 1e-9, "{one}");
        assert_eq!(one["resampled_true_peak_dbtp"], Value::Null, "{one}");
    }
    let words = ["check", "--after-encode=opus:96", "--target", target.to_str().unwrap()];
    let said = run(&program, &words, &[&file]);
    for expected in [
        "After a lossy encode",
        "! Opus 96 kbit/s",
        "over the ceiling of Label",
        "A recipient's own encoder may differ",
        "AAC is not encoded",
    ] {
        assert!(said.out.contains(expected), "{expected:?} is missing: {}", said.out);
    }
    assert!(!said.out.contains("Vorbis 160"), "{}", said.out);
}

/// A tone whose peaks are held down by its third harmonic: cos x − 1/6 cos 3x is nowhere beyond
/// √3/2, at x = ±30° (its derivative is ½ sin x (1 − 4 sin² x)). Without the harmonic, at 21 kHz, the
/// tone is back at 1: 20 lg(2/√3) = 1.249 dB higher. Faded, for a hard edge has peaks of its own.
fn held_down() -> Audio {
    const LEN_FRAMES: u32 = 480_000;
    let step = std::f64::consts::TAU * 7_000.0 / 48_000.0;
    let plane = (0..LEN_FRAMES).map(|frame| {
        let x = step * f64::from(frame);
        let fade = (f64::from(frame.min(LEN_FRAMES - 1 - frame)) / 9_600.0).min(1.0);
        (0.5 * fade * (x.cos() - (3.0 * x).cos() / 6.0)) as f32
    });
    let plane: Vec<f32> = plane.collect();
    Audio { rate_hz: 48_000, channels: vec![plane.clone(), plane] }
}

#[test]
fn what_a_code_leaves_out_brings_back_the_peak_that_it_held_down() {
    let Some(program) = program() else { return };
    let file = put(&folder("held-down"), "tone.wav", &held_down());
    let said =
        run(&program, &["check", "--one-reading", "--json", "-", "--after-encode"], &[&file]);
    let report = said.json();
    let encoded = report["files"][0]["after_encode"].as_array().unwrap();
    assert!(encoded.len() >= 2, "{report}");
    for one in encoded {
        // Opus codes nothing above 20 kHz (RFC 6716, §2), nor do libvorbis and LAME at their bit
        // rates here (from memory: 20.1 and 20 kHz).
        let number = |key: &str| one[key].as_f64().unwrap_or_else(|| panic!("{key}: {one}"));
        // The harmonic has a 36th of the power, 0.15 LU as it is weighted, and the tone itself may
        // arrive a little weaker or stronger.
        let lost = -number("integrated_change_lu");
        assert!(lost.abs() < 0.3, "{one}");
        // Of thousands of crests the noise of the code does not lower every one: the highest is no
        // lower than the tone. Our true peak lies within 0.05 dB (issue 3), twice.
        let least = 20.0 * (2.0 / 3.0_f64.sqrt()).log10() - lost.max(0.0) - 0.1;
        let rise = number("true_peak_change_db");
        assert!((least..6.0).contains(&rise), "{rise} dB, at least {least}: {one}");
    }
}

#[test]
fn silence_odd_rates_mono_and_short_files_are_encoded_or_refused_in_one_line() {
    let Some(program) = program() else { return };
    let folder = folder("encode-odd");
    let check = |name: &str, audio: &Audio| {
        let file = put(&folder, name, audio);
        let words = ["check", "--after-encode", "--one-reading", "--json", "-"];
        run(&program, &words, &[&file]).json()["files"][0].clone()
    };
    let silent =
        check("silent.wav", &Audio { rate_hz: 48_000, channels: vec![vec![0.0; 48_000]; 2] });
    for one in silent["after_encode"].as_array().unwrap() {
        assert_eq!(one["error"], Value::Null, "{one}");
        // Minus infinity is null in JSON; the decoder's smallest number lies below 24 bits.
        let peak = one["max_true_peak_dbtp"].as_f64().unwrap_or(-999.0);
        assert!(peak < -140.0, "{one}");
    }
    for (rate_hz, channels) in [(96_000, 2), (44_100, 1), (22_050, 2), (47_999, 1)] {
        let found = check("odd.wav", &pressed(rate_hz, 2, channels));
        for one in found["after_encode"].as_array().unwrap() {
            assert_eq!(one["error"], Value::Null, "{rate_hz}: {one}");
            let is_opus = one["format"] == "Opus";
            let coded = if rate_hz % 11_025 == 0 && !is_opus { 44_100 } else { 48_000 };
            assert_eq!(one["sample_rate_hz"], coded, "{rate_hz}: {one}");
            assert_eq!(one["resampled_true_peak_dbtp"].is_null(), coded == rate_hz, "{one}");
            // As above, and LAME turns the sound down to 0.95 at its lower bit rates: -0.45 LU.
            let change = one["integrated_change_lu"].as_f64().unwrap();
            assert!(change.abs() < 0.75, "{rate_hz}: {one}");
        }
    }
    // Too short for a loudness, not for a peak.
    let short = pressed(48_000, 1, 2);
    let short = Audio {
        rate_hz: 48_000,
        channels: short.channels.iter().map(|plane| plane[..700].to_vec()).collect(),
    };
    for one in check("short.wav", &short)["after_encode"].as_array().unwrap() {
        assert_eq!((&one["error"], &one["integrated_lufs"]), (&Value::Null, &Value::Null), "{one}");
        assert!(one["max_true_peak_dbtp"].is_number(), "{one}");
    }
    let six = Audio { rate_hz: 48_000, channels: vec![pink(1, 48_000, 0.5); 6] };
    let six = check("six.wav", &six);
    assert_eq!(six["after_encode"].as_array().unwrap().len(), 0);
    assert_eq!(six["warnings"][0], "not encoded: 6 channels; mono and stereo are");
    let file = put(&folder, "any.wav", &short);
    for (wish, expected) in [
        ("--after-encode=aac", "AAC is not encoded"),
        ("--after-encode=opus:1", "bit rate \"1\": must be 64 to 320 kbit/s"),
    ] {
        let said = run(&program, &["check", wish], &[&file]);
        assert_eq!((said.status, said.out.as_str()), (2, ""));
        assert!(said.err.contains(expected), "{}", said.err);
    }
}
