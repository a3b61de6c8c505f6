//! One core against libraries, in memory.

use std::num::NonZeroUsize;
use std::path::Path;
use std::time::Instant;

use plimsoll::loudness::{Figures, FileMeter, measure_file};

use crate::failure::{Failure, Outcome};
use crate::input::{LAYOUT, Song, repeat};
use crate::peers::{Ask, Libebur128, Reading, ebur128_crate};
use crate::table::{Row, Table, Verdict};

/// Rounds of both sides.
const ROUNDS: usize = 9;

/// The largest differences with which two programs can be said to measure the same thing, LU and
/// dB: the peers' own errors are below 0.05 LU, and their true peak reads up to 0.6 dB low.
const SAME_LU: f64 = 0.1;
const SAME_DB: f64 = 0.8;

/// Measures `song` once on `threads` threads; the seconds and the figures.
fn measure(song: &Song, threads: NonZeroUsize) -> (f64, Figures) {
    let start = Instant::now();
    let figures = measure_file(&song.planes(), song.rate(), LAYOUT, threads).song_figures();
    (start.elapsed().as_secs_f64(), figures)
}

/// Nanoseconds a frame.
fn per_frame(seconds: f64, song: &Song) -> String {
    let ns = seconds * 1e9 / song.audio.len_frames() as f64;
    format!("{ns:.2} ns/frame")
}

/// Says so where a peer measured something else.
pub fn check(name: &str, figures: &Figures, reading: &Reading) -> Outcome<()> {
    let ours_lufs = figures.integrated.map_or(f64::NAN, |lufs| lufs.0);
    let ours_dbtp = figures.max_true_peak.map_or(f64::NAN, |peak| peak.0);
    let theirs_lufs = reading.integrated_lufs;
    let theirs_dbtp = 20.0 * reading.true_peak.log10();
    let is_same =
        (ours_lufs - theirs_lufs).abs() < SAME_LU && (ours_dbtp - theirs_dbtp).abs() < SAME_DB;
    if is_same {
        return Ok(());
    }
    Err(Failure::Rule(format!(
        "{name} reads {theirs_lufs:.3} LUFS and {theirs_dbtp:.2} dBTP, we {ours_lufs:.3} and \
         {ours_dbtp:.2}: more than {SAME_LU} LU or {SAME_DB} dB apart, so times say nothing"
    )))
}

/// The rows of every song.
pub fn rows(songs: &[Song], out: &Path, table: &mut Table) -> Outcome<()> {
    for song in songs {
        eprintln!("One core, {} …", song.describe());
        song_rows(song, out, table)?;
        let peaks = "true peak on an 8x grid with crests, at every hop of 10 ms";
        table.note(format!(
            "{}: M sliding by 1.25 ms, S by 10 ms, I, LRA, {peaks}; in memory, one core",
            song.describe()
        ));
    }
    table.note(
        "the libraries are read for M and S every 100 ms, as they must be to give maxima; \
         \"no maxima\" = they are asked for I, LRA and true peak alone, we measure all",
    );
    table.note(format!("fastest of {ROUNDS} rounds, sides interleaved"));
    Ok(())
}

fn song_rows(song: &Song, out: &Path, table: &mut Table) -> Outcome<()> {
    let mut library = match Libebur128::start(song, out) {
        Ok(library) => Some(library),
        Err(failure @ Failure::Missing { .. }) => {
            table.note(failure.to_string());
            None
        }
        Err(failure) => return Err(failure),
    };
    let two = NonZeroUsize::MIN.saturating_add(1);
    let (mut ours, mut ours_two) = (f64::INFINITY, f64::INFINITY);
    let mut theirs = [[f64::INFINITY; 2]; 2];
    for _ in 0..ROUNDS {
        let (seconds, figures) = measure(song, NonZeroUsize::MIN);
        ours = ours.min(seconds);
        ours_two = ours_two.min(measure(song, two).0);
        for (column, ask) in [Ask::Everything, Ask::WithoutMaxima].into_iter().enumerate() {
            if let Some(library) = &mut library {
                let reading = library.measure(ask)?;
                check("libebur128", &figures, &reading)?;
                theirs[0][column] = theirs[0][column].min(reading.seconds);
            }
            let reading = ebur128_crate(song, ask)?;
            check("the ebur128 crate", &figures, &reading)?;
            theirs[1][column] = theirs[1][column].min(reading.seconds);
        }
    }
    let peers =
        [("libebur128", 12.0, "must 12x, aim 30x"), ("ebur128 crate", 6.0, "must 6x, aim 15x")];
    for ((peer, must, required), [everything, without_maxima]) in peers.into_iter().zip(theirs) {
        for (asked, seconds) in [("", everything), (", no maxima", without_maxima)] {
            if seconds.is_finite() {
                table.row(Row {
                    what: format!("{}, one core, against {peer}{asked}", song.name),
                    ours: per_frame(ours, song),
                    theirs: per_frame(seconds, song),
                    ratio: format!("{:.1}x", seconds / ours),
                    required,
                    verdict: Some(Verdict::AtLeast { found: seconds / ours, must }),
                });
            }
        }
    }
    table.row(Row {
        what: format!("{}, two cores, against one", song.name),
        ours: per_frame(ours_two, song),
        theirs: per_frame(ours, song),
        ratio: format!("{:.1}x", ours / ours_two),
        required: "",
        verdict: None,
    });
    Ok(())
}

/// What a frame costs in a short song and in a long one: as many frames in both, in one file of
/// two hours and in 120 of one minute.
pub fn length_row(song: &Song, table: &mut Table) {
    const MINUTES: [usize; 4] = [1, 10, 60, 120];
    const ALL_MINUTES: usize = 120;
    eprintln!("Cost by length …");
    let mut fastest = [f64::INFINITY; MINUTES.len()];
    for _ in 0..5 {
        for (fastest, minutes) in fastest.iter_mut().zip(MINUTES) {
            let start = Instant::now();
            for _ in 0..ALL_MINUTES / minutes {
                let mut meter = FileMeter::new(song.rate(), LAYOUT);
                let len_frames = minutes * 60 * song.audio.rate_hz as usize;
                repeat(song, len_frames, 4_096, |block| meter.push(block));
                std::hint::black_box(meter.finish().song_figures());
            }
            *fastest = fastest.min(start.elapsed().as_secs_f64());
        }
    }
    let frames = (ALL_MINUTES * 60 * song.audio.rate_hz as usize) as f64;
    let costs = fastest.map(|seconds| format!("{:.2}", seconds * 1e9 / frames)).join(" ");
    let [short, .., long] = fastest;
    table.row(Row {
        what: "a frame's cost in 1, 10, 60, 120 minutes".to_owned(),
        ours: format!("{costs} ns"),
        theirs: String::new(),
        ratio: format!("{:+.1} %", (long / short - 1.0) * 100.0),
        required: "must be flat within 3 %",
        verdict: Some(Verdict::AtMost { found: (long / short - 1.0).abs() * 100.0, must: 3.0 }),
    });
}
