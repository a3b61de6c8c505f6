//! Issue 6: "The plugin's snapshot of a playthrough of FILE and `check FILE` give equal figures (to
//! the record's grid; state where the song does not start on it)". Through the built bundle.

use super::{folder, program, put, run};
use plimsoll::loudness::Analysis;
use plimsoll::record::record;
use plimsoll::section::{Edit, MarkerImport, Playthroughs, Sections, read_marker_list};
use plimsoll::snapshot::{Document, Moment, SectionDocument, Snapshot, Source, UtcTime};
use plimsoll::state::Recording;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::host::{Buffers, Figures, Host, built_bundle, field};
use plimsoll_tests::song;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use serde_json::Value;
use std::path::Path;
use std::sync::Arc;

const RATE_HZ: u32 = 48_000;

/// What `state/recording.rs` says of figures that come out of a saved record: LU, LUFS, dB,
/// correlation; and dB of side to mid.
const SAVED: f64 = 0.001;
const SAVED_WIDTH_DB: f64 = 0.01;
/// Tone is saved in steps of half a decibel; a slope is a mean of bands over octaves (6.6 of them),
/// and a ratio of two powers has both errors.
const SAVED_TONE_DB: f64 = 0.5;

/// Plays `song` in a host that renders, from song time `from_frame` on; gives the state it saves.
fn played(song: &Audio, from_frame: usize) -> Vec<u8> {
    let mut host = Host::bundle(&built_bundle()).unwrap();
    // In line with the sound, so that no second of tone is dropped, however fast this goes.
    host.render_offline(true).unwrap();
    host.activate(RATE_HZ, 512).unwrap();
    let steps = [
        Step::Locate { frame: i64::try_from(from_frame).unwrap() },
        Step::Play { len_frames: song.len_frames() - from_frame },
        Step::Stand { len_frames: 4_800 },
    ];
    let telling = Telling::new(Tells::Everything);
    host.run(song, &steps, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    host.save_state().unwrap()
}

/// The figures as the plugin saves them: unrounded.
fn figures(state: &[u8]) -> Value {
    let text = field(state, "measurement").unwrap();
    serde_json::from_str::<Value>(&text).unwrap()["figures"].clone()
}

fn checked(program: &Path, file: &Path, words: &[&str]) -> Value {
    let words = [&["check", "--one-reading", "--json", "-"], words].concat();
    run(program, &words, &[file]).json()["files"][0].clone()
}

/// The song with so many frames of silence before it.
fn late(song: &Audio, by_frames: usize) -> Audio {
    let plane = |plane: &Vec<f32>| [vec![0.0; by_frames], plane.clone()].concat();
    Audio { rate_hz: song.rate_hz, channels: song.channels.iter().map(plane).collect() }
}

/// A snapshot of the record in a saved state.
fn snapshot(state: &[u8], list: &str) -> Document {
    let saved: Value = serde_json::from_str(&field(state, "record").unwrap()).unwrap();
    let recording = Recording::load(&saved).unwrap().expect("a record");
    let markers = read_marker_list(list.as_bytes()).unwrap();
    let mut sections = Sections::default();
    sections.follow_song_end(Some(song::LENGTH_S));
    sections.replace_all(Edit::TakeMarkers, MarkerImport::new(&markers, 0.0).sections).unwrap();
    let (_writer, reader) = record(recording.hops.layout(), false);
    let rate = recording.rate;
    reader.load(Some(Arc::new(recording.hops))).unwrap();
    Document::from(&Snapshot::take(Moment {
        analysis: &mut Analysis::of(&reader),
        source: Source::Song,
        rate: Some(rate),
        sections: &sections,
        bars: None,
        playthroughs: &Playthroughs::default(),
        references: &[],
        targets: &[],
        chosen: None,
        song: song::TITLE,
        track: None,
        taken: UtcTime::from_unix_s(0),
    }))
}

fn near(what: &str, ours: Option<f64>, checked: &Value, tolerance: f64) {
    let (ours, checked) = (ours.unwrap(), checked.as_f64().unwrap());
    assert!((ours - checked).abs() <= tolerance, "{what}: {ours}, check {checked}");
}

#[test]
fn a_song_from_the_start_of_the_project_gives_the_very_figures_of_its_file() {
    let Some(program) = program() else { return };
    let folder = folder("same");
    let song = song::render(RATE_HZ);
    let file = put(&folder, "Lantern Tide.wav", &song);
    let list: String = song::SECTIONS
        .iter()
        .map(|section| format!("{} {}\n", section.start_s, section.name))
        .collect();
    let sections = folder.join("sections.txt");
    std::fs::write(&sections, &list).unwrap();
    let found = checked(&program, &file, &["--sections", sections.to_str().unwrap()]);
    let state = played(&song, 0);

    let exact = figures(&state);
    assert!(exact.as_object().unwrap().len() > 8);
    for (key, value) in exact.as_object().unwrap() {
        assert_eq!(&found[key], value, "{key}");
    }
    // All else out of the saved record, to what it rounds.
    let whole = snapshot(&state, &list);
    assert_eq!(found["sections"].as_array().unwrap().len(), song::SECTIONS.len());
    assert_eq!(whole.sections.len(), song::SECTIONS.len());
    let figures = &whole.figures;
    near("PLR", figures.plr_lu, &found["peak_to_loudness_lu"], 2.0 * SAVED);
    near("PSR", figures.min_psr_lu, &found["min_peak_to_short_term_lu"], 2.0 * SAVED);
    near("correlation", figures.correlation, &found["correlation"], SAVED);
    near("lowest correlation", figures.lowest_correlation, &found["lowest_correlation"], SAVED);
    near("side to mid", figures.side_to_mid_db, &found["side_to_mid_db"], SAVED_WIDTH_DB);
    for (SectionDocument { name, figures, .. }, found) in
        whole.sections.iter().zip(found["sections"].as_array().unwrap())
    {
        assert_eq!(*name, found["name"]);
        near(name, figures.integrated_lufs, &found["integrated_lufs"], SAVED);
        near(name, figures.max_short_term_lufs, &found["max_short_term_lufs"], SAVED);
        near(name, figures.max_momentary_lufs, &found["max_momentary_lufs"], SAVED);
        near(name, figures.max_true_peak_dbtp, &found["max_true_peak_dbtp"], SAVED);
        near(name, figures.side_to_mid_db, &found["side_to_mid_db"], SAVED_WIDTH_DB);
        near(name, figures.low_end_db, &found["tone"]["low_end_db"], SAVED_TONE_DB);
    }
    let tone = &found["tone"];
    for (key, value) in [
        ("subsonic_db", figures.subsonic_db),
        ("low_end_db", figures.low_end_db),
        ("presence_db", figures.presence_db),
        ("air_db", figures.air_db),
        ("slope_db_per_octave", figures.slope_db_per_octave),
        ("side_to_mid_low_db", figures.side_to_mid_low_db),
        ("side_to_mid_middle_db", figures.side_to_mid_middle_db),
        ("side_to_mid_high_db", figures.side_to_mid_high_db),
        ("fold_down_loss_lu", figures.fold_down_loss_lu),
    ] {
        near(key, value, &tone[key], SAVED_TONE_DB);
    }
}

/// 1 s and some frames: no whole number of hops, nor of the gating blocks' steps of 100 ms.
const LATE_FRAMES: usize = 48_000 + 2_537;

/// A song that begins within a hop, played from the start of the project, is measured as the file
/// with that much silence before it: to the last bit.
#[test]
fn a_song_off_the_grid_measures_as_its_file_with_the_silence_before_it() {
    let Some(program) = program() else { return };
    let song = late(&song::render(RATE_HZ), LATE_FRAMES);
    let file = put(&folder("late"), "late.wav", &song);
    let found = checked(&program, &file, &[]);
    for (key, value) in figures(&played(&song, 0)).as_object().unwrap() {
        assert_eq!(&found[key], value, "{key}");
    }
}

/// The same song played from its own first frame, against its file as it is. Peaks are equal. The
/// highest M and S lie within 0.01 LU of windows that move by one sample (issue 3), wherever the
/// windows begin: within 0.02 LU of each other. Gating blocks lie up to 100 ms elsewhere, which
/// BS.1770-5 leaves open: how far I and LRA may move by that is derived below.
#[test]
fn a_song_off_the_grid_moves_gating_blocks_and_no_peak() {
    let Some(program) = program() else { return };
    let song = song::render(RATE_HZ);
    let found = checked(&program, &put(&folder("off"), "song.wav", &song), &[]);
    let state = played(&late(&song, LATE_FRAMES), LATE_FRAMES);
    let played: Figures = plimsoll_tests::host::Measurement::from_state(&state).unwrap().figures;
    let number = |key: &str| found[key].as_f64().unwrap();
    assert_eq!(played.sample_peak_dbfs, Some(number("sample_peak_dbfs")));
    assert_eq!(played.max_true_peak_dbtp, Some(number("max_true_peak_dbtp")));
    assert_eq!(played.frames, Some(number("frames")));
    near("S", played.max_short_term_lufs, &found["max_short_term_lufs"], 0.02);
    near("M", played.max_momentary_lufs, &found["max_momentary_lufs"], 0.02);

    let series = snapshot(&state, "").series;
    let energy = |lufs: f64| 10_f64.powf(lufs / 10.0);
    let mean = energy(number("integrated_lufs"));
    // A block passes the relative gate at a tenth of the mean. Each time the loudness crosses it,
    // one block more or less counts, a tenth of the mean itself; with two for the absolute gate
    // and what the rounding of the crossings leaves. At the ends up to four blocks more or less
    // reach into the song, each no louder than the loudest.
    let blocks: Vec<f64> =
        series.momentary_lufs.iter().flatten().map(|lufs| energy(*lufs)).collect();
    let counts = |block: &f64| *block > mean / 10.0;
    let crossings = blocks.windows(2).filter(|two| counts(&two[0]) != counts(&two[1])).count();
    let number_of_blocks = blocks.iter().filter(|block| counts(block)).count() as f64;
    let loudest = energy(number("max_momentary_lufs")) / mean;
    let moved = 0.9 * (crossings + 2) as f64 + 8.0 * (loudest - 1.0).max(1.0);
    let bound_lu = 10.0 * (1.0 + moved / number_of_blocks).log10();
    assert!(bound_lu < 0.2, "a bound that says something: {bound_lu}");
    near("I", played.integrated_lufs, &found["integrated_lufs"], bound_lu);

    // Each of the values that LRA stands on moves by no more than S moves in 100 ms, and so does
    // each percentile of them; at the gate values come and go, which is a rank or two.
    let short_term: Vec<f64> = series.short_term_lufs.iter().flatten().copied().collect();
    let steps = short_term.windows(2).map(|two| (two[1] - two[0]).abs());
    let gated = short_term.windows(2).zip(steps);
    let counting = gated.filter(|(two, _)| two[0].min(two[1]) > number("integrated_lufs") - 20.0);
    let step = counting.map(|(_, step)| step).fold(0.0, f64::max);
    near("LRA", played.loudness_range_lu, &found["loudness_range_lu"], 2.0 * step);
}
