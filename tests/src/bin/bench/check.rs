//! `plimsoll check` on ten minutes, the whole process: one thread, its second reading beside it,
//! and a folder on all cores.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use crate::failure::{Failure, Outcome};
use crate::table::{Row, Table, Verdict};

const ROUNDS: usize = 5;

/// Files of the folder.
const FILES: usize = 4;

/// The rows of the program at `program` on `wav`, which lasts `length_s`; the folder is made below
/// `out`.
pub fn rows(
    program: &Path,
    wav: &Path,
    length_s: f64,
    out: &Path,
    table: &mut Table,
) -> Outcome<()> {
    eprintln!("plimsoll check …");
    let one = fastest(program, &["--one-reading"], wav)?;
    let beside = fastest(program, &[], wav)?;
    let folder = out.join("folder");
    // What a run that was ended left behind.
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).map_err(Failure::io(&folder))?;
    for file in 0..FILES {
        let link = folder.join(format!("{file}.wav"));
        std::fs::hard_link(wav, &link).map_err(Failure::io(&link))?;
    }
    let many = fastest(program, &["--one-reading"], &folder)?;
    std::fs::remove_dir_all(&folder).map_err(Failure::io(&folder))?;

    let times = |seconds: f64| format!("{:.0}x", length_s / seconds);
    let mut row = |what: String, seconds: f64, required, must: Option<f64>| {
        table.row(Row {
            what,
            ours: format!("{:.0} ms", seconds * 1e3),
            theirs: format!("{length_s:.0} s"),
            ratio: times(seconds),
            required,
            verdict: must.map(|must| Verdict::AtLeast { found: length_s / seconds, must }),
        });
    };
    row(
        "check --one-reading, 10 min, one thread, against real time".to_owned(),
        one,
        "must 1 500x",
        Some(1_500.0),
    );
    row("check, its second reading on a thread beside it".to_owned(), beside, "", None);
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let gain = one * FILES as f64 / many;
    table.row(Row {
        what: format!("check of a folder of {FILES}, against one after the other"),
        ours: format!("{:.0} ms", many * 1e3),
        theirs: format!("{:.0} ms", one * FILES as f64 * 1e3),
        ratio: format!("{gain:.2}x"),
        required: "must use both cores: 1.6x",
        verdict: (cores > 1).then_some(Verdict::AtLeast { found: gain, must: 1.6 }),
    });
    Ok(())
}

/// The fastest of some runs, seconds.
fn fastest(program: &Path, words: &[&str], path: &Path) -> Outcome<f64> {
    let mut fastest = f64::INFINITY;
    for _ in 0..ROUNDS {
        let start = Instant::now();
        let mut command = Command::new(program);
        command.args(["check", "--quiet"]).args(words).arg(path).stderr(Stdio::null());
        let status = command.status().map_err(Failure::io(program))?;
        fastest = fastest.min(start.elapsed().as_secs_f64());
        // Within target or not is all the same here.
        if !matches!(status.code(), Some(0 | 1)) {
            return Err(Failure::program("plimsoll check")(status));
        }
    }
    Ok(fastest)
}
