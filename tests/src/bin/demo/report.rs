//! The figures as a table for people and as JSON for programs.

use std::fmt::Write;
use std::path::PathBuf;

use plimsoll::loudness::Figures;
use plimsoll::record::hop_seconds;
use plimsoll::state::Measurement;
use plimsoll::target::{Distance, Target};
use plimsoll::units::{one_decimal, signed_one_decimal};
use serde_json::{Value, json};

use crate::progress::clock;
use crate::song::Song;

/// Everything that the demo found out.
#[derive(Debug)]
pub struct Report<'a> {
    /// What was played.
    pub song: &'a Song,
    /// What the plugin measured.
    pub measurement: &'a Measurement,
    /// The same figures as the meters give them: −∞ is measured silence.
    pub figures: &'a Figures,
    /// What it is compared with.
    pub target: &'a Target,
    /// How far it is from there.
    pub distance: &'a Distance,
}

/// A line of the table: label, value, unit, remark.
struct Line {
    label: &'static str,
    value: String,
    unit: &'static str,
    remark: String,
}

fn line(label: &'static str, value: Option<f64>, unit: &'static str) -> Line {
    Line {
        label,
        value: value.map_or_else(|| "–".to_owned(), one_decimal),
        unit,
        remark: String::new(),
    }
}

/// With a sign also above zero: a difference or a gain.
fn signed_line(label: &'static str, value: Option<f64>, unit: &'static str) -> Line {
    Line {
        value: value.map_or_else(|| "–".to_owned(), signed_one_decimal),
        ..line(label, value, unit)
    }
}

impl Report<'_> {
    /// The table. "–" is not measured, or no such limit in the target.
    pub fn table(&self) -> String {
        let audio = &self.song.audio;
        let channels = match audio.channels.len() {
            1 => "mono",
            _ => "stereo",
        };
        let mut out = format!(
            "\n{}: {} min, {} Hz, {channels}\n\n",
            self.song.name,
            clock(audio.len_s()),
            audio.rate_hz
        );
        rows(&mut out, &self.measured());
        let _ = write!(
            out,
            "\nTarget: {}\n        {}\n        {}\n\n",
            self.target.name,
            self.target.summary(),
            self.target.source
        );
        rows(&mut out, &self.to_target());
        let _ = write!(out, "\n{}\n", self.distance);
        let _ = write!(
            out,
            "\nThe meters without plugin and host give the same in every bit (record {}).\n",
            self.measurement.fingerprint
        );
        out
    }

    fn measured(&self) -> Vec<Line> {
        let figures = self.figures;
        let true_peak = figures.max_true_peak.map(|peak| peak.0);
        let place = figures.max_true_peak_hop.map(hop_seconds);
        let place = place.filter(|_| true_peak.is_some_and(f64::is_finite));
        vec![
            line("Integrated loudness (I)", figures.integrated.map(|v| v.0), "LUFS"),
            line("Loudness range (LRA)", figures.loudness_range.map(|v| v.0), "LU"),
            line("Highest short-term loudness (S)", figures.max_short_term.map(|v| v.0), "LUFS"),
            line("Highest momentary loudness (M)", figures.max_momentary.map(|v| v.0), "LUFS"),
            Line {
                remark: place.map_or_else(String::new, |at_s| format!("at {}", clock(at_s))),
                ..line("Highest true peak", true_peak, "dBTP")
            },
            line("Highest sample peak", figures.sample_peak.map(|v| v.0), "dBFS"),
            Line {
                value: figures.clipped_samples.to_string(),
                ..line("Samples at full scale", None, "")
            },
            line("Measured share of the song", Some(100.0 * figures.coverage.share()), "%"),
        ]
    }

    fn to_target(&self) -> [Line; 4] {
        let distance = self.distance;
        [
            signed_line("Distance", distance.distance.map(|v| v.0), "LU"),
            signed_line("Gain to target", distance.gain_to_target.map(|v| v.0), "dB"),
            line("Peak at target", distance.peak_at_target.map(|v| v.0), "dBTP"),
            line("Peak control", distance.peak_control.map(|v| v.0), "dB"),
        ]
    }

    /// Every figure, unrounded; null is not measured, silence, or no such limit.
    pub fn json(&self) -> String {
        // The saved figures are the plugin's own words, keys and all.
        let mut value = serde_json::to_value(&self.measurement.figures).unwrap_or_default();
        if let Value::Object(object) = &mut value {
            let distance = self.distance;
            object.insert("song".to_owned(), json!(self.song.name));
            object.insert("length_s".to_owned(), json!(self.song.audio.len_s()));
            object.insert("coverage".to_owned(), json!(self.figures.coverage.share()));
            object.insert("record".to_owned(), json!(self.measurement.fingerprint));
            object.insert(
                "target".to_owned(),
                json!({
                    "name": self.target.name,
                    "source": self.target.source,
                    "integrated_lufs": self.target.integrated.map(|goal| goal.loudness),
                    "tolerance_above_lu": self.target.integrated.map(|goal| goal.above),
                    "tolerance_below_lu": self.target.integrated.and_then(|goal| goal.below),
                    "true_peak_ceiling_dbtp": self.target.true_peak_ceiling,
                }),
            );
            object.insert(
                "distance".to_owned(),
                json!({
                    "distance_lu": distance.distance,
                    "gain_to_target_db": distance.gain_to_target,
                    "peak_at_target_dbtp": distance.peak_at_target,
                    "peak_control_db": distance.peak_control,
                    "headroom_db": distance.headroom,
                    "in_words": distance.to_string(),
                }),
            );
        }
        format!("{value:#}\n")
    }
}

fn rows(out: &mut String, lines: &[Line]) {
    for line in lines {
        let row = format!("  {:<33}{:>8} {:<5}{}", line.label, line.value, line.unit, line.remark);
        let _ = writeln!(out, "{}", row.trim_end());
    }
}

/// Where everything is.
pub fn places(written: &[(&str, PathBuf)]) -> String {
    let mut out = "Everything is here:".to_owned();
    for (what, path) in written {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.clone());
        let _ = write!(out, "\n  {what:<24}  {}", path.display());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use plimsoll::state::SavedFigures;
    use plimsoll::target::built_in_targets;
    use plimsoll_tests::audio_file::Audio;

    fn measurement() -> Measurement {
        Measurement {
            version: plimsoll::state::MEASUREMENT_VERSION,
            figures: SavedFigures {
                integrated_lufs: Some(-16.512_345),
                loudness_range_lu: None,
                max_momentary_lufs: Some(-10.0),
                max_short_term_lufs: None,
                max_true_peak_dbtp: Some(-0.5),
                max_true_peak_s: Some(69.4),
                sample_peak_dbfs: Some(-0.6),
                clipped_samples: 3,
                scrubbed_samples: 0,
                rate_hz: 48_000,
                channels: 2,
                frames: 96_000,
                measured_hops: 200,
                span_hops: 200,
                gaps: 0,
            },
            fingerprint: "0123456789abcdef".to_owned(),
        }
    }

    fn with_report<T>(check: impl FnOnce(&Report) -> T) -> T {
        let song = Song {
            name: "a.wav".to_owned(),
            audio: Audio { rate_hz: 48_000, channels: vec![vec![0.0; 96_000]; 2] },
            tempo_bpm: None,
            sections: Default::default(),
            references: Vec::new(),
            tweak: None,
        };
        let measurement = measurement();
        let target = built_in_targets().remove(0);
        let figures = Figures { max_true_peak_hop: Some(6_940), ..measurement.figures() };
        let distance = Distance::new(&figures, &target);
        check(&Report {
            song: &song,
            measurement: &measurement,
            figures: &figures,
            target: &target,
            distance: &distance,
        })
    }

    #[test]
    fn json_holds_every_promised_key_unrounded_and_null_where_nothing_was_measured() {
        let text = with_report(|report| report.json());
        let value: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(value["integrated_lufs"], json!(-16.512_345));
        assert_eq!(value["loudness_range_lu"], Value::Null);
        assert_eq!(value["frames"], json!(96_000));
        let object = value.as_object().unwrap();
        for key in [
            "max_momentary_lufs",
            "max_short_term_lufs",
            "max_true_peak_dbtp",
            "sample_peak_dbfs",
            "rate_hz",
        ] {
            assert!(object.contains_key(key), "{key}");
        }
        assert_eq!(value["distance"]["gain_to_target_db"], json!(2.512_345));
    }

    #[test]
    fn the_table_shows_units_one_decimal_and_a_dash_for_what_was_not_measured() {
        let table = with_report(|report| report.table());
        let row = |label: &str| {
            let found = table.lines().find(|line| line.trim_start().starts_with(label));
            found
                .unwrap()
                .split_whitespace()
                .skip(label.split(' ').count())
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(row("Integrated loudness (I)"), "−16.5 LUFS");
        assert_eq!(row("Loudness range (LRA)"), "– LU");
        assert_eq!(row("Highest true peak"), "−0.5 dBTP at 1:09.4");
        assert_eq!(row("Gain to target"), "+2.5 dB");
        assert_eq!(row("Peak at target"), "2.0 dBTP");
        assert_eq!(row("Peak control"), "3.0 dB");
    }
}
