//! Saved records that are whole, damaged, or not ours. Sizes and figures: `tests/cases/recording`.

use super::*;
use crate::record::{END_HOP, FIRST_HOP, record};
use serde_json::json;

fn rate() -> SampleRate {
    SampleRate::new(48_000).unwrap()
}

fn small_record() -> RecordReader {
    let (mut writer, reader) = record(Layout::Stereo, false);
    for start in [FIRST_HOP, -20, 3_000] {
        let playthrough = writer.begin_playthrough();
        for n in 0..120_u16 {
            let level = 0.01 + f32::from(n % 17) * 0.01;
            let mut hop = Hop {
                energy: level,
                momentary_rise: n * 13,
                frames: if n == 119 { 77 } else { 480 },
                full: n != 119,
                edge: n == 0,
                clipped: n % 3,
                scrubbed: n / 100,
                playthrough,
                left_mean_square: level,
                right_mean_square: 0.5 * level,
                left_right_mean: 0.3 * level,
                ..Hop::default()
            };
            hop.sample_peaks[..2].copy_from_slice(&[0.5 + level, 0.25]);
            hop.true_peaks[..2].copy_from_slice(&[0.6 + level, 0.25]);
            writer.write(start + i32::from(n), &hop);
        }
    }
    reader
}

fn load(saved: &Value) -> Result<Vec<(i32, Hop)>, String> {
    let loaded = Recording::load(saved).map_err(|error| error.to_string())?;
    Ok(loaded.map_or_else(Vec::new, |recording| recording.hops.hops().collect()))
}

#[test]
fn nothing_measured_is_nothing_saved() {
    let (_, reader) = record(Layout::Stereo, false);
    assert_eq!(Recording::save(&reader, rate()), Value::Null);
    assert!(Recording::load(&Value::Null).unwrap().is_none());
}

#[test]
fn loading_and_saving_again_gives_the_same_text() {
    let saved = Recording::save(&small_record(), rate());
    let loaded = Recording::load(&saved).unwrap().unwrap();
    assert_eq!((loaded.rate, loaded.hops.layout()), (rate(), Layout::Stereo));
    assert_eq!(loaded.hops.hop_count(), 360);
    let (_, reader) = record(Layout::Stereo, false);
    reader.load(Some(std::sync::Arc::new(loaded.hops))).unwrap();
    assert_eq!(Recording::save(&reader, rate()), saved);
}

#[test]
fn what_is_not_a_record_is_refused_with_a_reason() {
    let good = Recording::save(&small_record(), rate());
    let with = |key: &str, value: Value| {
        let mut saved = good.clone();
        saved[key] = value;
        load(&saved).unwrap_err()
    };
    assert!(with("version", json!(3)).contains("has version 3, this plugin reads up to 2"));
    assert!(with("version", json!(-1)).contains("`-1`"));
    assert!(with("layout", json!("quad")).contains("quad"));
    assert!(with("rate_hz", json!(7)).contains("sample rate 7 Hz"));
    assert!(with("check", json!("0")).contains("it was damaged"));
    assert!(with("hops", json!("@@@@")).contains("it was damaged"));
    assert!(with("tone", json!("AAAA")).contains("it was damaged"));
    assert!(load(&json!({"version": 1})).unwrap_err().contains("missing field"));
    assert!(load(&json!("words")).unwrap_err().contains("invalid type"));
    // With a check that fits.
    let hops = "@@@@";
    let saved = json!({"version": 1, "layout": "stereo", "rate_hz": 48_000, "hops": hops,
        "check": check(&[hops])});
    assert!(load(&saved).unwrap_err().contains("Invalid"));
}

fn bytes_of(saved: &Value) -> Vec<u8> {
    STANDARD_NO_PAD.decode(saved["hops"].as_str().unwrap()).unwrap()
}

#[test]
fn bytes_cut_short_or_damaged_never_panic_and_give_no_hop_that_is_none() {
    let bytes = bytes_of(&Recording::save(&small_record(), rate()));
    for len in 0..bytes.len() {
        assert!(decode(&bytes[..len], Layout::Stereo, rate()).is_err(), "{len}");
    }
    let longer = [&bytes[..], &[0]].concat();
    assert!(decode(&longer, Layout::Stereo, rate()).is_err());
    let mut read = 0;
    for bit in 0..bytes.len() * 8 {
        let mut damaged = bytes.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        let Ok(base) = decode(&damaged, Layout::Stereo, rate()) else { continue };
        read += 1;
        for (index, hop) in base.hops() {
            assert!((FIRST_HOP..END_HOP).contains(&index));
            assert!((1..=3_840).contains(&hop.frames) && hop.playthrough > 0);
            let powers = [hop.energy, hop.left_mean_square, hop.right_mean_square];
            assert!(powers.iter().all(|power| power.is_finite() && *power >= 0.0), "{hop:?}");
            assert!(hop.left_right_mean.is_finite(), "{hop:?}");
            let peaks = hop.sample_peaks.iter().chain(&hop.true_peaks);
            assert!(peaks.clone().all(|peak| peak.is_finite() && *peak >= 0.0), "{hop:?}");
        }
    }
    // Damage in the values cannot be told from other values: that is what the check is for.
    assert!(read > 100, "{read}");
}

#[test]
fn one_run_over_the_whole_record_is_the_most_that_is_read() {
    let mut writer = Writer::new();
    writer.numbers([1]);
    writer.signed([0]);
    writer.numbers([1 << 52]);
    writer.numbers([1]);
    writer.signed([1]);
    writer.signed([0]);
    let bytes = writer.into_bytes();
    let error = decode(&bytes, Layout::Stereo, rate()).map(|base| base.hop_count());
    assert_eq!(error, Err(Damage("hops out of the range of a record")));
}
