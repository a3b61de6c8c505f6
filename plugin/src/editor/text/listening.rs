//! Words of matched listening.

use crate::listening::Matched;
use crate::units::Db;

/// Button: hear the song at its playback gain, and plain again.
pub const LISTEN: &str = "Listen";
/// Button: take the gain off.
pub const LISTEN_PLAIN: &str = "Switch off";
/// What it does, and the caution.
pub const LISTEN_HINT: &str = "Hear the song at its playback gain, so that louder does not pass \
     for better; the figures go on reading the song before it. Turn the monitors down first: the \
     level changes at once, and again when you switch it off.";
/// On, and nothing to apply.
const NO_CHANGE: &str =
    "Matched listening is on: playback at this target leaves the level as it is.";
/// On, and the host renders.
const RENDERING: &str =
    "Matched listening waits: the host renders offline, and nothing is applied.";

/// What matched listening does now.
pub fn matched(matched: &Matched) -> String {
    let Matched { gain, held_back, rendering } = *matched;
    let amount = Db(gain.0.abs());
    if rendering {
        RENDERING.to_owned()
    } else if held_back {
        format!(
            "Matched listening: output turned up {amount} only, since louder came than was \
             measured when you switched it on. The figures read before it."
        )
    } else if gain.0 <= -0.05 {
        format!(
            "Matched listening: output turned down {amount}; the figures read before it. \
             Switching off is that much louder: mind your ears."
        )
    } else if gain.0 >= 0.05 {
        format!("Matched listening: output turned up {amount}; the figures read before it.")
    } else {
        NO_CHANGE.to_owned()
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
        let say = |gain_db, held_back, rendering| {
            matched(&Matched { gain: Db(gain_db), held_back, rendering })
        };
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
