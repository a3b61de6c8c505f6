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
use plimsoll_tests::check_program::{folder, program, run};
use plimsoll_tests::noise::pink;
use std::path::{Path, PathBuf};

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
