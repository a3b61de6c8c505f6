//! What the newest playthrough changed.

use super::super::super::reason::Reason;
use super::super::super::text::{one_line, shown, shown_signed};
use super::super::super::{Comparison, Snapshot};
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open};
use crate::section::{FiguresChange, LoggedFigures, SectionChange};
use std::fmt::Write;

const COLUMNS: [Column; 8] = [
    ("Section", "", "text"),
    ("Before", "LUFS", ""),
    ("After", "LUFS", ""),
    ("Louder by", "LU", ""),
    ("True peak", "by dB", ""),
    ("LRA", "by LU", ""),
    ("PLR", "by LU", ""),
    ("Wider by", "dB", ""),
];

/// Under the table, where a section was not measured over the same time in both.
const OTHER_TIME: &str = "<p class=\"note\">† Not the same time was measured in both: part of the \
    change may come from that.</p>\n";

pub(in super::super) fn put_comparison(out: &mut String, snapshot: &Snapshot, id: &str) {
    let Some(comparison) = &snapshot.comparison else {
        return;
    };
    let label = |playthrough| one_line(&Comparison::label(playthrough));
    let heading = format!(
        "What changed: <bdi>{}</bdi> against <bdi>{}</bdi>",
        esc(&label(&comparison.after)),
        esc(&label(&comparison.before)),
    );
    open(out, &format!("{id}comparison"), &heading, &COLUMNS);
    let (before, after) = (&comparison.before, &comparison.after);
    put_row(
        out,
        "All that was played",
        [Some(&before.whole), Some(&after.whole)],
        Some(&comparison.whole),
        (before.start_hop, before.end_hop) == (after.start_hop, after.end_hop),
    );
    for change in &comparison.sections {
        let figures = [change.before.as_ref(), change.after.as_ref()];
        if !is_in_both(change) {
            continue;
        }
        let name = one_line(&change.name);
        put_row(out, &name, figures, change.change.as_ref(), change.same_time);
    }
    close_table(out);
    put_notes(out, comparison);
    close_section(out);
}

/// What was not the same time in both, and what was not in both at all.
fn put_notes(out: &mut String, comparison: &Comparison) {
    let (before, after) = (&comparison.before, &comparison.after);
    let sections = &comparison.sections;
    let whole_differs = (before.start_hop, before.end_hop) != (after.start_hop, after.end_hop);
    if whole_differs || sections.iter().any(|section| !section.same_time && is_in_both(section)) {
        out.push_str(OTHER_TIME);
    }
    let one_sided = |is_it: fn(&SectionChange) -> bool| {
        let names = sections.iter().filter(|section| is_it(section));
        names.map(|section| one_line(&section.name)).collect::<Vec<_>>().join(", ")
    };
    for (which, names) in [
        ("earlier", one_sided(|section| section.before.is_some() && section.after.is_none())),
        ("newer", one_sided(|section| section.before.is_none() && section.after.is_some())),
    ] {
        if !names.is_empty() {
            append!(out, "<p class=\"note\">Only the {which} one played: {}.</p>\n", esc(&names));
        }
    }
}

const fn is_in_both(section: &SectionChange) -> bool {
    section.before.is_some() && section.after.is_some()
}

fn put_row(
    out: &mut String,
    name: &str,
    figures: [Option<&LoggedFigures>; 2],
    change: Option<&FiguresChange>,
    same_time: bool,
) {
    let mark = if change.is_some() && !same_time { " †" } else { "" };
    append!(out, "<tr><th scope=\"row\"><bdi>{}</bdi>{mark}</th>", esc(name));
    for figures in figures {
        let integrated = figures.and_then(|figures| figures.integrated_lufs);
        cell(out, &shown(integrated.ok_or(Reason::NotMeasured)));
    }
    let by = |of: fn(&FiguresChange) -> Option<f64>| {
        shown_signed(change.and_then(of).ok_or(Reason::NotInBoth))
    };
    cell(out, &format!("<b>{}</b>", by(|change| Some(change.louder_by?.0))));
    cell(out, &by(|change| Some(change.true_peak_by?.0)));
    cell(out, &by(|change| Some(change.loudness_range_by?.0)));
    cell(out, &by(|change| Some(change.plr_by?.0)));
    cell(out, &by(|change| Some(change.wider_by?.0)));
    out.push_str("</tr>\n");
}
