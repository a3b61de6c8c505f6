//! Words of matched listening.

use crate::listening::{MatchTo, Matched};
use crate::units::Db;

/// Button: hear the song at its playback gain, and plain again.
pub const LISTEN: &str = "Listen";
/// Button: take the gain off.
pub const LISTEN_PLAIN: &str = "Switch off";
/// What it does, and the caution.
pub const LISTEN_HINT: &str = "Hear the song at its playback gain, so that louder does not pass \
     for better; the figures go on reading the song before it. Turn the monitors down first: the \
     level changes at once, and again when you switch it off.";
/// Button: hear the song as loud as the reference input.
pub const MATCH_LEVEL: &str = "Match level";
/// Its name for screen readers while it is on.
pub const MATCH_LEVEL_OFF: &str = "Match level, switch off";
/// What it does, and the caution.
pub const MATCH_LEVEL_HINT: &str = "Hear the song as loud as the reference input, so that louder does \
     not pass for better; the figures go on reading the song before it. Turn the monitors down first: \
     the level changes at once, and again when you switch it off.";
/// There is nothing to match, or nothing to match it to.
pub const NOTHING_TO_MATCH: &str = "To match levels, song and reference input both need a measured \
     loudness: play both.";
/// On, and nothing to apply.
const NO_CHANGE: &str =
    "Matched listening is on: playback at this target leaves the level as it is.";
/// The same beside the reference input.
const NO_CHANGE_TO_REFERENCE: &str =
    "Matched listening is on: the song leaves as it is to match the reference input.";
/// On, and the host renders.
const RENDERING: &str =
    "Matched listening waits: the host renders offline, and nothing is applied.";

/// What matched listening does now.
pub fn matched(matched: &Matched) -> String {
    let Matched { to, gain, held_back, rendering } = *matched;
    let amount = Db(gain.0.abs());
    let name = match to {
        MatchTo::Playback => "Matched listening",
        MatchTo::Reference => "Matched listening, to the reference input",
    };
    if rendering {
        RENDERING.to_owned()
    } else if held_back {
        format!(
            "{name}: output turned up {amount} only, since louder came than was \
             measured when you switched it on. The figures read before it."
        )
    } else if gain.0 <= -0.05 {
        format!(
            "{name}: output turned down {amount}; the figures read before it. \
             Switching off is that much louder: mind your ears."
        )
    } else if gain.0 >= 0.05 {
        format!("{name}: output turned up {amount}; the figures read before it.")
    } else {
        match to {
            MatchTo::Playback => NO_CHANGE.to_owned(),
            MatchTo::Reference => NO_CHANGE_TO_REFERENCE.to_owned(),
        }
    }
}

/// Turning up is refused while the song is not measured enough.
pub fn measure_before_turning_up(gain: Db, share: f64) -> String {
    format!(
        "Turning up by {gain} needs the peaks of the whole song, and {:.0} % of it is measured: \
         play the rest first.",
        (share * 100.0).floor()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_it_does_is_said_in_every_state() {
        let say_to = |to, gain_db, held_back, rendering| {
            matched(&Matched { to, gain: Db(gain_db), held_back, rendering })
        };
        let say = |gain_db, held_back, rendering| {
            say_to(MatchTo::Playback, gain_db, held_back, rendering)
        };
        let to_reference = say_to(MatchTo::Reference, 2.0, false, false);
        assert!(to_reference.contains("to the reference input: output turned up 2.0 dB;"));
        assert_eq!(say_to(MatchTo::Reference, 0.01, false, false), NO_CHANGE_TO_REFERENCE);
        assert_eq!(say_to(MatchTo::Reference, 2.0, false, true), RENDERING);
        assert!(say(-5.3, false, false).contains("turned down 5.3 dB"));
        assert!(say(-5.3, false, false).contains("ears"));
        assert!(say(2.0, false, false).contains("turned up 2.0 dB;"));
        assert!(say(1.2, true, false).contains("turned up 1.2 dB only"));
        assert_eq!(say(-0.04, false, false), NO_CHANGE);
        assert_eq!(say(-5.3, false, true), RENDERING);
        let refused = measure_before_turning_up(Db(2.0), 0.419);
        assert!(refused.contains("2.0 dB") && refused.contains("41 %"), "{refused}");
    }
}
