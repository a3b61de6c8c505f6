//! Memory of the headless path.

use std::path::Path;
use std::process::Command;

use plimsoll::loudness::FileMeter;
use plimsoll::units::SampleRate;
use plimsoll_tests::noise::Rng;

use crate::failure::{Failure, Outcome};
use crate::input::LAYOUT;
use crate::table::{Row, Table, Verdict};

const TWO_HOURS: &str = "7200";
const RATE_HZ: u32 = 48_000;

/// `bench memory`: measures so many seconds of made-up audio block by block and prints the
/// process's largest resident size in kB.
pub fn run(seconds: &str) -> Outcome<()> {
    let wrong = || Failure::Rule(format!("{seconds}: a whole number of seconds is needed"));
    let seconds: usize = seconds.parse().map_err(|_| wrong())?;
    let rate = SampleRate::new(RATE_HZ).map_err(|_| wrong())?;
    let mut rng = Rng::new(1);
    let mut meter = FileMeter::new(rate, LAYOUT);
    let mut block = [[0.0_f32; 480]; 2];
    for _ in 0..seconds * 100 {
        let level = rng.unit() as f32;
        for (index, sample) in block.as_flattened_mut().iter_mut().enumerate() {
            *sample = if index % 50 < 25 { level } else { -level };
        }
        meter.push(&[&block[0], &block[1]]);
    }
    let figures = meter.finish().song_figures();
    println!("{}", largest_resident_kb()?);
    eprintln!("{figures:?}");
    Ok(())
}

/// `VmHWM` of Linux.
fn largest_resident_kb() -> Outcome<u64> {
    let path = Path::new("/proc/self/status");
    let status = std::fs::read_to_string(path).map_err(Failure::io(path))?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    number.ok_or_else(|| Failure::Rule("no VmHWM in the process's status".to_owned()))
}

/// The row.
pub fn row(table: &mut Table) -> Outcome<()> {
    if !cfg!(target_os = "linux") {
        table.note("memory is read on Linux only");
        return Ok(());
    }
    eprintln!("Memory …");
    let program = std::env::current_exe().map_err(Failure::io(Path::new("bench")))?;
    let megabytes = |seconds: &str| -> Outcome<f64> {
        let output = Command::new(&program).args(["memory", seconds]).output();
        let output = output.map_err(Failure::io(&program))?;
        let text = String::from_utf8_lossy(&output.stdout);
        let kb: f64 = text.trim().parse().map_err(Failure::program("bench memory"))?;
        Ok(kb * 1_024.0 / 1e6)
    };
    let two_hours_mb = megabytes(TWO_HOURS)?;
    table.row(Row {
        what: "memory, whole process: 2 h stereo 48 kHz streamed; 1 s".to_owned(),
        ours: format!("{:.1} MB; {:.1} MB", two_hours_mb, megabytes("1")?),
        theirs: String::new(),
        ratio: String::new(),
        required: "must < 32 MB, aim 16 MB",
        verdict: Some(Verdict::AtMost { found: two_hours_mb, must: 32.0 }),
    });
    Ok(())
}
