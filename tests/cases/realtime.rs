//! The audio thread neither allocates nor frees: twenty minutes of audio, with everything that a
//! transport can do. The editor does, but no more in a long song than in a short one.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, reason = "a test")]

use plimsoll::editor::model::StripPoint;
use plimsoll_tests::alloc_guard::{self, CountingAllocator};
use plimsoll_tests::host::{Buffers, Host, Library, SecondInput};
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::played::Played;
use plimsoll_tests::transport::{Blocks, Rounding, Step, Telling, Tells};

#[global_allocator]
static ALLOCATOR: CountingAllocator = CountingAllocator;

const RATE_HZ: usize = 48_000;
const TWENTY_MINUTES: usize = 20 * 60 * RATE_HZ;

/// A random script: long plays, locates to and fro and out of the record, loops, stops, rests,
/// resets. Returns the frames too.
fn script(rng: &mut Rng) -> (Vec<Step>, usize) {
    let mut steps = Vec::new();
    let mut frames = 0;
    for _ in 0..40 {
        let len_frames = rng.between(1, 4 * RATE_HZ);
        match rng.between(0, 11) {
            0 => steps.push(Step::Locate { frame: -(rng.between(0, 90 * RATE_HZ) as i64) }),
            1 => steps.push(Step::Locate { frame: 3 * 3600 * RATE_HZ as i64 }),
            2..=4 => steps.push(Step::Locate { frame: rng.between(0, 600 * RATE_HZ) as i64 }),
            5 => {
                let start_frame = rng.between(0, 60 * RATE_HZ) as i64;
                let end_frame = start_frame + rng.between(100, RATE_HZ) as i64;
                steps.push(Step::Loop { start_frame, end_frame, len_frames });
                frames += len_frames;
            }
            6 => {
                steps.push(Step::Stand { len_frames: len_frames / 8 + 1 });
                frames += len_frames / 8 + 1;
            }
            7 => steps.push(Step::Rest),
            8 => steps.push(Step::Reset),
            _ => {}
        }
        steps.push(Step::Play { len_frames });
        frames += len_frames;
    }
    (steps, frames)
}

#[test]
fn twenty_minutes_with_jumps_loops_stops_and_resets_allocate_nothing() {
    assert!(alloc_guard::is_installed());
    let song = song_like(51, RATE_HZ as u32, 60.0);
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    // The guard sees what the plugin does: its activation allocates.
    let (activated, counts) = alloc_guard::watch(|| host.activate(RATE_HZ as u32, 2048));
    activated.unwrap();
    assert!(counts.allocations > 0);
    let mut rng = Rng::new(52);
    let tells = [Tells::Everything, Tells::Seconds, Tells::Beats, Tells::Playing, Tells::Nothing];
    let roundings = [Rounding::Exact, Rounding::Millisecond, Rounding::Block(2048)];
    let mut frames = 0;
    let mut round = 0;
    // At least so long, and every way of telling with every rounding.
    while frames < TWENTY_MINUTES || round < tells.len() * roundings.len() {
        let (steps, script_frames) = script(&mut rng);
        let telling = Telling::new(tells[round % tells.len()]).rounded(roundings[round % 3]);
        let blocks = match round % 3 {
            0 => Blocks::Random { seed: rng.next_u64(), max_frames: 2048 },
            1 => Blocks::Fixed(64),
            _ => Blocks::InTurn(vec![512, 1, 2048, 441]),
        };
        let buffers = if round % 2 == 0 { Buffers::Separate } else { Buffers::InPlace };
        let run = host.run(&song, &steps, &telling, &blocks, buffers).unwrap();
        assert_eq!(run.frames, script_frames as u64);
        assert_eq!((run.allocations, run.frees), (0, 0), "{telling:?}, {blocks:?}, {steps:?}");
        assert_eq!(run.changed_samples, 0);
        frames += script_frames;
        round += 1;
        // The main thread's work goes on in between, as in a host.
        if round % 4 == 0 {
            host.save_state().unwrap();
        }
    }
}

#[test]
fn what_is_not_audio_allocates_nothing_either() {
    assert!(alloc_guard::is_installed());
    let mut song = song_like(53, RATE_HZ as u32, 20.0);
    for (index, sample) in song.channels[1].iter_mut().enumerate() {
        match index % 1000 {
            0 => *sample = f32::NAN,
            1 => *sample = f32::INFINITY,
            2 => *sample = 1e-42,
            3 => *sample = -1e30,
            _ => {}
        }
    }
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.activate(RATE_HZ as u32, 512).unwrap();
    let steps = [Step::Play { len_frames: 20 * RATE_HZ }, Step::Stand { len_frames: 512 }];
    let telling = Telling::new(Tells::Everything);
    let run = host.run(&song, &steps, &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    assert_eq!((run.allocations, run.frees), (0, 0));
}

#[test]
fn rendering_offline_measures_tone_in_line_and_allocates_nothing() {
    assert!(alloc_guard::is_installed());
    let song = song_like(54, RATE_HZ as u32, 20.0);
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.render_offline(true).unwrap();
    host.activate(RATE_HZ as u32, 2048).unwrap();
    let mut rng = Rng::new(55);
    for _ in 0..4 {
        let (steps, _) = script(&mut rng);
        let telling = Telling::new(Tells::Everything);
        let run =
            host.run(&song, &steps, &telling, &Blocks::Fixed(2048), Buffers::InPlace).unwrap();
        assert_eq!((run.allocations, run.frees), (0, 0), "{steps:?}");
        assert_eq!(run.changed_samples, 0);
    }
}

#[test]
fn a_reference_on_the_second_input_allocates_nothing() {
    assert!(alloc_guard::is_installed());
    let song = song_like(57, RATE_HZ as u32, 30.0);
    let reference = std::sync::Arc::new(song_like(58, RATE_HZ as u32, 30.0));
    for is_offline in [false, true] {
        let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
        host.select_layout_named("Stereo with a reference input").unwrap();
        host.render_offline(is_offline).unwrap();
        host.activate(RATE_HZ as u32, 2048).unwrap();
        let mut rng = Rng::new(59);
        for round in 0..6 {
            let (steps, _) = script(&mut rng);
            let telling = Telling::new(Tells::Everything);
            // The port comes and goes.
            host.set_second_input(match round % 3 {
                1 => SecondInput::Constant(0.0),
                _ => SecondInput::Song(std::sync::Arc::clone(&reference)),
            });
            let blocks = if round % 2 == 0 {
                Blocks::Fixed(64)
            } else {
                Blocks::Random { seed: rng.next_u64(), max_frames: 2048 }
            };
            let run = host.run(&song, &steps, &telling, &blocks, Buffers::Separate).unwrap();
            assert_eq!((run.allocations, run.frees), (0, 0), "{blocks:?}, {steps:?}");
            assert_eq!((run.changed_samples, run.out_events), (0, 0));
            host.save_state().unwrap();
        }
    }
}

/// Most bytes that a frame of the editor asks for while the song plays on, after `minutes` of it.
fn most_bytes_a_frame(minutes: usize) -> u64 {
    let song = song_like(56, RATE_HZ as u32, 60.0);
    let mut played = Played::new(&song, minutes, 20);
    // The first frames read all that there is, and make room for more.
    for _ in 0..3 {
        played.play_on(1_000);
        played.frame(1.0);
    }
    let of_frame = |_| {
        played.play_on(100);
        // What is computed ten times a second is in each of them.
        std::thread::sleep(std::time::Duration::from_millis(101));
        alloc_guard::watch(|| drop(played.frame(0.2))).1.bytes
    };
    (0..10).map(of_frame).max().unwrap()
}

#[test]
fn a_frame_of_the_editor_allocates_no_more_in_twelve_minutes_than_in_two() {
    assert!(alloc_guard::is_installed());
    let [two, twelve] = [2, 12].map(most_bytes_a_frame);
    println!("bytes a frame: {two} in 2 min, {twelve} in 12 min");
    // As many columns are drawn. Half of what a copy of the further points, ten a second, would ask
    // for; one of the hops would ask for more.
    let further = 10 * 60 * 10 * size_of::<Option<StripPoint>>() as u64;
    assert!(twelve < two + further / 2, "{two} bytes a frame in 2 min, {twelve} in 12 min");
}
