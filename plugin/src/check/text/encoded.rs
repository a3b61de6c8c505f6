//! What arrives after a lossy encode, a line for each code.

use super::Page;
use crate::check::after_encode::{AfterEncode, Encoded};
use crate::units::one_decimal;
use plimsoll_encoder::{Encoding, Format, WITHOUT_ENCODER};

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
                Err(line) => self.look("Not encoded", &format!("{}: {line}", one.encoding)),
            }
        }
        self.line(&self.style.faint(
            "  A recipient's own encoder may differ: this shows how far peaks come back, not what \
             will arrive.",
        ));
        let mut left_out = WITHOUT_ENCODER.to_owned();
        if !Format::ALL.iter().any(|format| format.key() == "mp3") {
            left_out.push_str("; MP3 is not in this build (feature \"mp3\")");
        }
        self.line(&self.style.faint(&format!("  {left_out}.")));
    }

    fn arrived(&mut self, encoding: &Encoding, encoded: &Encoded) {
        let value = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), one_decimal);
        let change = |change: Option<f64>| {
            // Not "−0.00".
            let change = change.map(|change| if change.abs() < 5e-3 { 0.0 } else { change });
            change.map_or_else(String::new, |c| format!("({c:+.2})").replace('-', "−"))
        };
        let broken: Vec<String> = encoded
            .ceilings
            .iter()
            .filter(|ceiling| !ceiling.holds())
            .map(|ceiling| {
                format!("{:.2} dB over the ceiling of {}", ceiling.over.0, ceiling.target)
            })
            .collect();
        let remark = if !broken.is_empty() {
            broken.join("; ")
        } else if encoded.ceilings.is_empty() {
            String::new()
        } else {
            "every ceiling holds".to_owned()
        };
        let figures = &encoded.figures;
        let text = format!(
            "{:>8} {:<10}{:>8} {:<10}{remark}",
            value(figures.integrated.map(|v| v.0)),
            change(encoded.integrated_change.map(|v| v.0)),
            value(figures.max_true_peak.map(|v| v.0)),
            change(encoded.true_peak_change.map(|v| v.0)),
        );
        let name = format!("{:<26}", encoding.to_string());
        if broken.is_empty() {
            self.line(&format!("  {name}{text}"));
        } else {
            let start = self.style.alert(&format!("! {name}"));
            self.line(&format!("{start}{text}"));
        }
        if let Some(peak) = encoded.resampled_true_peak {
            self.line(&self.style.faint(&format!(
                "    at {} Hz: resampling alone brought the true peak to {peak}",
                encoded.rate_hz
            )));
        }
        if encoded.clipped_samples > 0 {
            self.line(&self.style.faint(&format!(
                "    {} samples over full scale were clipped first, as in a file of whole numbers",
                encoded.clipped_samples
            )));
        }
    }
}
