//! The others: general-purpose libraries and programs that measure loudness, where installed.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;

use ebur128::{EbuR128, Mode};

use crate::failure::{Failure, Outcome};
use crate::input::Song;

/// One measurement by a peer.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    /// What it took.
    pub seconds: f64,
    /// Integrated loudness, LUFS.
    pub integrated_lufs: f64,
    /// Highest true peak, linear.
    pub true_peak: f64,
}

/// What a peer is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    /// Everything that we measure: it must be asked for M and S every 100 ms to give maxima.
    Everything,
    /// I, LRA and true peak.
    WithoutMaxima,
}

/// The C library, in a process of its own that measures on demand.
pub struct Libebur128 {
    process: Child,
    to: Option<ChildStdin>,
    from: BufReader<ChildStdout>,
}

const LIBEBUR128: &str = "libebur128";

impl Libebur128 {
    /// Compiles the program around the library into `out` and starts it on `song`.
    pub fn start(song: &Song, out: &Path) -> Outcome<Self> {
        let source = out.join("libebur128.c");
        std::fs::write(&source, include_str!("libebur128.c")).map_err(Failure::io(&source))?;
        let program = out.join("libebur128-peer");
        let compiled = Command::new("cc")
            .arg("-O2")
            .arg("-o")
            .args([&program, &source])
            .arg("-lebur128")
            .stderr(Stdio::null())
            .status();
        if !compiled.is_ok_and(|status| status.success()) {
            return Err(Failure::Missing {
                what: "the C library libebur128 (or a C compiler named cc)",
                install: "apt-get install libebur128-dev gcc",
            });
        }
        let samples = out.join("song.f32");
        std::fs::write(&samples, interleaved_bytes(song)).map_err(Failure::io(&samples))?;
        let mut process = Command::new(program)
            .arg(&samples)
            .arg(song.audio.rate_hz.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(Failure::program(LIBEBUR128))?;
        let from = process.stdout.take().map(BufReader::new);
        let from = from.ok_or_else(|| Failure::program(LIBEBUR128)("no output"))?;
        let to = process.stdin.take();
        Ok(Self { process, to, from })
    }

    /// Measures once.
    pub fn measure(&mut self, ask: Ask) -> Outcome<Reading> {
        let to = self.to.as_mut();
        let to = to.ok_or_else(|| Failure::program(LIBEBUR128)("no input"))?;
        let word = match ask {
            Ask::Everything => "maxima",
            Ask::WithoutMaxima => "plain",
        };
        writeln!(to, "{word}").map_err(Failure::program(LIBEBUR128))?;
        let mut line = String::new();
        let read = self.from.read_line(&mut line);
        read.map_err(Failure::program(LIBEBUR128))?;
        let words: Vec<f64> = line.split(' ').filter_map(|word| word.trim().parse().ok()).collect();
        match words.as_slice() {
            &[seconds, integrated_lufs, _, _, _, true_peak] => {
                Ok(Reading { seconds, integrated_lufs, true_peak })
            }
            _ => Err(Failure::program(LIBEBUR128)(format!("it said {line:?}"))),
        }
    }
}

impl Drop for Libebur128 {
    fn drop(&mut self) {
        // It ends with its input.
        self.to = None;
        let _ = self.process.wait();
    }
}

fn interleaved_bytes(song: &Song) -> Vec<u8> {
    let [left, right] = song.planes();
    let frames = left.iter().zip(right);
    frames.flat_map(|(left, right)| [left.to_ne_bytes(), right.to_ne_bytes()]).flatten().collect()
}

/// The Rust crate.
pub fn ebur128_crate(song: &Song, ask: Ask) -> Outcome<Reading> {
    const NAME: &str = "ebur128 crate";
    let start = Instant::now();
    let mode = Mode::I | Mode::LRA | Mode::S | Mode::M | Mode::TRUE_PEAK;
    let mut meter = EbuR128::new(2, song.audio.rate_hz, mode).map_err(Failure::program(NAME))?;
    let [left, right] = song.planes();
    let step = song.audio.rate_hz as usize / 10;
    let (mut highest_m, mut highest_s) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for (left, right) in left.chunks(step).zip(right.chunks(step)) {
        let added = meter.add_frames_planar_f32(&[left, right]);
        added.map_err(Failure::program(NAME))?;
        if ask == Ask::Everything {
            let momentary = meter.loudness_momentary().map_err(Failure::program(NAME))?;
            let short_term = meter.loudness_shortterm().map_err(Failure::program(NAME))?;
            highest_m = highest_m.max(momentary);
            highest_s = highest_s.max(short_term);
        }
    }
    std::hint::black_box((highest_m, highest_s, meter.loudness_range().ok()));
    let integrated_lufs = meter.loudness_global().map_err(Failure::program(NAME))?;
    let peak = |channel| meter.true_peak(channel).map_err(Failure::program(NAME));
    let true_peak = peak(0)?.max(peak(1)?);
    Ok(Reading { seconds: start.elapsed().as_secs_f64(), integrated_lufs, true_peak })
}

/// Runs ffmpeg's loudness filter with true peak over a file, as a whole process.
pub fn ffmpeg(wav: &Path) -> Outcome<Reading> {
    const NAME: &str = "ffmpeg";
    let start = Instant::now();
    let output = Command::new(NAME)
        .args(["-hide_banner", "-nostats", "-nostdin", "-i"])
        .arg(wav)
        // Its line per 100 ms is left away, which is faster.
        .args(["-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"])
        .output();
    let seconds = start.elapsed().as_secs_f64();
    let output = match output {
        Ok(output) if output.status.success() => output,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(Failure::Missing { what: NAME, install: "apt-get install ffmpeg" });
        }
        Ok(output) => return Err(Failure::program(NAME)(output.status)),
        Err(error) => return Err(Failure::program(NAME)(error)),
    };
    let text = String::from_utf8_lossy(&output.stderr);
    let figure = |name: &str| -> Option<f64> {
        let line = text.lines().rev().find(|line| line.trim().starts_with(name))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    match (figure("I:"), figure("Peak:")) {
        (Some(integrated_lufs), Some(peak_dbtp)) => {
            Ok(Reading { seconds, integrated_lufs, true_peak: 10.0_f64.powf(peak_dbtp / 20.0) })
        }
        _ => Err(Failure::program(NAME)("its summary has no I: and Peak:")),
    }
}
