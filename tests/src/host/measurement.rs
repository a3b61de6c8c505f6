//! Reads the measurement out of a saved state.
//!
//! The framework writes a length (8 bytes, little-endian) and a JSON object with `fields`, each
//! a JSON text of its own. The plugin keeps its figures in the field `measurement`.

use serde_json::Value;
use std::fmt;

/// Every figure, unrounded; `None` for what was not measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// Integrated loudness, in LUFS.
    pub integrated_lufs: Option<f64>,
    /// Loudness range, in LU.
    pub loudness_range_lu: Option<f64>,
    /// Maximum momentary loudness, in LUFS.
    pub max_momentary_lufs: Option<f64>,
    /// Maximum short-term loudness, in LUFS.
    pub max_short_term_lufs: Option<f64>,
    /// Maximum true peak, in dBTP.
    pub max_true_peak_dbtp: Option<f64>,
    /// Maximum sample peak, in dBFS.
    pub sample_peak_dbfs: Option<f64>,
    /// Sample rate of the measurement, in Hz.
    pub rate_hz: Option<f64>,
    /// Frames measured.
    pub frames: Option<f64>,
    /// Hops of 10 ms that were measured in full.
    pub measured_hops: Option<f64>,
    /// Hops from the first to the last measured one.
    pub span_hops: Option<f64>,
}

/// What the plugin says it measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// The figures that every version has.
    pub figures: Figures,
    /// A hash over every word of the record, as it was written: equal for equal records.
    pub fingerprint: String,
    /// The whole object, for figures that [`Figures`] does not name.
    pub json: Value,
}

/// Why there is no measurement to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeasurementError(String);

impl fmt::Display for MeasurementError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for MeasurementError {}

impl Measurement {
    /// Reads the field `measurement` of a saved state.
    ///
    /// # Errors
    /// The state or the field is not as described above.
    pub fn from_state(state: &[u8]) -> Result<Self, MeasurementError> {
        let text = field(state, "measurement")?;
        let json: Value = serde_json::from_str(&text)
            .map_err(|error| MeasurementError(format!("field \"measurement\": {error}")))?;
        Self::from_json(json)
    }

    /// Takes a measurement in the form in which it is saved.
    ///
    /// # Errors
    /// A key is missing.
    pub fn from_json(json: Value) -> Result<Self, MeasurementError> {
        if json.get("version").and_then(Value::as_u64).is_none() {
            return Err(MeasurementError("no \"version\" in the measurement".to_owned()));
        }
        let figures = json
            .get("figures")
            .ok_or_else(|| MeasurementError("no \"figures\" in the measurement".to_owned()))?;
        let fingerprint = json
            .get("fingerprint")
            .and_then(Value::as_str)
            .ok_or_else(|| MeasurementError("no \"fingerprint\" in the measurement".to_owned()))?
            .to_owned();
        // A key must be there, if only with null: a figure that silently vanished is an error.
        let figure = |key: &str| match figures.get(key) {
            Some(Value::Null) => Ok(None),
            Some(Value::Number(number)) => Ok(number.as_f64()),
            other => Err(MeasurementError(format!("figure \"{key}\": {other:?}"))),
        };
        Ok(Self {
            figures: Figures {
                integrated_lufs: figure("integrated_lufs")?,
                loudness_range_lu: figure("loudness_range_lu")?,
                max_momentary_lufs: figure("max_momentary_lufs")?,
                max_short_term_lufs: figure("max_short_term_lufs")?,
                max_true_peak_dbtp: figure("max_true_peak_dbtp")?,
                sample_peak_dbfs: figure("sample_peak_dbfs")?,
                rate_hz: figure("rate_hz")?,
                frames: figure("frames")?,
                measured_hops: figure("measured_hops")?,
                span_hops: figure("span_hops")?,
            },
            fingerprint,
            json,
        })
    }
}

/// The JSON text of one persisted field of a saved state.
///
/// # Errors
/// The state is not as the framework writes it, or has no such field.
pub fn field(state: &[u8], name: &str) -> Result<String, MeasurementError> {
    let (length, json) = state
        .split_first_chunk::<8>()
        .ok_or_else(|| MeasurementError(format!("state of {} bytes, no length", state.len())))?;
    if u64::from_le_bytes(*length) != json.len() as u64 {
        return Err(MeasurementError(format!(
            "state says {} bytes and holds {}",
            u64::from_le_bytes(*length),
            json.len()
        )));
    }
    let json: Value = serde_json::from_slice(json)
        .map_err(|error| MeasurementError(format!("state: {error}")))?;
    json.get("fields")
        .and_then(|fields| fields.get(name))
        .and_then(Value::as_str)
        .map(str::to_owned)
        .ok_or_else(|| MeasurementError(format!("no field \"{name}\" in the state")))
}

/// The state with another text in one of its fields.
///
/// # Errors
/// The state is not as the framework writes it.
pub fn with_field(state: &[u8], name: &str, text: &str) -> Result<Vec<u8>, MeasurementError> {
    let wrong = |error: &dyn fmt::Display| MeasurementError(format!("state: {error}"));
    let json = state.get(8..).unwrap_or_default();
    let mut json: Value = serde_json::from_slice(json).map_err(|error| wrong(&error))?;
    let fields = json.get_mut("fields").and_then(Value::as_object_mut);
    let fields = fields.ok_or_else(|| wrong(&"no \"fields\""))?;
    fields.insert(name.to_owned(), Value::from(text));
    let json = json.to_string();
    Ok([&(json.len() as u64).to_le_bytes()[..], json.as_bytes()].concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state(measurement: &str) -> Vec<u8> {
        let json = serde_json::json!({
            "version": "0.1.0", "params": {}, "fields": {"measurement": measurement, "x": "1"}
        })
        .to_string();
        [&(json.len() as u64).to_le_bytes()[..], json.as_bytes()].concat()
    }

    const GOOD: &str = r#"{"version":1,"figures":{"integrated_lufs":-14.25,
        "loudness_range_lu":null,"max_momentary_lufs":-10.5,"max_short_term_lufs":-11,
        "max_true_peak_dbtp":-0.5,"sample_peak_dbfs":-1,"rate_hz":48000,"frames":96000,
        "measured_hops":200,"span_hops":201,"later":"figure"},"fingerprint":"0123456789abcdef","more":[]}"#;

    #[test]
    fn figures_are_read_and_unknown_keys_are_left_alone() {
        let measurement = Measurement::from_state(&state(GOOD)).unwrap();
        assert_eq!(measurement.figures.integrated_lufs, Some(-14.25));
        assert_eq!(measurement.figures.loudness_range_lu, None);
        assert_eq!(measurement.figures.frames, Some(96_000.0));
        assert_eq!(measurement.fingerprint, "0123456789abcdef");
    }

    #[test]
    fn what_is_missing_or_damaged_is_an_error_that_says_so() {
        let message = |bytes: &[u8]| Measurement::from_state(bytes).unwrap_err().to_string();
        assert_eq!(message(b""), "state of 0 bytes, no length");
        assert!(message(&state(GOOD)[..40]).starts_with("state says "));
        assert!(message(&state("{")).starts_with("field \"measurement\": "));
        assert_eq!(message(&state("{}")), "no \"version\" in the measurement");
        let without = GOOD.replace("\"span_hops\":201,", "");
        assert_eq!(message(&state(&without)), "figure \"span_hops\": None");
    }
}
