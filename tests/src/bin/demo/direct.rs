//! The same song through the same meters without plugin or host. Both must give the same bits:
//! that is what makes the figures of a session comparable with those of a file.

use plimsoll::state::Measurement;
use plimsoll_tests::direct::Direct;

use crate::failure::Failure;
use crate::song::Song;

/// Fails unless the direct path gives `measurement`: every figure and the hash over the record.
/// Returns the direct path, which still knows what a saved state, being JSON, cannot say: that
/// silence is −∞.
pub fn check(song: &Song, measurement: &Measurement) -> Result<Direct, Failure> {
    let path = Direct::measure(&song.audio);
    let direct = Measurement::of(&path.sources().song, song.audio.rate_hz);
    if direct.as_ref() == Some(measurement) {
        return Ok(path);
    }
    Err(Failure::Disagree {
        plugin: measurement.save().to_string(),
        direct: direct.map_or_else(|| "nothing".to_owned(), |direct| direct.save().to_string()),
    })
}
