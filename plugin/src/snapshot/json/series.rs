//! The series, as columns.

use super::super::reason::{Figure, Reason, level};
use super::super::{SERIES_STEP_HOPS, Series, SeriesPoint, float};
use crate::record::{HOPS_PER_SECOND, hop_seconds};
use serde::{Deserialize, Serialize};

/// Loudness and true peak over song time. Step number n, counted from 0, runs from
/// `start_s + n * step_s` on; the last one ends with the measurement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeriesDocument {
    /// Start of the first step, seconds of song time.
    pub start_s: f64,
    /// End of the last step, seconds of song time.
    pub end_s: f64,
    /// Length of a step, seconds.
    pub step_s: f64,
    /// Number of steps.
    pub steps: usize,
    /// Momentary loudness of the 400 ms that end with each step, LUFS.
    pub momentary_lufs: Vec<Option<f64>>,
    /// Short-term loudness of the 3 s that end with each step, LUFS.
    pub short_term_lufs: Vec<Option<f64>>,
    /// Highest true peak of each step, dBTP.
    pub true_peak_dbtp: Vec<Option<f64>>,
    /// The newest playthrough that measured in each step; `null` if none did.
    pub playthrough: Vec<Option<u32>>,
    /// Why steps are `null`.
    pub null_because: SeriesNulls,
}

/// Why steps are `null`, in runs.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SeriesNulls {
    /// Of the momentary loudness.
    pub momentary_lufs: Vec<NullRun>,
    /// Of the short-term loudness.
    pub short_term_lufs: Vec<NullRun>,
    /// Of the true peak.
    pub true_peak_dbtp: Vec<NullRun>,
}

/// Steps that are `null` for one reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NullRun {
    /// The first of them, counted from 0.
    pub from: usize,
    /// One past the last of them.
    pub to: usize,
    /// Why.
    pub reason: Reason,
}

/// The loudness of a window at a step: with no value, nothing was measured there, or there is a
/// gap in the window.
fn windowed(point: &SeriesPoint, value: Option<f64>) -> Figure {
    let missing = if point.true_peak.is_some() { Reason::NoWindow } else { Reason::NotMeasured };
    level(value, missing)
}

/// The three figures of a step: momentary, short-term, true peak.
pub(in super::super) fn figures_of_step(point: &SeriesPoint) -> [Figure; 3] {
    [
        windowed(point, point.momentary.map(|value| value.0)),
        windowed(point, point.short_term.map(|value| value.0)),
        level(point.true_peak.map(|value| value.0), Reason::NotMeasured),
    ]
}

impl From<&Series> for SeriesDocument {
    fn from(series: &Series) -> Self {
        let points = &series.points;
        let column = |figure: fn(&SeriesPoint) -> Figure| {
            let mut nulls: Vec<NullRun> = Vec::new();
            let values = points.iter().enumerate().map(|(index, point)| {
                let reason = match figure(point) {
                    Ok(value) => return Some(value),
                    Err(reason) => reason,
                };
                match nulls.last_mut() {
                    Some(run) if run.to == index && run.reason == reason => run.to = index + 1,
                    _ => nulls.push(NullRun { from: index, to: index + 1, reason }),
                }
                None
            });
            (values.collect(), nulls)
        };
        let (momentary_lufs, momentary_nulls) = column(|point| figures_of_step(point)[0]);
        let (short_term_lufs, short_term_nulls) = column(|point| figures_of_step(point)[1]);
        let (true_peak_dbtp, true_peak_nulls) = column(|point| figures_of_step(point)[2]);
        Self {
            start_s: series.start_s(),
            end_s: hop_seconds(series.end_hop),
            step_s: float(SERIES_STEP_HOPS) / f64::from(HOPS_PER_SECOND),
            steps: points.len(),
            momentary_lufs,
            short_term_lufs,
            true_peak_dbtp,
            playthrough: points.iter().map(|point| point.playthrough).collect(),
            null_because: SeriesNulls {
                momentary_lufs: momentary_nulls,
                short_term_lufs: short_term_nulls,
                true_peak_dbtp: true_peak_nulls,
            },
        }
    }
}
