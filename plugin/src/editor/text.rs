//! Every word of the editor that is not a sentence of the measurement itself (those are in
//! `target/distance.rs`). One place, ready for translation.

mod export;
mod listening;
mod reference;
mod sections;
mod tables;
mod tone;

pub use export::*;
pub use listening::*;
pub use reference::*;
pub use sections::*;
pub use tables::*;
pub use tone::*;

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

// Corner.
/// Name of the corner.
pub const CORNER: &str = "Size of the window";
/// Hint of the corner.
pub const CORNER_HINT: &str = "Drag to resize the window. Click to draw everything larger.";
/// Title of the corner's menu.
pub const ZOOM_TITLE: &str = "Draw everything at";

/// A magnification as a percentage.
#[must_use]
pub fn zoom(factor: f32) -> String {
    format!("{:.0} %", factor * 100.0)
}

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
pub const TRUE_PEAK_HINT: &str = "True peak: the highest level on and between the samples, per channel over the last 400 \
     ms and as maximum over the song, in dBTP (ITU-R BS.1770-5 Annex 2). Converters and \
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
pub const GAIN_TO_TARGET_HINT: &str = "Gain to target: target minus integrated loudness, in dB (ITU-R BS.1770-5: 1 LU is 1 \
     dB). This much plain gain puts the song on the load line.";
/// What peak at target is.
pub const PEAK_AT_TARGET_HINT: &str = "Peak at target: where the highest true peak lands with that gain, in dBTP (ITU-R \
     BS.1770-5 Annex 2). Over the ceiling it needs peak control.";
/// What peak control is.
pub const PEAK_CONTROL_HINT: &str = "Peak control: how far the peak at target lies over the ceiling, in dB (ITU-R BS.1770-5 \
     Annex 2 for the peak). This much limiting or peak taming stands between the song and \
     the target.";
/// What playback gain is.
pub const PLAYBACK_GAIN_HINT: &str = "Playback gain: what levelling playback at this target does to the song, in dB (common \
     practice, no source). A louder song is always turned down; a quieter one is turned up \
     at most until its peak meets the ceiling.";
/// What headroom is.
pub const HEADROOM_HINT: &str = "Headroom: ceiling minus highest true peak, in dB (ITU-R BS.1770-5 Annex 2 for the \
     peak). It is the room that is left for the master.";
/// What sample peak is.
pub const SAMPLE_PEAK_HINT: &str = "Sample peak: the highest sample, in dB to full scale (dBFS, common practice, no \
     source). A mix hand-off is judged by it, because the next one in line works on \
     samples.";

/// What the figure is.
pub const LOAD_LINE_HINT: &str = "The load line: the target's integrated loudness with its tolerance, in LUFS or LU, \
     from the document that the list of targets names. The song as a whole should come to \
     lie on it; single passages may not.";
/// What the figure is.
pub const SOUNDING_HINT: &str = "A sounding: one of the highest true peaks at its place, in dBTP (ITU-R BS.1770-5 Annex \
     2). Only those are shown that cost headroom; the peak ledger lists them all.";
/// What the figure is.
pub const RANGE_HINT: &str = "The selected range of song time, from, to and its length, in minutes and seconds. The \
     figures below measure it as if it were cut out.";
/// What the figure is.
pub const COVERAGE_HINT: &str = "Coverage: the share of the range that was measured, in % (this program's own figure). \
     Figures stand on that share alone.";

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
        Notice::ToneLost { frames } => format!(
            "Tone lacks {frames} frames: the machine was too busy to measure them. Loudness and \
             peaks are whole. Play there again."
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

/// A peak at its place, for screen readers and to copy.
pub fn sounding_spoken(figure: &str, time: &str) -> String {
    format!("{TRUE_PEAK} {figure} dBTP at {time}")
}

/// More notices than there is room for.
pub fn more_notices(count: usize) -> String {
    format!("and {count} more")
}

/// Measured time, or the measured share of the song and the gaps in it; 0 gaps are not said.
pub fn coverage(share: f64, time: &str, gaps: usize) -> String {
    if share >= 0.9995 {
        return format!("{time} measured");
    }
    // Never "100 %" with a gap in it.
    let measured = format!("{:.0} % of {time}", (share * 100.0).floor());
    match gaps {
        0 => measured,
        1 => format!("{measured}, 1 gap"),
        gaps => format!("{measured}, {gaps} gaps"),
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
        assert_eq!(coverage(1.0, "1:30", 0), "1:30 measured");
        assert_eq!(coverage(0.999, "1:30", 2), "99 % of 1:30, 2 gaps");
    }
}
