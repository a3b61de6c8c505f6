//! What runs under callgrind: one case a process, with a mark before and after what counts.
//!
//! The mark is a call of the C library's `getppid`, before which callgrind is told to write down
//! what it has counted since the last. It costs a dozen instructions, needs no symbols in this
//! program, and none of the unsafe code that valgrind's own marks are made of.

use std::f64::consts::TAU;
use std::sync::Arc;

use plimsoll::audio::{HopStream, HostPosition, Outputs, Recorder, Status};
use plimsoll::loudness::{Analysis, Kept};
use plimsoll::meters::Meters;
use plimsoll::units::SampleRate;
use plimsoll_tests::noise::{Rng, pink, song_like, white};

use crate::failure::{Failure, Outcome};
use crate::input::LAYOUT;

const RATE_HZ: u32 = 48_000;

/// Frames of the cases whose cost per frame counts: 10 s.
pub const LEN_FRAMES: usize = 480_000;

/// The block that a host sends at a low latency.
pub const BLOCK_FRAMES: usize = 64;

/// Frames of the cases whose blocks are counted one by one: 2 s, 200 hops.
const BLOCKS_FRAMES: usize = 96_000;

/// Cases whose cost per frame counts, in the order of the reference file.
pub const PER_FRAME: [&str; 4] =
    ["offline", "offline-baseline", "audio-thread", "audio-thread-baseline"];

/// Signals whose blocks are counted one by one; the first is the steady one.
pub const SIGNALS: [&str; 16] = [
    "steady",
    "song",
    "silence",
    "pink",
    "white",
    "rising",
    "rising-noise",
    "square",
    "clicks",
    "not-audio",
    "nan",
    "denormals",
    "fading",
    "dc",
    "huge",
    "locates",
];

/// Signals whose blocks are counted with tone on its queue too.
pub const TONE_SIGNALS: [&str; 3] = ["song", "white", "locates"];

/// Frames of those, with and without tone: less than the queue holds, so that nobody need empty it
/// in between.
const TONE_FRAMES: usize = 43_200;

/// Where callgrind writes down what it counted.
#[cfg(unix)]
fn mark() {
    std::hint::black_box(std::os::unix::process::parent_id());
}

/// There is no valgrind here.
#[cfg(not(unix))]
fn mark() {}

/// The C function that is the mark.
pub const MARK: &str = "getppid";

/// `bench work`: one case.
pub fn run(case: &str) -> Outcome<()> {
    let rate = SampleRate::new(RATE_HZ);
    let rate = rate.map_err(|error| Failure::Rule(error.to_string()))?;
    if let Some(signal) = case.strip_prefix("blocks-") {
        return blocks(recorder(rate), signal, BLOCKS_FRAMES);
    }
    if let Some(signal) = case.strip_prefix("short-blocks-") {
        return blocks(recorder(rate), signal, TONE_FRAMES);
    }
    if let Some(signal) = case.strip_prefix("tone-blocks-") {
        let (outputs, _) = Outputs::with_tone(LAYOUT, false);
        let mut recorder = Recorder::new(rate, outputs, Arc::new(Status::default()))
            .with_max_block(BLOCK_FRAMES as u32);
        let _work = recorder.queue_tone();
        return blocks(recorder, signal, TONE_FRAMES);
    }
    let song = song_like(11, RATE_HZ, 10.0);
    let song = [&song.channels[0][..LEN_FRAMES], &song.channels[1][..LEN_FRAMES]];
    match case {
        "offline" => offline(HopStream::new(rate, LAYOUT), song),
        "offline-baseline" => offline(HopStream::new_baseline(rate, LAYOUT), song),
        "audio-thread" => {
            let mut recorder = recorder(rate);
            mark();
            for (at, block) in in_blocks(song) {
                recorder.process(&block, &playing(at));
            }
            mark();
        }
        "audio-thread-baseline" => {
            // The meters alone: a recorder picks the best instructions there are.
            let mut meters = Meters::new_baseline(rate, LAYOUT);
            mark();
            for (_, block) in in_blocks(song) {
                meters.process(&block);
                std::hint::black_box((meters.take_levels(), meters.take_true_peaks()));
            }
            mark();
        }
        _ => return Err(Failure::Rule(format!("there is no case {case}"))),
    }
    Ok(())
}

fn offline(mut stream: HopStream, song: [&[f32]; 2]) {
    let mut analysis = Analysis::of_file(LAYOUT);
    mark();
    stream.push(&song, |index, hop| analysis.add(index, Kept::from(*hop)));
    stream.finish(|index, hop| analysis.add(index, Kept::from(*hop)));
    std::hint::black_box(analysis.song_figures());
    mark();
}

fn recorder(rate: SampleRate) -> Recorder {
    let (outputs, _) = Outputs::new(LAYOUT, false);
    Recorder::new(rate, outputs, Arc::new(Status::default())).with_max_block(BLOCK_FRAMES as u32)
}

fn in_blocks([left, right]: [&[f32]; 2]) -> impl Iterator<Item = (usize, [&[f32]; 2])> {
    let blocks = left.chunks(BLOCK_FRAMES).zip(right.chunks(BLOCK_FRAMES));
    blocks.enumerate().map(|(block, (left, right))| (block * BLOCK_FRAMES, [left, right]))
}

fn playing(frame: usize) -> HostPosition {
    HostPosition {
        playing: true,
        seconds: Some(frame as f64 / f64::from(RATE_HZ)),
        ..HostPosition::default()
    }
}

/// A mark before each block, and after the last.
fn blocks(mut recorder: Recorder, signal: &str, len_frames: usize) -> Outcome<()> {
    let [left, right] = planes(signal)?;
    for (at, block) in in_blocks([&left[..len_frames], &right[..len_frames]]) {
        // Elsewhere every seventh block, as a host's loop of a few milliseconds would.
        let jumps = if signal == "locates" { at / BLOCK_FRAMES / 7 } else { 0 };
        let position = playing(at + jumps * 50_000);
        mark();
        recorder.process(&block, &position);
    }
    mark();
    Ok(())
}

fn planes(signal: &str) -> Outcome<[Vec<f32>; 2]> {
    let each = |sample: &mut dyn FnMut(usize) -> f32| -> [Vec<f32>; 2] {
        let left: Vec<f32> = (0..BLOCKS_FRAMES).map(sample).collect();
        let right = left.iter().map(|sample| -0.7 * sample).collect();
        [left, right]
    };
    let tone = |n: usize, share: f64| (TAU * share * n as f64 + 0.3).sin();
    // Grows from hop to hop and within each: every crest is the highest so far.
    let growth = |n: usize| (n % 480 + 48) as f64 / 528.0;
    let two_noises = |noise: fn(u64, usize, f64) -> Vec<f32>| {
        [noise(1, BLOCKS_FRAMES, 0.5), noise(2, BLOCKS_FRAMES, 0.5)]
    };
    Ok(match signal {
        "steady" => each(&mut |n| (0.5 * tone(n, 997.0 / 48_000.0)) as f32),
        "song" | "locates" => {
            let song = song_like(12, RATE_HZ, 2.0);
            [0, 1].map(|channel| song.channels[channel][..BLOCKS_FRAMES].to_vec())
        }
        "silence" => each(&mut |_| 0.0),
        "pink" => two_noises(pink),
        "white" => two_noises(white),
        "rising" => each(&mut |n| (growth(n) * tone(n, 0.437)) as f32),
        "rising-noise" => {
            let mut rng = Rng::new(3);
            each(&mut |n| (growth(n) * rng.bipolar()) as f32)
        }
        "square" => each(&mut |n| if n / 3 % 2 == 0 { 1.0 } else { -1.0 }),
        "clicks" => each(&mut |n| if n % 61 == 0 { 0.9 } else { 0.0 }),
        "not-audio" => each(&mut |n| match n % 5 {
            0 => f32::NAN,
            1 => f32::INFINITY,
            2 => 1e-42,
            3 => 1e30,
            _ => 0.1,
        }),
        "nan" => each(&mut |_| f32::NAN),
        "denormals" => each(&mut |n| (tone(n, 997.0 / 48_000.0) * 1e-40) as f32),
        // Into denormals and on to silence, in a quarter of the time.
        "fading" => each(&mut |n| (tone(n, 0.02) * 0.5_f64.powf(n as f64 / 150.0)) as f32),
        "dc" => each(&mut |_| 1.0),
        "huge" => each(&mut |n| if n % 2 == 0 { 1e30 } else { -1e30 }),
        _ => return Err(Failure::Rule(format!("there is no signal {signal}"))),
    })
}
