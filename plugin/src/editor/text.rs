//! Every word of the editor that is not a sentence of the measurement itself (those are in
//! `target/distance.rs`). One place, ready for translation.

use super::model::{Notice, Source, TransportState};

/// Stands for "not measured".
pub const NOT_MEASURED: &str = "–";

// Header.
/// The name of the instrument.
pub const WORDMARK: &str = "Plimsoll";
/// Button: stop measuring.
pub const PAUSE: &str = "Pause";
/// Button: measure on.
pub const CONTINUE: &str = "Continue";
/// Button: forget what was measured.
pub const RESET: &str = "Reset";
/// Button: bring back what the reset forgot.
pub const UNDO_RESET: &str = "Bring it back";
/// Button: close the offer to undo.
pub const KEEP: &str = "Keep it so";
/// Button: to the dark chart.
pub const TO_NIGHT: &str = "Night";
/// Button: to the light chart.
pub const TO_DAY: &str = "Day";
/// Button: what the figures do not say.
pub const CAUTIONS: &str = "Cautions";
/// Hint of the pause button.
pub const PAUSE_HINT: &str = "Stop measuring; audio passes on. What was measured stays.";
/// Hint of the continue button.
pub const CONTINUE_HINT: &str = "Measure on from here. What was measured stays.";
/// Hint of the reset button.
pub const RESET_HINT: &str = "Forget what was measured and start anew. It can be undone.";
/// Hint of the theme button.
pub const THEME_HINT: &str = "Change between the day chart and the night chart.";
/// Hint of the chooser.
pub const CHOOSER_HINT: &str =
    "The target to measure against. Click for all targets and their sources.";
/// No target at all.
pub const NO_TARGET: &str = "No target";

// Strip.
/// Word in the hatch above the load line.
pub const OVER: &str = "over";
/// Beside the soundings over the ceiling.
pub const OVER_CEILING: &str = "over ceiling";
/// Word beside the plateau.
pub const INTEGRATED_NOTE: &str = "integrated";
/// Word beside the load line.
pub const TARGET_NOTE: &str = "target";
/// Beside the dimension line.
pub const BELOW_TARGET: &str = "below target";
/// Beside the dimension line.
pub const ABOVE_TARGET: &str = "above target";
/// The value lies beyond the top of the scale.
pub const ABOVE_SCALE: &str = "above the scale";
/// Part of the song does not fit on the scale chosen by hand.
pub const CLIPPED: &str = "The loudest parts lie above this scale";
/// The value lies beyond the bottom of the scale.
pub const BELOW_SCALE: &str = "below the scale";
/// Label of the row of bar numbers.
pub const BARS: &str = "bar";
/// Button: the whole song again.
pub const WHOLE_SONG: &str = "Whole song";
/// Name of the strip for screen readers.
pub const STRIP: &str = "Song strip";
/// Part of the tooltip of the strip.
pub const NOT_MEASURED_HERE: &str = "Not measured here.";
/// Part of the tooltip of the strip.
pub const EARLIER_PLAYTHROUGH: &str = "From an earlier playthrough.";
/// Heading of the empty chart.
pub const EMPTY_HEADING: &str = "Nothing measured yet";
/// What to do about it, with song position.
pub const EMPTY_SONG: &str = "Play the song from its start: the chart fills as it plays.\n\
     Play a part again, and only that part is replaced.";
/// What to do about it, without song position.
pub const EMPTY_LIVE: &str =
    "Start playback. The host gives no song position, so time counts from the reset.";
/// What to do about it, paused.
pub const EMPTY_PAUSED: &str = "Measuring is paused. Press Continue, then play the song.";
/// What to do about it, when nothing can be measured.
pub const EMPTY_BLOCKED: &str = "See the note above.";
/// Beside the figures of an earlier session.
pub const EARLIER_SESSION: &str =
    "The song's figures below are from an earlier session, as saved in the project.";
/// In a figure's small line.
pub const EARLIER_SESSION_SHORT: &str = "earlier session";

// Scale menu.
/// Heading of the scales.
pub const SCALE_HEADING: &str = "Scale";
/// Heading of the readings.
pub const READING_HEADING: &str = "Reading";
/// Scale that follows song and target.
pub const SCALE_AUTO: &str = "Auto: EBU +9, moved if the song lies outside";
/// EBU +9.
pub const SCALE_PLUS_9: &str = "EBU +9: −41 to −14 LUFS";
/// EBU +18.
pub const SCALE_PLUS_18: &str = "EBU +18: −59 to −5 LUFS";
/// Absolute.
pub const READING_ABSOLUTE: &str = "Absolute, in LUFS";
/// Relative to −23 LUFS.
pub const READING_EBU: &str = "Relative to −23 LUFS, in LU";
/// Relative to the target.
pub const READING_TARGET: &str = "Relative to the target, in LU";
/// Hint of the menu.
pub const SCALE_HINT: &str = "Scale of the strip, and whether loudness reads absolute or relative \
     (EBU Tech 3341 §2.7).";

// Figures.
/// Momentary loudness.
pub const MOMENTARY: &str = "Momentary";
/// Short-term loudness.
pub const SHORT_TERM: &str = "Short-term";
/// True peak.
pub const TRUE_PEAK: &str = "True peak";
/// Integrated loudness.
pub const INTEGRATED: &str = "Integrated";
/// Loudness range.
pub const LOUDNESS_RANGE: &str = "LRA";
/// Peak to loudness ratio.
pub const PLR: &str = "PLR";
/// Before a maximum.
pub const MAX: &str = "max";
/// Before a maximum that is over its limit.
pub const MAX_OVER: &str = "max, over";
/// Under LRA below 60 s (EBU Tech 3341 §2.4).
pub const NOT_STABLE: &str = "not yet stable";
/// Gain that reaches the target.
pub const GAIN_TO_TARGET: &str = "Gain to target";
/// Where the peak would land.
pub const PEAK_AT_TARGET: &str = "Peak at target";
/// dB to tame.
pub const PEAK_CONTROL: &str = "Peak control";
/// What playback does.
pub const PLAYBACK_GAIN: &str = "Playback gain";
/// Ceiling minus peak.
pub const HEADROOM: &str = "Headroom";
/// Highest sample.
pub const SAMPLE_PEAK: &str = "Sample peak";

/// What M is.
pub const MOMENTARY_HINT: &str = "Momentary loudness: the K-weighted level of the last 400 ms, in \
     LUFS (ITU-R BS.1770-5, EBU Tech 3341). It follows single words and hits; its maximum is \
     limited by some deliveries.";
/// What S is.
pub const SHORT_TERM_HINT: &str = "Short-term loudness: the K-weighted level of the last 3 s, in \
     LUFS (ITU-R BS.1770-5, EBU Tech 3341). It is the water level of the chart: how loud a \
     passage feels.";
/// What true peak is.
pub const TRUE_PEAK_HINT: &str = "True peak: the highest level between the samples in the last \
     400 ms, per channel, in dB to full scale (dBTP, ITU-R BS.1770-5 Annex 2). Converters and \
     lossy coders clip what lies above; the ceiling of the target keeps room for them.";
/// What I is.
pub const INTEGRATED_HINT: &str = "Integrated loudness: the gated loudness of all that was \
     measured, in LUFS (ITU-R BS.1770-5, EBU R 128). It is the figure that targets set and that \
     playback is levelled by.";
/// What LRA is.
pub const LOUDNESS_RANGE_HINT: &str = "Loudness range: the spread of short-term loudness without \
     its extremes, in LU (EBU Tech 3342). It tells how far quiet and loud parts lie apart, and \
     is not stable before 60 s are measured.";
/// What PLR is.
pub const PLR_HINT: &str = "Peak to loudness ratio: highest true peak minus integrated loudness, \
     in LU (EBU R 128 s2). The larger it is, the more peak control a loud target asks for.";
/// What gain to target is.
pub const GAIN_TO_TARGET_HINT: &str = "Gain to target: target minus integrated loudness, in dB \
     (ITU-R BS.1770-5: 1 LU is 1 dB). This much plain gain puts the song on the load line.";
/// What peak at target is.
pub const PEAK_AT_TARGET_HINT: &str = "Peak at target: where the highest true peak lands with \
     that gain, in dBTP (ITU-R BS.1770-5 Annex 2). Over the ceiling it needs peak control.";
/// What peak control is.
pub const PEAK_CONTROL_HINT: &str = "Peak control: how far the peak at target lies over the \
     ceiling, in dB. This much limiting or peak taming stands between the song and the target.";
/// What playback gain is.
pub const PLAYBACK_GAIN_HINT: &str = "Playback gain: what levelling playback at this target does \
     to the song, in dB. A louder song is always turned down; a quieter one is turned up at most \
     until its peak meets the ceiling.";
/// What headroom is.
pub const HEADROOM_HINT: &str = "Headroom: ceiling minus highest true peak, in dB. It is the room \
     that is left for the master.";
/// What sample peak is.
pub const SAMPLE_PEAK_HINT: &str = "Sample peak: the highest sample, in dB to full scale (dBFS). \
     A mix hand-off is judged by it.";

// Dialog of targets.
/// Heading of the list.
pub const TARGETS: &str = "Targets";
/// Button: a new one.
pub const NEW_TARGET: &str = "New target";
/// Button: a copy to edit.
pub const DUPLICATE: &str = "Duplicate";
/// Button: change it.
pub const EDIT: &str = "Edit";
/// Button: remove it.
pub const DELETE: &str = "Delete";
/// Button: close.
pub const CLOSE: &str = "Close";
/// Button: keep what was typed.
pub const SAVE: &str = "Save";
/// Button: drop what was typed.
pub const CANCEL: &str = "Cancel";
/// Heading of the form for a new target.
pub const NEW_HEADING: &str = "New target";
/// Heading of the form for a target that is there.
pub const EDIT_HEADING: &str = "Edit target";
/// Mark of the chosen one.
pub const CHOSEN: &str = "chosen";
/// Mark of the user's own.
pub const OWN: &str = "own";
/// Source of a new target.
pub const OWN_SOURCE: &str = "own";
/// Below the form.
pub const FORM_HINT: &str =
    "Empty means no limit. An empty tolerance below means that quieter is allowed.";
/// Field.
pub const FIELD_NAME: &str = "Name";
/// Field.
pub const FIELD_SOURCE: &str = "Source";
/// Field.
pub const FIELD_INTEGRATED: &str = "Integrated";
/// Field.
pub const FIELD_ABOVE: &str = "Tolerance above";
/// Field.
pub const FIELD_BELOW: &str = "Tolerance below";
/// Field.
pub const FIELD_CEILING: &str = "True-peak ceiling";
/// Field.
pub const FIELD_MAX_SHORT_TERM: &str = "Max short-term";
/// Field.
pub const FIELD_MAX_MOMENTARY: &str = "Max momentary";
/// Field.
pub const FIELD_MAX_RANGE: &str = "Max LRA";
/// Field.
pub const FIELD_PEAK_LOWEST: &str = "Peak from";
/// Field.
pub const FIELD_PEAK_HIGHEST: &str = "Peak to";
/// A peak window needs both ends.
pub const PEAK_WINDOW_HALF: &str = "a peak window needs both its ends";
/// Tolerances without a loudness.
pub const TOLERANCE_ALONE: &str = "a tolerance needs an integrated loudness";
/// Two targets of one name.
pub const NAME_TAKEN: &str = "another target has this name";

/// A field that is no number.
pub fn not_a_number(field: &str, value: &str) -> String {
    format!("{field} “{value}”: must be a number, such as −14.0")
}

/// Name of a copy.
pub fn copy_of(name: &str) -> String {
    format!("{name} (own)")
}

/// Name of a new target.
pub fn new_name(number: usize) -> String {
    if number < 2 { "My target".to_owned() } else { format!("My target {number}") }
}

// Sections.
/// In the lane while there are none.
pub const NO_SECTIONS: &str = "No sections yet: press Mark while the song plays, or drag across \
     the chart.";
/// Button: a section starts here.
pub const MARK: &str = "Mark";
/// The same, for screen readers.
pub const MARK_SPOKEN: &str = "Mark: a new section starts at the playhead";
/// Hint of that button.
pub const MARK_HINT: &str = "A new section starts at the playhead. Press it while the song plays.";
/// Button: the menu of the sections.
pub const SECTIONS_MENU: &str = "Sections";
/// Hint of that button.
pub const SECTIONS_MENU_HINT: &str = "Make, change and undo sections.";
/// Menu: nothing to undo.
pub const UNDO: &str = "Undo";
/// Menu: nothing to redo.
pub const REDO: &str = "Redo";
/// Menu: mark.
pub const MARK_HERE: &str = "Start a section at the playhead";
/// Menu: the host's loop.
pub const ADD_LOOP: &str = "Make a section of the host's loop";
/// Menu: the dragged range.
pub const ADD_RANGE: &str = "Make a section of the selected range";
/// Menu: a list of markers.
pub const MARKERS: &str = "Take markers from a list or a file …";
/// Menu: a proposal.
pub const PROPOSE: &str = "Propose sections from what was measured …";
/// Menu: the song was cut shorter.
pub const TRIM: &str = "Forget what lies behind the playhead";
/// Menu: edges on bars.
pub const SNAP: &str = "New edges go to the nearest bar";
/// Menu of one section.
pub const RENAME: &str = "Rename …";
/// Menu of one section.
pub const SPLIT: &str = "Split at the playhead";
/// Menu of one section.
pub const MERGE: &str = "Merge with the next one";
/// Menu of one section.
pub const DELETE_JOIN: &str = "Delete; its neighbour takes the time";
/// Menu of one section.
pub const DELETE_GAP: &str = "Delete; leave the time without a section";
/// Menu of one section.
pub const SHOW_SECTION: &str = "Show it across the chart";
/// Hint of a section's name.
pub const SPAN_HINT: &str = "Click to select, twice to rename, with the other button for more.";
/// Hint of an edge.
pub const EDGE_HINT: &str = "Drag the edge; its neighbour follows. With the keyboard: arrow keys.";
/// Button in the box of a selected range.
pub const MAKE_SECTION: &str = "Make section";
/// Button in the box of a selected range.
pub const ZOOM_TO_RANGE: &str = "Zoom in";
/// Button in the box of a selected range.
pub const CLEAR_RANGE: &str = "Clear";
/// Note: the host's tempo map moved.
pub fn tempo_map_moved(edges: usize) -> String {
    let edges = if edges == 1 { "1 edge".to_owned() } else { format!("{edges} edges") };
    format!("The host's bars moved: {edges} of sections no longer stand on their bars.")
}
/// Button of that note.
pub const FOLLOW_BARS: &str = "Follow the bars";
/// Button of that note.
pub const KEEP_TIMES: &str = "Keep the times";
/// Button: read.
pub const OK: &str = "OK";

/// Menu: what undo takes back.
pub fn undo(edit: crate::section::Edit) -> String {
    format!("Undo: {edit}")
}

/// Menu: what redo does again.
pub fn redo(edit: crate::section::Edit) -> String {
    format!("Redo: {edit}")
}

/// From one time to another.
pub fn time_range(start_s: f64, end_s: f64) -> String {
    format!(
        "{} – {} ({} s)",
        song_time(start_s, true),
        song_time(end_s, true),
        crate::units::one_decimal(end_s - start_s)
    )
}

/// A section and where it lies, for screen readers.
pub fn section_spoken(name: &str, start_s: f64, end_s: f64) -> String {
    format!("{name}, {} to {}", song_time(start_s, false), song_time(end_s, false))
}

/// One edge of a section, for screen readers.
pub fn edge_spoken(name: &str, side: crate::section::Side, at_s: f64) -> String {
    let word = match side {
        crate::section::Side::Start => "start",
        crate::section::Side::End => "end",
    };
    format!("{word} of {name}, {}", song_time(at_s, true))
}

/// Where a section lies, in time and in bars.
pub fn section_range(section: &crate::section::Section) -> String {
    let range = time_range(section.start_s, section.end_s);
    match section.start_bar {
        Some(start) => format!("{range}, from {}", bar(start)),
        None => range,
    }
}

/// What a section measures, a line each.
pub fn section_lines(entry: &crate::section::LogEntry) -> Vec<String> {
    let figures = &entry.measured.figures;
    let lufs = |value: Option<crate::units::Lufs>| super::label::decimal(value.map(|v| v.0));
    let mut lines = vec![
        format!("{INTEGRATED} {} LUFS", lufs(figures.integrated)),
        format!("{SHORT_TERM} {MAX} {} LUFS", lufs(figures.max_short_term)),
        format!(
            "{TRUE_PEAK} {} dBTP",
            super::label::signed(figures.max_true_peak.map(|peak| peak.0))
        ),
        measured_share(figures.coverage.share()),
    ];
    if let Some(by) = entry.louder_by {
        lines.push(format!("{} LU to the section before", crate::units::signed_one_decimal(by.0)));
    }
    lines
}

/// A measured share in words.
pub fn measured_share(share: f64) -> String {
    format!("{} % measured", whole_percent(share))
}

/// A share in whole per cent, never 100 with a gap in it.
pub fn whole_percent(share: f64) -> String {
    format!("{:.0}", (share * 100.0 + 1e-9).floor())
}

/// A place in time, with its bar where known.
pub fn place(at_s: f64, at_bar: Option<f64>) -> String {
    let time = song_time(at_s, true);
    at_bar.map_or(time.clone(), |at_bar| format!("{time} · {}", bar(at_bar)))
}

/// A place in time, with its bar and its beat where known.
pub fn beat_place(at_s: f64, at_bar: Option<f64>, beats_per_bar: i32) -> String {
    let time = song_time(at_s, true);
    let Some(at_bar) = at_bar else { return time };
    let within = (at_bar + 1e-6).rem_euclid(1.0);
    let beat = super::cast::whole((within * f64::from(beats_per_bar)).floor()) + 1;
    format!("{time} · {}, beat {beat}", bar(at_bar))
}

// Dialogs of the song.
/// Heading.
pub const RENAME_HEADING: &str = "Name of the section";
/// Heading.
pub const PIN_HEADING: &str = "Pin this playthrough";
/// Under that heading.
pub const PIN_HINT: &str =
    "A pinned playthrough is kept. Name it by what you tried, such as “less 250 Hz”.";
/// Heading.
pub const NAME_SONG_HEADING: &str = "Name of the song";
/// Under that heading.
pub const NAME_SONG_HINT: &str = "It stands on what you export.";
/// Heading.
pub const MARKERS_HEADING: &str = "Sections from markers";
/// Under that heading.
pub const MARKERS_HINT: &str =
    "One marker a line: a time, then a name. They replace all sections; it can be undone.";
/// In the empty list.
pub const MARKERS_EXAMPLE: &str = "0:00 Intro\n0:24.5 Verse\n1:12 Chorus";
/// Over the path.
pub const MARKERS_FILE: &str = "Or a file: a WAV file with cue markers, or such a list";
/// In the empty path.
pub const MARKERS_PATH: &str = "Path of the file";
/// Under the path.
pub const MARKERS_FROM_FILE: &str = "The markers of the file are taken.";
/// Button.
pub const USE_MARKERS: &str = "Use them";
/// Heading.
pub const PROPOSAL_HEADING: &str = "Proposed sections";
/// Under that heading: how it is computed.
pub const PROPOSAL_HINT: &str = "Computed from changes in loudness, width and crest factor: the 8 s before each border against \
     the 8 s after it. How sure it is runs from 0, no difference, to 1, nothing in common. It \
     cannot know whether a fill belongs to the verse or to the chorus.";
/// Beside the slider.
pub const PROPOSAL_SURE: &str = "Take borders at least so sure";
/// A border that is taken.
pub const PROPOSAL_TAKEN: &str = "taken";
/// A border that is not.
pub const PROPOSAL_LEFT: &str = "left out";
/// Button.
pub const USE_PROPOSAL: &str = "Use them";
/// Button.
pub const DROP_PROPOSAL: &str = "Throw away";

/// What a proposal would make.
pub fn proposal_counted(sections: usize) -> String {
    match sections {
        0 | 1 => "No border is so sure. Sections stay as they are.".to_owned(),
        count => format!("{count} sections. They replace all there are; it can be undone."),
    }
}

/// What a list of markers would make.
pub fn markers_counted(sections: usize, left_out: usize) -> String {
    let made = if sections == 1 { "1 section".to_owned() } else { format!("{sections} sections") };
    match left_out {
        0 => format!("{made}."),
        _ => format!("{made}; {left_out} markers too close together or outside of the record."),
    }
}

// Snapshot.
/// Button: save a snapshot.
pub const SNAPSHOT: &str = "Snapshot";
/// Hint of that button.
pub const SNAPSHOT_HINT: &str = "Save everything that was measured until now: a page to read and \
     print, and files for programs.";
/// Heading.
pub const SNAPSHOT_HEADING: &str = "Snapshot of the measurement";
/// Under that heading.
pub const SNAPSHOT_EXPLAINED: &str = "Its files are named after the song and the time. Files that \
     are there already stay as they are.";
/// Field.
pub const SNAPSHOT_SONG: &str = "Name of the song";
/// Field.
pub const SNAPSHOT_FOLDER: &str = "Folder";
/// Button: the summary.
pub const COPY_SUMMARY: &str = "Copy summary";
/// Hint of that button.
pub const COPY_SUMMARY_HINT: &str = "Puts a short summary as text into the clipboard.";
/// The summary was copied.
pub const COPIED: &str = "A summary of the measurement is in the clipboard.";
/// Button of the note that a snapshot could not be saved.
pub const DROP_SNAPSHOT: &str = "Drop it";

/// A form of a snapshot.
pub const fn format(format: crate::snapshot::Format) -> &'static str {
    use crate::snapshot::Format;
    match format {
        Format::Json => "JSON",
        Format::Html => "Page (HTML)",
        Format::SectionsCsv => "Section log (CSV)",
        Format::LoudnessCsv => "Loudness series (CSV)",
        Format::Text => "Summary (text)",
    }
}

/// A snapshot was saved.
pub fn saved(paths: &[std::path::PathBuf]) -> String {
    match paths {
        [path] => format!("Saved: {}", path.display()),
        [path, rest @ ..] => format!("Saved: {} and {} more", path.display(), rest.len()),
        [] => "Saved.".to_owned(),
    }
}

/// A snapshot could not be saved.
pub fn not_saved(why: &str) -> String {
    format!("Not saved: {why}. The snapshot is kept: press Snapshot to save it elsewhere.")
}

// Tables.
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
    let integrated = super::label::decimal(playthrough.whole.integrated_lufs);
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

/// Drawing failed.
pub const FAILURE: &str = "The editor met an error and stopped drawing. Metering and audio go on. \
     Close and open the editor to draw again; the host's log has the details.";

/// What the figures do not say.
pub const CAUTION_TEXT: &[&str] = &[
    "Loudness in LUFS is measured in the signal. It is not the sound pressure at your ears, and no \
     figure here says how loud or how long it is safe to listen.",
    "The built-in targets carry their sources, and some are common practice without one. What your \
     recipient specifies today decides.",
    "A true peak is an estimate between the samples. Lossy coding can raise it further, so keep \
     the room that the ceiling asks for.",
    "Time that was not measured is blank and counts for nothing. A figure of a song that was \
     measured in part is a figure of that part.",
    "Turn the level down before you play test tones.",
];

/// What the instrument is doing, in a word or two.
pub fn status(
    source: Source,
    transport: TransportState,
    running: bool,
    notices: &[Notice],
) -> &'static str {
    if notices.contains(&Notice::Unsupported) {
        "Not measuring"
    } else if notices.contains(&Notice::Bypassed) {
        "Bypassed"
    } else if !running {
        "Paused"
    } else {
        match (source, transport) {
            (Source::Live, _) => "Measuring live",
            (Source::Song, TransportState::Playing) => "Measuring",
            (Source::Song, TransportState::Stopped) => "Stopped",
            (Source::Song, TransportState::Unknown) => "Waiting",
        }
    }
}

/// Paused, as a note.
pub const PAUSED_NOTE: &str = "Paused: what plays now is not measured.";
/// After a reset or a trim, as a note.
pub const RESET_NOTE: &str = "What was measured was forgotten.";

/// A notice as a sentence that says what to do.
pub fn notice(notice: Notice) -> String {
    match notice {
        Notice::RecordFull => {
            "The record is full: two hours are kept, later time is not measured. \
             Reset to start anew."
                .to_owned()
        }
        Notice::NoSongPosition => "The host gives no song position: time counts from the last \
             reset, and replaying does not replace."
            .to_owned(),
        Notice::ScrubbedSamples { count: 1 } => "1 sample was no number: passed on, measured as \
             silence. Look for the cause before this plugin."
            .to_owned(),
        Notice::ScrubbedSamples { count } => format!(
            "{count} samples were no numbers: passed on, measured as silence. Look for the cause \
             before this plugin."
        ),
        Notice::OtherChannels { saved } => format!(
            "The project's saved measurement has {saved} channel{}: it cannot be shown with the \
             present ones, and stays in the project until something is measured.",
            if saved == 1 { "" } else { "s" }
        ),
        Notice::Unsupported => "Nothing is measured: the meters work from 8 to 384 kHz in mono or \
             stereo. Change the host's rate or channels."
            .to_owned(),
        Notice::Bypassed => {
            "Bypassed: audio passes, nothing is measured. Switch the bypass off to measure."
                .to_owned()
        }
    }
}

/// More notices than there is room for.
pub fn more_notices(count: usize) -> String {
    format!("and {count} more")
}

/// Measured time, or the measured share of the song where there are gaps.
pub fn coverage(share: f64, time: &str) -> String {
    if share >= 0.9995 {
        format!("{time} measured")
    } else {
        // Never "100 %" with a gap in it.
        format!("{:.0} % of {time}", (share * 100.0).floor())
    }
}

pub use crate::units::song_time;

/// A place in bars, where 0.0 is the first bar line, as the number of its bar.
pub fn bar(bar: f64) -> String {
    // A place on a bar line belongs to the bar that starts there, however it was rounded.
    let number = super::cast::whole((bar + 1e-6).floor()) + 1;
    format!("{BARS} {number}").replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_never_reads_as_a_hundred_per_cent() {
        assert_eq!(coverage(1.0, "1:30"), "1:30 measured");
        assert_eq!(coverage(0.999, "1:30"), "99 % of 1:30");
    }
}
