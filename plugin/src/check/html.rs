//! The report as one page of HTML: for each file what a snapshot of the plugin shows, then what a
//! recipient would send it back for. Several files are one page, with the release before them.

use super::facts::{self, Fact, Facts, encoded, figure_name, format_line, name_of};
use super::json::status;
use super::{AfterEncode, CheckReport, SecondReading, Status, Track, TrackOutcome};
use crate::snapshot::html::tables::{Column, cell, close_section, close_table, open};
use crate::snapshot::html::{document, esc, put_foot, put_header, put_measured, put_words};
use crate::snapshot::text::{one_line, shown, shown_signed};
use crate::snapshot::{Reason, Snapshot};
use std::fmt::Write;

/// `write!` to a string, which cannot fail.
macro_rules! append {
    ($out:expr, $($rest:tt)*) => {{
        let _ = write!($out, $($rest)*);
    }};
}

/// The report as a page; the files need a snapshot each.
#[must_use]
pub fn to_html(report: &CheckReport) -> String {
    let title = match report.tracks.as_slice() {
        [track] => name_of(&track.path),
        tracks => format!("Release of {} files", tracks.len()),
    };
    document(&format!("{} – loudness check", one_line(&title)), |out| {
        out.push_str("<main>\n");
        if report.tracks.len() > 1 {
            put_release(out, report, &title);
        }
        for (index, track) in report.tracks.iter().enumerate() {
            put_track(out, track, &format!("file-{}-", index + 1));
        }
        put_words(out);
        out.push_str("</main>\n");
        if let Some(snapshot) = snapshots(report).next() {
            put_foot(out, snapshot);
        }
    })
}

fn snapshots(report: &CheckReport) -> impl Iterator<Item = &Snapshot> {
    let measured = report.tracks.iter().filter_map(|track| track.outcome.as_ref().ok());
    measured.filter_map(|track| track.snapshot.as_deref())
}

const TRACKS: [Column; 6] = [
    ("File", "", "text"),
    ("Verdict", "of all targets", "text"),
    ("Integrated", "LUFS", ""),
    ("True peak", "dBTP", ""),
    ("LRA", "LU", ""),
    ("Length", "m:ss", ""),
];

fn put_release(out: &mut String, report: &CheckReport, title: &str) {
    append!(
        out,
        "<article>\n<header>\n<p class=\"mark\"><b>Plimsoll</b> check of a release</p>\n\
         <h1>{}</h1>\n</header>\n",
        esc(title)
    );
    open(out, "tracks", "Files", &TRACKS);
    for track in &report.tracks {
        append!(out, "<tr><th scope=\"row\"><bdi>{}</bdi></th>", esc(&name_of(&track.path)));
        let measured = track.outcome.as_ref().ok();
        put_status(out, measured.map_or(Status::NotMeasured, Track::status));
        let figures = measured.map(|track| track.measured.figures).unwrap_or_default();
        let value = |value: Option<f64>| value.ok_or(Reason::NotMeasured);
        cell(out, &shown(value(figures.integrated.map(|v| v.0))));
        cell(out, &shown_signed(value(figures.max_true_peak.map(|v| v.0))));
        cell(out, &shown(value(figures.loudness_range.map(|v| v.0))));
        let length = measured.map(|track| facts::clock(track.length_s));
        cell(out, length.as_deref().unwrap_or("–"));
        out.push_str("</tr>\n");
    }
    close_table(out);
    close_section(out);
    if let Some(release) = &report.release {
        put_facts(out, "release", RELEASE, facts::of_release(release, report));
    }
    out.push_str("</article>\n");
}

const RELEASE: &str = "The release as a whole";

fn put_status(out: &mut String, of: Status) {
    let word = status(of);
    if of == Status::Within {
        append!(out, "<td class=\"text plain\">{word}</td>");
    } else {
        append!(out, "<td class=\"text plain\"><span class=\"over\">{word}</span></td>");
    }
}

fn put_track(out: &mut String, TrackOutcome { path, outcome }: &TrackOutcome, id: &str) {
    out.push_str("<article>\n");
    match outcome {
        Ok(track) => {
            if let Some(snapshot) = &track.snapshot {
                put_header(out, snapshot);
                put_measured(out, snapshot, id);
            }
            put_file(out, track, id);
        }
        Err(error) => append!(
            out,
            "<header>\n<p class=\"mark\"><b>Plimsoll</b> check of a file</p>\n\
             <h1><bdi>{}</bdi></h1>\n</header>\n<p class=\"over\">Not measured: {}</p>\n",
            esc(&one_line(&name_of(path))),
            esc(&error.to_string())
        ),
    }
    out.push_str("</article>\n");
}

/// What is said of a file and not of a song in a host.
fn put_file(out: &mut String, track: &Track, id: &str) {
    let fact = |name, text, is_look| Fact { name, text, is_look };
    let mut file = vec![fact("Format", format_line(track), false)];
    file.extend(track.warnings.iter().map(|warning| fact("Warning", warning.clone(), true)));
    put_facts(out, &format!("{id}file"), "File", file);
    for Facts { heading, facts } in Facts::of(track) {
        put_facts(out, &format!("{id}{}", heading.to_lowercase()), heading, facts);
    }
    if let Some(second) = &track.second {
        put_second_reading(out, second, &format!("{id}second-reading"));
    }
    if !track.after_encode.is_empty() {
        put_encoded(out, &track.after_encode, &format!("{id}after-encode"));
    }
}

fn put_facts(out: &mut String, id: &str, heading: &str, facts: Vec<Fact>) {
    open(out, id, heading, &[("Fact", "", "text"), ("Found", "“!”: look at it", "text")]);
    for Fact { name, text, is_look } in facts {
        let mark = if is_look { "<span class=\"over\">!</span> " } else { "" };
        append!(
            out,
            "<tr><th scope=\"row\">{mark}{name}</th><td class=\"text\">{}</td></tr>\n",
            esc(&text)
        );
    }
    close_table(out);
    close_section(out);
}

const READINGS: [Column; 5] = [
    ("Figure", "", "text"),
    ("Plimsoll", "", ""),
    ("Second reading", "", ""),
    ("Difference", "", ""),
    ("What explains it", "", "text"),
];

fn put_second_reading(out: &mut String, second: &SecondReading, id: &str) {
    open(out, id, "Second reading, by the library ebur128", &READINGS);
    for figure in &second.figures {
        let (name, unit) = figure_name(figure.key);
        append!(out, "<tr><th scope=\"row\">{name}, {unit}</th>");
        for value in [figure.ours, figure.theirs] {
            cell(out, &shown(value.filter(|v| v.is_finite()).ok_or(Reason::NotMeasured)));
        }
        cell(out, &facts::reading_difference(figure));
        append!(out, "<td class=\"text\">{}</td></tr>\n", figure.flaw);
    }
    close_table(out);
    let mut agrees = true;
    for figure in second.unexplained() {
        agrees = false;
        append!(out, "<p class=\"over\">{}</p>\n", facts::flaw_note(figure));
    }
    if agrees {
        append!(out, "<p class=\"note\">{}</p>\n", facts::READINGS_AGREE);
    }
    close_section(out);
}

const ENCODED: [Column; 6] = [
    ("Code", "", "text"),
    ("Integrated", "LUFS", ""),
    ("Change", "LU", ""),
    ("True peak", "dBTP", ""),
    ("Change", "dB", ""),
    ("Ceilings", "", "text"),
];

fn put_encoded(out: &mut String, all: &[AfterEncode], id: &str) {
    open(out, id, "After a lossy encode", &ENCODED);
    let mut notes = Vec::new();
    for one in all {
        let found = match &one.outcome {
            Ok(found) => found,
            Err(why) => {
                notes.push(format!("Not encoded: {}", encoded::not_encoded(one, why)));
                continue;
            }
        };
        let figures = &found.figures;
        append!(out, "<tr><th scope=\"row\">{}</th>", one.encoding);
        for (value, change) in [
            (figures.integrated.map(|v| v.0), found.integrated_change.map(|v| v.0)),
            (figures.max_true_peak.map(|v| v.0), found.true_peak_change.map(|v| v.0)),
        ] {
            let level = value.filter(|v| v.is_finite()).ok_or(Reason::NotMeasured);
            cell(out, &shown(level));
            cell(out, &encoded::change(change));
        }
        let (is_look, words) = encoded::ceilings(found);
        let class = if is_look { " class=\"over\"" } else { "" };
        append!(out, "<td class=\"text\"><span{class}>{}</span></td></tr>\n", esc(&words));
        let before = encoded::before_encoding(found);
        notes.extend(before.into_iter().map(|note| format!("{}, {note}.", one.encoding)));
    }
    close_table(out);
    notes.extend(encoded::caution());
    append!(out, "<p class=\"note\">{}</p>\n", esc(&notes.join(" ")));
    close_section(out);
}
