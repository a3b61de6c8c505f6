//! What stands between a song and its target, in one or two sentences.

use super::distance::{Distance, Standing, Verdict};
use crate::units::one_decimal;
use std::fmt;

impl fmt::Display for Distance {
    /// One or two sentences: what stands between the song and the target.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let only_a_limit = matches!(
            self.standing,
            Standing::PeaksOver { .. }
                | Standing::ShortTermOver { .. }
                | Standing::MomentaryOver { .. }
                | Standing::RangeOver { .. }
        );
        if only_a_limit && self.distance.is_some() {
            write!(f, "The integrated loudness is right. ")?;
        }
        write!(f, "{}", self.standing)?;
        if let Some(share) = self.provisional_share
            && self.verdict() != Verdict::NotYet
        {
            write!(f, " So far: only {:.0} % of the song is measured.", share * 100.0)?;
        }
        Ok(())
    }
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let d = one_decimal;
        match self {
            Self::NotMeasured => write!(f, "Nothing measured yet. Play the song from its start."),
            Self::TooShort => {
                write!(f, "Too short to say: integrated loudness needs 400 ms without a gap.")
            }
            Self::Silent => write!(f, "What was measured is silence."),
            Self::Within { distance: Some(distance) } if d(distance.0) != "0.0" => {
                let side = if distance.0 > 0.0 { "above" } else { "below" };
                write!(f, "Within target, {} LU {side} the load line.", d(distance.0.abs()))
            }
            Self::Within { .. } => write!(f, "Within target."),
            Self::TooLoud { distance, peak_control } => {
                write!(f, "{0} LU too loud. Turn the song down by {0} dB.", excess(distance.0))?;
                if peak_control.0 > 0.0 {
                    let control = excess(peak_control.0);
                    write!(f, " The peaks then still ask for {control} dB of peak control.")?;
                }
                Ok(())
            }
            Self::TooQuietButLoudInParts { distance, part, over } => write!(
                f,
                "{0} LU too quiet, and plain gain does not mend it: with {0} dB the loudest {1} \
                 would be {2} LU over their limit.",
                excess(-distance.0),
                part,
                excess(over.0)
            ),
            Self::LimitNotMeasured { what } => {
                write!(f, "Too short to say: {what} needs more without a gap.")
            }
            Self::TooQuietWithRoom { distance, room_left: Some(room) } => write!(
                f,
                "{0} LU too quiet, and there is room: turn it up by {0} dB and the peaks stay \
                 {1} dB below the ceiling.",
                excess(-distance.0),
                d(room.0)
            ),
            Self::TooQuietWithRoom { distance, room_left: None } => {
                write!(f, "{0} LU too quiet. Turn it up by {0} dB.", excess(-distance.0))
            }
            Self::TooQuietWithoutRoom { distance, peak_control } => write!(
                f,
                "{0} LU too quiet, and the peaks stand in the way: {0} dB of gain asks for \
                 {1} dB of peak control.",
                excess(-distance.0),
                excess(peak_control.0)
            ),
            Self::PeaksOver { over } => {
                write!(f, "The true peak is {} dB over the ceiling.", excess(over.0))
            }
            Self::ShortTermOver { over } => {
                write!(f, "The loudest 3 s are {} LU over their limit.", excess(over.0))
            }
            Self::MomentaryOver { over } => {
                write!(f, "The loudest 400 ms are {} LU over their limit.", excess(over.0))
            }
            Self::RangeOver { over } => {
                write!(f, "The loudness range is {} LU over its limit.", excess(over.0))
            }
            Self::PeakAboveWindow { over } => write!(
                f,
                "The peaks leave too little headroom. Turn the mix down by {} dB or more.",
                one_decimal((over.0 * 10.0).ceil() / 10.0)
            ),
            Self::PeakBelowWindow { under, at_most } => write!(
                f,
                "The peaks are lower than they need to be. Turning the mix up by {} to {} dB puts \
                 them in the window.",
                d(under.0),
                d(at_most.0)
            ),
        }
    }
}

/// A figure above zero that matters however small it is: never "0.0".
fn excess(value: f64) -> String {
    let text = one_decimal(value);
    if text == "0.0" { "under 0.1".to_owned() } else { text }
}
