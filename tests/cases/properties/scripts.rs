//! A thousand random scripts: start anywhere, loop, locate, pause, bypass, count in, rest, forget;
//! blocks of any size, hosts that tell only beats or only seconds, positions rounded. The record
//! equals that of playing the final version once, except at declared seams.

use super::model::Model;
use super::script::{
    BEHIND_S, COUNT_IN_S, FINAL, NOT_COVERED, RATES_HZ, Script, VERSIONS, song_len_s,
};
use plimsoll::record::{RecordReader, hop_of_frame};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::{Rng, even_song};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::LazyLock;

/// The versions of a song at one rate, and the record of each, played once.
struct Songs {
    rate_hz: u32,
    songs: [Audio; VERSIONS],
    played_once: [RecordReader; VERSIONS],
}

static SONGS: LazyLock<Vec<Songs>> = LazyLock::new(|| RATES_HZ.map(Songs::new).into());

impl Songs {
    fn new(rate_hz: u32) -> Self {
        let songs = std::array::from_fn(|version| {
            let mut song = even_song(version as u64 + 60, rate_hz, song_len_s(rate_hz));
            let mut rng = Rng::new(u64::from(rate_hz) + version as u64);
            for channel in &mut song.channels {
                for _ in 0..20 {
                    let at = rng.between(0, channel.len() - 1);
                    // Counted, and at its place.
                    channel[at] = [1.0, -1.0, f32::NAN, f32::INFINITY][rng.between(0, 3)];
                }
                let of_full_scale = channel.iter().all(|x| !x.is_finite() || x.abs() <= 1.0);
                assert!(of_full_scale, "the bound of the memory takes that for granted");
            }
            song
        });
        let played_once = std::array::from_fn(|version| {
            let mut direct = Direct::new(rate_hz, 2, 256);
            let before = (2.0 * COUNT_IN_S * f64::from(rate_hz)) as usize;
            let behind = (3.0 * BEHIND_S * f64::from(rate_hz)) as usize;
            let song: &Audio = &songs[version];
            let steps = [
                Step::Locate { frame: -(before as i64) },
                Step::Play { len_frames: before + song.len_frames() + behind },
            ];
            let telling = Telling::new(Tells::Everything);
            direct.run(song, &steps, &telling, &Blocks::Fixed(256));
            direct.stop();
            direct.sources().song.clone()
        });
        Self { rate_hz, songs, played_once }
    }
}

fn songs(rate_hz: u32) -> &'static Songs {
    SONGS.iter().find(|songs| songs.rate_hz == rate_hz).unwrap()
}

/// How many hops were compared in everything; why the script fails.
fn check(script: &Script, covering: bool) -> Result<usize, String> {
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        let Songs { songs, played_once, .. } = songs(script.rate_hz);
        let (direct, model, _) = script.play(songs);
        let hops = heard_hops(script);
        let record = &direct.sources().song;
        let compared = model.compare(record, played_once, hops.clone())?;
        if covering {
            covers(script, &model, record, played_once)?;
        }
        Ok(compared)
    }));
    outcome.unwrap_or_else(|_| Err("a panic".to_owned()))
}

/// Where anything can have been heard, and a little more.
fn heard_hops(script: &Script) -> std::ops::Range<i32> {
    let rate = SampleRate::new(script.rate_hz).unwrap();
    let before = hop_of_frame(-i64::from(script.rate_hz) * 2, rate);
    // Acts play on from anywhere.
    before..hop_of_frame(script.end_frame(), rate) + 1
}

/// The final version was played as a whole: no hop of it is missing.
fn covers(
    script: &Script,
    model: &Model,
    record: &RecordReader,
    played_once: &[RecordReader],
) -> Result<(), String> {
    let rate = SampleRate::new(script.rate_hz).unwrap();
    let song = 0..hop_of_frame(script.end_frame(), rate);
    if !model.was_heard(song.clone()) {
        return Err(NOT_COVERED.to_owned());
    }
    for index in song {
        match record.hop(index) {
            Some(hop)
                if hop.full && hop.frames == played_once[FINAL].hop(index).unwrap().frames => {}
            found => return Err(format!("hop {index} was heard, in pieces or not: {found:?}")),
        }
    }
    Ok(())
}

/// How many hops of what a host that tells nothing played were compared.
fn check_live(script: &Script) -> Result<usize, String> {
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        let (direct, model, tape) = script.play(&songs(script.rate_hz).songs);
        let heard = Audio { rate_hz: script.rate_hz, channels: tape.unwrap().planes };
        let len_hops = heard.len_frames() as i32 * 100 / script.rate_hz as i32;
        let played_once = Direct::measure(&heard).sources().song.clone();
        let sources = direct.sources();
        if (heard_hops(script)).any(|index| sources.song.hop(index).is_some()) {
            return Err("measured in song time, which nobody told".to_owned());
        }
        model.compare(&sources.live, &[played_once], -10..len_hops - 1)
    }));
    outcome.unwrap_or_else(|_| Err("a panic".to_owned()))
}

/// Checks the scripts of `seeds`; of each, `least_hops` are to be compared on average.
fn run(
    seeds: std::ops::Range<u64>,
    least_hops: u64,
    script: impl Fn(u64) -> Script,
    check: impl Fn(&Script) -> Result<usize, String>,
) {
    let mut compared = 0;
    let count = seeds.end - seeds.start;
    for seed in seeds {
        let script = script(seed);
        match check(&script) {
            Ok(hops) => compared += hops,
            Err(why) => {
                let shrunk = script.shrunk(&check);
                let why_shrunk = check(&shrunk);
                panic!("seed {seed}: {why}\nshrunk to {shrunk:#?}\n{why_shrunk:?}");
            }
        }
    }
    // Were most hops seams, nothing would be tested.
    println!("{compared} hops compared in {count} scripts");
    assert!(compared as u64 > least_hops * count, "only {compared} hops in {count} scripts");
}

const TELLING: [Tells; 3] = [Tells::Everything, Tells::Seconds, Tells::Beats];

/// Songs have 450 or 750 hops, half a second before them and behind them included.
#[test]
fn after_500_random_scripts_the_final_version_played_in_pieces_is_all_that_is_left() {
    run(0..500, 500, |seed| Script::new(seed, true, &TELLING), |script| check(script, true));
}

#[test]
fn after_400_random_scripts_every_hop_is_that_of_the_version_heard_last() {
    let script = |seed| Script::new(seed, false, &TELLING);
    run(10_000..10_400, 100, script, |script| check(script, false));
}

#[test]
fn after_100_random_scripts_of_hosts_that_tell_nothing_the_record_is_what_was_heard() {
    let tells = [Tells::Playing, Tells::Nothing];
    run(20_000..20_100, 100, |seed| Script::new(seed, false, &tells), check_live);
}
