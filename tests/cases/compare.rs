//! `plimsoll compare`: exports of the demo song with a fault of known size and place, and pairs
//! that have none and must raise nothing.
//!
//! Tolerances: what counts at all is stated by the program's help (a gain of 0.001 dB, a null of
//! −80 dB); times of places lie on its grid of 100 ms; other bounds are argued where they stand.

#![allow(
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::panic,
    reason = "a test"
)]

#[path = "compare/formats.rs"]
mod formats;
#[path = "compare/processing.rs"]
mod processing;
#[path = "compare/time.rs"]
mod time;

use plimsoll_tests::audio_file::{Audio, write_wav_f32};
use plimsoll_tests::check_program::{Said, folder, program, run};
use plimsoll_tests::song;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

const RATE_HZ: u32 = 48_000;

/// The demo song.
fn lantern_tide() -> &'static Audio {
    static SONG: OnceLock<Audio> = OnceLock::new();
    SONG.get_or_init(|| song::render(RATE_HZ))
}

/// Frame at `at_s` seconds.
fn frame(at_s: f64) -> usize {
    (at_s * f64::from(RATE_HZ)).round() as usize
}

/// Two files of a test and what comparing them says.
struct Compared {
    said: Said,
    report: Value,
}

impl Compared {
    /// Writes both as float WAV into a folder of its own and compares them; `None` without a
    /// program.
    fn of(name: &str, old: &Audio, new: &Audio) -> Option<Self> {
        let folder = folder(&format!("compare-{name}"));
        let paths = ["old.wav", "new.wav"].map(|name| folder.join(name));
        write_wav_f32(&paths[0], old).unwrap();
        write_wav_f32(&paths[1], new).unwrap();
        Self::of_files(&paths[0], &paths[1], &[])
    }

    fn of_files(old: &Path, new: &Path, words: &[&str]) -> Option<Self> {
        let program = program()?;
        let words = [&["compare", "--json", "-"], words].concat();
        let said = run(&program, &words, &[old, new]);
        assert_eq!(said.err, "");
        let report = said.json();
        let findings = report["findings"].as_array().unwrap();
        assert_eq!(said.status, i32::from(!findings.is_empty()), "{findings:?}");
        Some(Self { said, report })
    }

    fn kinds(&self) -> Vec<&str> {
        let findings = self.report["findings"].as_array().unwrap();
        findings.iter().map(|finding| finding["kind"].as_str().unwrap()).collect()
    }

    /// The words of all findings, a line each.
    fn words(&self) -> String {
        let findings = self.report["findings"].as_array().unwrap();
        let words = findings.iter().map(|finding| finding["in_words"].as_str().unwrap());
        words.collect::<Vec<_>>().join("\n")
    }

    fn number(&self, part: &str, key: &str) -> f64 {
        let value = &self.report[part][key];
        value.as_f64().unwrap_or_else(|| panic!("{part}.{key}: {value} in {}", self.said.out))
    }
}

/// Every sample through `change`.
fn changed(audio: &Audio, change: impl Fn(f32) -> f32) -> Audio {
    let plane = |plane: &Vec<f32>| plane.iter().map(|&sample| change(sample)).collect();
    Audio { channels: audio.channels.iter().map(plane).collect(), rate_hz: audio.rate_hz }
}

/// Only the frames of `range`.
fn cut(audio: &Audio, range: std::ops::Range<usize>) -> Audio {
    let plane = |plane: &Vec<f32>| plane[range.clone()].to_vec();
    Audio { channels: audio.channels.iter().map(plane).collect(), rate_hz: audio.rate_hz }
}

/// Silence of `frames` frames, then `audio`.
fn after_silence(frames: usize, audio: &Audio) -> Audio {
    let silence = vec![vec![0.0; frames]; audio.channels.len()];
    let mut both = Audio { channels: silence, rate_hz: audio.rate_hz };
    both.append(audio);
    both
}

#[test]
fn the_same_file_raises_nothing() {
    let song = lantern_tide();
    let Some(compared) = Compared::of("same", song, song) else { return };
    assert_eq!(compared.kinds(), [""; 0]);
    assert_eq!(compared.report["status"], "same");
    assert_eq!(compared.report["null"]["is_same_to_the_bit"], true);
    assert_eq!(compared.report["null"]["depth_db"], Value::Null);
    assert_eq!(compared.number("alignment", "offset_frames"), 0.0);
    for (key, figure) in compared.report["song"].as_object().unwrap() {
        assert!(figure.get("change").is_none_or(|change| change == 0.0), "{key} {figure}");
    }
    let bands = compared.report["song"]["band_changes_at_equal_loudness_db"].as_array().unwrap();
    assert!(bands.iter().all(|by| by.is_null() || *by == 0.0), "{bands:?}");
}

#[test]
fn mistakes_and_files_that_are_not_measured_end_with_2() {
    let Some(program) = program() else { return };
    let folder = folder("compare-mistakes");
    let put = |name: &str, audio: &Audio| -> PathBuf {
        let path = folder.join(name);
        write_wav_f32(&path, audio).unwrap();
        path
    };
    let song = put("song.wav", &cut(lantern_tide(), frame(20.0)..frame(30.0)));
    let short = put("short.wav", &cut(lantern_tide(), frame(20.0)..frame(20.4)));
    let absent = folder.join("absent.wav");
    let text = folder.join("text.wav");
    std::fs::write(&text, "no audio").unwrap();
    let refused = |old: &Path, new: &Path, named: &Path, why: &str| {
        let said = run(&program, &["compare"], &[old, new]);
        assert_eq!((said.status, said.out.as_str()), (2, ""), "{}", said.err);
        assert_eq!(said.err.lines().count(), 1, "{}", said.err);
        assert!(said.err.contains(why), "{}", said.err);
        assert!(said.err.contains(&*named.to_string_lossy()), "{}", said.err);
    };
    refused(&song, &short, &short, "0.400 s long: two versions are compared from 1 s on");
    refused(&short, &song, &short, "0.400 s long");
    let silent = put("silent.wav", &changed(&cut(lantern_tide(), 0..frame(2.0)), |_| 0.0));
    refused(&silent, &silent, &silent, "silent, like the other file");
    refused(&absent, &song, &absent, "no such file");
    refused(&song, &text, &text, "not audio");
    assert_eq!(run(&program, &["compare"], &[&song]).status, 2);
    let quiet = run(&program, &["compare", "--quiet"], &[&song, &song]);
    assert_eq!((quiet.status, quiet.out.as_str(), quiet.err.as_str()), (0, "", ""));
}

#[test]
fn text_says_what_happened_first_and_plainly() {
    let Some(program) = program() else { return };
    let folder = folder("compare-text");
    let paths = ["Lantern Tide 1.wav", "Lantern Tide 2.wav"].map(|name| folder.join(name));
    let song = lantern_tide();
    write_wav_f32(&paths[0], song).unwrap();
    let gain = 10_f32.powf(-3.2 / 20.0);
    write_wav_f32(&paths[1], &after_silence(4_800, &changed(song, |x| x * gain))).unwrap();
    let list = folder.join("sections.txt");
    std::fs::write(&list, "0:00 Intro\n0:10 Verse 1\n0:25 Chorus 1\n").unwrap();
    let words = ["compare", "--sections", list.to_str().unwrap()];
    let said = run(&program, &words, &[&paths[0], &paths[1]]);
    assert_eq!((said.status, said.err.as_str()), (1, ""));
    assert!(!said.out.contains('\x1b'), "{:?}", said.out);
    let mut from = 0;
    for expected in [
        "Lantern Tide 2.wav (NEW) compared with Lantern Tide 1.wav (OLD)",
        "! the song begins 0.100 s later (4800 samples)",
        "! −3.20 dB of gain",
        "nothing else: what is left, −",
        "Null",
        "Integrated loudness (I)",
        "no band changed by 0.5 dB",
        "Sections, NEW less OLD",
        "Chorus 1",
    ] {
        let at = said.out[from..].find(expected);
        from += at.unwrap_or_else(|| panic!("{expected:?} is missing or late: {}", said.out));
    }
}
