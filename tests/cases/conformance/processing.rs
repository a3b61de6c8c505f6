//! Audio in every layout and every kind of buffer, on whatever thread.

use super::{RATE_HZ, case, library, play};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host, Measurement};
use plimsoll_tests::noise::{even_song, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};

/// Another sound in every channel, one of them silent and one of them constant, which a host flags.
fn song(channels: usize, flagged: bool) -> Audio {
    let mut song = Audio { rate_hz: RATE_HZ, channels: Vec::new() };
    for seed in (0..).take(channels.div_ceil(2)) {
        song.channels.extend(even_song(130 + seed, RATE_HZ, 4.0).channels);
    }
    song.channels.truncate(channels);
    if flagged {
        song.channels[0].fill(0.0);
        song.channels[channels - 1].fill(0.25);
    }
    song
}

fn measure(host: &mut Host, song: &Audio, buffers: Buffers) -> Measurement {
    host.select_layout(song.channels.len() as u32).unwrap();
    let blocks = Blocks::Random { seed: 131, max_frames: 700 };
    host.activate(song.rate_hz, blocks.max_frames()).unwrap();
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, &play_once(song), &telling, &blocks, buffers).unwrap();
    assert_eq!((run.changed_samples, run.out_events, run.not_kept), (0, 0, 0), "{buffers:?}");
    host.deactivate();
    host.measurement().unwrap()
}

#[test]
fn every_layout_passes_and_measures_with_either_memory_and_constant_channels_flagged() {
    let name = "processing::every_layout_passes_and_measures_with_either_memory_and_constant_channels_flagged";
    case(name, |_| {
        for channels in [1, 2, 6, 8] {
            for flagged in [false, true] {
                let song = song(channels, flagged);
                let expected = Direct::measure(&song).measurement().unwrap().unwrap();
                for buffers in [Buffers::Separate, Buffers::InPlace] {
                    let mut host = Host::new(&library()).unwrap();
                    let measured = measure(&mut host, &song, buffers);
                    assert_eq!(measured, expected, "{channels} {buffers:?}");
                }
            }
        }
    });
}

#[test]
fn without_any_port_nothing_happens_and_the_next_block_is_measured() {
    case("processing::without_any_port_nothing_happens_and_the_next_block_is_measured", |host| {
        let song = song(2, false);
        host.activate(RATE_HZ, 512).unwrap();
        let telling = Telling::new(Tells::Everything);
        let lost = [Step::Play { len_frames: 48_000 }];
        let run = host.run(&song, &lost, &telling, &Blocks::Fixed(512), Buffers::Absent).unwrap();
        assert_eq!(run.out_events, 0);
        assert!(host.measurement().is_err(), "there was nothing to measure");
        play(host, &song, &play_once(&song));
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        assert_eq!(host.measurement().unwrap(), expected);
    });
}

#[test]
fn a_thread_of_its_own_measures_the_same_while_the_host_goes_on() {
    case("processing::a_thread_of_its_own_measures_the_same_while_the_host_goes_on", |host| {
        let song = song_like(132, RATE_HZ, 20.0);
        host.activate(RATE_HZ, 512).unwrap();
        let mut audio = host.take_audio();
        let mut turns = 0;
        let audio = std::thread::scope(|scope| {
            let worker = scope.spawn(|| {
                let telling = Telling::new(Tells::Everything);
                let blocks = Blocks::Fixed(64);
                let steps = play_once(&song);
                audio
                    .run(&song, &steps, &telling, &blocks, Buffers::Separate)
                    .map(|run| (run, audio))
            });
            while !worker.is_finished() {
                // What a host asks on its main thread meanwhile.
                host.params().unwrap();
                host.save_state().unwrap();
                assert_eq!(host.latency_frames().unwrap(), 0);
                host.idle();
                turns += 1;
            }
            let (run, audio) = worker.join().unwrap().unwrap();
            assert_eq!((run.changed_samples, run.out_events, run.not_kept), (0, 0, 0));
            audio
        });
        host.put_audio(audio);
        assert!(turns > 0);
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        assert_eq!(host.measurement().unwrap(), expected);
    });
}

#[test]
fn reset_and_rest_in_mid_stream_pass_the_audio_and_keep_what_was_measured() {
    let name = "processing::reset_and_rest_in_mid_stream_pass_the_audio_and_keep_what_was_measured";
    case(name, |host| {
        let song = even_song(133, RATE_HZ, 10.0);
        host.activate(RATE_HZ, 512).unwrap();
        let mut steps = Vec::new();
        for turn in 0..100 {
            steps.push(Step::Play { len_frames: 4_800 });
            steps.push(if turn % 2 == 0 { Step::Reset } else { Step::Rest });
            // Twice, and while it stands: hosts do both.
            steps.push(Step::Reset);
            steps.push(Step::Stand { len_frames: 700 });
        }
        play(host, &song, &steps);
        assert_eq!(host.measurement().unwrap().figures.measured_hops, Some(1000.0));
    });
}

#[test]
fn another_render_mode_asks_for_a_restart_and_measures_the_same() {
    case("processing::another_render_mode_asks_for_a_restart_and_measures_the_same", |host| {
        let song = song_like(134, RATE_HZ, 6.0);
        let half = song.len_frames() / 2;
        host.activate(RATE_HZ, 512).unwrap();
        play(host, &song, &[Step::Play { len_frames: half }]);
        let before = host.calls().restart;
        host.render_offline(true).unwrap();
        // It may go on like this until the host finds the time.
        play(host, &song, &[Step::Locate { frame: half as i64 }, Step::Play { len_frames: 4_800 }]);
        assert!(host.calls().restart <= before + 1);
        host.deactivate();
        host.activate(RATE_HZ, 4_096).unwrap();
        let from = half as i64 + 4_800;
        let rest = [
            Step::Locate { frame: from },
            Step::Play { len_frames: song.len_frames() - from as usize },
            Step::Stand { len_frames: 4_800 },
        ];
        play(host, &song, &rest);
        host.render_offline(false).unwrap();
        let figures = host.measurement().unwrap().figures;
        let expected = Direct::measure(&song).measurement().unwrap().unwrap().figures;
        assert_eq!(figures.measured_hops, expected.measured_hops);
        assert_eq!(figures.frames, expected.frames);
    });
}

#[test]
fn there_is_no_tail_and_the_plugin_is_kept_awake_all_the_same() {
    case("processing::there_is_no_tail_and_the_plugin_is_kept_awake_all_the_same", |host| {
        let song = song(2, false);
        host.activate(RATE_HZ, 512).unwrap();
        // `play` sees to it that it is kept awake; a tail of any length would have a host render
        // silence behind the song.
        play(host, &song, &play_once(&song));
        let mut audio = host.take_audio();
        assert_eq!(audio.tail_frames().unwrap(), Some(0));
        host.put_audio(audio);
    });
}
