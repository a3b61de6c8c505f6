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
/// Button in the header: what the song measures against several targets.
pub const TARGETS_LEAF: &str = "Targets";
/// Hint of that button.
pub const TARGETS_TOGGLE_HINT: &str =
    "Several destinations at once: the song against each target that you choose.";
/// Button: which targets are shown.
pub const CHOOSE_DESTINATIONS: &str = "Add or remove …";
/// Hint of that button.
pub const CHOOSE_DESTINATIONS_HINT: &str =
    "Choose the targets that the song is measured against beside the chosen one.";
/// In its menu.
pub const DESTINATIONS_MENU: &str = "Measure the song against";
/// While only the chosen one is shown.
pub const ONE_DESTINATION: &str =
    "Only the chosen target is shown. Add the others that the song goes to.";
/// Button: copy the table.
pub const COPY: &str = "Copy";
/// Hint of that button.
pub const COPY_HINT: &str = "Copy the table as text, with tabs between the columns.";
/// Menu: copy the figure that was asked.
pub const COPY_FIGURE: &str = "Copy it with name and unit";
/// Menu: copy a row of a table.
pub const COPY_ROW: &str = "Copy the row with its headings";
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
pub const COLUMN_PEAK_CHANGE: &str = "Peak by";
/// Heading of a column.
pub const COLUMN_RANGE_CHANGE: &str = "LRA by";
/// Heading of a column.
pub const COLUMN_WIDTH_CHANGE: &str = "Width by";
/// Heading of a column.
pub const COLUMN_TARGET: &str = "Target";
/// Heading of a column.
pub const COLUMN_VERDICT: &str = "Verdict";
/// Heading of a column.
pub const COLUMN_DISTANCE: &str = "Distance";
/// Heading of a column.
pub const COLUMN_GAIN: &str = "Gain";
/// Heading of a column.
pub const COLUMN_STANDING: &str = "What stands in the way";
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
pub const TIME_HINT: &str = "Song time at which the section starts, in minutes and seconds. It is kept in seconds, \
     with the bar beside it.";
/// What the column is.
pub const STEP_HINT: &str = "Step: how much louder the section is than the one before it, in LU (difference of two \
     integrated loudnesses, ITU-R BS.1770-5). The line runs right for louder and left for \
     quieter, so that the lift into a chorus is seen.";
/// What the column is.
pub const CHANGE_HINT: &str = "Change: how much louder the section is than in the playthrough named above the table, \
     in LU (ITU-R BS.1770-5). In brackets where not the same time was measured both times, \
     so that part of it may be no change of the sound.";
/// What the column is.
pub const PSR_HINT: &str = "Min PSR: the lowest peak to short-term ratio, the highest true peak of 3 s minus their \
     loudness, in LU (common practice, no source). It is lowest where peaks are most held \
     down.";
/// What the column is.
pub const CORRELATION_HINT: &str = "Correlation of left and right over the section, from −1 to +1 without a unit (common \
     practice, no source). Near +1 it is nearly mono; below 0 it loses level when it is \
     folded to mono.";
/// What the column is.
pub const LOWEST_CORRELATION_HINT: &str = "The lowest correlation over 1 s within the section, from −1 to +1 without a unit \
     (common practice, no source). It finds the moment that a mean hides.";
/// What the column is.
pub const SIDE_HINT: &str = "Side to mid: power of the side to that of the mid, in dB (common practice, no source). \
     It is the width of the section: higher is wider.";
/// What the column is.
pub const WIDER_HINT: &str = "Wider: how much wider the section is than the one before it, in dB of side to mid \
     (common practice, no source). Above zero it opens.";
/// What the column is.
pub const CLIPPED_HINT: &str = "Clipped: samples at or beyond full scale in all channels, as a count of samples \
     (common practice, no source). More than none wants a look at what comes before this \
     plugin.";
/// What the column is.
pub const MEASURED_HINT: &str = "Measured: the share of the section that was measured, in % (this program's own \
     figure). The figures of the row stand on that share alone.";
/// What the column is.
pub const AGE_HINT: &str = "Age: which playthrough the figures come from, counted back from the newest. Mixed \
     means that a part was played again.";
/// What the column is.
pub const RANK_HINT: &str = "Rank: the highest true peak is number 1. Peaks within 200 ms of a higher one belong to \
     it.";
/// What the column is.
pub const PLACE_HINT: &str =
    "Song time of the peak, with its bar and beat. Click to see it in the chart.";
/// What the column is.
pub const ABOVE_HINT: &str = "Over section: how far the peak stands over the integrated loudness of its section, in \
     LU (ITU-R BS.1770-5). A high figure is a lone hit, a low one a dense passage.";
/// What the column is.
pub const OVER_NOW_HINT: &str = "Over now: how far the true peak is over the target's ceiling as the song is, in dB \
     (ITU-R BS.1770-5 Annex 2). Empty where it is not.";
/// What the column is.
pub const OVER_AT_TARGET_HINT: &str = "At target: how far the true peak would be over the ceiling with the gain to target, in \
     dB (ITU-R BS.1770-5 Annex 2). This is what taming it asks for.";
/// What the figure is.
pub const PEAK_SECTION_HINT: &str =
    "The section that the peak lies in. A dash stands where there is none.";
/// What the figure is.
pub const PEAK_CHANGE_HINT: &str = "Peak by: how much higher the section's highest true peak is than in that \
     playthrough, in dB (ITU-R BS.1770-5 Annex 2). Below zero, peaks were tamed.";
/// What the figure is.
pub const RANGE_CHANGE_HINT: &str = "LRA by: how much wider the section's loudness range is than in that playthrough, \
     in LU (EBU Tech 3342). Below zero, quiet and loud parts came closer together.";
/// What the figure is.
pub const WIDTH_CHANGE_HINT: &str = "Width by: how much wider the section is than in that playthrough, in dB of side to \
     mid (common practice, no source). Above zero it opened.";
/// What the figure is.
pub const TARGET_HINT: &str = "The target's name. Click a row to make it the chosen one; the one before stays in the \
     table.";
/// What the figure is.
pub const VERDICT_HINT: &str = "Verdict: whether every limit of the target holds, judged with the unrounded figures. \
     The recipient's current specification decides, not this program.";
/// What the figure is.
pub const DISTANCE_HINT: &str = "Distance: integrated loudness minus the target's, in LU (ITU-R BS.1770-5). The load \
     line is the middle of the small drawing, the pale band its tolerance.";
/// What the figure is.
pub const STANDING_HINT: &str = "What stands between the song and the target, with what plain gain can do and what asks \
     for more. It is judged with the unrounded figures against all limits of the target.";
/// Over the curve.
pub const CURVE_TITLE: &str = "Headroom freed";
/// Under the curve.
pub const CURVE_PLACES: &str = "places tamed";
/// What the curve is.
pub const CURVE_HINT: &str = "How much lower the highest true peak of the song would be if so many \
     places were brought down to the next highest one. The record knows it exactly.";

/// A verdict in a word or two.
pub const fn verdict(verdict: crate::target::Verdict) -> &'static str {
    use crate::target::Verdict;
    match verdict {
        Verdict::Within => "within",
        Verdict::NotWithin => "not within",
        Verdict::NotYet => "not yet",
    }
}

/// How many of the destinations are reached.
pub fn within_of(within: usize, not_yet: usize, all: usize) -> String {
    let reached = match within {
        0 => format!("Within none of {all} targets"),
        within if within == all => format!("Within all {all} targets"),
        within => format!("Within {within} of {all} targets"),
    };
    match not_yet {
        0 => format!("{reached}."),
        not_yet if not_yet == all => "Not measured enough for a verdict.".to_owned(),
        not_yet => format!("{reached}, {not_yet} not measured enough to say."),
    }
}

/// What a menu copies.
pub fn copy_this(spoken: &str) -> String {
    format!("Copy “{spoken}”")
}

/// What was copied.
pub fn copied(what: &str) -> String {
    format!("Copied: {what}")
}

/// A heading that sorts, for screen readers.
pub fn column_spoken(title: &str) -> String {
    format!("Column {title}")
}

/// The button that shows columns for which there is no room.
pub fn more_columns(count: usize) -> String {
    format!("{count} more")
}
/// The button that shows the first columns again.
pub const FIRST_COLUMNS: &str = "Back";
/// What either is for.
pub const MORE_COLUMNS_HINT: &str =
    "Columns that have no room beside the others. Copy takes all of them.";

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
