//! Why a figure has no number. JSON knows no infinity, and "nothing" alone would hide whether it
//! is silence or time that was not measured.

use crate::meters::layout::Layout;
use crate::section::Measured;
use crate::tone::Tone;
use crate::units::Db;
use serde::{Deserialize, Serialize};

/// Why a figure has no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// Nothing was measured.
    NotMeasured,
    /// Something was measured, but no stretch without a gap is as long as the figure needs, or
    /// none of them lies above its gate.
    NoWindow,
    /// Measured, and it is silence: zero, or nothing above the gate.
    Silence,
    /// One channel, or two that are the same: no side, so its level is −∞ dB.
    Mono,
    /// Two channels of opposite polarity: no mid, so the side is +∞ dB above it.
    NoMid,
    /// The target sets no such limit.
    NoLimit,
    /// There are not two to compare, or one of them has no number.
    NotInBoth,
}

impl Reason {
    /// As in the JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::NotMeasured => "not_measured",
            Self::NoWindow => "no_window",
            Self::Silence => "silence",
            Self::Mono => "mono",
            Self::NoMid => "no_mid",
            Self::NoLimit => "no_limit",
            Self::NotInBoth => "not_in_both",
        }
    }

    /// In a table for people.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Silence => "−∞",
            Self::Mono => "mono",
            Self::NoMid => "no mid",
            _ => "–",
        }
    }
}

/// A figure: its number, or why there is none.
pub(crate) type Figure = Result<f64, Reason>;

/// A level: −∞ is silence, nothing is `missing`.
pub(crate) fn level(value: Option<f64>, missing: Reason) -> Figure {
    match value {
        Some(value) if value.is_finite() => Ok(value),
        Some(_) => Err(Reason::Silence),
        None => Err(missing),
    }
}

/// The figures of a range of song time, each with its key in the JSON.
pub(crate) struct FigureSet {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Figure,
    /// Loudness range, LU.
    pub loudness_range_lu: Figure,
    /// Highest momentary loudness, LUFS.
    pub max_momentary_lufs: Figure,
    /// Highest short-term loudness, LUFS.
    pub max_short_term_lufs: Figure,
    /// Highest true peak, dBTP.
    pub max_true_peak_dbtp: Figure,
    /// Its place, seconds.
    pub max_true_peak_s: Figure,
    /// Highest sample peak, dBFS.
    pub sample_peak_dbfs: Figure,
    /// Peak to loudness ratio, LU.
    pub plr_lu: Figure,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr_lu: Figure,
    /// Correlation of left and right.
    pub correlation: Figure,
    /// Its lowest value over 1 s.
    pub lowest_correlation: Figure,
    /// Side to mid, dB.
    pub side_to_mid_db: Figure,
    /// Right to left, dB: power of R to that of L; above 0 the right channel is the stronger one.
    pub balance_db: Figure,
    /// Share of the power below 20 Hz, a steady offset left out, dB.
    pub subsonic_db: Figure,
    /// Share of the power from 20 to 120 Hz, dB.
    pub low_end_db: Figure,
    /// Share of the power in the bands of 2 to 5 kHz (1.78 to 5.62 kHz), dB.
    pub presence_db: Figure,
    /// Share of the power from 10 kHz to the end of the 20 kHz band, dB.
    pub air_db: Figure,
    /// Slope of the power per Hz from 100 Hz to 10 kHz, dB per octave: white noise 0, pink −3.0.
    pub slope_db_per_octave: Figure,
    /// Side to mid below 120 Hz, dB.
    pub side_to_mid_low_db: Figure,
    /// Side to mid from 120 Hz to 4 kHz, dB.
    pub side_to_mid_middle_db: Figure,
    /// Side to mid above 4 kHz, dB.
    pub side_to_mid_high_db: Figure,
    /// Loudness lost when both channels are folded to mono, LU: K-weighted power of mid and side to that of the mid, over the seconds above −70 LUFS, without a relative gate.
    pub fold_down_loss_lu: Figure,
}

impl FigureSet {
    /// The figures of `measured`, of a record with these channels.
    pub fn new(measured: &Measured, layout: Layout) -> Self {
        let figures = &measured.figures;
        let is_measured = figures.frames > 0;
        let none = Reason::NotMeasured;
        let no_window = if is_measured { Reason::NoWindow } else { none };
        let true_peak = level(figures.max_true_peak.map(|v| v.0), none);
        let integrated = level(figures.integrated.map(|v| v.0), no_window);
        // Of left and right: with nothing in one of them there is nothing to relate.
        let no_pair = match layout {
            _ if !is_measured => none,
            Layout::Mono => Reason::Mono,
            _ if figures.coverage.measured_hops == 0 => Reason::NoWindow,
            _ => Reason::Silence,
        };
        let correlation = measured.correlation.ok_or(no_pair);
        let width = |width: Option<Db>| match (layout, width.map(|v| v.0)) {
            (Layout::Mono, Some(_)) => Err(Reason::Mono),
            (_, Some(f64::NEG_INFINITY)) => Err(Reason::Mono),
            (_, Some(f64::INFINITY)) => Err(Reason::NoMid),
            (_, value) => value.ok_or(no_pair),
        };
        // Measured, and no second counts.
        let tone = measured.tone.as_deref().ok_or(no_window);
        let share = |of: fn(&Tone) -> Db| level(tone.ok().map(|tone| of(tone).0), no_window);
        let range = |index: usize| {
            tone.and_then(|tone| width(tone.side_to_mid.get(index).copied().flatten()))
        };
        Self {
            integrated_lufs: integrated,
            loudness_range_lu: figures.loudness_range.map(|v| v.0).ok_or(no_window),
            max_momentary_lufs: level(figures.max_momentary.map(|v| v.0), no_window),
            max_short_term_lufs: level(figures.max_short_term.map(|v| v.0), no_window),
            max_true_peak_dbtp: true_peak,
            max_true_peak_s: true_peak
                .and_then(|_| measured.max_true_peak_s().ok_or(Reason::NotMeasured)),
            sample_peak_dbfs: level(figures.sample_peak.map(|v| v.0), none),
            plr_lu: measured
                .plr()
                .map(|v| v.0)
                .ok_or_else(|| true_peak.and(integrated).err().unwrap_or(no_window)),
            min_psr_lu: measured.min_psr.map(|v| v.0).ok_or(no_window),
            correlation,
            lowest_correlation: correlation
                .and_then(|_| measured.lowest_correlation.ok_or(Reason::NoWindow)),
            side_to_mid_db: width(measured.side_to_mid),
            balance_db: match layout {
                Layout::Mono => Err(no_pair),
                _ => level(measured.balance.map(|v| v.0), no_pair),
            },
            subsonic_db: share(|tone| tone.subsonic),
            low_end_db: share(|tone| tone.low_end),
            presence_db: share(|tone| tone.presence),
            air_db: share(|tone| tone.air),
            slope_db_per_octave: tone
                .and_then(|tone| tone.slope_db_per_octave.ok_or(Reason::Silence)),
            side_to_mid_low_db: range(0),
            side_to_mid_middle_db: range(1),
            side_to_mid_high_db: range(2),
            fold_down_loss_lu: tone.and_then(|tone| match tone.fold_down_loss.0 {
                loss if loss.is_finite() => Ok(loss),
                _ => Err(Reason::NoMid),
            }),
        }
    }

    /// Every figure under its key.
    pub const fn entries(&self) -> [(&'static str, Figure); 22] {
        [
            ("integrated_lufs", self.integrated_lufs),
            ("loudness_range_lu", self.loudness_range_lu),
            ("max_momentary_lufs", self.max_momentary_lufs),
            ("max_short_term_lufs", self.max_short_term_lufs),
            ("max_true_peak_dbtp", self.max_true_peak_dbtp),
            ("max_true_peak_s", self.max_true_peak_s),
            ("sample_peak_dbfs", self.sample_peak_dbfs),
            ("plr_lu", self.plr_lu),
            ("min_psr_lu", self.min_psr_lu),
            ("correlation", self.correlation),
            ("lowest_correlation", self.lowest_correlation),
            ("side_to_mid_db", self.side_to_mid_db),
            ("balance_db", self.balance_db),
            ("subsonic_db", self.subsonic_db),
            ("low_end_db", self.low_end_db),
            ("presence_db", self.presence_db),
            ("air_db", self.air_db),
            ("slope_db_per_octave", self.slope_db_per_octave),
            ("side_to_mid_low_db", self.side_to_mid_low_db),
            ("side_to_mid_middle_db", self.side_to_mid_middle_db),
            ("side_to_mid_high_db", self.side_to_mid_high_db),
            ("fold_down_loss_lu", self.fold_down_loss_lu),
        ]
    }
}
