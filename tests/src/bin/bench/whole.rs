//! What the plugin costs in a host while a song plays, all its threads together.

use std::path::Path;

use plimsoll_tests::host::{Buffers, Host, HostError, Library};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};

use crate::failure::{Failure, Outcome};
use crate::input::Song;
use crate::table::{Row, Table, Verdict};

const BLOCK_FRAMES: usize = 64;
const ROUNDS: usize = 3;

/// The row of `song`: the linked plugin with tone, its editor closed, at 64 frames a block. What the
/// host itself needs counts too.
pub fn row(song: &Song, table: &mut Table) -> Outcome<()> {
    if !cfg!(target_os = "linux") {
        table.note("processor time by thread is read on Linux only");
        return Ok(());
    }
    eprintln!("The whole plugin …");
    let mut least_ns = u64::MAX;
    for _ in 0..ROUNDS {
        least_ns = least_ns.min(play(song)?);
    }
    let percent = 100.0 * least_ns as f64 * 1e-9 / song.audio.len_s();
    table.row(Row {
        what: format!("whole plugin, {BLOCK_FRAMES}-frame blocks, share of a core in real time"),
        ours: format!("{percent:.2} %"),
        theirs: String::new(),
        ratio: String::new(),
        required: "must < 0.5 %",
        verdict: Some(Verdict::AtMost { found: percent, must: 0.5 }),
    });
    Ok(())
}

/// Plays the song once; processor time of all threads, ns.
fn play(song: &Song) -> Outcome<u64> {
    let failed = |error: HostError| Failure::Rule(error.to_string());
    let library = Library::linked(&plimsoll::clap_entry).map_err(failed)?;
    let mut host = Host::new(&library).map_err(failed)?;
    // Offline the plugin waits for its tone: faster than real time it would leave some out.
    host.render_offline(true).map_err(failed)?;
    host.activate(song.audio.rate_hz, BLOCK_FRAMES).map_err(failed)?;
    host.start_processing().map_err(failed)?;
    let steps = play_once(&song.audio);
    let blocks = Blocks::Fixed(BLOCK_FRAMES);
    let telling = Telling::new(Tells::Seconds);
    let before_ns = processor_ns()?;
    host.run(&song.audio, &steps, &telling, &blocks, Buffers::InPlace).map_err(failed)?;
    let spent_ns = processor_ns()? - before_ns;
    let measured = host.measurement().map_err(failed)?.figures.measured_hops.unwrap_or(0.0);
    // The last hop may be covered in part.
    if measured + 1.0 < (song.audio.len_s() * 100.0).floor() {
        return Err(Failure::Rule(format!("{measured} hops were measured: not the whole song")));
    }
    Ok(spent_ns)
}

/// Time on a processor of all threads there are.
fn processor_ns() -> Outcome<u64> {
    let tasks = Path::new("/proc/self/task");
    let mut sum_ns = 0;
    for task in std::fs::read_dir(tasks).map_err(Failure::io(tasks))? {
        let path = task.map_err(Failure::io(tasks))?.path().join("schedstat");
        let text = std::fs::read_to_string(&path).map_err(Failure::io(&path))?;
        let first = text.split_whitespace().next().and_then(|field| field.parse::<u64>().ok());
        sum_ns += first.ok_or_else(|| {
            Failure::Rule(format!("{}: no time on a processor in it", path.display()))
        })?;
    }
    Ok(sum_ns)
}
