//! The section log and the loudness series as CSV (RFC 4180): CRLF, a header with units, a
//! decimal point, UTF-8 without a byte order mark.
//!
//! A figure without a number is empty if it was not measured, else the word for it ("silence",
//! "mono" …, see [`Reason`]).
//!
//! **Formulas.** A spreadsheet runs a cell that begins with `=`, `+`, `-`, `@` (in full width too),
//! a tab or a line end. Names come from people, so a name that begins with one of them, or with an
//! apostrophe, gets an apostrophe in front ([`guarded`]): spreadsheets then take it for text. A
//! program that reads the file drops the first apostrophe of a name that begins with one. Numbers
//! and words of our own are never changed.

use super::json::figures_of_step;
use super::reason::{Figure, FigureSet, Reason};
use super::{Snapshot, SnapshotSection};
use crate::meters::layout::Layout;
use crate::record::hop_seconds;
use std::borrow::Cow;

/// Columns of the section log that stand before and after the figures of
/// [`FigureSet::entries`].
const BEFORE_FIGURES: [&str; 4] = ["section_id", "name", "start_s", "end_s"];
const AFTER_FIGURES: [&str; 5] =
    ["louder_by_lu", "wider_by_db", "clipped_samples", "scrubbed_samples", "coverage"];

/// Columns of the series.
const SERIES: [&str; 6] =
    ["start_s", "end_s", "momentary_lufs", "short_term_lufs", "true_peak_dbtp", "playthrough"];

impl Snapshot {
    /// The section log as CSV.
    #[must_use]
    pub fn sections_csv(&self) -> String {
        let layout = self.about.layout;
        let keys = FigureSet::new(&self.whole, layout).entries().map(|(key, _)| key);
        let header = BEFORE_FIGURES.into_iter().chain(keys).chain(AFTER_FIGURES);
        let mut out = String::new();
        row(&mut out, header.map(Cow::Borrowed));
        for section in &self.sections {
            row(&mut out, section_cells(section, layout));
        }
        out
    }

    /// The loudness series as CSV, a line for each 100 ms.
    #[must_use]
    pub fn loudness_csv(&self) -> String {
        let mut out = String::new();
        row(&mut out, SERIES.map(Cow::Borrowed));
        for (index, point) in self.series.points.iter().enumerate() {
            let hops = self.series.hops(index);
            let times = [hop_seconds(hops.start), hop_seconds(hops.end)].map(number);
            let playthrough = point.playthrough.map_or_else(String::new, |n| n.to_string());
            let figures = figures_of_step(point).map(cell);
            row(&mut out, times.into_iter().chain(figures).chain([Cow::Owned(playthrough)]));
        }
        out
    }
}

fn section_cells(
    section: &SnapshotSection,
    layout: Layout,
) -> impl Iterator<Item = Cow<'static, str>> {
    let SnapshotSection { section, entry } = section;
    let measured = &entry.measured;
    let before = [
        Cow::Owned(section.id.to_string()),
        Cow::Owned(guarded(&section.name).into_owned()),
        number(section.start_s),
        number(section.end_s),
    ];
    let steps = [entry.louder_by.map(|by| by.0), entry.wider_by.map(|by| by.0)];
    let steps = steps.map(|by| cell(by.ok_or(Reason::NotMeasured)));
    let counts = [measured.figures.clipped_samples, measured.figures.scrubbed_samples];
    let figures = FigureSet::new(measured, layout).entries();
    before
        .into_iter()
        .chain(figures.map(|(_, figure)| cell(figure)))
        .chain(steps)
        .chain(counts.map(|count| Cow::Owned(count.to_string())))
        .chain([number(measured.figures.coverage.share())])
}

/// A line: commas between the cells, CRLF at its end.
pub(crate) fn row<'a>(out: &mut String, cells: impl IntoIterator<Item = Cow<'a, str>>) {
    for (index, cell) in cells.into_iter().enumerate() {
        if index > 0 {
            out.push(',');
        }
        out.push_str(&quoted(&cell));
    }
    out.push_str("\r\n");
}

/// Quotes what RFC 4180, §2.6 and §2.7 want quoted.
fn quoted(cell: &str) -> Cow<'_, str> {
    if cell.contains(['"', ',', '\r', '\n']) {
        Cow::Owned(format!("\"{}\"", cell.replace('"', "\"\"")))
    } else {
        Cow::Borrowed(cell)
    }
}

/// A name that a spreadsheet takes for text, whatever it begins with.
pub(crate) fn guarded(name: &str) -> Cow<'_, str> {
    const STARTS: [char; 12] = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r', '\n', '\''];
    if name.starts_with(STARTS) { Cow::Owned(format!("'{name}")) } else { Cow::Borrowed(name) }
}

/// The shortest decimals that read as this number again.
pub(crate) fn number(value: f64) -> Cow<'static, str> {
    Cow::Owned(value.to_string())
}

pub(crate) fn cell(figure: Figure) -> Cow<'static, str> {
    match figure {
        Ok(value) => number(value),
        Err(Reason::NotMeasured) => Cow::Borrowed(""),
        Err(reason) => Cow::Borrowed(reason.key()),
    }
}

#[cfg(test)]
mod tests;
