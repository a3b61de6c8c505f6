//! `plimsoll check` as a program: what it prints, its JSON, its exit status, and that no file
//! makes it fall over.
//!
//! `cargo xtask test` builds the program and says where it is.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::panic,
    reason = "a test"
)]

#[path = "check/damaged.rs"]
mod damaged;
#[path = "check/encode.rs"]
mod encode;
#[path = "check/figures.rs"]
mod figures;
#[path = "check/outputs.rs"]
mod outputs;
#[path = "check/same_as_plugin.rs"]
mod same_as_plugin;
#[path = "check/verdicts.rs"]
mod verdicts;

use plimsoll_tests::audio_file::{Audio, write_wav_f32};
use plimsoll_tests::noise::pink;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The built program; `None`, with the reason printed, where there is none.
fn program() -> Option<PathBuf> {
    let path = std::env::var_os("PLIMSOLL_CHECK").map(PathBuf::from);
    if path.is_none() {
        println!("check: skipped because PLIMSOLL_CHECK names no built program (cargo xtask test)");
    }
    path
}

struct Said {
    status: i32,
    out: String,
    err: String,
}

impl Said {
    fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}", self.out))
    }
}

fn run(program: &Path, words: &[&str], files: &[&Path]) -> Said {
    let mut command = Command::new(program);
    command.args(words).args(files).stdin(Stdio::null());
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    Said {
        status: output.status.code().expect("ended by a signal"),
        out: text(output.stdout),
        err: text(output.stderr),
    }
}

/// A folder of its own for each test, below the system's temporary folder.
fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("plimsoll-check-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// `len_s` seconds of stereo noise at 48 kHz, faded at both ends, at `peak`.
fn song(seed: u64, len_s: usize, peak: f64) -> Audio {
    let len_frames = len_s * 48_000;
    let mut channels = vec![pink(seed, len_frames, peak), pink(seed + 1, len_frames, peak)];
    for channel in &mut channels {
        for frame in 0..4_800 {
            let gain = f32::from(u16::try_from(frame).unwrap()) / 4_800.0;
            channel[frame] *= gain;
            channel[len_frames - 1 - frame] *= gain.powi(3);
        }
    }
    Audio { rate_hz: 48_000, channels }
}

fn put(folder: &Path, name: &str, audio: &Audio) -> PathBuf {
    let path = folder.join(name);
    write_wav_f32(&path, audio).unwrap();
    path
}

/// The integrated loudness that the program reads in a file.
fn integrated(program: &Path, file: &Path) -> f64 {
    let said = run(program, &["check", "--json", "-", "--one-reading"], &[file]);
    said.json()["files"][0]["integrated_lufs"].as_f64().unwrap()
}
