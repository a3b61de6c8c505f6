//! Two versions of a file as text: what happened first, then what it stands on.

use super::Page;
use crate::check::compare::{
    Comparison, Null, Pair, Row, TONE_COUNTS_DB, Through, changed_bands, seconds, signed,
};
use crate::check::facts::{clock, format_line, name_of};
use crate::check::style::Style;
use crate::record::hop_seconds;
use crate::units::one_decimal;
use plimsoll_reader::Coding;

/// The comparison as text.
#[must_use]
pub fn compared_to_text(comparison: &Comparison, style: Style) -> String {
    let mut page = Page { out: String::new(), style };
    page.comparison(comparison);
    page.out
}

impl Page {
    fn comparison(&mut self, comparison: &Comparison) {
        let [old, new] = comparison.paths.each_ref().map(|path| name_of(path));
        self.head(&format!("{new} (NEW) compared with {old} (OLD)"));
        for (name, file) in ["OLD", "NEW"].iter().zip(&comparison.files) {
            let line =
                format!("{name}  {}", format_line(&file.facts, file.layout, file.length_s()));
            self.line(&self.style.faint(&line));
            for warning in &file.warnings {
                self.look("File", &format!("{name}: {warning}"));
            }
        }
        for warning in &comparison.warnings {
            self.look("Sections", warning);
        }
        self.line("");
        self.what_happened(comparison);
        if let Some(null) = &comparison.null {
            self.null(null, comparison);
        }
        let mut pairs = comparison.pairs.iter();
        if let Some(song) = pairs.next() {
            self.changes(song);
        }
        self.compared_sections(pairs.as_slice());
    }

    fn what_happened(&mut self, comparison: &Comparison) {
        let findings = comparison.findings();
        for finding in &findings {
            let start = self.style.alert("! ");
            self.line(&format!("{start}{}", finding.words));
        }
        let Some(null) = &comparison.null else { return };
        let line = match (findings.is_empty(), null.is_nothing()) {
            (true, _) if null.is_same => "  the same, to the bit".to_owned(),
            (true, _) => format!("  the same: what is left, {}, counts as nothing", null.level),
            (false, true) if null.is_same => {
                "  nothing else: the rest is the same to the bit".to_owned()
            }
            (false, true) => {
                format!("  nothing else: what is left, {}, counts as nothing", null.level)
            }
            (false, false) => return,
        };
        self.line(&line);
    }

    fn null(&mut self, null: &Null, comparison: &Comparison) {
        let rate_hz = comparison.rate_hz.unwrap_or(1);
        self.head("Null: NEW less OLD, aligned, gain taken away");
        self.fact("Depth", &format!("{} to NEW; what is left: {} RMS", null.depth, null.level));
        self.fact("Counts as nothing", &format!("below {} RMS in 100 ms", null.limit));
        if let Some(alignment) = &comparison.alignment {
            let [together, all] = alignment.stretches;
            self.fact(
                "Alignment",
                &format!(
                    "{together} of {all} stretches of 1 s go together, mean correlation {:.3}",
                    alignment.correlation
                ),
            );
        }
        self.fact("Gain", &format!("{} dB, OLD to NEW", signed(null.gain.0, 2)));
        if !null.is_nothing() {
            let places = null.loudest.iter().map(|place| {
                format!("{} ({})", clock(seconds(place.frame, rate_hz)), one_decimal(place.level.0))
            });
            let places: Vec<String> = places.collect();
            self.fact("Most is left at", &format!("{} dBFS", places.join(", ")));
        }
        if comparison.files.iter().any(|file| file.facts.coding == Coding::Lossy) {
            self.fact("Lossy", "what a lossy code took away and added is left, at best");
        }
        if let [Some(old), Some(new)] = comparison.files.each_ref().map(bits)
            && old != new
        {
            self.fact("Bits in use", &format!("{new}, before {old}"));
        }
    }

    /// What the song measures in both.
    fn changes(&mut self, song: &Pair) {
        self.head("Measured");
        let title = format!("  {:<26}{:>8}{:>9}{:>9}", "", "OLD", "NEW", "change");
        self.line(&self.style.faint(&title));
        let value = |value: Option<f64>, digits: usize| {
            value.map_or_else(|| "–".to_owned(), |v| unsigned(v, digits))
        };
        for row in song.rows() {
            let digits = if row.key == "correlation" { 2 } else { 1 };
            let by = row.by().map_or_else(|| "–".to_owned(), |by| signed(by, 2));
            self.line(&format!(
                "  {:<26}{:>8}{:>9}{by:>9} {}",
                row.label,
                value(row.old, digits),
                value(row.new, digits),
                row.unit
            ));
        }
        let bands = changed_bands(song);
        let text = if bands.is_empty() {
            format!("no band changed by {TONE_COUNTS_DB} dB")
        } else {
            bands.join(", ")
        };
        self.fact("At equal loudness", &text);
    }

    /// A line for each section.
    fn compared_sections(&mut self, sections: &[Pair]) {
        if sections.is_empty() {
            return;
        }
        self.head("Sections, NEW less OLD");
        self.line(
            &self
                .style
                .faint("  from        to              I LU  LRA LU   TP dB  PLR LU  side dB  name"),
        );
        for section in sections {
            let rows = section.rows();
            let by = |key: &str| {
                let row = rows.iter().find(|row| row.key == key);
                row.and_then(Row::by).map_or_else(|| "–".to_owned(), |by| signed(by, 2))
            };
            self.line(&format!(
                "  {:<11} {:<11} {:>8}{:>8}{:>8}{:>8}{:>9}  {}",
                clock(hop_seconds(section.range.start)),
                clock(hop_seconds(section.range.end)),
                by("integrated_lufs"),
                by("loudness_range_lu"),
                by("max_true_peak_dbtp"),
                by("peak_to_loudness_lu"),
                by("side_to_mid_db"),
                section.name
            ));
            let bands = changed_bands(section);
            if !bands.is_empty() {
                self.line(&format!("    at equal loudness: {}", bands.join(", ")));
            }
        }
    }
}

/// The bits that a file uses, in words; `None` for a lossy code.
fn bits(file: &Through) -> Option<String> {
    match (file.facts.coding, file.bit_depth.used_bits) {
        (Coding::Lossy, _) => None,
        (_, Some(bits)) => Some(format!("{bits} bits")),
        (_, None) => Some("finer than 24 bits".to_owned()),
    }
}

fn unsigned(value: f64, digits: usize) -> String {
    if value.is_finite() && digits != 1 {
        format!("{value:.digits$}").replace('-', "−")
    } else {
        one_decimal(value)
    }
}
