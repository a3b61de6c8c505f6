//! Words for reference songs.

use crate::editor::model::InputState;
use crate::reference::{
    BANDS_FROM_DB, Comparison, Difference, Profile, QUIET_BANDS_DB, RATIO_FROM_LU, Stretch,
    WIDTH_FROM_DB,
};
use crate::shared::Measuring;
use crate::target::ENOUGH_COVERAGE_SHARE;
use crate::units::{one_decimal, signed_one_decimal};

/// Button and heading: the song beside references.
pub const REFERENCE: &str = "Reference";
/// Hint of that button.
pub const REFERENCE_TOGGLE_HINT: &str = "The song beside reference songs, at equal loudness: tone, \
     width and dynamics, section against section.";
/// Button: measure a file as a reference.
pub const ADD_REFERENCE: &str = "Add …";
/// Hint of that button.
pub const ADD_REFERENCE_HINT: &str = "Measure a file as a reference song. Its measurement is kept \
     with the project, its sound is not. Files can also be dropped here, where the host lets them.";
/// Heading of the dialog.
pub const ADD_REFERENCE_HEADING: &str = "Measure a file as a reference";
/// In the dialog.
pub const ADD_REFERENCE_EXPLAINED: &str = "Path of a WAV, AIFF, FLAC, MP3, AAC, ALAC, Ogg or CAF file. \
     Markers in a WAV or AIFF file become its sections.";
/// Button in the dialog.
pub const MEASURE: &str = "Measure";
/// Button: the list of references.
pub const NO_REFERENCES: &str = "No references";
/// Hint of that button.
pub const REFERENCES_HINT: &str = "Which references the song is held against. Several are an average, \
     and a range instead of a line.";
/// In its menu.
pub const REFERENCES_MENU: &str = "Hold the song against";
/// Menu: another name.
pub const RENAME_REFERENCE: &str = "Rename …";
/// Menu: remove.
pub const REMOVE_REFERENCE: &str = "Remove";
/// Hint of that.
pub const REMOVE_REFERENCE_HINT: &str = "Forget its measurement. The file stays where it is.";
/// Heading of the dialog for another name.
pub const RENAME_REFERENCE_HEADING: &str = "Name of the reference";
/// Button: call a measurement off.
pub const CALL_OFF: &str = "Call off";
/// Whether the window hands files on that are dropped on it: see `window/drops.rs`.
const TAKES_DROPS: bool = cfg!(target_os = "linux");
/// No reference.
pub const REFERENCE_EMPTY: &str = if TAKES_DROPS {
    "No reference yet. Drop the file of a song of the same kind here, or press Add: only its measurement is \
     kept."
} else {
    "No reference yet. Press Add to measure the file of a song of the same kind: only its measurement is \
     kept."
};
/// No reference, and the host gives the reference input, over which nothing came.
pub const REFERENCE_EMPTY_INPUT: &str = "No reference yet. Nothing comes over the reference input: in \
     your host, send the track of a reference song to the second input of this plugin, “Reference”, and \
     play. Or press Add to measure a file.";
/// No reference, and sound comes over the reference input.
pub const REFERENCE_ARRIVES: &str = "The reference input is being measured. Play on: it shows from the \
     first 0.4 s above −70 LUFS on.";
/// Menu: forget what came over the reference input, for another song.
pub const RESET_INPUT: &str = "Measure anew";
/// Hint of that.
pub const RESET_INPUT_HINT: &str = "Forget what was measured over the reference input. What comes over \
     it from now on is measured anew.";
/// References, but none is ticked.
pub const REFERENCE_UNUSED: &str = "No reference is chosen. Tick one in the list.";
/// References, but nothing of ours.
pub const REFERENCE_UNMEASURED: &str = "Nothing to compare yet. Play the song.";
/// Hint of the bands.
pub const REFERENCE_BANDS_HINT: &str = "The ink line is the reference at the loudness of the song; \
     several are an average, and the darker band is their range. Pale: where 10 % to 90 % of their \
     seconds lie. Water: how far the song lies above or below, by one-third-octave band.";
/// Hint of the hull.
pub const REFERENCE_HULL_HINT: &str = "Width by band, from the lowest at the keel to the highest at \
     the deck. Water: the song. Ink: the reference. Figures: side to mid less that of the reference, \
     below 120 Hz, to 4 kHz, above.";
/// What is told while nothing differs enough.
pub const NOTHING_DIFFERS: &str = "Nothing differs by more than the thresholds.";
/// Heading of the observations.
pub const OBSERVATIONS: &str = "What differs";

/// Columns of copied bands.
pub const COLUMNS_OF_REFERENCE_BANDS: [&str; 8] =
    ["Song", "Reference", "Difference", "Lowest", "Highest", "10 %", "90 %", "Width difference"];

/// Heads of the figures beside each other.
pub const COLUMNS_BESIDE: [&str; 3] = ["song", "reference", "difference"];
/// The button back to the tone, for screen readers.
pub const BACK_TO_TONE: &str = "Back to tone";
/// Under the hulls.
pub const WIDTH_BESIDE: &str = "side to mid, difference in dB";
/// Name of a figure.
pub const MONO_LOSS: &str = "lost in mono";
/// Hint of that figure.
pub const MONO_LOSS_HINT: &str = "K-weighted power that folding to (L + R)/2 takes away.";
/// Hint of a figure.
pub const LOW_END_HINT: &str = "Share of the power from 20 to 120 Hz.";
/// Hint of a figure.
pub const PRESENCE_HINT: &str = "Share of the power in the bands of 2 to 5 kHz.";
/// Hint of a figure.
pub const AIR_HINT: &str = "Share of the power from 10 kHz up.";

/// Hint of the observations: their thresholds.
pub fn thresholds() -> String {
    format!(
        "Told from {} dB in a band, {} dB of side to mid, {} LU of LRA, PLR and PSR on, outside of \
         the range of the references; bands {QUIET_BANDS_DB} dB below the highest are not. The \
         thresholds are this project's own, no source. A difference is no fault.",
        one_decimal(BANDS_FROM_DB),
        one_decimal(WIDTH_FROM_DB),
        one_decimal(RATIO_FROM_LU),
    )
}

/// The button with the list.
pub fn references(used: usize, count: usize) -> String {
    match (used, count) {
        (_, 0) => NO_REFERENCES.to_owned(),
        (1, 1) => "1 reference".to_owned(),
        (used, count) => format!("{used} of {count} references"),
    }
}

/// A reference in the list: its name and length, and how much of that was measured where it is not all.
pub fn reference_name(name: &str, length: &str, whole: &Profile) -> String {
    let share = whole.figures.coverage;
    if share < ENOUGH_COVERAGE_SHARE {
        format!("{name}, {length}, {:.0} % measured", (share * 100.0).floor())
    } else {
        format!("{name}, {length}")
    }
}

/// What the reference input does, in the list of references.
pub const fn input_state(input: InputState) -> &'static str {
    match input {
        InputState::Absent => {
            "The reference input is off: choose “Stereo with a reference input” among this plugin's port \
             layouts, where your host offers them."
        }
        InputState::Silent => {
            "Nothing comes over the reference input. In your host, send the track of a reference song to \
             the second input of this plugin, “Reference”, and play."
        }
        InputState::Arrives => {
            "The reference input is measured as you play, section by section at the same song time."
        }
    }
}

/// What is measured now.
pub fn measuring(measuring: &Measuring) -> String {
    let waiting = match measuring.waiting {
        0 => String::new(),
        more => format!(", {more} more"),
    };
    format!("Measuring {} … {:.0} %{waiting}", measuring.name, measuring.share * 100.0)
}

/// What is held against what.
pub fn against(comparison: &Comparison, stretch: &Stretch) -> String {
    let ours = if stretch.id.is_none() { super::WHOLE_SONG } else { &stretch.name };
    let pairs = comparison.names.iter().zip(&stretch.their_names);
    let theirs: Vec<String> = pairs
        .filter_map(|(name, section)| match section {
            Some(section) => Some(format!("{section} of {name}")),
            None if stretch.against_whole => Some(name.clone()),
            None => None,
        })
        .collect();
    let whole = if stretch.id.is_some() && stretch.against_whole { "the whole of " } else { "" };
    format!("{ours} against {whole}{}, at equal loudness", theirs.join(", "))
}

/// A figure of ours, of theirs, and the difference.
pub fn beside(difference: &Difference) -> [String; 3] {
    let theirs = &difference.theirs;
    let range = if one_decimal(theirs.lowest) == one_decimal(theirs.highest) {
        one_decimal(theirs.mean)
    } else {
        format!("{} to {}", one_decimal(theirs.lowest), one_decimal(theirs.highest))
    };
    [one_decimal(difference.ours), range, signed_one_decimal(difference.by())]
}

/// One band, on hover.
pub fn reference_band(hz: f64, difference: &Difference, spread: Option<[f64; 2]>) -> String {
    let [_, _, by] = beside(difference);
    let theirs = difference.theirs;
    let hertz = if hz >= 1_000.0 { super::hertz(hz) } else { format!("{hz} ") };
    let mut said = format!("{hertz}Hz: {by} dB");
    let about = |level: f64| signed_one_decimal(level - theirs.mean);
    if one_decimal(theirs.lowest) != one_decimal(theirs.highest) {
        said += &format!(" · references {} to {}", about(theirs.lowest), about(theirs.highest));
    }
    if let Some([low, high]) = spread {
        said += &format!(" · their seconds {} to {}", about(low), about(high));
    }
    said
}
