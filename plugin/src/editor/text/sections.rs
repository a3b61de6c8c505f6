//! Words for sections, their menus and their dialogs.

use super::{INTEGRATED, MAX, SHORT_TERM, TRUE_PEAK, bar, song_time};

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
/// Menu: the name of the song.
pub const NAME_SONG: &str = "Name the song …";
/// Instead of a name.
pub const UNNAMED_SONG: &str = "Unnamed song";
/// The name in the header, for screen readers.
pub const SONG_SPOKEN: &str = "Song";
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
pub const COPY_RANGE: &str = "Copy it";
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
    let lufs = |value: Option<crate::units::Lufs>| super::super::label::decimal(value.map(|v| v.0));
    let mut lines = vec![
        format!("{INTEGRATED} {} LUFS", lufs(figures.integrated)),
        format!("{SHORT_TERM} {MAX} {} LUFS", lufs(figures.max_short_term)),
        format!(
            "{TRUE_PEAK} {} dBTP",
            super::super::label::signed(figures.max_true_peak.map(|peak| peak.0))
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
    let beat = super::super::cast::whole((within * f64::from(beats_per_bar)).floor()) + 1;
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
pub const NAME_SONG_HINT: &str =
    "It stands here and on every snapshot, and is kept with the project.";
/// Heading.
pub const MARKERS_HEADING: &str = "Sections from markers";
/// Under that heading.
pub const MARKERS_HINT: &str =
    "One marker a line: a time, then a name. They replace all sections; it can be undone.";
/// In the empty list.
pub const MARKERS_EXAMPLE: &str = "0:00 Intro\n0:24.5 Verse\n1:12 Chorus";
/// Over the path.
pub const MARKERS_FILE: &str = "Or a file: a WAV or AIFF file with markers, or such a list";
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
