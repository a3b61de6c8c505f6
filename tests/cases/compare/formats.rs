//! Other formats: depth, lossless and lossy codes, rates, channels; other songs, silence.

use super::*;
use plimsoll_tests::audio_file::write_wav_i24;
use plimsoll_tests::noise::{Rng, pink};
use std::process::Command;

/// Steps of 16 bits from zero to full scale.
const STEPS: f32 = 32_768.0;

#[test]
fn rounding_to_16_bits_is_nothing() {
    let song = lantern_tide();
    let plain = changed(song, |x| (x * STEPS).round() / STEPS);
    let Some(compared) = Compared::of("16", song, &plain) else { return };
    assert_eq!(compared.kinds(), [""; 0]);
    // A step's square by twelve: −101.1 dBFS, up to what is correlated with quiet sound.
    assert!((compared.number("null", "level_dbfs") + 101.1).abs() < 0.5, "{}", compared.said.out);
    assert_eq!(compared.report["new"]["used_bits"], 16);

    let mut rng = Rng::new(3);
    let mut dithered = song.clone();
    for sample in dithered.channels.iter_mut().flatten() {
        let dither = (rng.unit() - rng.unit()) as f32;
        *sample = (*sample * STEPS + dither).round() / STEPS;
    }
    let Some(compared) = Compared::of("16 dithered", song, &dithered) else { return };
    assert_eq!(compared.kinds(), [""; 0]);
    // Triangular dither of one step to either side adds a sixth of its square: −96.3 dBFS.
    assert!((compared.number("null", "level_dbfs") + 96.3).abs() < 0.1, "{}", compared.said.out);
}

#[test]
fn flac_of_a_wav_is_the_same_to_the_bit() {
    if Command::new("flac").arg("--version").output().is_err() {
        println!("skipped because there is no program flac");
        return;
    }
    let folder = folder("compare-flac");
    let [wav, flac] = ["song.wav", "song.flac"].map(|name| folder.join(name));
    write_wav_i24(&wav, lantern_tide()).unwrap();
    let mut encode = Command::new("flac");
    encode.args(["--silent", "--force", "-o"]).arg(&flac).arg(&wav);
    assert!(encode.status().unwrap().success());
    let Some(compared) = Compared::of_files(&wav, &flac, &[]) else { return };
    assert_eq!(compared.kinds(), [""; 0]);
    assert_eq!(compared.report["null"]["is_same_to_the_bit"], true);
    assert_eq!(compared.report["new"]["format"]["name"], "FLAC");
}

#[test]
fn another_song_and_silence_are_no_version() {
    let song = cut(lantern_tide(), 0..frame(40.0));
    let noise = pink(1, frame(40.0), 0.5);
    let other = Audio { channels: vec![noise, pink(2, frame(40.0), 0.5)], rate_hz: RATE_HZ };
    let Some(compared) = Compared::of("noise", &song, &other) else { return };
    assert_eq!(compared.kinds(), ["other recording"]);
    assert_eq!(compared.report["null"], Value::Null);
    // Both are still measured.
    assert!(compared.report["song"]["integrated_lufs"]["change"].is_f64());

    // The same song at another tempo and pitch: played 6 % slower by linear interpolation.
    let slower = |plane: &Vec<f32>| -> Vec<f32> {
        (0..frame(40.0))
            .map(|frame| {
                let at = frame as f64 / 1.06;
                let (whole, part) = (at.floor() as usize, at.fract() as f32);
                plane[whole] * (1.0 - part) + plane[whole + 1] * part
            })
            .collect()
    };
    let other = Audio { channels: song.channels.iter().map(slower).collect(), rate_hz: RATE_HZ };
    let Some(compared) = Compared::of("slower", &song, &other) else { return };
    assert_eq!(compared.kinds(), ["other recording"]);

    let silence = changed(&song, |_| 0.0);
    let Some(compared) = Compared::of("silent", &song, &silence) else { return };
    assert_eq!((compared.kinds(), compared.words().as_str()), (vec!["silent"], "NEW is silent"));
    let Some(compared) = Compared::of("sounds", &silence, &song) else { return };
    assert_eq!(compared.words(), "OLD is silent, NEW is not");
}

#[test]
fn other_rates_are_compared_at_the_lower_one() {
    let old = song::render(RATE_HZ);
    let new = song::render(96_000);
    // The demo song is synthesised anew at each rate: noise and what lies above 24 kHz differ, so
    // only the rate, the place and the figures are asked for.
    let Some(compared) = Compared::of("rates", &old, &new) else { return };
    assert_eq!(compared.kinds()[0], "sample rate");
    assert!(compared.words().contains("sample rate 96000 Hz, before 48000 Hz"));
    // The same samples, every second one: what a plain export at half the rate would be, but for
    // what folds down, which a song of low treble has little of.
    let half = |plane: &Vec<f32>| plane.iter().copied().step_by(2).collect();
    let half = Audio { channels: new.channels.iter().map(half).collect(), rate_hz: 48_000 };
    let Some(compared) = Compared::of("rates2", &half, &new) else { return };
    assert_eq!(compared.kinds()[0], "sample rate");
    assert_eq!(compared.number("alignment", "offset_frames"), 0.0);
    let louder = compared.report["song"]["integrated_lufs"]["change"].as_f64().unwrap();
    assert!(louder.abs() < 0.1, "{louder}");
    assert!(compared.number("null", "depth_db") < -20.0, "{}", compared.said.out);
}

#[test]
fn mono_is_compared_with_the_mid_of_stereo() {
    let song = cut(lantern_tide(), 0..frame(40.0));
    let mid = song.channels[0].iter().zip(&song.channels[1]).map(|(l, r)| 0.5 * (l + r));
    let mono = Audio { channels: vec![mid.collect()], rate_hz: RATE_HZ };
    let Some(compared) = Compared::of("mono", &song, &mono) else { return };
    assert_eq!(compared.kinds(), ["channels"], "{}", compared.words());
    assert!(compared.words().starts_with("mono, before stereo"), "{}", compared.words());
    assert_eq!(compared.report["null"]["is_nothing"], true);

    let surround = Audio { channels: vec![song.channels[0].clone(); 6], rate_hz: RATE_HZ };
    let Some(compared) = Compared::of("surround", &song, &surround) else { return };
    assert_eq!(compared.kinds(), ["channels"], "{}", compared.words());
    assert_eq!(compared.report["alignment"], Value::Null);
    let Some(compared) = Compared::of("surrounds", &surround, &surround) else { return };
    assert_eq!(compared.kinds(), [""; 0], "{}", compared.words());
}
