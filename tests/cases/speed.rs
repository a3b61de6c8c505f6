//! Speed that CI watches: instructions per frame under callgrind against a committed reference,
//! the worst block of the audio thread against the median one, and the memory of two hours.
//!
//! Times say nothing on a machine that does other things too; instructions are the same in every
//! run. `cargo xtask test` builds the bench as it builds the plugin and says where it is.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// More instructions per frame than this share of the reference fail.
const ALLOWED: f64 = 1.05;

/// The worst block over the median one may cost this much.
const WORST_OVER_MEDIAN: f64 = 2.0;

/// Issue 7: the worst block with tone over the worst one without.
const WORST_WITH_TONE: f64 = 1.5;

/// The whole process, measuring two hours, stays below this.
const MAX_MEMORY_BYTES: u64 = 32_000_000;

/// The built bench; `None`, with the reason printed, where there is none.
fn bench() -> Option<PathBuf> {
    let path = std::env::var_os("PLIMSOLL_BENCH").map(PathBuf::from);
    if path.is_none() {
        println!("speed: skipped because PLIMSOLL_BENCH names no built bench (cargo xtask test)");
    }
    path
}

fn run(bench: &Path, words: &[&str]) -> Output {
    let output = Command::new(bench).args(words).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{words:?}: {said}");
    output
}

fn reference_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/instructions.json")
}

#[test]
fn instructions_per_frame_are_those_of_the_reference_or_fewer() {
    let Some(bench) = bench() else { return };
    let has_valgrind = Command::new("valgrind").arg("--version").output();
    if !has_valgrind.is_ok_and(|output| output.status.success()) {
        println!("speed: skipped because valgrind is not installed (apt-get install valgrind)");
        return;
    }
    let reference: Value =
        serde_json::from_slice(&std::fs::read(reference_path()).unwrap()).unwrap();
    if reference["architecture"] != std::env::consts::ARCH {
        println!("speed: skipped because the reference is for {}", reference["architecture"]);
        return;
    }
    let output = run(&bench, &["instructions"]);
    let counted: Value = serde_json::from_slice(&output.stdout).unwrap();
    println!("{counted:#}");

    let renew = format!(
        "if that is meant, renew the reference: {} instructions > {}",
        bench.display(),
        reference_path().display()
    );
    let expected = reference["instructions_per_frame"].as_object().unwrap();
    assert!(expected.len() >= 4);
    let mut worse = Vec::new();
    for (case, expected) in expected {
        // Without AVX2 and FMA the fast path is the plain one.
        if !case.ends_with("-baseline") && counted["has_avx2_fma"] == false {
            println!("{case}: skipped because this processor has no AVX2 and FMA");
            continue;
        }
        let expected = expected.as_f64().unwrap();
        let found = counted["instructions_per_frame"][case].as_f64().unwrap();
        if found > expected * ALLOWED {
            let percent = (found / expected - 1.0) * 100.0;
            worse.push(format!("{case}: {found} a frame, {percent:.1} % more than {expected}"));
        }
    }
    assert!(worse.is_empty(), "{}\n{renew}", worse.join("\n"));

    let blocks = &counted["block_of_64_frames"];
    let median = blocks["median_of_steady"].as_f64().unwrap();
    let worst = blocks["worst"].as_f64().unwrap();
    assert!(
        worst <= WORST_OVER_MEDIAN * median,
        "worst block ({}) {worst} instructions, median {median}: more than {WORST_OVER_MEDIAN} times",
        blocks["worst_signal"]
    );
    let with_tone = counted["worst_block_without_and_with_tone"].as_object().unwrap();
    assert!(with_tone.len() >= 3);
    for (signal, worst) in with_tone {
        let [without, with] = [0, 1].map(|index| worst[index].as_f64().unwrap());
        assert!(with <= WORST_WITH_TONE * without, "{signal}: {with} with tone, {without} without");
    }
}

#[test]
fn two_hours_streamed_fit_into_32_megabytes() {
    if !cfg!(target_os = "linux") {
        println!("memory: skipped because it is read on Linux only");
        return;
    }
    let Some(bench) = bench() else { return };
    let output = run(&bench, &["memory", "7200"]);
    let largest_kb: u64 = String::from_utf8_lossy(&output.stdout).trim().parse().unwrap();
    println!("two hours: {largest_kb} kB");
    assert!(largest_kb * 1_024 < MAX_MEMORY_BYTES, "{largest_kb} kB");
}
