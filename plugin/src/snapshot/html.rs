//! The snapshot as one page of HTML: no script, no outside resource, everything that comes from
//! people escaped. Reads from a phone to a desktop, by day and by night, and prints on A4.

mod escape;
mod head;
mod strip;
mod style;
mod tables;
mod words;

use super::Snapshot;
use super::reason::FigureSet;
use escape::esc;
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
        let title = self.title();
        let figures = FigureSet::new(&self.whole, self.about.layout);
        let mut out = String::with_capacity(64 * 1024);
        append!(
            out,
            "<!DOCTYPE html>\n<html lang=\"en\"><head>{META}<title>{} – loudness snapshot</title>\
             \n<style>\n{}</style></head>\n<body>\n",
            esc(&title),
            style::sheet()
        );
        head::put(&mut out, self, &title);
        out.push_str("<main>\n");
        head::put_verdict(&mut out, self, &figures);
        strip::put(&mut out, self);
        tables::put_arithmetic(&mut out, self, &figures);
        tables::put_sections(&mut out, self);
        tables::put_tone(&mut out, self);
        tables::put_reference(&mut out, self);
        out.push_str("<div class=\"pair\">\n");
        tables::put_peaks(&mut out, self);
        tables::put_comparison(&mut out, self);
        out.push_str("</div>\n");
        tables::put_targets(&mut out, self);
        words::put(&mut out);
        out.push_str("</main>\n");
        head::put_foot(&mut out, self);
        out.push_str("</body></html>\n");
        out
    }
}

#[cfg(test)]
mod tests;
