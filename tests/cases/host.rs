//! The plugin in a host: audio untouched, the same numbers as the direct path whatever the
//! blocks, ports, features and latency as promised. Linked into this binary and as built bundle.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_truncation, reason = "a test")]

use clack_extensions::params::ParamInfoFlags;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Calls, Host, Library, Measurement, built_bundle};
use plimsoll_tests::noise::{Rng, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};

/// The plugin linked into this binary, and as the bundle that users get.
fn libraries() -> [(&'static str, Library); 2] {
    [
        ("linked", Library::linked(&plimsoll::clap_entry).unwrap()),
        ("built", Library::load(&built_bundle()).unwrap()),
    ]
}

fn linked() -> Library {
    Library::linked(&plimsoll::clap_entry).unwrap()
}

/// All the block plans that must not make a difference.
fn plans() -> Vec<Blocks> {
    let mut plans: Vec<Blocks> =
        [1, 7, 64, 441, 512, 1024, 8192].into_iter().map(Blocks::Fixed).collect();
    plans.push(Blocks::Random { seed: 1, max_frames: 2000 });
    plans.push(Blocks::InTurn(vec![480, 1, 481, 4096, 33]));
    plans
}

fn measure(library: &Library, song: &Audio, blocks: &Blocks, buffers: Buffers) -> Measurement {
    let mut host = Host::new(library).unwrap();
    host.select_layout(song.channels.len() as u32).unwrap();
    host.activate(song.rate_hz, blocks.max_frames()).unwrap();
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, &play_once(song), &telling, blocks, buffers).unwrap();
    assert_eq!(run.changed_samples, 0, "{blocks:?}, {buffers:?}");
    host.measurement().unwrap()
}

#[test]
fn the_descriptor_names_the_features_that_hosts_sort_by() {
    for (name, library) in libraries() {
        let descriptors = library.descriptors();
        assert_eq!(descriptors.len(), 1, "{name}");
        assert_eq!(descriptors[0].name, "Plimsoll");
        let mut features = descriptors[0].features.clone();
        features.sort();
        assert_eq!(features, ["analyzer", "audio-effect", "mastering", "mono", "stereo"], "{name}");
    }
}

#[test]
fn ports_are_one_in_and_one_out_stereo_or_mono_and_latency_is_zero() {
    for (name, library) in libraries() {
        for channels in [2, 1] {
            let mut host = Host::new(&library).unwrap();
            host.select_layout(channels).unwrap();
            for is_input in [true, false] {
                let ports = host.ports(is_input).unwrap();
                assert_eq!(ports.len(), 1, "{name}");
                assert_eq!(ports[0].channels, channels, "{name}");
                assert!(ports[0].is_main, "{name}");
                assert!(ports[0].in_place_pair.is_some(), "{name}");
            }
            host.activate(48_000, 512).unwrap();
            assert_eq!(host.latency_frames().unwrap(), 0, "{name}");
        }
    }
}

#[test]
fn no_reading_is_a_parameter() {
    let mut host = Host::new(&linked()).unwrap();
    host.activate(48_000, 512).unwrap();
    let before = host.params().unwrap();
    let song = song_like(1, 48_000, 5.0);
    let telling = Telling::new(Tells::Everything);
    let run = host
        .run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate)
        .unwrap();
    assert_eq!(host.params().unwrap(), before, "playing changed a parameter");
    assert_eq!(run.out_events, 0);
    for param in before {
        assert!(!param.flags.contains(ParamInfoFlags::IS_READONLY), "{} is a reading", param.name);
    }
}

#[test]
fn playing_asks_nothing_of_the_host_and_never_marks_the_project() {
    for (name, library) in libraries() {
        let mut host = Host::new(&library).unwrap();
        host.activate(48_000, 512).unwrap();
        let song = song_like(2, 48_000, 5.0);
        let before = host.calls();
        let telling = Telling::new(Tells::Everything);
        let run = host
            .run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate)
            .unwrap();
        host.save_state().unwrap();
        let after = host.calls();
        assert_eq!(before, after, "{name}");
        assert_eq!(after, Calls { mark_dirty: 0, restart: 0, ..after }, "{name}");
        assert_eq!(run.out_events, 0, "{name}");
        assert_eq!(run.not_kept, 0, "{name}: a host may put it to sleep on silence");
    }
}

/// Every kind of 32-bit float there is, subnormals and NaN with payload among them.
fn all_kinds_of_bits(rate_hz: u32, channels: usize) -> Audio {
    let mut rng = Rng::new(5);
    let special = [
        f32::NAN,
        f32::from_bits(0xFFC1_2345),
        f32::INFINITY,
        f32::NEG_INFINITY,
        f32::MIN_POSITIVE / 4.0,
        -0.0,
        1e30,
        f32::MAX,
    ];
    let channel = |rng: &mut Rng| -> Vec<f32> {
        (0..48_000)
            .map(|frame| {
                if frame % 1000 < special.len() {
                    special[frame % 1000]
                } else if frame % 3 == 0 {
                    // Quiet NaNs only: merely moving a signalling one may quieten it.
                    let bits = rng.next_u64() as u32;
                    let value = f32::from_bits(bits);
                    if value.is_nan() { f32::from_bits(bits | 0x0040_0000) } else { value }
                } else {
                    rng.bipolar() as f32
                }
            })
            .collect()
    };
    Audio { rate_hz, channels: (0..channels).map(|_| channel(&mut rng)).collect() }
}

#[test]
fn audio_passes_bit_for_bit_with_nan_and_infinity_in_it() {
    for (name, library) in libraries() {
        for channels in [2, 1] {
            let song = all_kinds_of_bits(48_000, channels);
            for buffers in [Buffers::Separate, Buffers::InPlace] {
                for blocks in [Blocks::Fixed(512), Blocks::Random { seed: 2, max_frames: 100 }] {
                    let mut host = Host::new(&library).unwrap();
                    host.select_layout(channels as u32).unwrap();
                    host.activate(48_000, 512).unwrap();
                    let steps =
                        [Step::Play { len_frames: 40_000 }, Step::Stand { len_frames: 100 }];
                    for tells in [Tells::Everything, Tells::Nothing] {
                        let telling = Telling::new(tells);
                        let run = host.run(&song, &steps, &telling, &blocks, buffers).unwrap();
                        assert_eq!(run.changed_samples, 0, "{name} {buffers:?} {blocks:?}");
                    }
                }
            }
        }
    }
}

#[test]
fn the_meters_stay_finite_over_what_is_not_audio_count_it_and_recover() {
    let mut song = song_like(3, 48_000, 10.0);
    let clean = Direct::measure(&song).measurement().unwrap().unwrap();
    let kinds = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, f32::MAX];
    for (index, value) in kinds.into_iter().enumerate() {
        song.channels[0][100_000 + index * 7] = value;
    }
    let measured = measure(&linked(), &song, &Blocks::Fixed(512), Buffers::Separate);
    let scrubbed = measured.json["figures"]["scrubbed_samples"].as_u64();
    assert_eq!(scrubbed, Some(kinds.len() as u64));
    let figures = measured.figures;
    // Five samples of 480,000 that count as silence.
    let near = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs() < 0.05;
    assert!(near(figures.integrated_lufs, clean.figures.integrated_lufs), "{figures:?}");
    assert!(near(figures.max_short_term_lufs, clean.figures.max_short_term_lufs), "{figures:?}");
    assert!(figures.max_true_peak_dbtp.unwrap() < clean.figures.max_true_peak_dbtp.unwrap() + 3.0);
}

#[test]
fn block_sizes_and_buffers_make_no_difference_to_the_record() {
    for rate_hz in [44_100, 48_000] {
        let song = song_like(4, rate_hz, 6.0);
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        assert_ne!(expected.figures.max_short_term_lufs, None);
        for blocks in plans() {
            for buffers in [Buffers::Separate, Buffers::InPlace] {
                let measured = measure(&linked(), &song, &blocks, buffers);
                assert_eq!(measured, expected, "{rate_hz} Hz, {blocks:?}, {buffers:?}");
            }
        }
    }
}

#[test]
fn the_built_bundle_measures_what_the_direct_path_measures() {
    let library = Library::load(&built_bundle()).unwrap();
    for (rate_hz, channels) in [(44_100, 2), (48_000, 1), (96_000, 2)] {
        let mut song = song_like(5, rate_hz, 8.0);
        song.channels.truncate(channels);
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        for blocks in [Blocks::Fixed(64), Blocks::Random { seed: 9, max_frames: 1500 }] {
            let measured = measure(&library, &song, &blocks, Buffers::Separate);
            assert_eq!(measured.fingerprint, expected.fingerprint, "{rate_hz} Hz, {blocks:?}");
            assert_eq!(measured.figures, expected.figures, "{rate_hz} Hz, {blocks:?}");
        }
    }
}

#[test]
fn offline_rendering_gives_the_same_bits() {
    let song = song_like(6, 48_000, 6.0);
    let expected = Direct::measure(&song).measurement().unwrap().unwrap();
    let mut host = Host::new(&linked()).unwrap();
    host.render_offline(true).unwrap();
    host.activate(48_000, 4096).unwrap();
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(4096), Buffers::InPlace).unwrap();
    assert_eq!(host.measurement().unwrap(), expected);
}

#[test]
fn rates_that_are_not_measured_still_pass_audio() {
    for rate_hz in [4_000, 500_000] {
        let song = song_like(7, rate_hz, 1.0);
        let mut host = Host::new(&linked()).unwrap();
        host.activate(rate_hz, 512).unwrap();
        let telling = Telling::new(Tells::Everything);
        let run = host
            .run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate)
            .unwrap();
        assert_eq!(run.changed_samples, 0);
        assert!(host.measurement().is_err(), "nothing can have been measured");
    }
}

#[test]
fn instances_do_not_know_of_each_other() {
    let library = linked();
    let songs = [song_like(8, 48_000, 4.0), song_like(9, 48_000, 4.0)];
    let mut hosts = [Host::new(&library).unwrap(), Host::new(&library).unwrap()];
    for host in &mut hosts {
        host.activate(48_000, 512).unwrap();
    }
    // Turn by turn, half a second each.
    let telling = Telling::new(Tells::Everything);
    for turn in 0..8 {
        for (host, song) in hosts.iter_mut().zip(&songs) {
            let steps = [Step::Locate { frame: turn * 24_000 }, Step::Play { len_frames: 24_000 }];
            host.run(song, &steps, &telling, &Blocks::Fixed(500), Buffers::Separate).unwrap();
        }
    }
    for (host, song) in hosts.iter_mut().zip(&songs) {
        let stand = [Step::Stand { len_frames: 500 }];
        host.run(song, &stand, &telling, &Blocks::Fixed(500), Buffers::Separate).unwrap();
        let expected = Direct::measure(song).measurement().unwrap().unwrap();
        assert_eq!(host.measurement().unwrap(), expected);
    }
}
