//! The JSON against its published schema, read by a schema library, and against the snapshot.

use super::super::testing::{Song, any, empty, silent};
use super::super::{Reason, Snapshot};
use super::{Document, SCHEMA};
use crate::section::testing::{Dice, Sound};
use serde_json::{Map, Value, json};

fn schema() -> Value {
    serde_json::from_str(SCHEMA).unwrap()
}

/// The schema as published allows keys that it does not know; a test does not.
fn closed(schema: &mut Value) {
    let parts_of_others = ["figures", "target"];
    let roots = |schema: &mut Map<String, Value>| {
        if schema.contains_key("properties") {
            schema.insert("unevaluatedProperties".to_owned(), json!(false));
        }
    };
    fn walk(value: &mut Value, close: &dyn Fn(&mut Map<String, Value>)) {
        match value {
            Value::Object(object) => {
                // Conditions name properties that others describe.
                object
                    .iter_mut()
                    .filter(|(key, _)| {
                        !["if", "then", "properties", "$defs"].contains(&key.as_str())
                    })
                    .for_each(|(_, value)| walk(value, close));
                for named in ["properties", "$defs"] {
                    let inside = object.get_mut(named).and_then(Value::as_object_mut);
                    for (_, value) in inside.into_iter().flatten() {
                        walk(value, close);
                    }
                }
                if object.contains_key("type") {
                    close(object);
                }
            }
            Value::Array(list) => list.iter_mut().for_each(|value| walk(value, close)),
            _ => {}
        }
    }
    walk(schema, &roots);
    // These are parts of other objects, which know keys of their own.
    for name in parts_of_others {
        let part = schema["$defs"][name].as_object_mut().unwrap();
        part.remove("unevaluatedProperties").unwrap();
    }
}

#[track_caller]
fn assert_valid(schema: &Value, document: &Value) {
    let validator = jsonschema::draft202012::new(schema).unwrap();
    let errors: Vec<String> = validator
        .iter_errors(document)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
}

fn value(snapshot: &Snapshot) -> Value {
    serde_json::from_str(&snapshot.json()).unwrap()
}

#[test]
fn the_schema_is_one() {
    assert!(jsonschema::meta::is_valid(&schema()));
}

#[test]
fn every_json_is_as_the_schema_says_and_nothing_else() {
    let (open, mut strict) = (schema(), schema());
    closed(&mut strict);
    let mut dice = Dice(11);
    let snapshots = [Song::new().snapshot(), empty()].into_iter();
    let mut kinds = [0; 3];
    for snapshot in snapshots.chain((0..80).map(|_| any(&mut dice))) {
        let document = value(&snapshot);
        assert_valid(&open, &document);
        assert_valid(&strict, &document);
        kinds[0] += usize::from(snapshot.extent.is_none());
        kinds[1] += usize::from(snapshot.comparison.is_some());
        kinds[2] += usize::from(!snapshot.sections.is_empty());
    }
    // The dice have thrown every kind.
    assert!(kinds.iter().all(|&count| count > 4), "{kinds:?}");
}

#[test]
fn the_schema_refuses_what_is_wrong() {
    let mut strict = schema();
    closed(&mut strict);
    let validator = jsonschema::draft202012::new(&strict).unwrap();
    let good = value(&Song::new().snapshot());
    assert!(validator.is_valid(&good));
    let wrong: [(&str, Value); 8] = [
        ("/integrated_lufs", json!("-14")),
        ("/integrated_lufs", Value::Null),
        ("/version", json!(2)),
        ("/taken_utc", json!("yesterday")),
        ("/null_because", json!({ "integrated_lufs": "tired" })),
        ("/sections/0/coverage", json!(1.5)),
        ("/targets/0/distance/verdict", json!("maybe")),
        ("/series/null_because/momentary_lufs/0/reason", json!("")),
    ];
    for (pointer, bad) in wrong {
        let mut document = good.clone();
        *document.pointer_mut(pointer).unwrap() = bad;
        assert!(!validator.is_valid(&document), "{pointer}");
    }
    for pointer in ["", "/sections/0", "/targets/0", "/series", "/peaks/events/0"] {
        let mut document = good.clone();
        let object = document.pointer_mut(pointer).unwrap().as_object_mut().unwrap();
        object.insert("unknown".to_owned(), json!(1));
        assert!(!validator.is_valid(&document), "{pointer}");
    }
}

#[test]
fn a_document_reads_as_it_was_written_to_the_last_bit() {
    let mut dice = Dice(5);
    for snapshot in (0..30).map(|_| any(&mut dice)) {
        let text = snapshot.json();
        let document: Document = serde_json::from_str(&text).unwrap();
        assert_eq!(document, Document::from(&snapshot));
        assert_eq!(super::form::written(&document), text);
    }
}

#[test]
fn figures_are_those_of_the_snapshot_unrounded() {
    let song = Song::new();
    let (snapshot, document) = (song.snapshot(), value(&song.snapshot()));
    let figures = snapshot.whole.figures;
    assert_eq!(document["integrated_lufs"], json!(figures.integrated.unwrap().0));
    assert_eq!(document["max_true_peak_dbtp"], json!(figures.max_true_peak.unwrap().0));
    assert_eq!(document["frames"], json!(figures.frames));
    assert_eq!(document["coverage"], json!(figures.coverage.share()));
    assert_eq!(document["sections"][1]["name"], json!("Chorus <1>"));
    // −20 to −15 LUFS.
    let louder_by = document["sections"][1]["louder_by_lu"].as_f64().unwrap();
    assert_eq!(louder_by, snapshot.sections[1].entry.louder_by.unwrap().0);
    assert!((louder_by - 5.0).abs() < 1e-4, "{louder_by}");
    let distance = snapshot.chosen_target().unwrap().distance;
    assert_eq!(document["distance"]["distance_lu"], json!(distance.distance.unwrap().0));
    assert_eq!(document["distance"], document["targets"][0]["distance"]);
    let events = document["peaks"]["events"].as_array().unwrap();
    assert_eq!(events.len(), snapshot.peaks.events().len());
    assert_eq!(events[0]["true_peak_dbtp"], json!(snapshot.peaks.events()[0].peak.0));
    assert_eq!(document["series"]["step_s"], json!(0.1));
}

/// Every `null` among the figures of an object, and every reason.
fn assert_each_null_has_its_reason(object: &Map<String, Value>, figures: &[&str]) {
    let reasons = object["null_because"].as_object().unwrap();
    for key in figures {
        assert_eq!(object[*key].is_null(), reasons.contains_key(*key), "{key} {reasons:?}");
    }
    for key in reasons.keys() {
        assert!(object[key].is_null(), "{key}");
    }
}

#[test]
fn every_null_has_a_reason_and_every_reason_a_null() {
    let mut dice = Dice(23);
    for snapshot in (0..60).map(|_| any(&mut dice)) {
        let document = value(&snapshot);
        let figures = ["integrated_lufs", "loudness_range_lu", "plr_lu", "side_to_mid_db"];
        assert_each_null_has_its_reason(document.as_object().unwrap(), &figures);
        for section in document["sections"].as_array().unwrap() {
            let figures = ["integrated_lufs", "correlation", "louder_by_lu", "wider_by_db"];
            assert_each_null_has_its_reason(section.as_object().unwrap(), &figures);
        }
        for target in document["targets"].as_array().unwrap() {
            let figures = ["distance_lu", "peak_control_db", "headroom_db", "playback_gain_db"];
            assert_each_null_has_its_reason(target["distance"].as_object().unwrap(), &figures);
        }
        let series = &document["series"];
        for column in ["momentary_lufs", "short_term_lufs", "true_peak_dbtp"] {
            let values = series[column].as_array().unwrap();
            let mut explained = vec![0; values.len()];
            for run in series["null_because"][column].as_array().unwrap() {
                let at = |key: &str| usize::try_from(run[key].as_u64().unwrap()).unwrap();
                explained[at("from")..at("to")].iter_mut().for_each(|count| *count += 1);
            }
            for (value, explained) in values.iter().zip(explained) {
                assert_eq!(usize::from(value.is_null()), explained);
            }
        }
    }
}

#[test]
fn silence_is_told_from_what_was_not_measured() {
    let mut song = Song::new();
    song.tape.play(0..12_000, |_| silent());
    let document = value(&song.snapshot());
    assert_eq!(document["integrated_lufs"], Value::Null);
    assert_eq!(document["null_because"]["integrated_lufs"], json!("silence"));
    assert_eq!(document["null_because"]["max_true_peak_dbtp"], json!("silence"));
    assert_eq!(document["targets"][0]["distance"]["null_because"]["distance_lu"], json!("silence"));
    assert_eq!(document["distance"]["verdict"], json!("not_yet"));
    let runs = &document["series"]["null_because"]["short_term_lufs"];
    // 3 s are needed: the first 29 steps have no window.
    assert_eq!(
        runs,
        &json!([
            { "from": 0, "to": 29, "reason": "no_window" },
            { "from": 29, "to": 1_200, "reason": "silence" },
        ])
    );
    let nothing = value(&empty());
    assert_eq!(nothing["null_because"]["integrated_lufs"], json!("not_measured"));
}

#[test]
fn reasons_name_what_is_missing() {
    let mut song = Song::new();
    song.tape.play(0..12_000, |_| Sound { correlation: 1.0, ..Sound::default() }.hop());
    let document = value(&song.snapshot());
    assert_eq!(document["null_because"]["side_to_mid_db"], json!("mono"));
    // The last built-in target asks for peaks only.
    let hand_off = document["targets"].as_array().unwrap().last().unwrap();
    assert_eq!(hand_off["distance"]["null_because"]["distance_lu"], json!("no_limit"));
    for reason in [
        Reason::NotMeasured,
        Reason::NoWindow,
        Reason::Silence,
        Reason::Mono,
        Reason::NoMid,
        Reason::NoLimit,
        Reason::NotInBoth,
    ] {
        assert_eq!(serde_json::to_value(reason).unwrap(), json!(reason.key()));
    }
}
