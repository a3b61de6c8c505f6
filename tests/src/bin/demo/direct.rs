//! The same song through the same meters without plugin or host. Both must give the same bits:
//! that is what makes the figures of a session comparable with those of a file.

use plimsoll::meters::layout::Layout;
use plimsoll::state::Measurement;
use plimsoll::units::SampleRate;

use crate::failure::Failure;
use crate::song::Song;

/// Fails unless the direct path gives `measurement`: every figure and the hash over the record.
pub fn check(song: &Song, measurement: &Measurement) -> Result<(), Failure> {
    let direct = measure(song);
    if direct.as_ref() == Some(measurement) {
        return Ok(());
    }
    Err(Failure::Disagree {
        plugin: measurement.save().to_string(),
        direct: direct.map_or_else(|| "nothing".to_owned(), |direct| direct.save().to_string()),
    })
}

/// `None` if there is nothing to measure; a file that was read always has something.
fn measure(song: &Song) -> Option<Measurement> {
    let audio = &song.audio;
    let rate = SampleRate::new(audio.rate_hz).ok()?;
    let layout = Layout::from_channel_count(audio.channels.len())?;
    let channels: Vec<&[f32]> = audio.channels.iter().map(Vec::as_slice).collect();
    let record = plimsoll::audio::measure(&channels, rate, layout);
    Measurement::of(&record, audio.rate_hz)
}
