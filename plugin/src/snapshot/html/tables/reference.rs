//! The song beside its references.

use super::super::super::Snapshot;
use super::super::super::text::one_line;
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open};
use crate::reference::{BANDS_FROM_DB, Pool, RATIO_FROM_LU, Span, Stretch, WIDTH_FROM_DB};
use crate::units::{one_decimal, signed_one_decimal};
use std::fmt::Write;

/// What is shown of a stretch: song less reference.
type Shown = (Column, fn(&Pool) -> Option<Span>);

const SHOWN: [Shown; 9] = [
    (("LRA", "by LU", ""), |pool| pool.loudness_range),
    (("PLR", "by LU", ""), |pool| pool.plr),
    (("Lowest PSR", "by LU", ""), |pool| pool.min_psr),
    (("Low end", "by dB", ""), |pool| pool.low_end),
    (("Presence", "by dB", ""), |pool| pool.presence),
    (("Air", "by dB", ""), |pool| pool.air),
    (("Side to mid", "below 120 Hz, by dB", ""), |pool| pool.widths[0]),
    (("Side to mid", "to 4 kHz, by dB", ""), |pool| pool.widths[1]),
    (("Side to mid", "above, by dB", ""), |pool| pool.widths[2]),
];

/// Nothing where there is no reference.
pub(in super::super) fn put_reference(out: &mut String, snapshot: &Snapshot, id: &str) {
    let Some(comparison) = &snapshot.reference else {
        return;
    };
    let names: Vec<String> =
        comparison.names.iter().map(|name| esc(&one_line(name)).to_string()).collect();
    let heading = format!("Beside <bdi>{}</bdi>, at equal loudness", names.join("</bdi>, <bdi>"));
    let columns: Vec<Column> = [("Section", "", "text"), ("Against", "", "text")]
        .into_iter()
        .chain(SHOWN.iter().map(|(column, _)| *column))
        .collect();
    open(out, &format!("{id}reference"), &heading, &columns);
    put_row(out, "Whole song", &comparison.whole);
    for (index, stretch) in comparison.sections.iter().enumerate() {
        put_row(out, &format!("{}. {}", index + 1, one_line(&stretch.name)), stretch);
    }
    close_table(out);
    for observation in &comparison.observations {
        append!(out, "<p>{}</p>\n", esc(&one_line(&observation.to_string())));
    }
    append!(
        out,
        "<p class=\"note\">Song less reference. Told in words from {} dB in a band, {} dB of side \
         to mid and {} LU of a ratio on; own thresholds, no source. A difference is no fault.</p>\n",
        one_decimal(BANDS_FROM_DB),
        one_decimal(WIDTH_FROM_DB),
        one_decimal(RATIO_FROM_LU)
    );
    close_section(out);
}

fn put_row(out: &mut String, name: &str, stretch: &Stretch) {
    append!(out, "<tr><th scope=\"row\"><bdi>{}</bdi></th>", esc(name));
    let against: Vec<String> =
        stretch.their_names.iter().flatten().map(|name| esc(&one_line(name)).to_string()).collect();
    let against = if stretch.against_whole { "whole".to_owned() } else { against.join(", ") };
    append!(out, "<td class=\"text\"><bdi>{against}</bdi></td>");
    for (_, of) in SHOWN {
        let difference = stretch.ours.difference(&stretch.theirs, of);
        let by = difference.map(|difference| signed_one_decimal(difference.by()));
        cell(out, &by.unwrap_or_else(|| "–".to_owned()));
    }
    out.push_str("</tr>\n");
}
