//! What the fuzz target and its bounded run do with an input: load it as every field of a saved
//! state. Uses nothing of this crate, so that the fuzz target need not build that.

use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use plimsoll::editor::ViewPrefs;
use plimsoll::record::{END_HOP, FIRST_HOP, record};
use plimsoll::reference::check_list;
use plimsoll::state::{Measurement, Recording, Settings, load_references, save_references};
use serde_json::{Value, json};
use std::sync::Arc;

/// Loads `data` as each field: as JSON where it is JSON, and as the bytes of a record. What loads
/// must be plain, and must load again after it was saved.
///
/// # Panics
/// If it does not; that is what is looked for.
pub fn exercise(data: &[u8]) {
    if let Ok(value) = serde_json::from_slice::<Value>(data) {
        fields(&value);
    }
    // The layout and the rate, then what the text of a record holds.
    if let Some((&kind, bytes)) = data.split_first() {
        let layout = ["mono", "stereo", "5.1", "7.1"][usize::from(kind % 4)];
        let rate_hz = [8_000, 44_056, 48_000, 384_000][usize::from(kind / 4 % 4)];
        load_record(&record_of(bytes, layout, rate_hz));
    }
}

/// A saved record that holds `bytes`, with a check that fits.
#[must_use]
pub fn record_of(bytes: &[u8], layout: &str, rate_hz: u32) -> Value {
    let mut saved = json!({"version": 1, "layout": layout, "rate_hz": rate_hz});
    saved["hops"] = STANDARD_NO_PAD.encode(bytes).into();
    fit_check(&mut saved);
    saved
}

/// Makes the check of a saved record fit its text (FNV-1a, 64 bits).
pub fn fit_check(saved: &mut Value) {
    let texts = ["hops", "tone", "tones"].map(|key| saved[key].as_str().unwrap_or_default());
    let hash = texts.concat().bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3)
    });
    saved["check"] = format!("{hash:016x}").into();
}

fn fields(value: &Value) {
    if let Ok((settings, _)) = Settings::load(value) {
        assert!(settings.chosen_target().is_some());
        assert_eq!(Settings::load(&settings.save()), Ok((settings, Vec::new())));
    }
    if let Ok(Some(measurement)) = Measurement::load(value) {
        let again = Measurement::load(&measurement.save());
        assert_eq!(again, Ok(Some(measurement)));
    }
    let _ = serde_json::from_value::<ViewPrefs>(value.clone());
    load_references_of(value);
    load_record(value);
    let mut value = value.clone();
    if value.is_object() {
        fit_check(&mut value);
        load_references_of(&value);
        load_record(&value);
    }
}

fn load_references_of(saved: &Value) {
    if let Ok(references) = load_references(saved) {
        assert_eq!(check_list(&references), Ok(()));
        let saved = save_references(&references);
        let again = load_references(&saved).map(|again| save_references(&again));
        assert_eq!(again, Ok(saved));
    }
}

fn load_record(saved: &Value) {
    let Ok(Some(recording)) = Recording::load(saved) else { return };
    for (index, hop) in recording.hops.hops() {
        assert!((FIRST_HOP..END_HOP).contains(&index), "{index}");
        assert!((1..=3_840).contains(&hop.frames) && hop.playthrough > 0, "{hop:?}");
        let powers = [hop.energy, hop.left_mean_square, hop.right_mean_square];
        let plain = powers.iter().chain(&hop.sample_peaks).chain(&hop.true_peaks);
        assert!(plain.clone().all(|value| value.is_finite() && *value >= 0.0), "{hop:?}");
        assert!(hop.left_right_mean.is_finite(), "{hop:?}");
    }
    let (count, rate) = (recording.hops.hop_count(), recording.rate);
    // Long ones take a fuzzer too long.
    if count < 10_000 {
        let (_, reader) = record(recording.hops.layout(), false);
        assert_eq!(reader.load(Some(Arc::new(recording.hops))), Ok(()));
        let saved = Recording::save(&reader, rate);
        let again = Recording::load(&saved).map(|again| again.map_or(0, |r| r.hops.hop_count()));
        assert_eq!(again, Ok(count));
    }
}
