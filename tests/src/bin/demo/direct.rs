//! The same song through the same meters without plugin or host. Both must give the same bits:
//! that is what makes the figures of a session comparable with those of a file.

use plimsoll::state::{Measurement, Recording};
use plimsoll::units::SampleRate;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::transport::Blocks;

use crate::failure::Failure;
use crate::playback::{self, Played};
use crate::song::Song;

/// Fails unless the direct path gives what the plugin measured: every figure and the hash over the
/// record. Returns the direct path after the whole song was played, and the same with what was
/// played again. It still knows what a saved state, being JSON, cannot say: that silence is −∞.
pub fn check(song: &Song, played: &Played) -> Result<[Direct; 2], Failure> {
    let whole = Direct::measure_with_tone(&song.audio);
    agree(&whole, song, &played.whole)?;
    let mut last = Direct::measure_with_tone(&song.audio);
    if let Some(tweak) = &song.tweak {
        let blocks = Blocks::Fixed(1024);
        last.run(&tweak.audio, &playback::again(tweak), &playback::telling(song), &blocks);
        last.stop();
        agree(&last, song, &played.last)?;
    }
    // Tone has no figures in the measurement; the saved record holds it.
    let rate = SampleRate::new(song.audio.rate_hz).ok();
    let record = rate.map(|rate| Recording::save(&last.sources().song, rate));
    if record.as_ref() != Some(&played.record) {
        return Err(Failure::Disagree {
            plugin: "a saved record".to_owned(),
            direct: "another one".to_owned(),
        });
    }
    Ok([whole, last])
}

fn agree(path: &Direct, song: &Song, measurement: &Measurement) -> Result<(), Failure> {
    let direct = Measurement::of(&path.sources().song, song.audio.rate_hz);
    if direct.as_ref() == Some(measurement) {
        return Ok(());
    }
    Err(Failure::Disagree {
        plugin: measurement.save().to_string(),
        direct: direct.map_or_else(|| "nothing".to_owned(), |direct| direct.save().to_string()),
    })
}
