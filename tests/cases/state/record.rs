//! The song record in the project: a reopened project shows it, and what is measured joins it.

use super::{
    content, host_with_a_measurement, in_a_process_of_its_own, new_host, parse, unparse,
    with_known_field,
};
use plimsoll::audio::{HostPosition, Outputs, Recorder, Sources};
use plimsoll::editor::model::Asked;
use plimsoll::loudness::{Analysis, Figures};
use plimsoll::meters::layout::Layout;
use plimsoll::shared::Shared;
use plimsoll::units::SampleRate;
use plimsoll::window::ModelReader;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::host::{self, Buffers, Host, field};
use plimsoll_tests::noise::{even_song, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};
use serde_json::{Value, json};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// Issue 4: "reloaded figures within 0.001 LU"; likewise decibels.
const TOLERANCE: f64 = 0.001;

const RATE_HZ: u32 = 48_000;

/// After so long, threads that do not meet are taken to hinder each other.
const TIME_LIMIT: Duration = Duration::from_secs(60);

fn run(host: &mut Host, song: &Audio, steps: &[Step]) {
    let telling = Telling::new(Tells::Everything);
    host.run(song, steps, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
}

fn piece(from_s: i64, len_s: usize) -> [Step; 3] {
    let rate = i64::from(RATE_HZ);
    [
        Step::Locate { frame: from_s * rate },
        Step::Play { len_frames: len_s * RATE_HZ as usize },
        Step::Stand { len_frames: 4_800 },
    ]
}

/// A song of 40 s, and the same with its last "chorus", 24 to 32 s, 3 dB up.
fn scene() -> (Audio, Audio) {
    let rate = RATE_HZ as usize;
    let song = even_song(91, RATE_HZ, 40.0);
    let edited = song.with_gain(24 * rate..32 * rate, 1.412_537_5);
    (song, edited)
}

pub fn assert_near(name: &str, a: &host::Figures, b: &host::Figures) {
    for (figure, a, b) in [
        ("integrated", a.integrated_lufs, b.integrated_lufs),
        ("LRA", a.loudness_range_lu, b.loudness_range_lu),
        ("max M", a.max_momentary_lufs, b.max_momentary_lufs),
        ("max S", a.max_short_term_lufs, b.max_short_term_lufs),
        ("true peak", a.max_true_peak_dbtp, b.max_true_peak_dbtp),
        ("sample peak", a.sample_peak_dbfs, b.sample_peak_dbfs),
    ] {
        let (a, b) = (a.unwrap(), b.unwrap());
        assert!((a - b).abs() <= TOLERANCE, "{name}, {figure}: {a}, not {b}");
    }
    assert_eq!(a.frames, b.frames, "{name}");
    assert_eq!((a.measured_hops, a.span_hops), (b.measured_hops, b.span_hops), "{name}");
}

#[test]
fn replaying_the_last_chorus_after_reopening_brings_the_song_up_to_date() {
    let (song, edited) = scene();
    // Without closing the project in between.
    let mut host = new_host();
    host.activate(RATE_HZ, 512).unwrap();
    run(&mut host, &song, &play_once(&song));
    let state = host.save_state().unwrap();
    let before = host.measurement().unwrap().figures;
    run(&mut host, &edited, &piece(24, 8));
    let expected = host.measurement().unwrap().figures;
    assert!(expected.integrated_lufs.unwrap() > before.integrated_lufs.unwrap() + 0.1);

    for load_at in ["before activation", "after it", "between two", "at another rate", "twice"] {
        let mut host = new_host();
        if load_at == "before activation" || load_at == "twice" {
            host.load_state(&state).unwrap();
        }
        if load_at == "at another rate" {
            host.load_state(&state).unwrap();
            host.activate(44_100, 512).unwrap();
            host.deactivate();
        }
        host.activate(RATE_HZ, 512).unwrap();
        if load_at == "after it" || load_at == "twice" {
            host.load_state(&state).unwrap();
        }
        if load_at == "between two" {
            host.deactivate();
            host.load_state(&state).unwrap();
            host.activate(RATE_HZ, 512).unwrap();
        }
        assert_eq!(host.measurement().unwrap().figures, before, "{load_at}");
        run(&mut host, &edited, &piece(24, 8));
        assert_near(load_at, &host.measurement().unwrap().figures, &expected);
        // Nothing of this is an edit.
        let calls = host.calls();
        assert_eq!((calls.mark_dirty, calls.flush), (0, 0), "{load_at}");
        // Saved and opened once more.
        let again = host.save_state().unwrap();
        let mut host = new_host();
        host.load_state(&again).unwrap();
        assert_eq!(content(&host.save_state().unwrap()), content(&again), "{load_at}");
    }
}

#[test]
fn a_state_that_is_loaded_in_mid_song_joins_what_is_being_measured() {
    let (song, edited) = scene();
    let mut host = new_host();
    host.activate(RATE_HZ, 512).unwrap();
    run(&mut host, &song, &play_once(&song));
    let state = host.save_state().unwrap();
    run(&mut host, &edited, &piece(20, 8));
    let expected = host.measurement().unwrap().figures;

    let mut host = new_host();
    host.activate(RATE_HZ, 512).unwrap();
    let steps = piece(20, 8);
    let half = [steps[0], Step::Play { len_frames: 4 * RATE_HZ as usize }];
    run(&mut host, &edited, &half);
    host.load_state(&state).unwrap();
    let rest = [
        Step::Locate { frame: 24 * i64::from(RATE_HZ) },
        Step::Play { len_frames: 4 * RATE_HZ as usize },
        Step::Stand { len_frames: 4_800 },
    ];
    run(&mut host, &edited, &rest);
    assert_near("in mid song", &host.measurement().unwrap().figures, &expected);
}

/// The record out of a state, and the figures of its measurement.
fn saved_record(state: &[u8]) -> Value {
    serde_json::from_str(&field(state, "record").unwrap()).unwrap()
}

fn song_state() -> (Value, host::Figures) {
    let (song, _) = scene();
    let mut host = new_host();
    host.activate(RATE_HZ, 512).unwrap();
    run(&mut host, &song, &play_once(&song));
    let state = host.save_state().unwrap();
    (saved_record(&state), host.measurement().unwrap().figures)
}

fn shared_with_sources(layout: Layout) -> (Shared, Outputs, Sources) {
    let shared = Shared::default();
    shared.set_rate_hz(RATE_HZ);
    let (outputs, sources) = Outputs::new(layout, false);
    shared.set_sources(sources.clone());
    (shared, outputs, sources)
}

fn assert_shows(sources: &Sources, expected: &host::Figures) {
    let figures: Figures = Analysis::of(&sources.song).song_figures();
    for (a, b) in [
        (figures.integrated.map(|v| v.0), expected.integrated_lufs),
        (figures.loudness_range.map(|v| v.0), expected.loudness_range_lu),
        (figures.max_momentary.map(|v| v.0), expected.max_momentary_lufs),
        (figures.max_short_term.map(|v| v.0), expected.max_short_term_lufs),
        (figures.max_true_peak.map(|v| v.0), expected.max_true_peak_dbtp),
        (figures.sample_peak.map(|v| v.0), expected.sample_peak_dbfs),
    ] {
        let (a, b) = (a.unwrap(), b.unwrap());
        assert!((a - b).abs() <= TOLERANCE, "{a}, not {b}");
    }
}

/// Has threads end when it is dropped.
struct Stop<'a>(&'a AtomicBool);

impl Drop for Stop<'_> {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

#[test]
fn a_state_can_be_loaded_again_and_again_while_the_audio_thread_writes() {
    let (saved, expected) = song_state();
    let (shared, outputs, sources) = shared_with_sources(Layout::Stereo);
    let rate = SampleRate::new(RATE_HZ).unwrap();
    let stop = AtomicBool::new(false);
    let (written, seen) = (AtomicU32::new(0), AtomicU32::new(0));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut recorder = Recorder::new(rate, outputs, Arc::clone(&shared.status));
            let block = [0.01; 480];
            // A loop over 60 to 62 s, beyond the song that is loaded.
            while !stop.load(Ordering::Relaxed) {
                let hop = written.fetch_add(1, Ordering::Relaxed);
                let seconds = Some(60.0 + f64::from(hop % 200) / 100.0);
                let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
                recorder.process(&[&block, &block], &position);
            }
            recorder.stop();
        });
        scope.spawn(|| {
            let mut analysis = Analysis::new(sources.song.clone());
            while !stop.load(Ordering::Relaxed) {
                analysis.update();
                // The song that was loaded is there whole, or not yet at all.
                if let Some(integrated) = analysis.figures(0..4_000).integrated {
                    let error = integrated.0 - expected.integrated_lufs.unwrap();
                    assert!(error.abs() <= TOLERANCE, "{error}");
                    seen.fetch_add(1, Ordering::Relaxed);
                }
            }
        });
        // Whatever comes, the others end.
        let _stop = Stop(&stop);
        shared.load_record(&saved);
        // What was written before this first load is no part of what is looked at in the end.
        let before = written.load(Ordering::Relaxed);
        // As long as it takes until each has met the others, however slow the machine is.
        let is_enough = |[loads, written, seen]: [u32; 3]| loads >= 30 && written > 400 && seen > 0;
        let start = Instant::now();
        let mut loads = 0;
        let (len, counts) = loop {
            shared.load_record(&saved);
            // The record is never saved without what was loaded.
            let len = shared.saved_record()["hops"].as_str().map_or(0, str::len);
            loads += 1;
            let written = written.load(Ordering::Relaxed) - before;
            let counts = [loads, written, seen.load(Ordering::Relaxed)];
            if len <= 20_000 || is_enough(counts) || start.elapsed() > TIME_LIMIT {
                break (len, counts);
            }
        };
        assert!(len > 20_000, "{len} characters of hops");
        assert!(is_enough(counts), "loads, hops written, figures seen: {counts:?}");
    });
    let song = &sources.song;
    let newest = song.newest_playthrough();
    assert!(newest >= song.first_new_playthrough());
    let numbers = song.hops().map(|(index, hop)| (index < 4_001, hop.playthrough));
    for (is_loaded, number) in numbers {
        assert_eq!(number < song.first_new_playthrough(), is_loaded, "{number}");
    }
}

#[test]
fn a_reset_forgets_what_was_loaded_and_its_undo_brings_it_back() {
    let (saved, expected) = song_state();
    let (shared, _outputs, sources) = shared_with_sources(Layout::Stereo);
    shared.load_record(&saved);
    shared.load_measurement(&json!(null));
    assert_shows(&sources, &expected);
    assert_eq!(shared.saved_record(), saved);
    let undo = sources.song.reset();
    assert_eq!(Analysis::of(&sources.song).extent(), None);
    assert_eq!(shared.saved_record(), Value::Null);
    assert_eq!(shared.measurement(), None);
    assert_eq!(shared.last_session(), None);
    sources.song.undo_reset(undo);
    assert_shows(&sources, &expected);
    let (other, _outputs, other_sources) = shared_with_sources(Layout::Stereo);
    other.load_record(&shared.saved_record());
    assert_shows(&other_sources, &expected);
}

#[test]
fn the_editor_marks_what_is_from_the_last_session_until_something_is_measured() {
    let (saved, expected) = song_state();
    let (shared, outputs, _sources) = shared_with_sources(Layout::Stereo);
    let shared = Arc::new(shared);
    let mut reader = ModelReader::new(Arc::clone(&shared));
    assert_eq!(reader.refresh(&Asked::default()).last_session, None);
    shared.load_record(&saved);
    let model = reader.refresh(&Asked::default());
    let integrated = model.last_session.unwrap().integrated.unwrap().0;
    assert!((integrated - expected.integrated_lufs.unwrap()).abs() <= TOLERANCE);
    assert!(model.distance.is_some() && model.notices.is_empty());
    let newest = model.strip.newest_playthrough;
    let points: Vec<_> = model.strip.points.iter().flatten().collect();
    assert_eq!(points.len(), 400);
    assert!(points.iter().all(|point| point.playthrough < newest), "drawn as older");
    // A second that is measured anew.
    let rate = SampleRate::new(RATE_HZ).unwrap();
    let mut recorder = Recorder::new(rate, outputs, Arc::clone(&shared.status));
    for hop in 0..100 {
        let seconds = Some(10.0 + f64::from(hop) / 100.0);
        let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
        recorder.process(&[&[0.1; 480], &[0.1; 480]], &position);
    }
    recorder.stop();
    let model = reader.refresh(&Asked::default());
    assert_eq!(model.last_session, None);
    let newest = model.strip.newest_playthrough;
    let points = || model.strip.points.iter().flatten();
    assert_eq!(points().filter(|point| point.playthrough >= newest).count(), 10);
    assert_eq!(points().count(), 400);
}

#[test]
fn a_record_of_other_channels_is_left_aside_and_kept_until_something_is_measured() {
    let log = in_a_process_of_its_own(
        "record::a_record_of_other_channels_is_left_aside_and_kept_until_something_is_measured",
        || {
            let state = host_with_a_measurement().save_state().unwrap();
            let mut host = new_host();
            host.load_state(&state).unwrap();
            host.select_layout(1).unwrap();
            host.activate(48_000, 512).unwrap();
            let kept = host.save_state().unwrap();
            assert_eq!(content(&kept), content(&state));
            // Back in its own channels it shows again.
            host.deactivate();
            host.select_layout(2).unwrap();
            host.activate(48_000, 512).unwrap();
            let song = song_like(92, 48_000, 1.0);
            run(&mut host, &song, &play_once(&song));
            assert_eq!(host.measurement().unwrap().figures.frames, Some(288_000.0));
            // What was measured here is left aside in turn, not lost.
            let stereo = saved_record(&host.save_state().unwrap());
            host.deactivate();
            host.select_layout(1).unwrap();
            host.activate(48_000, 512).unwrap();
            assert_eq!(saved_record(&host.save_state().unwrap()), stereo);
            let mono = Audio { rate_hz: 48_000, channels: song.channels[..1].to_vec() };
            run(&mut host, &mono, &play_once(&mono));
            let state = host.save_state().unwrap();
            assert_eq!(saved_record(&state)["layout"], json!("mono"));
            assert_eq!(host.measurement().unwrap().figures.frames, Some(48_000.0));
        },
    );
    let Some(log) = log else { return };
    let wanted = "saved record has 2 channels, the host runs the plugin with 1";
    assert!(log.lines().any(|line| line.contains(wanted) && line.contains("ERROR")), "{log}");
}

#[test]
fn a_record_that_cannot_be_read_is_logged_and_nothing_is_lost() {
    let name = "record::a_record_that_cannot_be_read_is_logged_and_nothing_is_lost";
    let log = in_a_process_of_its_own(name, || {
        let good = host_with_a_measurement().save_state().unwrap();
        let record = saved_record(&good);
        let hops = record["hops"].as_str().unwrap().to_owned();
        let with_hops = |hops: String| {
            let mut record = record.clone();
            record["hops"] = hops.into();
            record.to_string()
        };
        let mut flipped = hops.clone().into_bytes();
        flipped[hops.len() / 2] ^= 1;
        let bad = [
            with_hops(hops[..hops.len() / 2].to_owned()),
            with_hops(String::from_utf8(flipped).unwrap()),
            with_hops(hops.repeat(500)),
            with_hops(String::new()),
            with_hops("A".repeat(3_000_000)),
            "{\"version\":1}".to_owned(),
            "[]".to_owned(),
            "{\"version\":1,".to_owned(),
        ];
        for text in &bad {
            // The rest of the state is another one.
            let mut json = parse(&with_known_field(&good, "record", text));
            let mut settings: Value =
                serde_json::from_str(json["fields"]["settings"].as_str().unwrap()).unwrap();
            let default = settings["target"].clone();
            let targets = plimsoll::state::Settings::default();
            let other = targets.targets().nth(1).unwrap().name.clone();
            settings["target"] = other.clone().into();
            json["fields"]["settings"] = settings.to_string().into();
            // Onto nothing, and onto a record that was loaded before.
            for was_there in [false, true] {
                let mut host = new_host();
                if was_there {
                    host.load_state(&good).unwrap();
                }
                host.activate(48_000, 512).unwrap();
                let _ = host.load_state(&unparse(&json));
                let after = host.save_state().unwrap();
                let expected = if was_there { &record } else { &Value::Null };
                assert_eq!(&saved_record(&after), expected);
                let target = content(&after)["fields"]["settings"]["target"].clone();
                assert_eq!(target, json!(other));
                assert_ne!(target, default);
                // The measurement stands in where the record cannot be read.
                assert_eq!(host.measurement().unwrap().figures.frames, Some(288_000.0));
            }
        }
        // One of a later version is kept for it, until something is measured.
        let newer = json!({"version": 7, "anything": [1, 2, 3]});
        let mut host = new_host();
        host.activate(48_000, 512).unwrap();
        host.load_state(&with_known_field(&good, "record", &newer.to_string())).unwrap();
        assert_eq!(saved_record(&host.save_state().unwrap()), newer);
        let song = song_like(93, 48_000, 1.0);
        run(&mut host, &song, &play_once(&song));
        assert_eq!(saved_record(&host.save_state().unwrap())["version"], json!(2));
    });
    let Some(log) = log else { return };
    for expected in [
        "saved record has version 7, this plugin reads up to 2",
        "saved record cannot be read (its check does not fit: it was damaged)",
        "saved record cannot be read",
    ] {
        let line = log.lines().find(|line| line.contains(expected));
        let line = line.unwrap_or_else(|| panic!("the log lacks {expected:?}:\n{log}"));
        assert!(line.contains("ERROR"), "{line}");
    }
}
