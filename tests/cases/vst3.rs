//! The VST3 build in hosts of Python: what passes through to the bit, what is measured on the
//! host's transport, what state holds.
//!
//! `cargo xtask hosts` installs the hosts; elsewhere this says what is missing.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::child::{end, skip};
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Host, Library, Measurement, built_bundle, field};
use plimsoll_tests::music;
use plimsoll_tests::noise::even_song;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::path::{Path, PathBuf};
use std::process::Command;

const RATE_HZ: u32 = 48_000;
const FIRST_FRAMES: usize = 512;
const OTHER_FRAMES: [usize; 4] = [1, 64, 1_000, 8_192];

/// The Python that has the hosts; `None`, with the reason printed, where there is none.
fn python() -> Option<PathBuf> {
    let path = music::target_folder().join("hosts/venv/bin/python");
    if !path.exists() {
        skip("no hosts of Python here; `cargo xtask hosts` installs them");
        return None;
    }
    Some(path)
}

fn bundle() -> PathBuf {
    let path = std::path::absolute(built_bundle()).unwrap().with_extension("vst3");
    assert!(path.is_dir(), "{}: no such bundle", path.display());
    path
}

/// Runs a script of `tests/src`; gives what it said.
fn run(python: &Path, script: &str, folder: &Path) -> String {
    let mut command = Command::new(python);
    command.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(script));
    command.arg(bundle()).arg(folder).arg(RATE_HZ.to_string());
    let outcome = end(&mut command);
    let [said, log] = outcome.said;
    assert!(outcome.status.is_some_and(|status| status.success()), "{said}{log}");
    assert!(said.ends_with("done\n"), "{said}{log}");
    said
}

fn folder(name: &str) -> PathBuf {
    let folder = music::target_folder().join("hosts").join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn write(path: &Path, channels: &[Vec<f32>]) {
    let bytes: Vec<u8> = channels.iter().flatten().flat_map(|s| s.to_le_bytes()).collect();
    std::fs::write(path, bytes).unwrap();
}

/// A state as VST3 has it: without the length that stands before CLAP's.
fn state(path: &Path) -> Vec<u8> {
    let json = std::fs::read(path).unwrap();
    [&(json.len() as u64).to_le_bytes()[..], &json].concat()
}

fn song() -> Audio {
    even_song(161, RATE_HZ, 10.0)
}

#[test]
fn audio_passes_to_the_bit_and_state_comes_back() {
    let Some(python) = python() else { return };
    let folder = folder("pedalboard");
    let mut song = song();
    let special = [f32::NAN, f32::INFINITY, -0.0, 1e-42, 1e30, f32::MAX];
    song.channels[1][1_000..1_000 + special.len()].copy_from_slice(&special);
    write(&folder.join("input.f32"), &song.channels);
    let said = run(&python, "vst3_host.py", &folder);
    for line in ["name Plimsoll", "effect True", "latency 0"] {
        assert!(said.lines().any(|said| said == line), "{line}: {said}");
    }
    let bytes = |frames: usize| std::fs::read(folder.join(format!("output-{frames}.f32"))).unwrap();
    let expected = |len: usize| -> Vec<u8> {
        let cut = song.channels.iter().flat_map(|channel| &channel[..len]);
        cut.flat_map(|sample| sample.to_le_bytes()).collect()
    };
    assert!(bytes(FIRST_FRAMES) == expected(song.len_frames()), "audio was changed");
    for frames in OTHER_FRAMES {
        assert!(bytes(frames) == expected(RATE_HZ as usize), "blocks of {frames}: audio changed");
    }
    let [first, second] = ["first", "second"].map(|n| state(&folder.join(format!("{n}.state"))));
    assert_eq!(first, second, "a fresh instance holds another state than it was given");
    // A project that changes its format takes the state along.
    let mut host = Host::new(&Library::load(&built_bundle()).unwrap()).unwrap();
    host.load_state(&first).unwrap();
    for name in ["settings", "song", "record", "measurement", "view"] {
        let [ours, theirs] = [&host.save_state().unwrap(), &first].map(|s| field(s, name).unwrap());
        assert_eq!(ours, theirs, "{name}");
    }
}

#[test]
fn what_is_measured_on_the_hosts_transport_is_what_clap_measures() {
    let Some(python) = python() else { return };
    let folder = folder("dawdreamer");
    let mut song = song();
    // The host plays whole blocks.
    let len = song.len_frames() / FIRST_FRAMES * FIRST_FRAMES;
    song.channels.iter_mut().for_each(|channel| channel.truncate(len));
    write(&folder.join("input.f32"), &song.channels);
    run(&python, "vst3_transport.py", &folder);
    let output = std::fs::read(folder.join("output.f32")).unwrap();
    let input = std::fs::read(folder.join("input.f32")).unwrap();
    assert!(output == input, "audio was changed");
    let measured = Measurement::from_state(&state(&folder.join("played.state"))).unwrap().figures;
    // Its transport does not stand behind the song: the last hop is one of a part.
    let mut direct = Direct::new(RATE_HZ, 2, FIRST_FRAMES);
    let telling = Telling::new(Tells::Seconds);
    let blocks = Blocks::Fixed(FIRST_FRAMES);
    direct.run(&song, &[Step::Play { len_frames: len }], &telling, &blocks);
    direct.stop();
    assert_eq!(measured, direct.measurement().unwrap().unwrap().figures);
}
