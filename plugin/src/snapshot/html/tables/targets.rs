//! The verdict of every target.

use super::super::super::Snapshot;
use super::super::super::reason::Reason;
use super::super::super::text::{one_line, shown, shown_signed, verdict};
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open};
use crate::target::Verdict;
use std::fmt::Write;

const COLUMNS: [Column; 8] = [
    ("Target", "", "text"),
    ("Verdict", "", "text"),
    ("Distance", "LU", ""),
    ("Gain to target", "dB", ""),
    ("Peak at target", "dBTP", ""),
    ("Peak control", "dB", ""),
    ("Asks for", "", "text"),
    ("Source", "note", ""),
];

pub(in super::super) fn put_targets(out: &mut String, snapshot: &Snapshot, id: &str) {
    if snapshot.targets.is_empty() {
        return;
    }
    open(out, &format!("{id}targets"), "Every target", &COLUMNS);
    let mut sources: Vec<String> = Vec::new();
    for (index, result) in snapshot.targets.iter().enumerate() {
        let (target, distance) = (&result.target, &result.distance);
        let chosen = if snapshot.chosen == Some(index) { " (chosen)" } else { "" };
        append!(
            out,
            "<tr><th scope=\"row\"><bdi>{}</bdi>{chosen}</th>",
            esc(&one_line(&target.name))
        );
        let word = verdict(distance.verdict());
        match distance.verdict() {
            Verdict::NotWithin => {
                append!(out, "<td class=\"text plain\"><span class=\"over\">{word}</span></td>");
            }
            _ => {
                append!(out, "<td class=\"text plain\">{word}</td>");
            }
        }
        let figure = |value: Option<f64>| value.ok_or(Reason::NotMeasured);
        cell(out, &shown_signed(figure(distance.distance.map(|v| v.0))));
        cell(out, &shown_signed(figure(distance.gain_to_target.map(|v| v.0))));
        cell(out, &shown_signed(figure(distance.peak_at_target.map(|v| v.0))));
        cell(out, &shown(figure(distance.peak_control.map(|v| v.0))));
        let source = one_line(&target.source);
        let known = sources.iter().position(|known| *known == source);
        let note = known.unwrap_or_else(|| {
            sources.push(source);
            sources.len() - 1
        });
        let summary = target.summary();
        append!(out, "<td class=\"text\">{}</td><td>{}</td></tr>\n", esc(&summary), note + 1);
    }
    close_table(out);
    out.push_str("<p class=\"note\">Sources:");
    for (index, source) in sources.iter().enumerate() {
        let end = if index + 1 == sources.len() { "." } else { ";" };
        append!(out, " <b>{}</b> <bdi>{}</bdi>{end}", index + 1, esc(source));
    }
    out.push_str("</p>\n");
    close_section(out);
}
