//! One writer at 100 times realtime against eight readers: no reader ever sees half of one hop
//! and half of another. What is written carries a relation between all its words, which readers
//! check; the plugin's own arithmetic knows nothing of it.
//!
//! Two seconds' worth by default; `PLIMSOLL_RACE_S=60` for the whole minute.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll::audio::{HostPosition, Outputs, Recorder, Status};
use plimsoll::loudness::Analysis;
use plimsoll::meters::layout::Layout;
use plimsoll::record::{Hop, RecordReader, recent_hops, record};
use plimsoll::units::SampleRate;
use plimsoll_tests::noise::{Rng, song_like};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};
use std::thread;
use std::time::{Duration, Instant};

const READERS: u64 = 8;
/// Hops a second at 100 times realtime.
const HOPS_A_SECOND: u32 = 100 * 100;

fn seconds() -> u32 {
    let text = std::env::var("PLIMSOLL_RACE_S");
    text.map_or(2, |text| text.parse().expect("PLIMSOLL_RACE_S: whole seconds"))
}

/// Runs `write` against `READERS` times `read`, which says how many hops it saw, until it is done.
fn race(mut write: impl FnMut(), read: impl Fn(u64, &dyn Fn() -> bool) -> u64 + Sync) {
    let is_done = AtomicBool::new(false);
    thread::scope(|scope| {
        let readers: Vec<_> = (0..READERS)
            .map(|number| {
                let (read, is_done) = (&read, &is_done);
                scope.spawn(move || read(number, &|| !is_done.load(Ordering::Relaxed)))
            })
            .collect();
        write();
        is_done.store(true, Ordering::Relaxed);
        let seen: Vec<u64> = readers.into_iter().map(|reader| reader.join().unwrap()).collect();
        println!("hops seen: {seen:?}");
        assert!(seen.iter().all(|&seen| seen > 0), "a reader saw nothing");
    });
}

/// Highest number that fits into every word of a hop.
const LAST: u16 = 3_839;

/// A hop of which every word says `n`, up to [`LAST`].
fn hop(n: u16) -> Hop {
    let peak = |channel: usize, more: f32| f32::from(n) + channel as f32 + more;
    Hop {
        energy: f32::from(n),
        momentary_rise: n,
        frames: n,
        full: true,
        edge: false,
        clipped: n,
        scrubbed: !n,
        playthrough: u32::from(n) + 1,
        sample_peaks: std::array::from_fn(|channel| peak(channel, 0.25)),
        true_peaks: std::array::from_fn(|channel| peak(channel, 0.5)),
        left_mean_square: f32::from(n) + 0.25,
        right_mean_square: f32::from(n) + 0.5,
        left_right_mean: f32::from(n) + 0.75,
    }
}

#[test]
fn no_reader_sees_a_torn_hop_of_a_loop_that_is_written_over_and_over() {
    // The widest slots there are. A short loop, so that every hop is rewritten all the time.
    const LOOP_HOPS: i32 = 64;
    let (mut writer, reader) = record(Layout::Surround71, false);
    let (mut recent_writer, recent) = recent_hops();
    let place = AtomicI32::new(0);
    let hops = seconds() * HOPS_A_SECOND;
    let write = || {
        let start = Instant::now();
        for count in 0..hops {
            // Ten at a time, at the pace of 100 times realtime.
            if count % 10 == 0 {
                let due = Duration::from_secs(1) * count / HOPS_A_SECOND;
                thread::sleep(due.saturating_sub(start.elapsed()));
            }
            let index = count as i32 % LOOP_HOPS;
            let hop = hop((count % (u32::from(LAST) + 1)) as u16);
            place.store(index, Ordering::Relaxed);
            writer.write(index, &hop);
            recent_writer.push(&hop);
        }
        let pace = f64::from(hops) / 100.0 / start.elapsed().as_secs_f64();
        println!("{hops} hops at {pace:.0} times realtime");
    };
    race(write, |number, goes_on| {
        let mut rng = Rng::new(number);
        let mut seen = 0;
        while goes_on() {
            // Where the writer is, and just before and behind.
            let near = place.load(Ordering::Relaxed) + rng.between(0, 4) as i32 - 2;
            if let Some(found) = reader.hop(near.rem_euclid(LOOP_HOPS)) {
                let expected = hop(found.frames);
                assert_eq!(found, expected);
                seen += 1;
            }
            if let Some(newest) = recent.newest(2) {
                // Two hops in a row, n − 1 and n or 3 839 and 0: their highest peaks tell n.
                let n = f64::from(newest.true_peaks[0]) - 0.5;
                assert_eq!(newest.true_peaks, hop(n as u16).true_peaks);
                let wraps = n == f64::from(LAST) && newest.energy_sum == n;
                assert!(wraps || newest.energy_sum == 2.0 * n - 1.0, "{newest:?}");
            }
        }
        seen
    });
}

/// Through the recorder and its meters: the right channel is half of the left, which is exact in
/// binary and so must show in every hop, to the last bit.
#[test]
fn no_reader_sees_a_torn_hop_of_a_song_that_is_rendered_at_full_speed() {
    const RATE_HZ: u32 = 48_000;
    const BLOCK: usize = 512;
    let mut song = song_like(101, RATE_HZ, 8.0);
    song.channels[1] = song.channels[0].iter().map(|x| 0.5 * x).collect();
    let blocks = song.len_frames() / BLOCK;
    let (outputs, sources) = Outputs::new(Layout::Stereo, false);
    let rate = SampleRate::new(RATE_HZ).unwrap();
    let mut recorder = Recorder::new(rate, outputs, Arc::new(Status::default()));
    let hops = seconds() * HOPS_A_SECOND;
    let write = || {
        let start = Instant::now();
        let mut frames = 0;
        // No slower than that, if the machine can.
        while frames / 480 < hops as usize {
            for block in 0..blocks {
                let at = block * BLOCK;
                let seconds = Some(at as f64 / f64::from(RATE_HZ));
                let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
                let [left, right] = [&song.channels[0], &song.channels[1]];
                recorder.process(&[&left[at..at + BLOCK], &right[at..at + BLOCK]], &position);
            }
            frames += blocks * BLOCK;
        }
        let pace = frames as f64 / f64::from(RATE_HZ) / start.elapsed().as_secs_f64();
        println!("{frames} frames at {pace:.0} times realtime");
        recorder.stop();
    };
    race(write, |number, goes_on| {
        let mut rng = Rng::new(number);
        let mut analysis = Analysis::new(sources.song.clone());
        let mut seen = 0;
        while goes_on() {
            for _ in 0..100 {
                seen += u64::from(is_whole(&sources.song, rng.between(0, 799) as i32));
            }
            // A reader that looks now and then sees what changed, and no half hops either.
            analysis.update();
            for (index, kept) in analysis.hops(0..800) {
                let [left, right, product] = kept.left_right;
                assert_eq!((right, product), (0.25 * left, 0.5 * left), "hop {index}");
            }
        }
        seen
    });
    // What readers see in the end is what was played.
    let record = &sources.song;
    let len_hops = (blocks * BLOCK / 480) as i32;
    assert!((0..len_hops).all(|index| is_whole(record, index)));
}

fn is_whole(record: &RecordReader, index: i32) -> bool {
    let Some(hop) = record.hop(index) else { return false };
    assert_eq!(hop.right_mean_square, 0.25 * hop.left_mean_square, "hop {index}");
    assert_eq!(hop.left_right_mean, 0.5 * hop.left_mean_square, "hop {index}");
    assert_eq!(hop.sample_peaks[1], 0.5 * hop.sample_peaks[0], "hop {index}");
    assert_eq!(hop.true_peaks[1], 0.5 * hop.true_peaks[0], "hop {index}");
    true
}
