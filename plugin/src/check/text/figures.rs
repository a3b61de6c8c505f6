//! The figures of a file with the second reading beside them.

use super::Page;
use crate::check::facts::{READINGS_AGREE, clock, figure_name, flaw_note, reading_difference};
use crate::check::{SecondReading, Track};
use crate::record::hop_seconds;
use crate::units::{one_decimal, signed_one_decimal};

struct Row {
    key: &'static str,
    value: Option<f64>,
    remark: String,
}

impl Page {
    /// All that the plugin measures.
    pub(super) fn figures(&mut self, track: &Track) {
        let measured = &track.measured;
        let figures = &measured.figures;
        let at = |hop: Option<i32>| {
            hop.map_or_else(String::new, |hop| format!("at {}", clock(hop_seconds(hop))))
        };
        let peak_is_finite = figures.max_true_peak.is_some_and(|peak| peak.0.is_finite());
        let row = |key, value, remark| Row { key, value, remark };
        let unsettled = if measured.loudness_range_stable { "" } else { "under 60 s: not settled" };
        let none = String::new;
        let peak_at = if peak_is_finite { at(figures.max_true_peak_hop) } else { none() };
        let mut rows = vec![
            row("integrated_lufs", figures.integrated.map(|v| v.0), none()),
            row("loudness_range_lu", figures.loudness_range.map(|v| v.0), unsettled.to_owned()),
            row("max_short_term_lufs", figures.max_short_term.map(|v| v.0), none()),
            row("max_momentary_lufs", figures.max_momentary.map(|v| v.0), none()),
            row("max_true_peak_dbtp", figures.max_true_peak.map(|v| v.0), peak_at),
            row("sample_peak_dbfs", figures.sample_peak.map(|v| v.0), none()),
            row("plr_lu", measured.plr().map(|v| v.0), none()),
            row("min_psr_lu", measured.min_psr.map(|v| v.0), at(measured.min_psr_hop)),
        ];
        if track.layout.channel_count() > 1 {
            rows.push(row("side_to_mid_db", measured.side_to_mid.map(|v| v.0), none()));
        }
        self.head("Measured");
        let title = if track.second.is_some() { "second reading" } else { "" };
        self.line(&self.style.faint(&format!("{:<43}{title}", "")));
        for row in rows {
            self.row(&row, track.second.as_ref());
        }
        if track.layout.channel_count() > 1 {
            let two = |value: Option<f64>| {
                value.map_or_else(|| "–".to_owned(), |v| format!("{v:+.2}").replace('-', "−"))
            };
            self.line(&format!(
                "  {:<26}{:>8}      lowest over 1 s {} {}",
                "Correlation",
                two(measured.correlation),
                two(measured.lowest_correlation),
                at(measured.lowest_correlation_hop)
            ));
        }
        self.tone(track);
        if let Some(second) = &track.second {
            self.agreement(second);
        }
    }

    /// Tone, width by range, and what is lost in mono; nothing where no second counts.
    fn tone(&mut self, track: &Track) {
        let Some(tone) = &track.measured.tone else { return };
        let db = |value: f64| one_decimal(value);
        let slope = tone.slope_db_per_octave.map_or_else(|| "–".to_owned(), db);
        self.fact(
            "Tone",
            &format!(
                "low end {}, presence {}, air {}, below 20 Hz {} dB of the whole; slope {slope} \
                 dB/octave",
                db(tone.low_end.0),
                db(tone.presence.0),
                db(tone.air.0),
                db(tone.subsonic.0)
            ),
        );
        if track.layout.channel_count() > 1 {
            let [low, middle, high] = tone
                .side_to_mid
                .map(|width| width.map_or_else(|| "–".to_owned(), |width| db(width.0)));
            self.fact(
                "Width",
                &format!(
                    "side to mid {low} dB below 120 Hz, {middle} to 4 kHz, {high} above; in mono \
                     {} LU; right to left {} dB",
                    signed_one_decimal(-tone.fold_down_loss.0),
                    track.measured.balance.map_or_else(|| "–".to_owned(), |by| db(by.0))
                ),
            );
        }
    }

    fn row(&mut self, row: &Row, second: Option<&SecondReading>) {
        let value = row.value.map_or_else(|| "–".to_owned(), one_decimal);
        let theirs = second.and_then(|second| second.figures.iter().find(|one| one.key == row.key));
        let theirs = theirs.map_or_else(String::new, |theirs| {
            let value = theirs.theirs.map_or_else(|| "–".to_owned(), one_decimal);
            let by = reading_difference(theirs);
            let by = if by.is_empty() { by } else { format!("({by})") };
            format!("{value:>6} {by:<9}")
        });
        let (name, unit) = figure_name(row.key);
        let line = format!("  {name:<26}{value:>8} {unit:<6}{theirs:<18}{}", row.remark);
        self.line(&line);
    }

    fn agreement(&mut self, second: &SecondReading) {
        let unexplained: Vec<_> = second.unexplained().collect();
        if unexplained.is_empty() {
            self.line(&self.style.faint(&format!("  {READINGS_AGREE}")));
        }
        for figure in unexplained {
            self.look("Second reading", &flaw_note(figure));
        }
    }
}
