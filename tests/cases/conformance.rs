//! What CLAP asks of a plugin, and what hosts are known to do to one: on the built bundle, each
//! case in a process of its own with a time limit. What only concerns figures stands in `host.rs`,
//! `state.rs`, `transport.rs`; the editor's drawing in `window.rs`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

#[path = "conformance/description.rs"]
mod description;
#[cfg(target_os = "linux")]
#[path = "conformance/editor.rs"]
mod editor;
#[path = "conformance/framework.rs"]
mod framework;
#[path = "conformance/life_cycle.rs"]
mod life_cycle;
#[path = "conformance/parameters.rs"]
mod parameters;
#[path = "conformance/processing.rs"]
mod processing;
#[path = "conformance/scan.rs"]
mod scan;
#[path = "conformance/second_input.rs"]
mod second_input;
#[path = "conformance/streams.rs"]
mod streams;

use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::child;
use plimsoll_tests::host::{Buffers, Host, Library, Run, built_bundle};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};

const RATE_HZ: u32 = 48_000;

fn library() -> Library {
    Library::load(&built_bundle()).unwrap()
}

/// Runs `work` on an instance of the built bundle in a process of its own. Whatever it did, no
/// call of the plugin may have come on a wrong thread.
fn case(name: &str, work: impl FnOnce(&mut Host)) {
    child::run(name, &[], || {
        let mut host = Host::new(&library()).unwrap();
        work(&mut host);
        assert_eq!(host.violations(), [""; 0]);
    });
}

/// Plays a script in blocks of 512 frames at most; audio must pass untouched.
fn play(host: &mut Host, song: &Audio, steps: &[Step]) -> Run {
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, steps, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    assert_eq!((run.changed_samples, run.out_events, run.not_kept), (0, 0, 0));
    run
}

/// A field of `/proc/self/status`, in bytes. Linux alone has it.
#[cfg(target_os = "linux")]
fn memory_bytes(field: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with(field)).unwrap();
    let kilobytes: u64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kilobytes * 1024
}
