//! State: what is saved comes back, and nothing that a host may hand over does harm.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]

use plimsoll_tests::host::{Buffers, Host, Library, field};
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};
use serde_json::{Value, json};

#[path = "state/golden.rs"]
mod golden;
#[path = "state/record.rs"]
mod record;

/// A host that renders: tone is measured in line, so that a state saved now and one saved a moment
/// later hold the same.
fn new_host() -> Host {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.render_offline(true).unwrap();
    host
}

/// Set in a process that runs one test for another one.
const CHILD: &str = "PLIMSOLL_TEST_STATE_CHILD";

/// Runs `work` in a process of its own, in which the test `name` calls this again, and gives what
/// that process logged; `None` in that process. The framework logs to its error output, which
/// would bury the report of the tests, and which a test cannot read in its own process.
fn in_a_process_of_its_own(name: &str, work: impl FnOnce()) -> Option<String> {
    if std::env::var_os(CHILD).is_some() {
        work();
        return None;
    }
    let output = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", name, "--nocapture"])
        .env(CHILD, "1")
        .env("NICE_LOG", "stderr")
        .output()
        .unwrap();
    let log = String::from_utf8_lossy(&output.stderr).into_owned();
    let tail: Vec<&str> = log.lines().rev().take(30).collect();
    assert!(output.status.success(), "{name} ended with {}: {tail:#?}", output.status);
    Some(log)
}

/// A host that has measured six seconds.
fn host_with_a_measurement() -> Host {
    let mut host = new_host();
    host.activate(48_000, 512).unwrap();
    let song = song_like(61, 48_000, 6.0);
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    host
}

/// The framework's state as JSON.
fn parse(state: &[u8]) -> Value {
    serde_json::from_slice(&state[8..]).unwrap()
}

fn unparse(json: &Value) -> Vec<u8> {
    let text = json.to_string();
    [&(text.len() as u64).to_le_bytes()[..], text.as_bytes()].concat()
}

/// The state with one persisted field replaced by `text`.
fn with_known_field(state: &[u8], name: &str, text: &str) -> Vec<u8> {
    let mut json = parse(state);
    assert!(json["fields"][name].is_string(), "no field {name}");
    json["fields"][name] = json!(text);
    unparse(&json)
}

/// All that the plugin keeps, parsed, so that the order of keys does not matter.
fn content(state: &[u8]) -> Value {
    let mut json = parse(state);
    for (_, field) in json["fields"].as_object_mut().unwrap() {
        *field = serde_json::from_str(field.as_str().unwrap()).unwrap();
    }
    json
}

#[test]
fn saving_loading_and_saving_again_gives_the_same_state() {
    for mut host in [new_host(), host_with_a_measurement()] {
        let saved = host.save_state().unwrap();
        let mut other = new_host();
        other.load_state(&saved).unwrap();
        assert_eq!(content(&other.save_state().unwrap()), content(&saved));
        // Also while it is active, and after that.
        other.activate(44_100, 512).unwrap();
        other.load_state(&saved).unwrap();
        assert_eq!(content(&other.save_state().unwrap()), content(&saved));
        other.deactivate();
        assert_eq!(content(&other.save_state().unwrap()), content(&saved));
    }
}

#[test]
fn saving_twice_gives_the_same_bytes() {
    let mut host = host_with_a_measurement();
    let saved = host.save_state().unwrap();
    assert_eq!(content(&host.save_state().unwrap()), content(&saved));
}

#[test]
fn a_new_measurement_joins_the_one_that_was_loaded() {
    let saved = host_with_a_measurement().save_state().unwrap();
    let mut host = new_host();
    host.load_state(&saved).unwrap();
    let loaded = host.measurement().unwrap();
    host.activate(48_000, 512).unwrap();
    let song = song_like(62, 48_000, 5.0);
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    let measured = host.measurement().unwrap();
    assert_ne!(measured.fingerprint, loaded.fingerprint);
    // The sixth second is still that of the project.
    assert_eq!(measured.figures.frames, Some(288_000.0));
}

#[test]
fn a_state_cut_short_anywhere_changes_nothing() {
    in_a_process_of_its_own("a_state_cut_short_anywhere_changes_nothing", || {
        let saved = host_with_a_measurement().save_state().unwrap();
        let mut host = new_host();
        let defaults = content(&host.save_state().unwrap());
        for len in (0..saved.len()).step_by(3) {
            assert!(host.load_state(&saved[..len]).is_err(), "{len} bytes of {}", saved.len());
            assert_eq!(content(&host.save_state().unwrap()), defaults, "{len} bytes");
        }
    });
}

/// States that the framework reads but whose fields are not what this version writes.
fn malformed_fields(good: &[u8]) -> Vec<(&'static str, Vec<u8>)> {
    let mut states = Vec::new();
    for name in ["settings", "measurement", "record", "references", "view"] {
        for text in [
            "",
            "null",
            "{}",
            "[]",
            "7",
            "\"words\"",
            "{\"version\":1}",
            "{\"version\":-1}",
            "{\"version\":1e300}",
            "{\"version\":99}",
            "{\"version\":\"one\"}",
            "{\"version\":1,\"figures\":null,\"fingerprint\":3}",
            "{\"version\":1,\"figures\":{\"integrated_lufs\":\"loud\"},\"fingerprint\":\"\"}",
            "{\"version\":1,",
            "\u{0}\u{1}",
        ] {
            states.push((name, with_known_field(good, name, text)));
        }
    }
    states
}

#[test]
fn malformed_fields_leave_the_defaults() {
    in_a_process_of_its_own("malformed_fields_leave_the_defaults", || {
        let saved = host_with_a_measurement().save_state().unwrap();
        let defaults = content(&new_host().save_state().unwrap());
        for (name, state) in malformed_fields(&saved) {
            let mut host = new_host();
            // Whether the framework calls it a failure is its affair; the field must keep its
            // default.
            let _ = host.load_state(&state);
            let after = content(&host.save_state().unwrap());
            let text = field(&state, name).unwrap();
            // What is of a newer version is kept for it; everything else keeps its default.
            let keeps_newer = ["settings", "record", "references"].contains(&name);
            let is_newer = keeps_newer && text == "{\"version\":99}";
            let expected = if is_newer { &content(&state) } else { &defaults };
            assert_eq!(after["fields"][name], expected["fields"][name], "{name}: {text}");
        }
    });
}

#[test]
fn a_newer_version_of_the_plugin_does_not_harm_what_is_here() {
    let saved = host_with_a_measurement().save_state().unwrap();
    let mut json = parse(&saved);
    json["version"] = json!("99.0.0");
    json["fields"]["unknown"] = json!("{\"a\":1}");
    json["params"]["unknown"] = json!({"f32": 1.0});
    let mut host = new_host();
    let _ = host.load_state(&unparse(&json));
    let song = song_like(63, 48_000, 4.0);
    host.activate(48_000, 512).unwrap();
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    // Four seconds anew, and two of what was loaded.
    assert_eq!(host.measurement().unwrap().figures.frames, Some(288_000.0));
}

#[test]
fn random_and_damaged_states_never_crash_and_the_plugin_goes_on_measuring() {
    let name = "random_and_damaged_states_never_crash_and_the_plugin_goes_on_measuring";
    in_a_process_of_its_own(name, || {
        let saved = host_with_a_measurement().save_state().unwrap();
        let mut rng = Rng::new(64);
        let mut host = new_host();
        host.activate(48_000, 512).unwrap();
        for round in 0..3000 {
            let _ = host.load_state(&damaged(&saved, &mut rng, round));
            // A state that loaded can be saved and loaded again.
            let again = host.save_state().unwrap();
            host.load_state(&again).unwrap();
        }
        let song = song_like(65, 48_000, 4.0);
        let telling = Telling::new(Tells::Everything);
        let run = host
            .run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate)
            .unwrap();
        assert_eq!(run.changed_samples, 0);
        // Bypass may have been set by a damaged state; undone, the plugin measures.
        host.load_state(&saved).unwrap();
        let stand = [Step::Locate { frame: 0 }, Step::Play { len_frames: 192_000 }, Step::Rest];
        host.run(&song, &stand, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
        // Four seconds anew, and two of what was loaded.
        assert_eq!(host.measurement().unwrap().figures.frames, Some(288_000.0));
    });
}

/// Random bytes, or `saved` with some bytes changed.
fn damaged(saved: &[u8], rng: &mut Rng, round: usize) -> Vec<u8> {
    let mut state: Vec<u8> = if round.is_multiple_of(3) {
        (0..rng.between(0, 400)).map(|_| rng.next_u64().to_le_bytes()[0]).collect()
    } else {
        saved.to_vec()
    };
    if !state.is_empty() {
        for _ in 0..rng.between(1, 12) {
            let at = rng.between(0, state.len() - 1);
            // Half of the time printable, which gets further in JSON.
            let byte = rng.next_u64().to_le_bytes()[0];
            state[at] = if round.is_multiple_of(2) { byte } else { 32 + byte % 95 };
        }
    }
    if !round.is_multiple_of(5) {
        // A length that fits gets past the first check.
        state.resize(state.len().max(8), b' ');
        let len = (state.len() - 8) as u64;
        state[..8].copy_from_slice(&len.to_le_bytes());
    }
    state
}

#[test]
fn a_bad_state_is_logged_as_an_error() {
    let log = in_a_process_of_its_own("a_bad_state_is_logged_as_an_error", || {
        let saved = host_with_a_measurement().save_state().unwrap();
        for (_, state) in malformed_fields(&saved) {
            let _ = new_host().load_state(&state);
        }
        let _ = new_host().load_state(b"");
    });
    let Some(log) = log else { return };
    for expected in [
        "saved settings has version 99, this plugin reads up to",
        "saved measurement has version 99, this plugin reads up to",
        "saved record has version 99, this plugin reads up to",
        "saved references has version 99, this plugin reads up to",
        "saved settings cannot be read",
        "saved measurement cannot be read",
        "saved record cannot be read",
        "saved references cannot be read",
        "Failed to load state",
    ] {
        let line = log.lines().find(|line| line.contains(expected));
        let line = line.unwrap_or_else(|| panic!("the log lacks {expected:?}:\n{log}"));
        assert!(line.contains("ERROR"), "{line}");
    }
}
