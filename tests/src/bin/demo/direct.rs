//! The same song through the same meters without plugin or host. Both must give the same bits:
//! that is what makes the figures of a session comparable with those of a file.

use plimsoll::loudness::{Analysis, Figures};
use plimsoll::meters::layout::Layout;
use plimsoll::record::RecordReader;
use plimsoll::state::Measurement;
use plimsoll::units::SampleRate;

use crate::failure::Failure;
use crate::song::Song;

/// Fails unless the direct path gives `measurement`: every figure and the hash over the record.
/// Returns its figures, in which silence is still −∞; a saved state, being JSON, cannot say that.
pub fn check(song: &Song, measurement: &Measurement) -> Result<Figures, Failure> {
    let record = measure(song);
    let direct = record
        .as_ref()
        .and_then(|record| Measurement::of(record, song.audio.rate_hz));
    match record {
        Some(record) if direct.as_ref() == Some(measurement) => {
            Ok(Analysis::of(&record).song_figures())
        }
        _ => Err(Failure::Disagree {
            plugin: measurement.save().to_string(),
            direct: direct.map_or_else(|| "nothing".to_owned(), |direct| direct.save().to_string()),
        }),
    }
}

/// `None` for a rate or channels that are not measured; files with such are refused before.
fn measure(song: &Song) -> Option<RecordReader> {
    let audio = &song.audio;
    let rate = SampleRate::new(audio.rate_hz).ok()?;
    let layout = Layout::from_channel_count(audio.channels.len())?;
    let channels: Vec<&[f32]> = audio.channels.iter().map(Vec::as_slice).collect();
    Some(plimsoll::audio::measure(&channels, rate, layout))
}
