//! The figures of the last measurement, as they are kept in the project.

use super::{StateError, check_version};
use crate::loudness::{Analysis, Coverage, Figures};
use crate::record::RecordReader;
use crate::units::{Dbfs, Dbtp, Lu, Lufs};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the measurement that this plugin writes.
pub const MEASUREMENT_VERSION: u32 = 1;

const FIELD: &str = "measurement";

/// A measurement in a saved state.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measurement {
    /// [`MEASUREMENT_VERSION`].
    pub version: u32,
    /// The figures of the whole song.
    pub figures: SavedFigures,
    /// Hash over every bit of the record (see [`RecordReader::fingerprint`]), 16 hex digits: two
    /// measurements with the same one are the same in every hop.
    pub fingerprint: String,
}

/// The figures of a measurement, unrounded. `null` is not measured, or silence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SavedFigures {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Loudness range, LU.
    pub loudness_range_lu: Option<f64>,
    /// Highest momentary loudness, LUFS.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term loudness, LUFS.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak of all channels, dBTP.
    pub max_true_peak_dbtp: Option<f64>,
    /// Song time of the hop with the highest true peak, seconds.
    pub max_true_peak_s: Option<f64>,
    /// Highest sample peak of all channels, dBFS.
    pub sample_peak_dbfs: Option<f64>,
    /// Samples at or beyond full scale.
    pub clipped_samples: u64,
    /// Samples that were no number or no audio level.
    pub scrubbed_samples: u64,
    /// Sample rate of the last measurement, Hz; 0 if unknown.
    pub rate_hz: u32,
    /// Number of channels.
    pub channels: usize,
    /// Frames measured.
    pub frames: u64,
    /// Hops of 10 ms measured in full.
    pub measured_hops: usize,
    /// Hops from the first to the last measured one.
    pub span_hops: usize,
    /// Stretches in between that were not measured.
    pub gaps: usize,
}

impl SavedFigures {
    /// `figures` in the form in which they are saved.
    #[must_use]
    pub fn new(figures: &Figures, rate_hz: u32, channels: usize) -> Self {
        let finite = |value: f64| value.is_finite().then_some(value);
        Self {
            integrated_lufs: figures.integrated.and_then(|v| finite(v.0)),
            loudness_range_lu: figures.loudness_range.and_then(|v| finite(v.0)),
            max_momentary_lufs: figures.max_momentary.and_then(|v| finite(v.0)),
            max_short_term_lufs: figures.max_short_term.and_then(|v| finite(v.0)),
            max_true_peak_dbtp: figures.max_true_peak.and_then(|v| finite(v.0)),
            max_true_peak_s: figures.max_true_peak_hop.map(crate::record::hop_seconds),
            sample_peak_dbfs: figures.sample_peak.and_then(|v| finite(v.0)),
            clipped_samples: figures.clipped_samples,
            scrubbed_samples: figures.scrubbed_samples,
            rate_hz,
            channels,
            frames: figures.frames,
            measured_hops: figures.coverage.measured_hops,
            span_hops: figures.coverage.span_hops,
            gaps: figures.coverage.gaps,
        }
    }
}

impl Measurement {
    /// Measures `record` anew. `None` if nothing was measured.
    #[must_use]
    pub fn of(record: &RecordReader, rate_hz: u32) -> Option<Self> {
        let mut analysis = Analysis::of(record);
        analysis.extent()?;
        let channels = record.layout().channel_count();
        Some(Self {
            version: MEASUREMENT_VERSION,
            figures: SavedFigures::new(&analysis.song_figures(), rate_hz, channels),
            fingerprint: format!("{:016x}", record.fingerprint()),
        })
    }

    /// Reads a saved measurement; `null` is none.
    ///
    /// # Errors
    /// A version from the future, or anything malformed.
    pub fn load(saved: &Value) -> Result<Option<Self>, StateError> {
        if saved.is_null() {
            return Ok(None);
        }
        let malformed = |why: String| StateError::Malformed { field: FIELD, why };
        check_version(saved, FIELD, MEASUREMENT_VERSION)?;
        Self::deserialize(saved).map(Some).map_err(|e| malformed(e.to_string()))
    }

    /// As saved in the project.
    #[must_use]
    pub fn save(&self) -> Value {
        serde_json::to_value(self).unwrap_or_default()
    }

    /// The figures in the form in which they are shown.
    #[must_use]
    pub fn figures(&self) -> Figures {
        let saved = &self.figures;
        Figures {
            integrated: saved.integrated_lufs.map(Lufs),
            loudness_range: saved.loudness_range_lu.map(Lu),
            max_momentary: saved.max_momentary_lufs.map(Lufs),
            max_short_term: saved.max_short_term_lufs.map(Lufs),
            max_true_peak: saved.max_true_peak_dbtp.map(Dbtp),
            max_true_peak_hop: None,
            sample_peak: saved.sample_peak_dbfs.map(Dbfs),
            clipped_samples: saved.clipped_samples,
            scrubbed_samples: saved.scrubbed_samples,
            frames: saved.frames,
            coverage: Coverage {
                measured_hops: saved.measured_hops,
                span_hops: saved.span_hops,
                gaps: saved.gaps,
            },
        }
    }
}
