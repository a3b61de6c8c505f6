//! The editor's frames while a song plays on: the time of the one core that draws them, without
//! what OpenGL does with them.

use std::time::{Duration, Instant};

use plimsoll_tests::played::Played;

use crate::input::Song;
use crate::table::{Row, Table, Verdict};

/// Frames that are drawn, at 30 a second: ten seconds of song.
const FRAMES: u32 = 300;
const FRAME: Duration = Duration::from_nanos(1_000_000_000 / 30);

/// What issue 5 asks.
const MINUTES: usize = 10;
const SECTIONS: usize = 20;
const MUST_MS: f64 = 3.0;

/// The row.
pub fn row(song: &Song, table: &mut Table) {
    eprintln!("Frames of the editor …");
    let mut played = Played::new(&song.audio, MINUTES, SECTIONS);
    played.frame(1.0);
    let mut times_ms = Vec::new();
    for _ in 0..FRAMES {
        let start = Instant::now();
        played.play_on(33);
        let drawing = Instant::now();
        std::hint::black_box(played.frame(FRAME.as_secs_f64()));
        times_ms.push(drawing.elapsed().as_secs_f64() * 1e3);
        // As often as in a window: what is computed ten times a second is in every third frame.
        std::thread::sleep(FRAME.saturating_sub(start.elapsed()));
    }
    let mean_ms = times_ms.iter().sum::<f64>() / f64::from(FRAMES);
    let worst_ms = times_ms.iter().copied().fold(0.0, f64::max);
    table.row(Row {
        what: format!(
            "a frame of the editor while it plays, 1200×700, {MINUTES} min, {SECTIONS} sections: \
             mean and worst of {FRAMES}"
        ),
        ours: format!("{mean_ms:.2}, {worst_ms:.2} ms"),
        theirs: String::new(),
        ratio: String::new(),
        required: "must < 3 ms",
        verdict: Some(Verdict::AtMost { found: mean_ms, must: MUST_MS }),
    });
}
