//! The song through the built plugin, in the in-process host, with a transport that plays.

use std::path::Path;

use plimsoll::state::Measurement;
use plimsoll_tests::host::{Buffers, Host};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};

use crate::failure::Failure;
use crate::progress::Progress;
use crate::song::Song;

/// Length of a block in frames, as hosts often have it.
const BLOCK_FRAMES: usize = 512;
/// Blocks between two looks at the progress: about half a second at 48 kHz.
const BLOCKS_PER_STRETCH: usize = 47;

/// Plays `song` once from start to end and returns what the plugin put into its state.
pub fn play(plugin: &Path, song: &Song) -> Result<Measurement, Failure> {
    let audio = &song.audio;
    let mut host = Host::bundle(plugin)?;
    let channels = u32::try_from(audio.channels.len()).unwrap_or(u32::MAX);
    host.select_layout(channels)?;
    host.activate(audio.rate_hz, BLOCK_FRAMES)?;

    let telling = match song.tempo_bpm {
        Some(tempo_bpm) => {
            Telling { tempo_map: vec![(0, tempo_bpm)], ..Telling::new(Tells::Everything) }
        }
        // A file says nothing of beats.
        None => Telling::new(Tells::Seconds),
    };
    let blocks = Blocks::Fixed(BLOCK_FRAMES);
    let mut progress = Progress::new(audio.len_s());
    let len_frames = audio.len_frames();
    let mut start = 0;
    while start < len_frames {
        let stretch = (BLOCK_FRAMES * BLOCKS_PER_STRETCH).min(len_frames - start);
        // Goes on where the stretch before has ended: for the plugin one playthrough.
        let frame = i64::try_from(start).unwrap_or(i64::MAX);
        let steps = [Step::Locate { frame }, Step::Play { len_frames: stretch }];
        let run = host.run(audio, &steps, &telling, &blocks, Buffers::Separate)?;
        if run.changed_samples != 0 {
            return Err(Failure::Changed {
                plugin: plugin.to_owned(),
                samples: run.changed_samples,
            });
        }
        start += stretch;
        progress.at(audio.len_s() * share(start, len_frames));
    }
    progress.finish();
    host.stop_processing()?;
    let saved = host.measurement()?.json;
    let no_measurement =
        |message: String| Failure::NoMeasurement { plugin: plugin.to_owned(), message };
    let measurement = Measurement::load(&saved).map_err(|e| no_measurement(e.to_string()))?;
    measurement.ok_or_else(|| no_measurement("nothing was measured".to_owned()))
}

#[allow(
    clippy::cast_precision_loss,
    reason = "for progress only, and songs are far below 2^52 frames"
)]
fn share(part: usize, whole: usize) -> f64 {
    part as f64 / whole as f64
}
