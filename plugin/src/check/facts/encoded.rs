//! What is said of a lossy encode.

use super::super::after_encode::{AfterEncode, Ceiling, Encoded};
use plimsoll_encoder::{Format, WITHOUT_ENCODER};

/// A change in two decimals; nothing where there is none to tell.
#[must_use]
pub fn change(change: Option<f64>) -> String {
    // Not "−0.00".
    let change = change.map(|change| if change.abs() < 5e-3 { 0.0 } else { change });
    change.map_or_else(String::new, |c| format!("{c:+.2}").replace('-', "−"))
}

/// What became of the ceilings, and whether that is to be looked at.
#[must_use]
pub fn ceilings(encoded: &Encoded) -> (bool, String) {
    let over = |ceiling: &Ceiling| {
        format!("{:.2} dB over the ceiling of {}", ceiling.over.0, ceiling.target)
    };
    let broken: Vec<String> =
        encoded.ceilings.iter().filter(|ceiling| !ceiling.holds()).map(over).collect();
    match (broken.is_empty(), encoded.ceilings.is_empty()) {
        (false, _) => (true, broken.join("; ")),
        (true, true) => (false, String::new()),
        (true, false) => (false, "every ceiling holds".to_owned()),
    }
}

/// What was done to the sound before it was encoded.
#[must_use]
pub fn before_encoding(encoded: &Encoded) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(peak) = encoded.resampled_true_peak {
        notes.push(format!(
            "at {} Hz: resampling alone brought the true peak to {peak}",
            encoded.rate_hz
        ));
    }
    if encoded.clipped_samples > 0 {
        notes.push(format!(
            "{} samples over full scale were clipped first, as in a file of whole numbers",
            encoded.clipped_samples
        ));
    }
    notes
}

/// What is to be known of all encodes.
#[must_use]
pub fn caution() -> [String; 2] {
    let mut left_out = WITHOUT_ENCODER.to_owned();
    if !Format::ALL.iter().any(|format| format.key() == "mp3") {
        left_out.push_str("; MP3 is not in this build (feature \"mp3\")");
    }
    [
        "A recipient's own encoder may differ: this shows how far peaks come back, not what will \
         arrive."
            .to_owned(),
        format!("{left_out}."),
    ]
}

/// Why a file was not encoded.
#[must_use]
pub fn not_encoded(one: &AfterEncode, why: &str) -> String {
    format!("{}: {why}", one.encoding)
}
