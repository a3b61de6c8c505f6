//! Words that all forms of a snapshot share, and the short summary for the clipboard.

use super::reason::{Figure, FigureSet};
use super::{Snapshot, Source};
use crate::record::hop_seconds;
use crate::target::Verdict;
use crate::units::{one_decimal, signed_one_decimal, song_time};
use std::fmt::Write;

/// Stands for a song without a name.
const UNTITLED: &str = "Untitled song";

/// A verdict as a heading.
pub(super) const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "Within target",
        Verdict::NotWithin => "Not within target",
        Verdict::NotYet => "No verdict yet",
    }
}

/// `name` in one line: control characters become spaces.
pub(crate) fn one_line(name: &str) -> String {
    let spaced = name.replace(char::is_control, " ");
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// One decimal, or the sign for why there is none.
pub(crate) fn shown(figure: Figure) -> String {
    figure.map_or_else(|reason| reason.sign().to_owned(), one_decimal)
}

/// [`shown`] with a plus sign above zero.
pub(crate) fn shown_signed(figure: Figure) -> String {
    figure.map_or_else(|reason| reason.sign().to_owned(), signed_one_decimal)
}

/// A share in whole per cent, never 100 with a gap in it.
pub(super) fn per_cent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0).floor())
}

impl Snapshot {
    /// What the song is called: by its name, else by its track's.
    pub(super) fn title(&self) -> String {
        let names = [Some(self.about.song.as_str()), self.about.track.as_deref()];
        let named = names.into_iter().flatten().map(one_line).find(|name| !name.is_empty());
        named.unwrap_or_else(|| UNTITLED.to_owned())
    }

    /// How much was measured: "1:32.5 measured", or the share of a span with gaps.
    pub(super) fn measured_time(&self) -> String {
        let Some(extent) = &self.extent else {
            return "nothing measured".to_owned();
        };
        let span_s = i32::try_from(extent.len()).map_or(0.0, hop_seconds);
        let share = self.whole.figures.coverage.share();
        if share >= 1.0 {
            format!("{} measured without a gap", song_time(span_s, true))
        } else {
            format!("{} of {} measured", per_cent(share), song_time(span_s, true))
        }
    }

    /// Rate, channels, and what time counts: "48 000 Hz, stereo, song time".
    pub(super) fn format(&self) -> String {
        let mut parts = Vec::new();
        if let Some(rate) = self.about.rate {
            parts.push(format!("{} Hz", thousands(rate.hz())));
        }
        let layout = serde_json::to_value(self.about.layout).unwrap_or_default();
        parts.push(layout.as_str().unwrap_or_default().to_owned());
        match self.about.source {
            Source::Song => parts.push("song time".to_owned()),
            Source::Live => parts.push("time from the last reset".to_owned()),
            Source::File => {}
        }
        parts.join(", ")
    }

    /// A short summary in plain text, for the clipboard.
    #[must_use]
    pub fn summary(&self) -> String {
        let mut out = format!("{} · {}\n", self.title(), self.about.taken.in_words());
        let set = FigureSet::new(&self.whole, self.about.layout);
        if let Some(chosen) = self.chosen_target() {
            let _ = writeln!(
                out,
                "{}: {} ({})\n{}",
                verdict(chosen.distance.verdict()),
                one_line(&chosen.target.name),
                chosen.target.summary(),
                chosen.distance
            );
        }
        let peak_at = set
            .max_true_peak_s
            .map_or_else(|_| String::new(), |at_s| format!(" at {}", song_time(at_s, true)));
        let _ = writeln!(
            out,
            "Integrated {} LUFS · LRA {} LU · true peak {} dBTP{peak_at} · PLR {} LU\n\
             Max short-term {} LUFS · max momentary {} LUFS",
            shown(set.integrated_lufs),
            shown(set.loudness_range_lu),
            shown_signed(set.max_true_peak_dbtp),
            shown(set.plr_lu),
            shown(set.max_short_term_lufs),
            shown(set.max_momentary_lufs),
        );
        if let Some(distance) = self.chosen_target().map(|chosen| &chosen.distance)
            && let (Some(gain), Some(peak)) = (distance.gain_to_target, distance.peak_at_target)
        {
            let _ = write!(
                out,
                "Gain to target {} dB · peak at target {} dBTP",
                signed_one_decimal(gain.0),
                signed_one_decimal(peak.0)
            );
            if let Some(control) = distance.peak_control {
                let _ = write!(out, " · peak control {}", control);
            }
            out.push('\n');
        }
        for section in &self.sections {
            let set = FigureSet::new(&section.entry.measured, self.about.layout);
            let _ = writeln!(
                out,
                "{} {}: {} LUFS",
                song_time(section.section.start_s, false),
                one_line(&section.section.name),
                shown(set.integrated_lufs)
            );
        }
        let _ = writeln!(
            out,
            "{}, {} · Plimsoll {}",
            self.measured_time(),
            self.format(),
            self.about.plugin_version
        );
        out
    }
}

/// Groups of three digits with a space between.
fn thousands(value: u32) -> String {
    if value >= 1_000 {
        format!("{} {:03}", thousands(value / 1_000), value % 1_000)
    } else {
        value.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{NASTY, Song, empty};
    use super::*;

    #[test]
    fn the_summary_tells_verdict_figures_and_units_in_a_few_lines() {
        let snapshot = Song::new().snapshot();
        let text = snapshot.summary();
        assert!(text.starts_with("Lantern Tide · 2026-11-25 14:01 UTC\nNot within target: "));
        let whole = snapshot.whole.figures;
        for figure in [
            format!("Integrated {} · ", whole.integrated.unwrap()),
            format!("true peak {} at ", whole.max_true_peak.unwrap()),
            format!("Max short-term {} · ", whole.max_short_term.unwrap()),
            snapshot.chosen_target().unwrap().distance.to_string(),
            "83 % of 2:00.0 measured, 48 000 Hz, stereo, song time".to_owned(),
        ] {
            assert!(text.contains(&figure), "{figure}\n{text}");
        }
        assert!(text.lines().count() <= 10, "{text}");
    }

    #[test]
    fn names_never_break_a_line() {
        let lines = Song::new().snapshot().summary().lines().count();
        for name in NASTY {
            let mut snapshot = Song::new().snapshot();
            snapshot.about.song = name.to_owned();
            snapshot.sections[0].section.name = name.to_owned();
            snapshot.targets[0].target.name = name.to_owned();
            assert_eq!(snapshot.summary().lines().count(), lines, "{name:?}");
        }
    }

    #[test]
    fn nothing_reads_as_nothing() {
        let text = empty().summary();
        assert!(text.contains("Integrated – LUFS") && text.contains("nothing measured"), "{text}");
    }

    #[test]
    fn a_share_with_a_gap_never_reads_as_a_hundred() {
        assert_eq!(per_cent(0.999), "99 %");
        assert_eq!(per_cent(1.0), "100 %");
        assert_eq!(thousands(48_000), "48 000");
        assert_eq!(thousands(1_048_007), "1 048 007");
    }
}
