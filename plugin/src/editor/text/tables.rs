//! Words for the section log and the peak ledger.

use super::{NOT_MEASURED, song_time};

/// Button in the header: the section log.
pub const LOG: &str = "Log";
/// Hint of that button.
pub const LOG_TOGGLE_HINT: &str =
    "The section log: what each section measures, and what changed since a playthrough.";
/// Button in the header: the peak ledger.
pub const PEAKS: &str = "Peaks";
/// Hint of that button.
pub const PEAKS_TOGGLE_HINT: &str =
    "The peak ledger: the places that cost headroom, and what taming them frees.";
/// Button: copy the table.
pub const COPY: &str = "Copy";
/// Hint of that button.
pub const COPY_HINT: &str = "Copy the table as text, with tabs between the columns.";
/// Button: close the table.
pub const CLOSE_LEAF: &str = "Fold away";
/// Hint of that button.
pub const CLOSE_LEAF_HINT: &str = "The chart takes all the room again.";
/// Empty log.
pub const LOG_EMPTY: &str = "No sections yet. Press Mark under the chart while the song plays, drag \
     across the chart, or let sections be proposed from what was measured.";
/// Empty ledger.
pub const PEAKS_EMPTY: &str = "No peaks yet. Play the song.";
/// No song time.
pub const LOG_LIVE: &str =
    "The host gives no song position, so there are no places of the song to list.";
/// Button: compare.
pub const COMPARE_WITH: &str = "Compare with …";
/// Hint of that button.
pub const COMPARE_HINT: &str =
    "The playthrough that changes are counted from. Pin those that you want to keep.";
/// The same, while there are none.
pub const NO_PLAYTHROUGHS: &str = "No playthroughs yet";
/// Beside it.
pub const PLAYTHROUGHS_TODO: &str = "A playthrough is kept when the transport stops or jumps.";
/// In the menu.
pub const PLAYTHROUGHS_MENU: &str = "Count changes from this playthrough";
/// Button.
pub const PIN: &str = "Pin …";
/// Button.
pub const UNPIN: &str = "Unpin";
/// Place outside of all sections.
pub const NO_SECTION: &str = "–";
/// LRA of less than 3 s.
pub const TOO_SHORT: &str = "too short";
/// No side at all.
pub const MONO: &str = "mono";
/// No mid at all.
pub const SIDE_ONLY: &str = "no mid";
/// Unit of counts.
pub const SAMPLES: &str = "samples";
/// Heading of a column.
pub const COLUMN_SECTION: &str = "Section";
/// Heading of a column.
pub const COLUMN_TIME: &str = "From";
/// Heading of a column.
pub const COLUMN_STEP: &str = "Step";
/// Heading of a column.
pub const COLUMN_CHANGE: &str = "Change";
/// Heading of a column.
pub const COLUMN_MAX_S: &str = "Max S";
/// Heading of a column.
pub const COLUMN_MAX_M: &str = "Max M";
/// Heading of a column.
pub const COLUMN_PSR: &str = "Min PSR";
/// Heading of a column.
pub const COLUMN_CORRELATION: &str = "Correlation";
/// Heading of a column.
pub const COLUMN_LOWEST_CORRELATION: &str = "lowest";
/// Heading of a column.
pub const COLUMN_SIDE: &str = "Side to mid";
/// Heading of a column.
pub const COLUMN_WIDER: &str = "Wider";
/// Heading of a column.
pub const COLUMN_CLIPPED: &str = "Clipped";
/// Heading of a column.
pub const COLUMN_MEASURED: &str = "Measured";
/// Heading of a column.
pub const COLUMN_AGE: &str = "Age";
/// Heading of a column.
pub const COLUMN_RANK: &str = "No.";
/// Heading of a column.
pub const COLUMN_PLACE: &str = "Place";
/// Heading of a column.
pub const COLUMN_ABOVE: &str = "Over section";
/// Heading of a column.
pub const COLUMN_OVER_NOW: &str = "Over now";
/// Heading of a column.
pub const COLUMN_OVER_AT_TARGET: &str = "At target";
/// What the column is.
pub const SECTION_HINT: &str =
    "The section's name. Click a row to select it in the chart, twice to rename it.";
/// What the column is.
pub const TIME_HINT: &str = "Song time at which the section starts. It is kept in seconds, with \
     the bar beside it.";
/// What the column is.
pub const STEP_HINT: &str = "How much louder the section is than the one before it, in LU. The \
     line runs right for louder, left for quieter.";
/// What the column is.
pub const CHANGE_HINT: &str = "How much louder the section is now than in the playthrough that \
     it is compared with, in LU. That playthrough stands over the table.";
/// What the column is.
pub const PSR_HINT: &str = "Lowest peak to short-term ratio: the highest true peak of 3 s minus \
     their loudness, in LU (common practice, no source). It is lowest where peaks are most held \
     down.";
/// What the column is.
pub const CORRELATION_HINT: &str = "Correlation of left and right over the section, −1 to +1. \
     Near +1 it is nearly mono; below 0 it loses level when it is folded to mono.";
/// What the column is.
pub const LOWEST_CORRELATION_HINT: &str = "The lowest correlation over 1 s within the section, −1 \
     to +1. It finds the moment that a mean hides.";
/// What the column is.
pub const SIDE_HINT: &str = "Power of the side to that of the mid, in dB: the width of the \
     section. Higher is wider.";
/// What the column is.
pub const WIDER_HINT: &str = "How much wider the section is than the one before it, in dB of side \
     to mid. Above zero it opens.";
/// What the column is.
pub const CLIPPED_HINT: &str = "Samples at or beyond full scale, all channels. More than none \
     wants a look at what comes before this plugin.";
/// What the column is.
pub const MEASURED_HINT: &str = "The share of the section that was measured. Figures stand on \
     that share alone.";
/// What the column is.
pub const AGE_HINT: &str = "Which playthrough the figures come from, counted back from the \
     newest. Mixed means that a part was played again.";
/// What the column is.
pub const RANK_HINT: &str = "Rank: the highest true peak is number 1. Peaks within 200 ms of a \
     higher one belong to it.";
/// What the column is.
pub const PLACE_HINT: &str = "Song time of the peak, with its bar and how far into it. Click to \
     see it in the chart.";
/// What the column is.
pub const ABOVE_HINT: &str = "How far the peak stands over the integrated loudness of its section, \
     in LU. A high figure is a lone hit, a low one a dense passage.";
/// What the column is.
pub const OVER_NOW_HINT: &str = "How far the peak is over the target's ceiling as the song is now, \
     in dB. Empty where it is not.";
/// What the column is.
pub const OVER_AT_TARGET_HINT: &str = "How far the peak would be over the ceiling with the gain to \
     target, in dB. This is what taming it asks for.";
/// Over the curve.
pub const CURVE_TITLE: &str = "Headroom freed";
/// Under the curve.
pub const CURVE_PLACES: &str = "places tamed";
/// What the curve is.
pub const CURVE_HINT: &str = "How much lower the highest true peak of the song would be if so many \
     places were brought down to the next highest one. The record knows it exactly.";

/// A heading that sorts, for screen readers.
pub fn column_spoken(title: &str) -> String {
    format!("Column {title}")
}

/// How old figures are, in playthroughs.
pub fn age(measured: &crate::section::Measured, newest: u32) -> String {
    let back = |number: u32| match newest.saturating_sub(number) {
        0 => "newest".to_owned(),
        1 => "1 back".to_owned(),
        back => format!("{back} back"),
    };
    match (measured.oldest_playthrough, measured.newest_playthrough) {
        (Some(oldest), Some(newest)) if oldest == newest => back(newest),
        (Some(_), Some(newest)) => format!("mixed, {}", back(newest)),
        _ => NOT_MEASURED.to_owned(),
    }
}

/// A playthrough in a list: its pin or its number, how far it went, and what it measured.
pub fn playthrough(playthrough: &crate::section::Playthrough) -> String {
    let name = match &playthrough.pinned_as {
        Some(pin) => format!("“{pin}”"),
        None => format!("Playthrough {}", playthrough.id),
    };
    let time = |hop: i32| song_time(f64::from(hop) / 100.0, false);
    let integrated = super::super::label::decimal(playthrough.whole.integrated_lufs);
    let (start, end) = (time(playthrough.start_hop), time(playthrough.end_hop));
    format!("{name}: {start} – {end}, {integrated} LUFS")
}

/// What the log is compared with.
pub fn compared_with(playthrough: &crate::section::Playthrough) -> String {
    match &playthrough.pinned_as {
        Some(pin) => format!("Changes since “{pin}”"),
        None => format!("Changes since playthrough {}", playthrough.id),
    }
}

/// How many places are over the ceiling now, and with the gain to target.
pub fn over_ceiling(now: usize, at_target: Option<usize>, ceiling: crate::units::Dbtp) -> String {
    let count = |count: usize| match count {
        0 => "No place".to_owned(),
        1 => "1 place".to_owned(),
        count => format!("{count} places"),
    };
    let ceiling = crate::units::one_decimal(ceiling.0);
    let now = format!("{} over {ceiling} dBTP now", count(now));
    match at_target {
        Some(then) => format!("{now}, {} with the gain to target.", count(then).to_lowercase()),
        None => format!("{now}."),
    }
}

/// What taming frees.
pub fn taming(taming: &crate::section::Taming) -> String {
    let (to, frees) =
        (crate::units::one_decimal(taming.to.0), crate::units::one_decimal(taming.frees.0));
    let places = match taming.events {
        1 => "the highest place".to_owned(),
        count => format!("the highest {count} places"),
    };
    format!("Taming {places} to {to} dBTP frees {frees} dB.")
}
