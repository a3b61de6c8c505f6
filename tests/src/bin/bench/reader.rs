//! The reader's side: whole-song figures after a change in an hour of song record.

use std::sync::Arc;
use std::time::Instant;

use plimsoll::audio::{HostPosition, Outputs, Recorder, Status};
use plimsoll::loudness::Analysis;

use crate::failure::{Failure, Outcome};
use crate::input::{LAYOUT, Song, repeat};
use crate::table::{Row, Table};

/// Changes that are made and read.
const CHANGES: usize = 41;

/// Records an hour, then replays a second here and there and reads the figures each time.
pub fn row(song: &Song, table: &mut Table) -> Outcome<()> {
    eprintln!("Figures after a change …");
    let rate = song.rate();
    let second = rate.hz() as usize;
    let (outputs, sources) = Outputs::new(LAYOUT, true);
    let mut recorder = Recorder::new(rate, outputs, Arc::new(Status::default()));
    let mut play = |from_frame: usize, len_frames: usize| {
        let mut frame = from_frame;
        repeat(song, len_frames, 4_096, |block| {
            let position = HostPosition {
                playing: true,
                seconds: Some(frame as f64 / second as f64),
                ..HostPosition::default()
            };
            recorder.process(block, &position);
            frame += block[0].len();
        });
        recorder.stop();
    };
    play(0, 3_600 * second);
    let mut analysis = Analysis::of(&sources.song);
    let mut before = analysis.song_figures();
    let mut times_ms = Vec::new();
    for change in 0..CHANGES {
        // All over the hour, never on a border of anything.
        play((change * 85 + 7) * second + 1_234, second);
        let start = Instant::now();
        let is_changed = analysis.update();
        let figures = analysis.song_figures();
        times_ms.push(start.elapsed().as_secs_f64() * 1e3);
        if !is_changed || figures == before {
            return Err(Failure::Rule("a change left the figures as they were".to_owned()));
        }
        before = figures;
    }
    times_ms.sort_by(f64::total_cmp);
    table.row(Row {
        what: format!("all figures after 1 s of change in 1 h, median and worst of {CHANGES}"),
        ours: format!("{:.2}, {:.2} ms", times_ms[CHANGES / 2], times_ms[CHANGES - 1]),
        theirs: String::new(),
        ratio: String::new(),
        required: "must < 2 ms",
    });
    Ok(())
}
