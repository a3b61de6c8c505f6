//! Tone and width of the song and of each section.

use super::super::super::Snapshot;
use super::super::super::reason::FigureSet;
use super::super::super::text::{one_line, shown, shown_signed};
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open};
use crate::section::Measured;
use std::fmt::Write;

const COLUMNS: [Column; 11] = [
    ("Section", "", "text"),
    ("Below 20 Hz", "dB of the whole", ""),
    ("Low end", "to 120 Hz, dB", ""),
    ("Presence", "2 to 5 kHz, dB", ""),
    ("Air", "from 10 kHz, dB", ""),
    ("Slope", "dB/octave", ""),
    ("Side to mid", "below 120 Hz, dB", ""),
    ("Side to mid", "to 4 kHz, dB", ""),
    ("Side to mid", "above, dB", ""),
    ("Lost in mono", "LU", ""),
    ("Right to left", "dB", ""),
];

/// Nothing where no second of the song counts.
pub(in super::super) fn put_tone(out: &mut String, snapshot: &Snapshot, id: &str) {
    if snapshot.whole.tone.is_none() {
        return;
    }
    open(out, &format!("{id}tone"), "Tone and width", &COLUMNS);
    put_row(out, snapshot, "Whole song", &snapshot.whole);
    for (index, section) in snapshot.sections.iter().enumerate() {
        let name = format!("{}. {}", index + 1, one_line(&section.section.name));
        put_row(out, snapshot, &name, &section.entry.measured);
    }
    close_table(out);
    close_section(out);
}

fn put_row(out: &mut String, snapshot: &Snapshot, name: &str, measured: &Measured) {
    let set = FigureSet::new(measured, snapshot.about.layout);
    append!(out, "<tr><th scope=\"row\"><bdi>{}</bdi></th>", esc(name));
    for text in [
        shown(set.subsonic_db),
        shown(set.low_end_db),
        shown(set.presence_db),
        shown(set.air_db),
        shown_signed(set.slope_db_per_octave),
        shown(set.side_to_mid_low_db),
        shown(set.side_to_mid_middle_db),
        shown(set.side_to_mid_high_db),
        shown(set.fold_down_loss_lu),
        shown_signed(set.balance_db),
    ] {
        cell(out, &text);
    }
    out.push_str("</tr>\n");
}
