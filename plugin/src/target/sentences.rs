//! What stands between a song and its target, in one or two sentences.

use super::distance::{Distance, Standing, Verdict};
use super::plain_gain::Obstacle;
use crate::units::{Db, one_decimal};
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
            Self::TooShort => write!(
                f,
                "Too short to say: integrated loudness needs 400 ms without a gap. Play on."
            ),
            Self::Silent => write!(
                f,
                "What was measured is silence. Look whether the song reaches this plugin."
            ),
            Self::Within { distance: Some(distance) } if d(distance.0) != "0.0" => {
                let side = if distance.0 > 0.0 { "above" } else { "below" };
                write!(f, "Within target, {} LU {side} the load line.", d(distance.0.abs()))
            }
            Self::Within { .. } => write!(f, "Within target."),
            Self::LimitNotMeasured { what } => {
                write!(f, "Too short to say: {what} needs more without a gap. Play on.")
            }
            Self::TooLoud { distance, then, enough } => {
                write!(f, "{} LU too loud. ", excess(distance.0))?;
                match (then, enough) {
                    (None, _) => turn_the_song(f, enough.unwrap_or(Db(-distance.0)))?,
                    (Some(then), Some(enough)) => {
                        turn_the_song(f, *enough)?;
                        write!(f, " That also brings {}.", then.mended())?;
                    }
                    (Some(then), None) => {
                        turn_the_song(f, Db(-distance.0))?;
                        write!(f, " {}", then.left())?;
                    }
                }
                Ok(())
            }
            Self::TooQuietButLoudInParts { distance, then, enough } => {
                let quiet = excess(-distance.0);
                write!(f, "{quiet} LU too quiet, and plain gain does not mend it: ")?;
                write!(f, "with {quiet} dB {}.", then.would_be())?;
                within_tolerance(f, *enough)
            }
            Self::TooQuietWithRoom { distance, gain, room_left, then } => {
                let gain = excess(gain.0);
                write!(f, "{} LU too quiet", excess(-distance.0))?;
                match room_left.map(|room| d(room.0)) {
                    None => write!(f, ". Turn it up by {gain} dB.")?,
                    Some(room) if room == "0.0" => write!(
                        f,
                        ", and there is just room: turn it up by {gain} dB and the peaks meet the \
                         ceiling."
                    )?,
                    Some(room) => write!(
                        f,
                        ", and there is room: turn it up by {gain} dB and the peaks stay {room} dB \
                         below the ceiling."
                    )?,
                }
                then.map_or(Ok(()), |then| write!(f, " {}", then.left()))
            }
            Self::TooQuietWithoutRoom { distance, peak_control, enough } => {
                write!(
                    f,
                    "{0} LU too quiet, and the peaks stand in the way: {0} dB of gain asks for \
                     {1} dB of peak control.",
                    excess(-distance.0),
                    excess(peak_control.0)
                )?;
                within_tolerance(f, *enough)
            }
            Self::PeaksOver { over, enough } => {
                write!(f, "The true peak is {} dB over the ceiling.", excess(over.0))?;
                mend(f, *enough, "It asks for that much peak control.")
            }
            Self::ShortTermOver { over, enough } => {
                write!(f, "The loudest 3 s are {} LU over their limit.", excess(over.0))?;
                mend(f, *enough, PARTS)
            }
            Self::MomentaryOver { over, enough } => {
                write!(f, "The loudest 400 ms are {} LU over their limit.", excess(over.0))?;
                mend(f, *enough, PARTS)
            }
            Self::RangeOver { over } => write!(
                f,
                "The loudness range is {} LU over its limit. Gain does not change it.",
                excess(over.0)
            ),
            Self::PeakAboveWindow { over, enough } => match enough {
                Some(gain) => write!(
                    f,
                    "The peaks leave too little headroom. Turn the mix down by {} dB or more.",
                    one_decimal(-gain.0)
                ),
                None => write!(f, "The peaks are {} dB above their window.", excess(over.0)),
            },
            Self::PeakBelowWindow { under, at_most, enough } => match enough {
                Some(gain) => write!(
                    f,
                    "The peaks are lower than they need to be. Turning the mix up by {} to {} dB \
                     puts them in the window.",
                    d(gain.0),
                    d((at_most.0 * 10.0).floor() / 10.0)
                ),
                None => write!(f, "The peaks are {} dB below their window.", excess(under.0)),
            },
        }
    }
}

/// Where a loud part is over its limit and no gain mends it.
const PARTS: &str = "Turning all of it down would leave the other limits: tame those parts.";

impl Obstacle {
    /// "the peaks under the ceiling", after "brings".
    const fn mended(&self) -> &'static str {
        match self {
            Self::Peaks(_) => "the peaks under the ceiling",
            Self::ShortTerm(_) => "the loudest 3 s under their limit",
            Self::Momentary(_) => "the loudest 400 ms under their limit",
            Self::Range(_) => "the loudness range under its limit",
            Self::PeaksLow(_) => "the peaks into their window",
        }
    }

    /// What is left once the song is on the target.
    fn left(&self) -> String {
        match self {
            Self::Peaks(over) => {
                format!("The peaks then still ask for {} dB of peak control.", excess(over.0))
            }
            Self::ShortTerm(over) => {
                format!("The loudest 3 s are then still {} LU over their limit.", excess(over.0))
            }
            Self::Momentary(over) => {
                format!("The loudest 400 ms are then still {} LU over their limit.", excess(over.0))
            }
            Self::Range(over) => {
                format!("The loudness range is then still {} LU over its limit.", excess(over.0))
            }
            Self::PeaksLow(under) => {
                format!("The peaks are then still {} dB below their window.", excess(under.0))
            }
        }
    }

    /// What would be over.
    fn would_be(&self) -> String {
        match self {
            Self::Peaks(over) => format!("the peaks would be {} dB over", excess(over.0)),
            Self::ShortTerm(over) => {
                format!("the loudest 3 s would be {} LU over their limit", excess(over.0))
            }
            Self::Momentary(over) => {
                format!("the loudest 400 ms would be {} LU over their limit", excess(over.0))
            }
            Self::Range(over) => format!("the loudness range would be {} LU over", excess(over.0)),
            Self::PeaksLow(under) => format!("the peaks would be {} dB too low", excess(under.0)),
        }
    }
}

fn turn_the_song(f: &mut fmt::Formatter<'_>, gain: Db) -> fmt::Result {
    let way = if gain.0 > 0.0 { "up" } else { "down" };
    write!(f, "Turn the song {way} by {} dB.", excess(gain.0.abs()))
}

/// A smaller gain that needs nothing else.
fn within_tolerance(f: &mut fmt::Formatter<'_>, enough: Option<Db>) -> fmt::Result {
    match enough {
        Some(gain) => {
            write!(f, " {} dB of gain alone are within the tolerance.", excess(gain.0.abs()))
        }
        None => Ok(()),
    }
}

/// The gain that mends a limit, or what it asks for without one.
fn mend(f: &mut fmt::Formatter<'_>, enough: Option<Db>, otherwise: &str) -> fmt::Result {
    match enough {
        Some(gain) => {
            write!(f, " ")?;
            turn_the_song(f, gain)
        }
        None => write!(f, " {otherwise}"),
    }
}

/// A figure above zero that matters however small it is: never "0.0".
fn excess(value: f64) -> String {
    let text = one_decimal(value);
    if text == "0.0" { "under 0.1".to_owned() } else { text }
}
