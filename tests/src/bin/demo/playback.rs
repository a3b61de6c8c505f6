//! The song through the built plugin, in the in-process host, with a transport that plays.

use std::path::Path;

use plimsoll::state::{self, Measurement};
use plimsoll_tests::host::{Buffers, Host, field, with_field};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use serde_json::Value;

use crate::failure::Failure;
use crate::progress::Progress;
use crate::song::{Song, Tweak};

/// Length of a block in frames, as hosts often have it.
const BLOCK_FRAMES: usize = 512;
/// Blocks between two looks at the progress: about half a second at 48 kHz.
const BLOCKS_PER_STRETCH: usize = 47;

/// What the plugin had in its state.
#[derive(Debug)]
pub struct Played {
    /// After the whole song.
    pub whole: Measurement,
    /// After a part of the tweaked song was played again; with no tweak as before.
    pub last: Measurement,
    /// The saved record, tone included.
    pub record: Value,
    /// Sections and playthroughs at the end.
    pub song: state::Song,
}

/// Plays `song` once from start to end, then what its tweak plays again, and returns what the
/// plugin put into its state.
pub fn play(plugin: &Path, song: &Song) -> Result<Played, Failure> {
    let audio = &song.audio;
    let mut host = Host::bundle(plugin)?;
    let channels = u32::try_from(audio.channels.len()).unwrap_or(u32::MAX);
    host.select_layout(channels)?;
    // The sections come as they would with a project.
    let project = state::Song {
        name: song.name.clone(),
        sections: song.sections.clone(),
        ..state::Song::default()
    };
    let broken = |message: String| Failure::NoMeasurement { plugin: plugin.to_owned(), message };
    let fresh = host.save_state()?;
    let state = with_field(&fresh, "song", &project.save().to_string());
    host.load_state(&state.map_err(|error| broken(error.to_string()))?)?;
    // Far faster than realtime: tone is measured in line, so that nothing of it is lost.
    host.render_offline(true)?;
    host.activate(audio.rate_hz, BLOCK_FRAMES)?;

    let changed = |samples: u64| match samples {
        0 => Ok(()),
        samples => Err(Failure::Changed { plugin: plugin.to_owned(), samples }),
    };
    let telling = telling(song);
    let blocks = Blocks::Fixed(BLOCK_FRAMES);
    let mut progress = Progress::new(audio.len_s());
    let len_frames = audio.len_frames();
    let mut start = 0;
    while start < len_frames {
        let stretch = (BLOCK_FRAMES * BLOCKS_PER_STRETCH).min(len_frames - start);
        // Goes on where the stretch before has ended: for the plugin one playthrough.
        let steps = [Step::Locate { frame: index(start) }, Step::Play { len_frames: stretch }];
        let run = host.run(audio, &steps, &telling, &blocks, Buffers::Separate)?;
        changed(run.changed_samples)?;
        start += stretch;
        progress.at(audio.len_s() * share(start, len_frames));
    }
    progress.finish();
    host.stop_processing()?;
    let whole = measurement(&mut host).map_err(broken)?;
    let mut last = whole.clone();
    if let Some(tweak) = &song.tweak {
        host.start_processing()?;
        let run = host.run(&tweak.audio, &again(tweak), &telling, &blocks, Buffers::Separate)?;
        changed(run.changed_samples)?;
        host.stop_processing()?;
        last = measurement(&mut host).map_err(broken)?;
    }
    let state = host.save_state()?;
    let saved = |name: &str| -> Result<Value, Failure> {
        let text = field(&state, name).map_err(|error| broken(error.to_string()))?;
        serde_json::from_str(&text).map_err(|error| broken(error.to_string()))
    };
    let record = saved("record")?;
    let song = state::Song::load(&saved("song")?);
    let (song, _) = song.map_err(|error| broken(error.to_string()))?;
    Ok(Played { whole, last, record, song })
}

/// What the host tells.
pub fn telling(song: &Song) -> Telling {
    match song.tempo_bpm {
        Some(tempo_bpm) => {
            Telling { tempo_map: vec![(0, tempo_bpm)], ..Telling::new(Tells::Everything) }
        }
        // A file says nothing of beats.
        None => Telling::new(Tells::Seconds),
    }
}

/// What of the tweaked song is played again.
pub fn again(tweak: &Tweak) -> [Step; 2] {
    let frames = &tweak.frames;
    [Step::Locate { frame: index(frames.start) }, Step::Play { len_frames: frames.len() }]
}

fn index(frame: usize) -> i64 {
    i64::try_from(frame).unwrap_or(i64::MAX)
}

fn measurement(host: &mut Host) -> Result<Measurement, String> {
    let saved = host.measurement().map_err(|error| error.to_string())?.json;
    let measurement = Measurement::load(&saved).map_err(|error| error.to_string())?;
    measurement.ok_or_else(|| "nothing was measured".to_owned())
}

#[allow(
    clippy::cast_precision_loss,
    reason = "for progress only, and songs are far below 2^52 frames"
)]
fn share(part: usize, whole: usize) -> f64 {
    part as f64 / whole as f64
}
