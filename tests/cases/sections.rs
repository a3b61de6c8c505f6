//! Sections and playthroughs in the plugin, as a host and a project see them.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll::section::{Place, compare};
use plimsoll::state::Song;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::host::{Buffers, Host, Library, field, with_field};
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::time::{Duration, Instant};

const RATE_HZ: u32 = 48_000;

fn seconds(at_s: f64) -> i64 {
    (at_s * f64::from(RATE_HZ)) as i64
}

/// Verse, chorus, verse of 10 s each.
fn song() -> Song {
    let mut song = Song { name: "Lantern Tide".to_owned(), ..Song::default() };
    for (name, start_s) in [("Verse 1", 0.0), ("Chorus", 10.0), ("Verse 2", 20.0)] {
        let end = Place::at(start_s + 10.0);
        song.sections.add_range(Place::at(start_s), end, Some(name)).unwrap();
    }
    song
}

fn host_with(song: &Song) -> Host {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    let fresh = host.save_state().unwrap();
    host.load_state(&with_field(&fresh, "song", &song.save().to_string()).unwrap()).unwrap();
    host.activate(RATE_HZ, 512).unwrap();
    host
}

fn saved(host: &mut Host) -> Song {
    let text = field(&host.save_state().unwrap(), "song").unwrap();
    Song::load(&serde_json::from_str(&text).unwrap()).unwrap().0
}

fn run(host: &mut Host, audio: &Audio, steps: &[Step]) {
    let telling = Telling::new(Tells::Everything);
    host.run(audio, steps, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
}

fn play(from_s: f64, to_s: f64) -> [Step; 2] {
    let len_frames = (seconds(to_s) - seconds(from_s)) as usize;
    [Step::Locate { frame: seconds(from_s) }, Step::Play { len_frames }]
}

#[test]
fn a_playthrough_is_kept_with_the_project_and_compared_with_the_next() {
    let audio = song_like(71, RATE_HZ, 30.0);
    let mut host = host_with(&song());
    run(&mut host, &audio, &play(0.0, 30.0));
    host.stop_processing().unwrap();
    let first = saved(&mut host);
    assert_eq!(first.playthroughs.as_slice().len(), 1);
    assert_eq!(first.sections.as_slice(), song().sections.as_slice());

    // The chorus is turned up by 6.02 dB and played again alone, with a second before it, in which
    // the filter settles.
    host.start_processing().unwrap();
    let chorus = seconds(10.0) as usize..seconds(20.0) as usize;
    run(&mut host, &audio.with_gain(chorus, 2.0), &play(9.0, 20.0));
    host.stop_processing().unwrap();
    let state = host.save_state().unwrap();
    let second = saved(&mut host);
    let [before, after] = second.playthroughs.as_slice() else {
        panic!("{} playthroughs", second.playthroughs.as_slice().len());
    };
    let changes = compare(before, after);
    assert!(changes[0].after.as_ref().unwrap().coverage < 0.11 && !changes[0].same_time);
    assert!(changes[1].same_time && changes[2].change.is_none());
    let by = changes[1].change.unwrap().louder_by.unwrap().0;
    // What the filter remembers of the verse at 10 s is not turned up: its memory fades below a
    // tenth within some 10 ms of the 10 s (the high-pass at 38 Hz), so by 1/1000, 0.005 dB, at most.
    assert!((by - 20.0 * 2.0_f64.log10()).abs() < 0.005, "{by}");

    // In a fresh instance it is all there.
    let mut other = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    other.load_state(&state).unwrap();
    let reopened = saved(&mut other);
    assert_eq!(reopened.save(), second.save());
    assert_eq!(reopened.name, "Lantern Tide");
}

#[test]
fn every_turn_of_a_loop_is_logged_as_a_whole() {
    let audio = song_like(72, RATE_HZ, 30.0);
    let mut host = host_with(&song());
    // As fast as the machine can, so the rounds of the worker are what keeps up: one turn, and
    // then wait until that is logged, as no host is faster than the user's ear here.
    for turn in 1..=3 {
        run(&mut host, &audio, &play(10.0, 20.0));
        let waited = Instant::now();
        while saved(&mut host).playthroughs.as_slice().len() < turn {
            assert!(waited.elapsed() < Duration::from_secs(5), "turn {turn} was not logged");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    let song = saved(&mut host);
    for playthrough in song.playthroughs.as_slice() {
        let chorus = playthrough.sections[1].figures.as_ref().unwrap();
        assert!(chorus.coverage > 0.99, "{}", chorus.coverage);
        assert!(playthrough.sections[0].figures.is_none());
    }
}

#[test]
fn an_open_section_follows_the_end_of_the_song() {
    let audio = song_like(73, RATE_HZ, 20.0);
    let mut song = Song::default();
    song.sections.mark(Place::at(0.0)).unwrap();
    let mut host = host_with(&song);
    run(&mut host, &audio, &play(0.0, 20.0));
    host.stop_processing().unwrap();
    let section = saved(&mut host).sections.as_slice()[0].clone();
    assert_eq!((section.open, section.end_s), (true, 20.0));
}

#[test]
fn playing_and_its_log_never_mark_the_project_dirty() {
    let audio = song_like(74, RATE_HZ, 20.0);
    let mut host = host_with(&song());
    let before = host.params().unwrap();
    run(&mut host, &audio, &play(0.0, 20.0));
    host.stop_processing().unwrap();
    assert_eq!(saved(&mut host).playthroughs.as_slice().len(), 1);
    std::thread::sleep(Duration::from_millis(500));
    host.idle();
    let values = |params: &[plimsoll_tests::host::Param]| -> Vec<f64> {
        params.iter().map(|param| param.value).collect()
    };
    assert_eq!(values(&host.params().unwrap()), values(&before));
    assert_eq!(host.calls().mark_dirty, 0);
}

#[test]
fn a_song_that_cannot_be_read_changes_nothing_and_takes_nothing_with_it() {
    let audio = song_like(75, RATE_HZ, 5.0);
    let mut host = host_with(&song());
    run(&mut host, &audio, &play(0.0, 5.0));
    host.stop_processing().unwrap();
    let good = host.save_state().unwrap();
    for text in [
        "[1, 2]",
        "{\"version\":1}",
        "{\"version\":1,\"sections\":[{\"id\":1,\"name\":\"x\",\"start_s\":5,\"end_s\":1}]}",
        "{\"version\":1,\"sections\":[{\"id\":1,\"name\":\"\",\"start_s\":0,\"end_s\":1}]}",
    ] {
        host.load_state(&with_field(&good, "song", text).unwrap()).unwrap();
        let after = saved(&mut host);
        assert_eq!(after.sections.as_slice(), song().sections.as_slice(), "{text}");
    }
    // One of a newer version is saved again as it came.
    let newer = "{\"version\":9,\"later\":[1]}";
    host.load_state(&with_field(&good, "song", newer).unwrap()).unwrap();
    let text = field(&host.save_state().unwrap(), "song").unwrap();
    let parsed = |text: &str| serde_json::from_str::<serde_json::Value>(text).unwrap();
    assert_eq!(parsed(&text), parsed(newer));
}
