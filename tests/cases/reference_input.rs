//! The reference input: a song on a second port, measured beside ours into a record of its own.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_wrap, reason = "a test")]

use plimsoll::loudness::{Analysis, FileMeter};
use plimsoll::meters::layout::Layout;
use plimsoll::record::hop_seconds;
use plimsoll::reference::Reference;
use plimsoll::section::{Marker, Place, SectionLog, log_markers, measure};
use plimsoll::state::{Recording, Song, load_references, save_references};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host, Library, SecondInput, field, with_field};
use plimsoll_tests::noise::{even_song, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};
use serde_json::Value;
use std::sync::Arc;

const RATE_HZ: u32 = 48_000;
const LAYOUT: &str = "Stereo with a reference input";
const SECTIONS: [(&str, f64); 3] = [("Verse", 0.0), ("Chorus", 6.0), ("Verse", 14.0)];

/// A host that renders, so that tone is measured in line.
fn host(layout: &str) -> Host {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.select_layout_named(layout).unwrap();
    host.render_offline(true).unwrap();
    host
}

/// The sections of a song of `len_s` seconds.
fn sections(len_s: f64) -> Song {
    let mut song = Song::default();
    let ends_s = SECTIONS[1..].iter().map(|(_, start_s)| *start_s).chain([len_s]);
    for ((name, start_s), end_s) in SECTIONS.iter().zip(ends_s) {
        song.sections.add_range(Place::at(*start_s), Place::at(end_s), Some(name)).unwrap();
    }
    song
}

fn give_sections(host: &mut Host, len_s: f64) {
    let state = host.save_state().unwrap();
    let song = sections(len_s).save().to_string();
    host.load_state(&with_field(&state, "song", &song).unwrap()).unwrap();
}

fn play(host: &mut Host, song: &Audio, second: SecondInput, steps: &[Step], blocks: &Blocks) {
    host.set_second_input(second);
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, steps, &telling, blocks, Buffers::Separate).unwrap();
    assert_eq!((run.changed_samples, run.out_events), (0, 0), "{blocks:?}");
}

fn song_on(reference: &Audio) -> SecondInput {
    SecondInput::Song(Arc::new(reference.clone()))
}

fn value(host: &mut Host, name: &str) -> Value {
    serde_json::from_str(&field(&host.save_state().unwrap(), name).unwrap()).unwrap()
}

/// The reference as a file would be measured, with markers where the sections begin.
fn as_file(reference: &Audio) -> Reference {
    let planes: Vec<&[f32]> = reference.channels.iter().map(Vec::as_slice).collect();
    let mut meter = FileMeter::with_tone(SampleRate::new(RATE_HZ).unwrap(), Layout::Stereo);
    meter.push(&planes);
    let mut analysis = meter.finish();
    let marker = |(name, at_s): &(&str, f64)| Marker {
        at_s: *at_s,
        length_s: None,
        name: (*name).to_owned(),
    };
    let markers: Vec<Marker> = SECTIONS.iter().map(marker).collect();
    let (log, _) = log_markers(&markers, reference.len_s(), &mut analysis).unwrap();
    let extent = analysis.extent().unwrap();
    let whole = measure(&mut analysis, extent);
    let file = Reference::new("Reference input", reference.len_s(), &whole, &log);
    Reference { id: 1, is_input: true, ..file }
}

/// What the reference input should show of a record.
fn of_record(analysis: &mut Analysis, len_s: f64) -> Value {
    let range = analysis.song_range().unwrap();
    let mut log = SectionLog::default();
    log.update(sections(len_s).sections.as_slice(), analysis);
    let whole = measure(analysis, range.clone());
    let input = Reference::of_input(hop_seconds(range.end), &whole, log.entries()).unwrap();
    save_references(&[Reference { id: 1, ..input }])
}

#[test]
fn it_measures_what_a_file_would_and_the_song_as_without_it() {
    let (song, reference) = (song_like(201, RATE_HZ, 20.0), song_like(202, RATE_HZ, 20.0));
    let file = save_references(&[as_file(&reference)]);
    let direct = of_record(&mut Direct::measure_with_tone(&reference).analysis(), 20.0);
    let measured = Direct::measure(&song).measurement().unwrap().unwrap();
    let plans = [
        Blocks::Fixed(64),
        Blocks::Fixed(2_048),
        Blocks::Random { seed: 203, max_frames: 1_500 },
        Blocks::InTurn(vec![480, 1, 481, 4_096, 33]),
    ];
    for blocks in plans {
        let mut host = host(LAYOUT);
        give_sections(&mut host, 20.0);
        host.activate(RATE_HZ, blocks.max_frames()).unwrap();
        play(&mut host, &song, song_on(&reference), &play_once(&song), &blocks);
        let input = value(&mut host, "references");
        assert_eq!(input, direct, "{blocks:?}");
        assert_eq!(input["references"], file["references"], "{blocks:?}");
        let tone = |value: &Value| load_references(value).unwrap()[0].whole.tone.clone().unwrap();
        let (input, file) = (tone(&input), tone(&file));
        assert_eq!(input.seconds, file.seconds);
        // A file is measured in parts: sums in single precision, kept in steps of 0.01 dB.
        for (is, was) in input.both.mean_db.iter().zip(&file.both.mean_db) {
            assert!((is - was).abs() < 0.010_1, "{is} {was}");
        }
        assert_eq!(host.measurement().unwrap(), measured, "{blocks:?}");
    }
}

#[test]
fn in_a_host_that_plays_it_measures_the_same_loudness() {
    let (song, reference) = (song_like(204, RATE_HZ, 20.0), song_like(205, RATE_HZ, 20.0));
    let mut host = host(LAYOUT);
    host.render_offline(false).unwrap();
    host.activate(RATE_HZ, 512).unwrap();
    play(&mut host, &song, song_on(&reference), &play_once(&song), &Blocks::Fixed(512));
    let loaded = load_references(&value(&mut host, "references")).unwrap();
    let [input] = &loaded[..] else { unreachable!("{}", loaded.len()) };
    let expected = &as_file(&reference).whole.figures;
    let near = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs() < 1e-4;
    let figures = &input.whole.figures;
    assert!(near(figures.integrated_lufs, expected.integrated_lufs), "{figures:?}");
    assert!(near(figures.max_true_peak_dbtp, expected.max_true_peak_dbtp), "{figures:?}");
    assert!(near(figures.loudness_range_lu, expected.loudness_range_lu), "{figures:?}");
}

#[test]
fn a_part_that_is_played_again_replaces_that_part() {
    let (song, before) = (song_like(206, RATE_HZ, 20.0), song_like(207, RATE_HZ, 20.0));
    let after = song_like(208, RATE_HZ, 20.0);
    let part = [
        Step::Locate { frame: 6 * i64::from(RATE_HZ) },
        Step::Play { len_frames: 8 * RATE_HZ as usize },
        Step::Stand { len_frames: 4_800 },
    ];
    let blocks = Blocks::Fixed(480);
    let mut host = host(LAYOUT);
    give_sections(&mut host, 20.0);
    host.activate(RATE_HZ, 512).unwrap();
    play(&mut host, &song, song_on(&before), &play_once(&song), &blocks);
    let first = value(&mut host, "references");
    play(&mut host, &song, song_on(&after), &part, &blocks);
    let mut direct = Direct::with_tone(RATE_HZ, 2);
    let telling = Telling::new(Tells::Everything);
    direct.run(&before, &play_once(&before), &telling, &blocks);
    direct.run(&after, &part, &telling, &blocks);
    let expected = of_record(&mut direct.analysis(), 20.0);
    let second = value(&mut host, "references");
    assert_eq!(second, expected);
    let integrated = |value: &Value, section: usize| {
        value["references"][0]["sections"][section]["figures"]["integrated_lufs"].clone()
    };
    assert_ne!(integrated(&first, 1), integrated(&second, 1));
    assert_eq!(integrated(&first, 0), integrated(&second, 0));
}

#[test]
fn without_sound_on_the_port_nothing_is_measured_and_what_was_stays() {
    let (song, reference) = (song_like(209, RATE_HZ, 20.0), song_like(210, RATE_HZ, 20.0));
    let blocks = Blocks::Random { seed: 211, max_frames: 1_500 };
    let silent = Audio { channels: vec![vec![0.0; song.len_frames()]; 2], ..song.clone() };
    // A port without memory: `conformance/second_input.rs`.
    let silences = || [SecondInput::Constant(0.0), song_on(&silent)];
    let mut host = host(LAYOUT);
    host.activate(RATE_HZ, 1_500).unwrap();
    for silence in silences() {
        play(&mut host, &song, silence, &play_once(&song), &blocks);
        assert_eq!(value(&mut host, "references"), Value::Null);
        assert_eq!(value(&mut host, "reference_input"), Value::Null);
    }
    play(&mut host, &song, song_on(&reference), &play_once(&song), &blocks);
    let kept = ["references", "reference_input"].map(|name| value(&mut host, name));
    assert!(kept.iter().all(|value| !value.is_null()));
    for silence in silences() {
        play(&mut host, &song, silence, &play_once(&song), &blocks);
        let now = ["references", "reference_input"].map(|name| value(&mut host, name));
        assert_eq!(now, kept);
    }
}

/// Silence before the first sound is no edge to the unknown: a peak between two samples, right at the
/// start, counts as at the start of a file.
#[test]
fn a_reference_that_begins_later_is_measured_from_its_first_sample_on() {
    let song = song_like(212, RATE_HZ, 20.0);
    let mut cut = even_song(213, RATE_HZ, 12.0);
    for channel in &mut cut.channels {
        (channel[0], channel[1]) = (0.97, 0.97);
    }
    let mut late = cut.clone();
    for channel in &mut late.channels {
        channel.splice(0..0, vec![0.0; 5 * RATE_HZ as usize]);
    }
    let mut host = host(LAYOUT);
    host.activate(RATE_HZ, 512).unwrap();
    // 5 s are a border of blocks.
    let steps = [Step::Play { len_frames: 17 * RATE_HZ as usize }, Step::Stand { len_frames: 480 }];
    play(&mut host, &song, song_on(&late), &steps, &Blocks::Fixed(480));
    let loaded = load_references(&value(&mut host, "references")).unwrap();
    let expected = as_file(&cut).whole;
    assert!(expected.figures.max_true_peak_dbtp.unwrap() > 1.0, "the peak stands there");
    let rounded = |value: f64| (value * 1e4).round() / 1e4;
    let figures = &loaded[0].whole.figures;
    let pairs = [
        (figures.integrated_lufs, expected.figures.integrated_lufs),
        (figures.max_momentary_lufs, expected.figures.max_momentary_lufs),
        (figures.max_short_term_lufs, expected.figures.max_short_term_lufs),
        (figures.loudness_range_lu, expected.figures.loudness_range_lu),
        (figures.max_true_peak_dbtp, expected.figures.max_true_peak_dbtp),
        (figures.min_psr_lu, expected.figures.min_psr_lu),
    ];
    for (is, was) in pairs {
        assert_eq!(rounded(is.unwrap()), rounded(was.unwrap()), "{figures:?}");
    }
    let seconds =
        |reference: &plimsoll::reference::Profile| reference.tone.as_ref().unwrap().seconds;
    assert_eq!(seconds(&loaded[0].whole), seconds(&expected));
}

#[test]
fn what_was_measured_comes_back_with_the_project_and_is_gone_on_with() {
    let (song, reference) = (song_like(214, RATE_HZ, 20.0), song_like(215, RATE_HZ, 20.0));
    let blocks = Blocks::Fixed(512);
    let mut first = host(LAYOUT);
    give_sections(&mut first, 20.0);
    first.activate(RATE_HZ, 512).unwrap();
    play(&mut first, &song, song_on(&reference), &play_once(&song), &blocks);
    let saved = first.save_state().unwrap();
    let names = ["references", "reference_input"];
    let kept = names.map(|name| value(&mut first, name));
    // The record holds no sound: less than a hundredth of what was heard.
    assert!(kept[1].to_string().len() < reference.len_frames() * 8 / 100);

    // With the port and without, before it is active and while it is.
    for layout in [LAYOUT, "Stereo", "Mono"] {
        let mut again = host(layout);
        again.load_state(&saved).unwrap();
        assert_eq!(names.map(|name| value(&mut again, name)), kept, "{layout}");
        again.activate(RATE_HZ, 512).unwrap();
        assert_eq!(names.map(|name| value(&mut again, name)), kept, "{layout}");
        again.load_state(&saved).unwrap();
        assert_eq!(names.map(|name| value(&mut again, name)), kept, "{layout}");
    }

    // A part of it played again: the rest is still there, within what the record rounds.
    let mut again = host(LAYOUT);
    again.load_state(&saved).unwrap();
    again.activate(RATE_HZ, 512).unwrap();
    let part = [
        Step::Locate { frame: 6 * i64::from(RATE_HZ) },
        Step::Play { len_frames: 8 * RATE_HZ as usize },
        Step::Stand { len_frames: 4_800 },
    ];
    play(&mut again, &song, song_on(&reference), &part, &blocks);
    let now = load_references(&value(&mut again, "references")).unwrap();
    let before = load_references(&kept[0]).unwrap();
    assert_eq!(now[0].sections.len(), before[0].sections.len());
    assert_eq!(now[0].length_s, before[0].length_s);
    let of = |reference: &Reference| reference.whole.figures.clone();
    let (now, before) = (of(&now[0]), of(&before[0]));
    let near = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs() < 0.02;
    assert!(near(now.integrated_lufs, before.integrated_lufs), "{now:?}");
    assert_eq!(now.coverage, 1.0);

    // What is saved of it is a record like that of a song.
    let recording = Recording::load(&kept[1]).unwrap().unwrap();
    assert_eq!(recording.hops.hop_count(), 2_000);
}

#[test]
fn another_layout_keeps_the_record_and_the_port_goes_on_with_it() {
    let (song, reference) = (song_like(216, RATE_HZ, 20.0), song_like(217, RATE_HZ, 20.0));
    let mut host = host(LAYOUT);
    host.activate(RATE_HZ, 512).unwrap();
    play(&mut host, &song, song_on(&reference), &play_once(&song), &Blocks::Fixed(512));
    let kept = ["references", "reference_input"].map(|name| value(&mut host, name));
    for layout in ["Stereo", LAYOUT, "Mono", LAYOUT] {
        host.deactivate();
        host.select_layout_named(layout).unwrap();
        host.activate(RATE_HZ, 512).unwrap();
        let now = ["references", "reference_input"].map(|name| value(&mut host, name));
        assert_eq!(now, kept, "{layout}");
    }
}
