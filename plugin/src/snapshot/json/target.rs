//! Targets and the distance to them.

use super::super::TargetResult;
use super::super::reason::{Figure, Reason, level};
use super::{NullBecause, noted};
use crate::section::Measured;
use crate::target::{Target, Verdict};
use serde::{Deserialize, Serialize};

/// A delivery target; `null` is no such limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetDocument {
    /// Its name.
    pub name: String,
    /// The document it is from, or that there is none.
    pub source: String,
    /// Integrated loudness to reach, LUFS.
    pub integrated_lufs: Option<f64>,
    /// How far above still counts as reached, LU.
    pub tolerance_above_lu: Option<f64>,
    /// How far below still counts as reached, LU; `None` where quieter is never wrong.
    pub tolerance_below_lu: Option<f64>,
    /// Highest true peak allowed, dBTP.
    pub true_peak_ceiling_dbtp: Option<f64>,
    /// Highest short-term loudness allowed, LUFS.
    pub highest_short_term_lufs: Option<f64>,
    /// Highest momentary loudness allowed, LUFS.
    pub highest_momentary_lufs: Option<f64>,
    /// Highest loudness range allowed, LU.
    pub highest_loudness_range_lu: Option<f64>,
    /// Where the highest sample peak should lie at least, dBFS.
    pub sample_peak_from_dbfs: Option<f64>,
    /// Where the highest sample peak should lie at most, dBFS.
    pub sample_peak_to_dbfs: Option<f64>,
}

impl From<&Target> for TargetDocument {
    fn from(target: &Target) -> Self {
        let goal = target.integrated;
        let window = target.peak_window;
        Self {
            name: target.name.clone(),
            source: target.source.clone(),
            integrated_lufs: goal.map(|goal| goal.loudness.0),
            tolerance_above_lu: goal.map(|goal| goal.above.0),
            tolerance_below_lu: goal.and_then(|goal| goal.below).map(|below| below.0),
            true_peak_ceiling_dbtp: target.true_peak_ceiling.map(|limit| limit.0),
            highest_short_term_lufs: target.max_short_term.map(|limit| limit.0),
            highest_momentary_lufs: target.max_momentary.map(|limit| limit.0),
            highest_loudness_range_lu: target.max_loudness_range.map(|limit| limit.0),
            sample_peak_from_dbfs: window.map(|window| window.lowest.0),
            sample_peak_to_dbfs: window.map(|window| window.highest.0),
        }
    }
}

/// The distance to a target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DistanceDocument {
    /// "within", "not_within", or "not_yet" where not enough was measured to say.
    pub verdict: String,
    /// The same in one or two sentences.
    pub in_words: String,
    /// Measured integrated loudness minus the target's, LU.
    pub distance_lu: Option<f64>,
    /// Gain that would bring the integrated loudness onto the target, dB.
    pub gain_to_target_db: Option<f64>,
    /// Where the highest true peak would land with that gain, dBTP.
    pub peak_at_target_dbtp: Option<f64>,
    /// How many dB of peaks would have to be tamed to reach the target under the ceiling, dB.
    pub peak_control_db: Option<f64>,
    /// Ceiling minus highest true peak, dB.
    pub headroom_db: Option<f64>,
    /// The gain that playback at this target's normalisation would apply, dB.
    pub playback_gain_db: Option<f64>,
    /// Why figures are `null`, by their keys.
    pub null_because: NullBecause,
}

impl DistanceDocument {
    /// The distance of `result`; `whole` is what was measured.
    pub(super) fn new(result: &TargetResult, whole: &Measured) -> Self {
        let (target, distance) = (&result.target, &result.distance);
        // What is missing: the limit, else the measurement.
        let of_loudness: Figure = match target.integrated {
            None => Err(Reason::NoLimit),
            Some(_) => level(
                whole.figures.integrated.map(|value| value.0),
                if whole.figures.frames > 0 { Reason::NoWindow } else { Reason::NotMeasured },
            ),
        };
        let of_ceiling: Figure = match target.ceiling() {
            None => Err(Reason::NoLimit),
            Some(_) => level(whole.figures.max_true_peak.map(|value| value.0), Reason::NotMeasured),
        };
        let reason = |stands_on: Figure| stands_on.err().unwrap_or(Reason::NotMeasured);
        let mut because = NullBecause::new();
        let mut figure = |key, value: Option<f64>, stands_on: Figure| {
            let finite = value.filter(|value| value.is_finite());
            noted(&mut because, key, finite.ok_or_else(|| reason(stands_on)))
        };
        let of_peak = of_loudness
            .and(level(whole.figures.max_true_peak.map(|value| value.0), Reason::NotMeasured));
        Self {
            verdict: verdict_key(distance.verdict()).to_owned(),
            in_words: distance.to_string(),
            distance_lu: figure("distance_lu", distance.distance.map(|v| v.0), of_loudness),
            gain_to_target_db: figure(
                "gain_to_target_db",
                distance.gain_to_target.map(|v| v.0),
                of_loudness,
            ),
            peak_at_target_dbtp: figure(
                "peak_at_target_dbtp",
                distance.peak_at_target.map(|v| v.0),
                of_peak,
            ),
            peak_control_db: figure(
                "peak_control_db",
                distance.peak_control.map(|v| v.0),
                of_loudness.and(of_ceiling),
            ),
            headroom_db: figure("headroom_db", distance.headroom.map(|v| v.0), of_ceiling),
            playback_gain_db: figure(
                "playback_gain_db",
                distance.playback_gain.map(|v| v.0),
                of_loudness,
            ),
            null_because: because,
        }
    }
}

const fn verdict_key(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within",
        Verdict::NotWithin => "not_within",
        Verdict::NotYet => "not_yet",
    }
}

/// A target with the distance to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetResultDocument {
    /// The target.
    #[serde(flatten)]
    pub target: TargetDocument,
    /// Whether it is the chosen one.
    pub chosen: bool,
    /// The distance to it.
    pub distance: DistanceDocument,
}
