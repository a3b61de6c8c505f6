//! The peak ledger.

use super::super::super::PeaksDocument;
use super::super::super::text::{one_line, shown_signed};
use super::super::super::{Snapshot, TamingDocument};
use super::super::append;
use super::super::escape::esc;
use super::{Column, cell, close_section, close_table, open};
use crate::units::{Db, Dbtp, one_decimal, signed_one_decimal, song_time};
use std::fmt::Write;

/// Most peaks on the page: what fits on it in print.
const MOST: usize = 20;

pub(in super::super) fn put_peaks(out: &mut String, snapshot: &Snapshot, id: &str) {
    let peaks = PeaksDocument::from(snapshot);
    if peaks.events.is_empty() {
        return;
    }
    let with_bars = peaks.events.iter().any(|event| event.at_bars.is_some());
    let mut columns: Vec<Column> =
        vec![("No.", "", "text"), ("True peak", "dBTP", ""), ("At", "m:ss", "")];
    if with_bars {
        columns.push(("Bar", "", ""));
    }
    columns.extend([
        ("Section", "", "text"),
        ("Above section", "LU", ""),
        ("Taming frees", "dB", ""),
    ]);
    open(out, &format!("{id}peaks"), "Peaks that cost headroom", &columns);
    for (index, event) in peaks.events.iter().take(MOST).enumerate() {
        let is_over = peaks.ceiling_dbtp.is_some_and(|ceiling| event.true_peak_dbtp > ceiling);
        let peak = signed_one_decimal(event.true_peak_dbtp);
        append!(out, "<tr><th scope=\"row\">{}</th>", index + 1);
        if is_over {
            append!(out, "<td><span class=\"over\">over {peak}</span></td>");
        } else {
            cell(out, &peak);
        }
        cell(out, &song_time(event.at_s, true));
        if with_bars {
            let bar = event.at_bars.map(|bars| (bars.floor() + 1.0).to_string());
            cell(out, &bar.map_or_else(|| "–".to_owned(), |bar| bar.replace('-', "−")));
        }
        let section = event.section.as_deref().map_or_else(|| "–".to_owned(), one_line);
        append!(out, "<td class=\"text\"><bdi>{}</bdi></td>", esc(&section));
        let dash = || "–".to_owned();
        cell(out, &event.above_section_lu.map_or_else(dash, one_decimal));
        cell(out, &event.frees_db.map_or_else(dash, one_decimal));
        out.push_str("</tr>\n");
    }
    close_table(out);
    put_note(out, &peaks);
    close_section(out);
}

fn put_note(out: &mut String, peaks: &PeaksDocument) {
    out.push_str("<p class=\"note\">");
    if let Some(more) = peaks.events.len().checked_sub(MOST).filter(|&more| more > 0) {
        append!(out, "{more} more are in the JSON. ");
    }
    out.push_str(
        "Peaks within 200 ms are one. “Taming frees”: what bringing this and all higher ones down \
         to the next one gives back.",
    );
    if let Some(ceiling) = peaks.ceiling_dbtp.map(Dbtp) {
        let how = taming(&peaks.taming_to_ceiling);
        match peaks.over_ceiling {
            Some(0) => append!(out, " No peak is over the ceiling of {ceiling} now."),
            Some(count) => {
                append!(out, " Over the ceiling of {ceiling} now: {}{how}.", places(count))
            }
            None => {}
        }
        let how = taming(&peaks.taming_to_ceiling_at_target);
        match peaks.over_ceiling_at_target {
            Some(0) => out.push_str(" None with the gain to target."),
            Some(count) => append!(out, " With the gain to target: {}{how}.", places(count)),
            None => {}
        }
    }
    out.push_str("</p>\n");
}

fn places(count: usize) -> String {
    if count == 1 { "1 place".to_owned() } else { format!("{count} places") }
}

/// How much work the taming is.
fn taming(taming: &Option<TamingDocument>) -> String {
    taming.as_ref().map_or_else(String::new, |taming| {
        let mean = taming
            .mean_reduction_db
            .map_or_else(String::new, |mean| format!(", {} on average", Db(mean)));
        format!(
            ", to be brought down to {} dBTP ({} at most{mean})",
            shown_signed(Ok(taming.to_dbtp)),
            Db(taming.frees_db)
        )
    })
}
