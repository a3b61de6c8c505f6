//! The section log.

use super::super::super::reason::{FigureSet, Reason};
use super::super::super::text::{one_line, per_cent, shown, shown_signed};
use super::super::super::{Snapshot, SnapshotSection};
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open, two_decimals};
use crate::units::song_time;
use std::fmt::Write;

const COLUMNS: [Column; 15] = [
    ("Section", "", "text"),
    ("Integrated", "LUFS", ""),
    ("Louder by", "LU", ""),
    ("Highest S", "LUFS", ""),
    ("Highest M", "LUFS", ""),
    ("LRA", "LU", ""),
    ("True peak", "dBTP", ""),
    ("PLR", "LU", ""),
    ("Lowest PSR", "LU", ""),
    ("Correlation", "whole, lowest", ""),
    ("Side to mid", "dB", ""),
    ("Wider by", "dB", ""),
    ("From", "m:ss", ""),
    ("To", "m:ss", ""),
    ("Measured", "share", ""),
];

/// Under the table, where a loudness range stands on less than 60 s.
const NOT_STABLE: &str = "<p class=\"note\">* Loudness range of less than 60 s: not stable.</p>\n";

pub(in super::super) fn put_sections(out: &mut String, snapshot: &Snapshot, id: &str) {
    if snapshot.sections.is_empty() {
        return;
    }
    open(out, &format!("{id}sections"), "Sections", &COLUMNS);
    let mut any_unstable = false;
    for (index, section) in snapshot.sections.iter().enumerate() {
        any_unstable |= put_row(out, snapshot, index + 1, section);
    }
    close_table(out);
    if any_unstable {
        out.push_str(NOT_STABLE);
    }
    close_section(out);
}

/// Gives whether its loudness range is not stable.
fn put_row(
    out: &mut String,
    snapshot: &Snapshot,
    number: usize,
    SnapshotSection { section, entry }: &SnapshotSection,
) -> bool {
    let measured = &entry.measured;
    let set = FigureSet::new(measured, snapshot.about.layout);
    let name = one_line(&section.name);
    append!(out, "<tr><th scope=\"row\">{number}. <bdi>{}</bdi></th>", esc(&name));
    let is_unstable = set.loudness_range_lu.is_ok() && !measured.loudness_range_stable;
    let star = if is_unstable { "*" } else { "" };
    let ceiling = snapshot.chosen_target().and_then(|chosen| chosen.target.ceiling());
    let is_over = ceiling.zip(set.max_true_peak_dbtp.ok()).is_some_and(|(c, peak)| peak > c.0);
    let peak = shown_signed(set.max_true_peak_dbtp);
    let peak = if is_over { format!("<span class=\"over\">over {peak}</span>") } else { peak };
    let step = |by: Option<f64>| shown_signed(by.ok_or(Reason::NotInBoth));
    for text in [
        format!("<b>{}</b>", shown(set.integrated_lufs)),
        step(entry.louder_by.map(|by| by.0)),
        shown(set.max_short_term_lufs),
        shown(set.max_momentary_lufs),
        format!("{}{star}", shown(set.loudness_range_lu)),
        peak,
        shown(set.plr_lu),
        shown(set.min_psr_lu),
        format!("{}, {}", two_decimals(set.correlation), two_decimals(set.lowest_correlation)),
        shown(set.side_to_mid_db),
        step(entry.wider_by.map(|by| by.0)),
        song_time(section.start_s, true),
        song_time(section.end_s, true),
        per_cent(measured.figures.coverage.share()),
    ] {
        cell(out, &text);
    }
    out.push_str("</tr>\n");
    is_unstable
}
