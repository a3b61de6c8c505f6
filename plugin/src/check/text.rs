//! The report as text for people: the verdicts first, then what they stand on, then everything
//! that a recipient would send back. A line that is to be looked at begins with "!".

mod encoded;
mod figures;

use super::facts::{self, Fact, Facts, clock, format_line, name_of};
use super::style::Style;
use super::{CheckReport, Release, TargetVerdict, Track};
use crate::section::LogEntry;
use crate::target::Verdict;
use crate::units::{one_decimal, signed_one_decimal};
use std::fmt::Write;
use std::path::Path;

/// The report as text; files that could not be measured are not in it.
#[must_use]
pub fn to_text(report: &CheckReport, style: Style) -> String {
    let mut page = Page { out: String::new(), style };
    for track in &report.tracks {
        if let Ok(measured) = &track.outcome {
            page.track(&track.path, measured);
        }
    }
    if let Some(release) = &report.release {
        page.release(release, report);
    }
    page.out
}

/// What is written so far.
struct Page {
    out: String,
    style: Style,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.out.push_str(line.trim_end());
        self.out.push('\n');
    }

    /// A headline with an empty line before it.
    fn head(&mut self, head: &str) {
        let head = self.style.strong(head);
        self.line(&format!("\n{head}"));
    }

    fn track(&mut self, path: &Path, track: &Track) {
        self.head(&name_of(path));
        self.line(&self.style.faint(&format_line(track)));
        for warning in &track.warnings {
            self.look("File", warning);
        }
        self.line("");
        for verdict in &track.verdicts {
            self.verdict(verdict);
        }
        self.figures(track);
        if !track.sections.is_empty() {
            self.sections(&track.sections);
        }
        for Facts { heading, facts } in Facts::of(track) {
            self.head(heading);
            self.facts(facts);
        }
        self.encoded(&track.after_encode);
    }

    fn verdict(&mut self, verdict: &TargetVerdict) {
        let TargetVerdict { target, distance } = verdict;
        let (mark, word) = match distance.verdict() {
            Verdict::Within => (" ", "within    "),
            Verdict::NotWithin => ("!", "not within"),
            Verdict::NotYet => ("!", "cannot say"),
        };
        let start = format!("{mark} {word}");
        let start = if mark == "!" { self.style.alert(&start) } else { start };
        let mut line = format!("{start}  {:<34}", target.name);
        if let (Some(gain), Some(peak)) = (distance.playback_gain, distance.peak_at_target) {
            let played = peak.0 - distance.gain_to_target.map_or(0.0, |gain| gain.0) + gain.0;
            let _ = write!(
                line,
                "played with {} dB, peak then {} dBTP",
                signed_one_decimal(gain.0),
                one_decimal(played)
            );
        }
        self.line(&line);
        self.line(&self.style.faint(&format!("              {}", target.summary())));
        self.line(&format!("              {distance}"));
    }

    fn sections(&mut self, sections: &[LogEntry]) {
        self.head("Sections");
        self.line(
            &self.style.faint("  from        to          I LUFS   max S    TP dBTP  step LU  name"),
        );
        for entry in sections {
            let figures = &entry.measured.figures;
            let value = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), one_decimal);
            let step = entry.louder_by.map_or_else(String::new, |by| signed_one_decimal(by.0));
            let line = format!(
                "  {:<11} {:<11} {:>6}  {:>6}   {:>7}  {:>7}  {}",
                clock(crate::record::hop_seconds(entry.range.start)),
                clock(crate::record::hop_seconds(entry.range.end)),
                value(figures.integrated.map(|v| v.0)),
                value(figures.max_short_term.map(|v| v.0)),
                value(figures.max_true_peak.map(|v| v.0)),
                step,
                entry.name
            );
            self.line(&line);
        }
    }

    fn release(&mut self, release: &Release, report: &CheckReport) {
        self.head(&format!("The release: {} tracks", release.tracks));
        for track in &report.tracks {
            let (value, name) = match &track.outcome {
                Ok(measured) => {
                    let integrated = measured.measured.figures.integrated;
                    (integrated.map_or_else(|| "–".to_owned(), |v| one_decimal(v.0)), &track.path)
                }
                Err(_) => ("–".to_owned(), &track.path),
            };
            self.line(&format!("  {value:>6} LUFS  {}", name_of(name)));
        }
        self.facts(facts::of_release(release, report));
    }

    fn facts(&mut self, facts: Vec<Fact>) {
        for Fact { name, text, is_look } in facts {
            if is_look {
                self.look(name, &text);
            } else {
                self.fact(name, &text);
            }
        }
    }

    /// A fact: its name and what is to be said.
    fn fact(&mut self, name: &str, text: &str) {
        self.line(&format!("  {name:<20}{text}"));
    }

    /// A fact that is to be looked at.
    fn look(&mut self, name: &str, text: &str) {
        let start = self.style.alert(&format!("! {name:<20}"));
        self.line(&format!("{start}{text}"));
    }
}
