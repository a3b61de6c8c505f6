//! What arrives after a lossy encode, a line for each code.

use super::Page;
use crate::check::after_encode::{AfterEncode, Encoded};
use crate::check::facts::encoded;
use crate::units::one_decimal;
use plimsoll_encoder::Encoding;

impl Page {
    /// All encodes of a file; nothing where none was asked for.
    pub(super) fn encoded(&mut self, all: &[AfterEncode]) {
        if all.is_empty() {
            return;
        }
        self.head("After a lossy encode");
        self.line(&self.style.faint(&format!(
            "  {:<26}{:>8} {:<10}{:>8} {:<10}",
            "", "I LUFS", "(change)", "TP dBTP", "(change)"
        )));
        for one in all {
            match &one.outcome {
                Ok(encoded) => self.arrived(&one.encoding, encoded),
                Err(line) => self.look("Not encoded", &encoded::not_encoded(one, line)),
            }
        }
        for line in encoded::caution() {
            self.line(&self.style.faint(&format!("  {line}")));
        }
    }

    fn arrived(&mut self, encoding: &Encoding, encoded: &Encoded) {
        let value = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), one_decimal);
        let change = |change: Option<f64>| match encoded::change(change) {
            by if by.is_empty() => by,
            by => format!("({by})"),
        };
        let (is_look, remark) = encoded::ceilings(encoded);
        let figures = &encoded.figures;
        let text = format!(
            "{:>8} {:<10}{:>8} {:<10}{remark}",
            value(figures.integrated.map(|v| v.0)),
            change(encoded.integrated_change.map(|v| v.0)),
            value(figures.max_true_peak.map(|v| v.0)),
            change(encoded.true_peak_change.map(|v| v.0)),
        );
        let name = format!("{:<26}", encoding.to_string());
        if is_look {
            let start = self.style.alert(&format!("! {name}"));
            self.line(&format!("{start}{text}"));
        } else {
            self.line(&format!("  {name}{text}"));
        }
        for note in encoded::before_encoding(encoded) {
            self.line(&self.style.faint(&format!("    {note}")));
        }
    }
}
