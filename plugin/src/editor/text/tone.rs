//! Words for tone and the stereo picture.

use crate::tone::Tone;
use crate::units::{one_decimal, signed_one_decimal};

/// Button and heading: tone and width.
pub const TONE: &str = "Tone";
/// Hint of that button.
pub const TONE_TOGGLE_HINT: &str = "Tone and width: one-third-octave bands of the song or the \
     selected section, beside the section before it.";
/// Nothing to show.
pub const TONE_EMPTY: &str = "No tone yet. Play at least a second of the song.";
/// Hint of the bands.
pub const TONE_HINT: &str = "Water: average level of each one-third-octave band, pink noise is \
     flat. Paler: between what 10 % and 90 % of the seconds do not exceed. Ink: what it is compared \
     with. Seconds at or below −70 LUFS do not count.";
/// Hint of the stereo picture.
pub const HULL_HINT: &str = "The hull: how much of each band is side, from the lowest band at the \
     keel to the highest at the deck. A line is mono; at the dotted frame side and mid are equal. \
     Figures: side to mid below 120 Hz, to 4 kHz, above.";
/// Name of a range.
pub const LOW_END: &str = "low end";
/// Name of a range.
pub const PRESENCE: &str = "presence";
/// Name of a range.
pub const AIR: &str = "air";
/// Column of copied bands: nominal midband frequency.
pub const COLUMN_BAND: &str = "Band";
/// Columns of copied bands: levels.
pub const COLUMNS_OF_BANDS: [&str; 6] = ["Mean", "10 %", "50 %", "90 %", "Mid", "Side"];
/// Heading of the stereo picture.
pub const HULL: &str = "Width";

/// What is looked at, and what it is compared with.
pub fn tone_heading(name: &str, before: Option<&str>) -> String {
    before.map_or_else(|| name.to_owned(), |before| format!("{name}, in ink {before}"))
}

/// The readings in one line.
pub fn tone_sentence(heading: &str, tone: &Tone) -> String {
    let slope = tone.slope_db_per_octave.map_or_else(
        || super::NOT_MEASURED.to_owned(),
        |slope| format!("{} dB/octave", signed_one_decimal(slope)),
    );
    format!(
        "{heading}: below 20 Hz {} dB of the whole, slope {slope}, {} in mono",
        one_decimal(tone.subsonic.0),
        mono_loss(tone)
    )
}

/// What is left of the loudness in mono.
pub fn mono_loss(tone: &Tone) -> String {
    format!("{} LU", signed_one_decimal(-tone.fold_down_loss.0))
}

/// Right to left.
pub fn balance(right_to_left_db: f64) -> String {
    let by = one_decimal(right_to_left_db.abs());
    if by == "0.0" {
        "left and right equal".to_owned()
    } else if right_to_left_db > 0.0 {
        format!("right {by} dB stronger")
    } else {
        format!("left {by} dB stronger")
    }
}

/// A frequency as on the axis.
pub fn hertz(hz: f64) -> String {
    if hz >= 1_000.0 { format!("{} k", hz / 1_000.0) } else { format!("{hz}") }
}

/// One band, on hover.
pub fn band(hz: f64, tone: &Tone, band: usize) -> String {
    let at = |levels: &[f64]| one_decimal(levels.get(band).copied().unwrap_or(f64::NEG_INFINITY));
    let [low, median, high] = &tone.both.percentiles_db;
    format!(
        "{}Hz: {} dB · 10 % {} · half {} · 90 % {} · mid {} · side {}",
        if hz >= 1_000.0 { hertz(hz) } else { format!("{hz} ") },
        at(&tone.both.mean_db),
        at(low),
        at(median),
        at(high),
        at(&tone.mid.mean_db),
        at(&tone.side.mean_db),
    )
}
