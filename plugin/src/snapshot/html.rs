//! The snapshot as one page of HTML: no script, no outside resource, everything that comes from
//! people escaped. Reads from a phone to a desktop, by day and by night, and prints on A4.

mod escape;
mod head;
mod strip;
mod style;
pub(crate) mod tables;
mod words;

pub(crate) use escape::esc;
pub(crate) use head::{put_foot, put_header};
pub(crate) use words::put_words;

use super::Snapshot;
use super::reason::FigureSet;
use std::fmt::Write;

/// `write!` to a string, which cannot fail.
macro_rules! append {
    ($out:expr, $($rest:tt)*) => {{
        let _ = write!($out, $($rest)*);
    }};
}
use append;

/// The rest of the page's head. Nothing may be fetched, whatever a name holds.
const META: &str = "<meta charset=\"utf-8\">\
    <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
    <meta name=\"color-scheme\" content=\"light dark\">\
    <meta name=\"referrer\" content=\"no-referrer\">\
    <meta http-equiv=\"Content-Security-Policy\" \
    content=\"default-src 'none'; style-src 'unsafe-inline'\">";

impl Snapshot {
    /// The snapshot as one self-contained page.
    #[must_use]
    pub fn html(&self) -> String {
        let title = format!("{} – loudness snapshot", self.title());
        document(&title, |out| {
            put_header(out, self);
            out.push_str("<main>\n");
            put_measured(out, self, "");
            put_words(out);
            out.push_str("</main>\n");
            put_foot(out, self);
        })
    }
}

/// A page with this title; `put_body` writes what is in its body.
pub(crate) fn document(title: &str, put_body: impl FnOnce(&mut String)) -> String {
    let mut out = String::with_capacity(64 * 1024);
    append!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head>{META}<title>{}</title>\
         \n<style>\n{}</style></head>\n<body>\n",
        esc(title),
        style::sheet()
    );
    put_body(&mut out);
    out.push_str("</body></html>\n");
    out
}

/// Everything measured, the verdict first. What carries an id on the page has `id` before it, so
/// that several can stand on one page.
pub(crate) fn put_measured(out: &mut String, snapshot: &Snapshot, id: &str) {
    let figures = FigureSet::new(&snapshot.whole, snapshot.about.layout);
    head::put_verdict(out, snapshot, &figures, id);
    strip::put(out, snapshot, id);
    tables::put_arithmetic(out, snapshot, &figures, id);
    tables::put_sections(out, snapshot, id);
    tables::put_tone(out, snapshot, id);
    tables::put_reference(out, snapshot, id);
    out.push_str("<div class=\"pair\">\n");
    tables::put_peaks(out, snapshot, id);
    tables::put_comparison(out, snapshot, id);
    out.push_str("</div>\n");
    tables::put_targets(out, snapshot, id);
}

#[cfg(test)]
mod tests;
