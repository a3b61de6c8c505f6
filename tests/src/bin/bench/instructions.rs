//! Instructions under callgrind: the same on every machine and in every run, so a few per cent
//! can be told apart from noise. `tests/cases/speed.rs` holds them to a committed reference.

use std::path::Path;
use std::process::Command;

use crate::failure::{Failure, Outcome};
use crate::machine;
use crate::table::{Row, Table, Verdict};
use crate::work::{LEN_FRAMES, MARK, PER_FRAME, SIGNALS, TONE_SIGNALS};

/// What was counted.
pub struct Counts {
    /// Instructions per stereo frame of each case.
    pub per_frame: Vec<(&'static str, f64)>,
    /// The blocks of each signal.
    pub blocks: Vec<Blocks>,
    /// Instructions of the worst block without tone and with it, by signal.
    pub tone: Vec<(&'static str, [u64; 2])>,
}

/// Blocks of 64 frames in the audio thread.
pub struct Blocks {
    /// The signal.
    pub signal: &'static str,
    /// Instructions of the median block.
    pub median: u64,
    /// Instructions of the worst block.
    pub worst: u64,
}

impl Counts {
    /// Instructions of the median block of the steady signal.
    pub fn steady_median(&self) -> u64 {
        self.blocks.first().map_or(0, |steady| steady.median)
    }

    /// The worst block of all signals, and of which.
    pub fn worst(&self) -> (u64, &'static str) {
        let all = self.blocks.iter().map(|blocks| (blocks.worst, blocks.signal));
        all.max().unwrap_or((0, "none"))
    }
}

const VALGRIND: &str = "valgrind";

/// Counts everything.
pub fn count() -> Outcome<Counts> {
    if !Command::new(VALGRIND).arg("--version").output().is_ok_and(|out| out.status.success()) {
        return Err(Failure::Missing { what: VALGRIND, install: "apt-get install valgrind" });
    }
    eprintln!("Instructions under callgrind …");
    let mut per_frame = Vec::new();
    for case in PER_FRAME {
        let parts = run(case)?;
        match parts.as_slice() {
            [_, work, _] => per_frame.push((case, *work as f64 / LEN_FRAMES as f64)),
            _ => return Err(Failure::program(VALGRIND)(format!("{case}: {parts:?}"))),
        }
    }
    let mut blocks = Vec::new();
    for signal in SIGNALS {
        let parts = run(&format!("blocks-{signal}"))?;
        blocks.push(blocks_of(signal, &parts)?);
    }
    let mut tone = Vec::new();
    for signal in TONE_SIGNALS {
        let worst = |case: &str| -> Outcome<u64> {
            Ok(blocks_of(signal, &run(&format!("{case}-blocks-{signal}"))?)?.worst)
        };
        tone.push((signal, [worst("short")?, worst("tone")?]));
    }
    Ok(Counts { per_frame, blocks, tone })
}

fn blocks_of(signal: &'static str, parts: &[u64]) -> Outcome<Blocks> {
    // Before the first mark and after the last stands what does not count; the first block
    // starts the run.
    let mut counted = parts.get(2..parts.len().saturating_sub(1)).unwrap_or_default().to_vec();
    counted.sort_unstable();
    let (Some(worst), Some(median)) = (counted.last(), counted.get(counted.len() / 2)) else {
        return Err(Failure::program(VALGRIND)(format!("{signal}: no blocks")));
    };
    Ok(Blocks { signal, median: *median, worst: *worst })
}

/// Instructions between the marks of a case: before the first, between each two, after the last.
fn run(case: &str) -> Outcome<Vec<u64>> {
    let program = std::env::current_exe().map_err(Failure::io(Path::new("bench")))?;
    let name = format!("plimsoll-callgrind-{}-{case}", std::process::id());
    let counts = std::env::temp_dir().join(name);
    let mut file = std::ffi::OsString::from("--callgrind-out-file=");
    file.push(&counts);
    let output = Command::new(VALGRIND)
        .arg("--tool=callgrind")
        .arg(format!("--dump-before={MARK}"))
        .arg("--combine-dumps=yes")
        .arg(file)
        .arg(&program)
        .args(["work", case])
        .output()
        .map_err(Failure::program(VALGRIND))?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        return Err(Failure::program(VALGRIND)(said));
    }
    let text = std::fs::read_to_string(&counts).map_err(Failure::io(&counts))?;
    std::fs::remove_file(&counts).map_err(Failure::io(&counts))?;
    let summaries = text.lines().filter_map(|line| line.strip_prefix("summary: "));
    Ok(summaries.filter_map(|count| count.trim().parse().ok()).collect())
}

/// Whether the meters' fast path exists here: callgrind shows a program the processor's own AVX2
/// and FMA.
fn has_avx2_fma() -> bool {
    #[cfg(target_arch = "x86_64")]
    let found = is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma");
    #[cfg(not(target_arch = "x86_64"))]
    let found = false;
    found
}

/// What the test reads.
pub fn json(counts: &Counts) -> String {
    let per_frame = counts.per_frame.iter();
    let per_frame: serde_json::Map<String, serde_json::Value> = per_frame
        .map(|(case, count)| {
            let rounded = (count * 100.0).round() / 100.0;
            ((*case).to_owned(), rounded.into())
        })
        .collect();
    let tone = counts.tone.iter();
    let tone: serde_json::Map<String, serde_json::Value> =
        tone.map(|(signal, worst)| ((*signal).to_owned(), serde_json::json!(worst))).collect();
    let (worst, signal) = counts.worst();
    let value = serde_json::json!({
        "architecture": std::env::consts::ARCH,
        "compiler": machine::compiler(),
        "has_avx2_fma": has_avx2_fma(),
        "instructions_per_frame": per_frame,
        "block_of_64_frames": {
            "median_of_steady": counts.steady_median(),
            "worst": worst,
            "worst_signal": signal,
        },
        "worst_block_without_and_with_tone": tone,
    });
    serde_json::to_string_pretty(&value).unwrap_or_default()
}

/// The rows.
pub fn rows(counts: &Counts, table: &mut Table) {
    let reference = include_str!("../../../reference/instructions.json");
    let reference: serde_json::Value = serde_json::from_str(reference).unwrap_or_default();
    for (case, count) in &counts.per_frame {
        let allowed = reference["instructions_per_frame"][case].as_f64().map(|count| count * 1.05);
        table.row(Row {
            what: format!("instructions a stereo frame, {case}"),
            ours: format!("{count:.1}"),
            theirs: String::new(),
            ratio: String::new(),
            required: "at most 5 % more than tests/reference/instructions.json",
            verdict: allowed.map(|must| Verdict::AtMost { found: *count, must }),
        });
    }
    let ((worst, signal), median) = (counts.worst(), counts.steady_median());
    table.row(Row {
        what: format!("64-frame block, audio thread: worst ({signal}) / median of a steady tone"),
        ours: worst.to_string(),
        theirs: median.to_string(),
        ratio: format!("{:.2}", worst as f64 / median as f64),
        required: "must 2, aim 1.3",
        verdict: Some(Verdict::AtMost { found: worst as f64 / median as f64, must: 2.0 }),
    });
    for (signal, [without, with]) in &counts.tone {
        table.row(Row {
            what: format!("64-frame block, audio thread, worst ({signal}): with tone / without"),
            ours: with.to_string(),
            theirs: without.to_string(),
            ratio: format!("{:.2}", *with as f64 / *without as f64),
            required: "must 1.5",
            verdict: Some(Verdict::AtMost { found: *with as f64 / *without as f64, must: 1.5 }),
        });
    }
    let each = counts
        .blocks
        .iter()
        .map(|blocks| format!("{} {}/{}", blocks.signal, blocks.median, blocks.worst));
    let each: Vec<String> = each.collect();
    table.note(format!(
        "instructions of the median and the worst block by signal: {}",
        each.join(", ")
    ));
}
