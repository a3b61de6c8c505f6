//! The editor's frames while a song plays on: the time of the processor, without what OpenGL does
//! with them.

use std::time::{Duration, Instant};

use plimsoll_tests::played::Played;

use crate::input::Song;
use crate::table::{Row, Table, Verdict};

/// Frames that are drawn, at 30 a second: five seconds of song.
const FRAMES: u32 = 150;
const FRAME: Duration = Duration::from_nanos(1_000_000_000 / 30);

/// What issue 5 asks.
const MINUTES: usize = 10;
const SECTIONS: usize = 20;
const MUST_MS: f64 = 3.0;

/// Time of the processor that this thread has had, ms, where the system tells; else since `start`.
fn cpu_ms(start: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let ns = told.and_then(|told| told.split(' ').next()?.parse::<u64>().ok());
    ns.map_or_else(|| start.elapsed().as_secs_f64() * 1e3, |ns| ns as f64 / 1e6)
}

/// What one of as many rounds of `work` takes, each in the time of a frame, ms.
fn round_ms(mut work: impl FnMut()) -> f64 {
    let start = Instant::now();
    let before_ms = cpu_ms(start);
    for _ in 0..FRAMES {
        let round = Instant::now();
        work();
        // As often as in a window: what is computed ten times a second is in every third frame. And
        // the system counts a thread's time when it goes to sleep.
        std::thread::sleep(FRAME.saturating_sub(round.elapsed()));
    }
    (cpu_ms(start) - before_ms) / f64::from(FRAMES)
}

/// The row.
pub fn row(song: &Song, table: &mut Table) {
    eprintln!("Frames of the editor …");
    let mut played = Played::new(&song.audio, MINUTES, SECTIONS);
    played.frame(1.0);
    let playing_ms = round_ms(|| played.play_on(33));
    let both_ms = round_ms(|| {
        played.play_on(33);
        std::hint::black_box(played.frame(FRAME.as_secs_f64()));
    });
    let frame_ms = both_ms - playing_ms;
    table.row(Row {
        what: format!(
            "a frame of the editor while it plays, 1200×700, {MINUTES} min, {SECTIONS} sections: \
             mean of {FRAMES}"
        ),
        ours: format!("{frame_ms:.2} ms"),
        theirs: String::new(),
        ratio: String::new(),
        required: "must < 3 ms",
        verdict: Some(Verdict::AtMost { found: frame_ms, must: MUST_MS }),
    });
}
