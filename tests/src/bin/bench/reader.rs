//! The reader's side: whole-song figures after a change in an hour of song record, and the log of
//! its sections after a change in ten minutes.

use std::sync::Arc;
use std::time::Instant;

use plimsoll::audio::{HostPosition, Outputs, Recorder, Sources, Status};
use plimsoll::loudness::Analysis;
use plimsoll::section::{Place, SectionLog, Sections};

use crate::failure::{Failure, Outcome};
use crate::input::{LAYOUT, Song, repeat};
use crate::table::{Row, Table, Verdict};

/// Changes that are made and read.
const CHANGES: usize = 41;

/// Sections of the log, and the length of each, s.
const SECTIONS: u32 = 40;
const SECTION_S: u32 = 15;

/// A song that was played, and can be again.
struct Played<'a> {
    song: &'a Song,
    recorder: Recorder,
    sources: Sources,
}

impl<'a> Played<'a> {
    /// Plays the first `seconds` seconds of `song`, round and round if it is shorter.
    fn new(song: &'a Song, seconds: usize) -> Self {
        let (outputs, sources) = Outputs::new(LAYOUT, true);
        let recorder = Recorder::new(song.rate(), outputs, Arc::new(Status::default()));
        let mut played = Self { song, recorder, sources };
        played.play(0, seconds * played.second());
        played
    }

    fn second(&self) -> usize {
        self.song.rate().hz() as usize
    }

    fn play(&mut self, from_frame: usize, len_frames: usize) {
        let mut frame = from_frame;
        let rate_hz = self.second() as f64;
        repeat(self.song, len_frames, 4_096, |block| {
            let seconds = Some(frame as f64 / rate_hz);
            let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
            self.recorder.process(block, &position);
            frame += block[0].len();
        });
        self.recorder.stop();
    }

    /// Plays a second at `second`, never on a border of anything.
    fn change(&mut self, second: usize) {
        self.play(second * self.second() + 1_234, self.second());
    }
}

/// The row of `times_ms`, whose median must be below `must_ms`: the worst is the machine's.
fn row_of(what: String, mut times_ms: Vec<f64>, must_ms: f64, required: &'static str) -> Row {
    times_ms.sort_by(f64::total_cmp);
    let (median_ms, worst_ms) = (times_ms[times_ms.len() / 2], times_ms[times_ms.len() - 1]);
    Row {
        what: format!("{what}, median and worst of {CHANGES}"),
        ours: format!("{median_ms:.2}, {worst_ms:.2} ms"),
        theirs: String::new(),
        ratio: String::new(),
        required,
        verdict: Some(Verdict::AtMost { found: median_ms, must: must_ms }),
    }
}

fn ms(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1e3
}

/// Records an hour, then replays a second here and there and reads the figures each time.
pub fn row(song: &Song, table: &mut Table) -> Outcome<()> {
    eprintln!("Figures after a change …");
    let mut played = Played::new(song, 3_600);
    let mut analysis = Analysis::of(&played.sources.song);
    let mut before = analysis.song_figures();
    let mut times_ms = Vec::new();
    for change in 0..CHANGES {
        // All over the hour.
        played.change(change * 85 + 7);
        let start = Instant::now();
        let is_changed = analysis.update();
        let figures = analysis.song_figures();
        times_ms.push(ms(start));
        if !is_changed || figures == before {
            return Err(Failure::Rule("a change left the figures as they were".to_owned()));
        }
        before = figures;
    }
    let what = "all figures after 1 s of change in 1 h".to_owned();
    table.row(row_of(what, times_ms, 2.0, "must < 2 ms"));
    Ok(())
}

/// Records ten minutes of 40 sections and reads their log: at once, and after a second was
/// replayed in the middle of one of them.
pub fn section_rows(song: &Song, table: &mut Table) -> Outcome<()> {
    eprintln!("Section log after a change …");
    let mut sections = Sections::default();
    for number in 0..SECTIONS {
        let [start, end] = [number, number + 1].map(|edge| Place::at(f64::from(edge * SECTION_S)));
        let added = sections.add_range(start, end, None);
        added.map_err(|error| Failure::Rule(error.to_string()))?;
    }
    let mut played = Played::new(song, (SECTIONS * SECTION_S) as usize);
    let mut cold_ms = Vec::new();
    for _ in 0..CHANGES {
        let start = Instant::now();
        let mut analysis = Analysis::of(&played.sources.song);
        let mut log = SectionLog::default();
        log.update(sections.as_slice(), &mut analysis);
        cold_ms.push(ms(start));
    }
    let mut analysis = Analysis::of(&played.sources.song);
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), &mut analysis);
    let mut times_ms = Vec::new();
    for change in 0..CHANGES {
        let section = change % SECTIONS as usize;
        played.change(section * SECTION_S as usize + 4);
        let start = Instant::now();
        analysis.update();
        let measured = log.update(sections.as_slice(), &mut analysis);
        times_ms.push(ms(start));
        if measured != 1 {
            return Err(Failure::Rule(format!("{measured} sections changed, not one")));
        }
    }
    for (what, times_ms, must_ms, required) in [
        ("after 1 s of change", times_ms, 1.0, "must < 1 ms"),
        ("from nothing", cold_ms, 20.0, "must < 20 ms"),
    ] {
        let what = format!("log of {SECTIONS} sections in 10 min {what}");
        table.row(row_of(what, times_ms, must_ms, required));
    }
    Ok(())
}
