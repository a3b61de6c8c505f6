//! States that versions of the plugin saved, kept in `tests/golden/`: every one loads in every
//! later version. And a bounded run of the fuzz target on damaged copies of them.
//!
//! `UPDATE_GOLDEN=1 cargo test -p plimsoll-tests --test state states_of_every` writes the state of the
//! present version anew. Those of earlier versions are never written again: with a new version of
//! a field, copy the present state under another name first, and add it to [`GOLDEN`].

use super::record::assert_near;
use super::{new_host, parse, unparse};
use plimsoll::loudness::{Analysis, FileMeter};
use plimsoll::meters::layout::Layout;
use plimsoll::record::record;
use plimsoll::reference::Reference;
use plimsoll::section::{Marker, Place, log_markers, measure};
use plimsoll::state::{Measurement, Recording, Song, load_references, save_references};
use plimsoll::units::SampleRate;
use plimsoll_tests::damage::damaged;
use plimsoll_tests::host::{self, Buffers, SecondInput, field};
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::state_input::{exercise, fit_check};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::Arc;

/// The state of the present version.
const PRESENT: &str = "references-v2.state";

/// Every state that was ever saved in another form, and whether it has a record.
const GOLDEN: [(&str, bool); 6] = [
    // Settings, measurement and view in version 1, from before there was a record.
    ("settings-v1.state", false),
    // With the record in version 1, from before there were sections.
    ("record-v1.state", true),
    // With sections, from before targets could stand beside the chosen one and without tone.
    ("song-v1.state", true),
    // With tone, from before there were references.
    ("record-v2.state", true),
    // With references, from before there was a reference input.
    ("references-v1.state", true),
    (PRESENT, true),
];

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("golden").join(name)
}

fn golden(name: &str) -> Vec<u8> {
    let path = path(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A reference of four seconds with one section.
fn reference() -> Reference {
    let song = song_like(82, 48_000, 4.0);
    let planes: Vec<&[f32]> = song.channels.iter().map(Vec::as_slice).collect();
    let rate = SampleRate::new(48_000).unwrap();
    let mut meter = FileMeter::with_tone(rate, Layout::Stereo);
    meter.push(&planes);
    let mut analysis = meter.finish();
    let marker = Marker { at_s: 1.0, length_s: None, name: "Chorus".to_owned() };
    let (log, _) = log_markers(&[marker], 4.0, &mut analysis).unwrap();
    let whole = measure(&mut analysis, 0..400);
    Reference { id: 1, ..Reference::new("Copper Weather", 4.0, &whole, &log) }
}

/// A state as a user leaves it: a target of their own, the night theme, six seconds measured.
fn present_state() -> Vec<u8> {
    let mut host = new_host();
    host.select_layout_named("Stereo with a reference input").unwrap();
    let mut json = parse(&host.save_state().unwrap());
    let mut settings: Value =
        serde_json::from_str(json["fields"]["settings"].as_str().unwrap()).unwrap();
    settings["target"] = "Label A".into();
    settings["beside"] = json!(["Podcast, −16"]);
    settings["user_targets"] = json!([{"name": "Label A", "source": "by mail",
        "integrated": {"loudness": -12.5, "below": 0.5, "above": 0.5}, "true_peak_ceiling": -1.5,
        "max_short_term": null, "max_momentary": null, "max_loudness_range": null,
        "peak_window": null}]);
    json["fields"]["settings"] = settings.to_string().into();
    let mut view: Value = serde_json::from_str(json["fields"]["view"].as_str().unwrap()).unwrap();
    view["width"] = 1111.0.into();
    view["height"] = 777.0.into();
    json["fields"]["view"] = view.to_string().into();
    let mut song = Song { name: "Lantern Tide".to_owned(), ..Song::default() };
    for (name, start_s) in [("Verse", 0.0), ("Chorus", 3.0)] {
        let end = Place::at(start_s + 3.0);
        song.sections.add_range(Place::at(start_s), end, Some(name)).unwrap();
    }
    json["fields"]["song"] = song.save().to_string().into();
    json["fields"]["references"] = save_references(&[reference()]).to_string().into();
    host.load_state(&unparse(&json)).unwrap();
    // So that nothing of the tone is lost.
    host.render_offline(true).unwrap();
    host.activate(48_000, 512).unwrap();
    let song = song_like(81, 48_000, 6.0);
    host.set_second_input(SecondInput::Song(Arc::new(song_like(83, 48_000, 6.0))));
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    host.save_state().unwrap()
}

fn value(state: &[u8], name: &str) -> Value {
    serde_json::from_str(&field(state, name).unwrap()).unwrap()
}

#[test]
fn states_of_every_version_load_and_show_what_they_held() {
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::create_dir_all(path("")).unwrap();
        std::fs::write(path(PRESENT), present_state()).unwrap();
    }
    for (name, has_record) in GOLDEN {
        let state = golden(name);
        assert!(state.len() < 30_000, "{name}: {} bytes", state.len());
        let mut host = new_host();
        host.load_state(&state).unwrap();
        host.activate(44_100, 512).unwrap();
        let after = host.save_state().unwrap();
        let settings = value(&after, "settings");
        assert_eq!(settings["target"], json!("Label A"), "{name}");
        let has_references = [PRESENT, "references-v1.state"].contains(&name);
        let has_tone = has_references || name == "record-v2.state";
        let beside = if has_tone { json!(["Podcast, −16"]) } else { json!([]) };
        assert_eq!(settings["beside"], beside, "{name}");
        assert_eq!(settings["user_targets"][0]["true_peak_ceiling"], json!(-1.5), "{name}");
        let view = value(&after, "view");
        assert_eq!((&view["width"], &view["height"]), (&json!(1111.0), &json!(777.0)), "{name}");
        let measurement = value(&after, "measurement");
        let figures = host::Measurement::from_json(measurement.clone()).unwrap().figures;
        assert_eq!((figures.frames, figures.measured_hops), (Some(288_000.0), Some(600.0)));
        assert_eq!(measurement, value(&state, "measurement"), "{name}");
        let song = Song::load(&value(&after, "song")).unwrap().0;
        if has_tone || name == "song-v1.state" {
            let names: Vec<_> = song.sections.as_slice().iter().map(|s| s.name.as_str()).collect();
            assert_eq!((song.name.as_str(), names), ("Lantern Tide", vec!["Verse", "Chorus"]));
            let logged = song.playthroughs.newest().unwrap();
            assert_eq!((logged.start_hop, logged.end_hop), (0, 600));
            let whole = logged.whole.integrated_lufs.unwrap();
            assert!((whole - figures.integrated_lufs.unwrap()).abs() < 1e-4, "{whole}");
        } else {
            assert!(song.sections.as_slice().is_empty(), "{name}");
        }
        // Those of a state before this one are not there any more.
        let references = value(&after, "references");
        if has_references {
            let loaded = load_references(&references).unwrap();
            assert_eq!((loaded[0].name.as_str(), loaded[0].sections.len()), ("Copper Weather", 1));
            let saved = load_references(&value(&state, "references")).unwrap();
            assert_eq!(save_references(&loaded), save_references(&saved));
        } else {
            assert_eq!(references, Value::Null, "{name}");
        }
        let input = value(&after, "reference_input");
        if name == PRESENT {
            assert_eq!(input, value(&state, "reference_input"));
            let loaded = load_references(&references).unwrap();
            assert_eq!((loaded[1].is_input, loaded[1].sections.len()), (true, 2));
            let recording = Recording::load(&input).unwrap().unwrap();
            assert_eq!(recording.hops.hop_count(), 600);
        } else {
            assert_eq!(input, Value::Null, "{name}");
        }
        if !has_record {
            assert_eq!(value(&after, "record"), Value::Null, "{name}");
            continue;
        }
        // What the record reads, against what was measured when it was saved.
        let recording = Recording::load(&value(&state, "record")).unwrap().unwrap();
        let (_, reader) = record(recording.hops.layout(), false);
        reader.load(Some(Arc::new(recording.hops))).unwrap();
        let read = Measurement::of(&reader, 48_000).unwrap().save();
        let read = host::Measurement::from_json(read).unwrap().figures;
        assert_near(name, &read, &figures);
        let present = Analysis::of(&reader).extent();
        assert_eq!(present, Some(0..600), "{name}");
        let whole = reader.tone_seconds().filter(|(_, second)| second.is_whole()).count();
        assert_eq!(whole, if has_tone { 6 } else { 0 }, "{name}");
    }
}

#[test]
fn two_thousand_damaged_copies_of_saved_states_do_no_harm() {
    let name = "golden::two_thousand_damaged_copies_of_saved_states_do_no_harm";
    super::in_a_process_of_its_own(name, || {
        let states = GOLDEN.map(|(name, _)| golden(name));
        let mut rng = Rng::new(65);
        let mut host = new_host();
        host.activate(48_000, 512).unwrap();
        for round in 0..2_000 {
            let state = &states[round % states.len()];
            let mut json = parse(state);
            let names: Vec<String> = json["fields"].as_object().unwrap().keys().cloned().collect();
            let name = &names[rng.between(0, names.len() - 1)];
            let text = json["fields"][name].as_str().unwrap();
            let bytes = damaged(text.as_bytes(), 4, &mut rng);
            exercise(&bytes);
            // A record whose check fits gets past it: into what its bytes say.
            if ["record", "reference_input"].contains(&name.as_str()) && text != "null" {
                let mut record: Value = serde_json::from_str(text).unwrap();
                let hops = damaged(record["hops"].as_str().unwrap().as_bytes(), 4, &mut rng);
                record["hops"] = String::from_utf8_lossy(&hops).into();
                fit_check(&mut record);
                exercise(record.to_string().as_bytes());
                exercise(&bytes[bytes.len() / 2..]);
            }
            // Through the host, now and then.
            if round % 10 == 0 {
                json["fields"][name] = String::from_utf8_lossy(&bytes).into();
                let _ = host.load_state(&unparse(&json));
                let again = host.save_state().unwrap();
                host.load_state(&again).unwrap();
            }
        }
    });
}
