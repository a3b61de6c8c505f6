//! Activation at every rate and block size, many instances, unloading.

use super::{RATE_HZ, case, library, play};
use plimsoll_tests::child;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host};
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};

/// Rates of hardware and files, and some of none.
const RATES_HZ: [u32; 13] = [
    8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 47_952, 48_000, 88_200, 96_000, 176_400,
    192_000, 384_000,
];
const BLOCKS_FRAMES: [usize; 8] = [1, 16, 64, 441, 512, 1_024, 4_096, 32_768];

#[test]
fn it_is_activated_at_every_rate_and_block_size_again_and_again() {
    case("life_cycle::it_is_activated_at_every_rate_and_block_size_again_and_again", |host| {
        let telling = Telling::new(Tells::Everything);
        let mut after_first = 0;
        for round in 0..3 {
            for rate_hz in RATES_HZ {
                let song = song_like(141, rate_hz, 0.5);
                for max_frames in BLOCKS_FRAMES {
                    host.activate(rate_hz, max_frames).unwrap();
                    let steps = [
                        Step::Locate { frame: 0 },
                        Step::Play { len_frames: max_frames.min(song.len_frames()).max(1_000) },
                    ];
                    let blocks = Blocks::Fixed(max_frames);
                    let run = host.run(&song, &steps, &telling, &blocks, Buffers::InPlace).unwrap();
                    assert_eq!((run.changed_samples, run.out_events), (0, 0), "{rate_hz} Hz");
                    host.deactivate();
                }
            }
            // Memory does not grow with the number of activations.
            #[cfg(target_os = "linux")]
            match round {
                0 => after_first = super::memory_bytes("RssAnon"),
                _ => {
                    let more = super::memory_bytes("RssAnon").saturating_sub(after_first);
                    assert!(more < 4 << 20, "round {round}: {more} bytes more");
                }
            }
            let _ = (round, &mut after_first);
        }
        assert!(host.measurement().unwrap().figures.measured_hops.unwrap() > 0.0);
    });
}

#[test]
fn it_is_activated_and_deactivated_without_a_block_in_between() {
    case("life_cycle::it_is_activated_and_deactivated_without_a_block_in_between", |host| {
        for round in 0..200 {
            host.activate(RATES_HZ[round % RATES_HZ.len()], 256).unwrap();
            if round % 3 == 0 {
                host.stop_processing().unwrap();
                host.start_processing().unwrap();
                host.reset().unwrap();
            }
            host.deactivate();
        }
        let song = song_like(142, RATE_HZ, 3.0);
        host.activate(RATE_HZ, 512).unwrap();
        play(host, &song, &play_once(&song));
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        assert_eq!(host.measurement().unwrap(), expected);
    });
}

#[test]
fn fifty_instances_live_at_once_and_do_not_know_of_each_other() {
    case("life_cycle::fifty_instances_live_at_once_and_do_not_know_of_each_other", |_| {
        let library = library();
        let mut hosts: Vec<Host> = (0..50).map(|_| Host::new(&library).unwrap()).collect();
        // Mono: fifty records are held at once.
        for host in &mut hosts {
            host.select_layout(1).unwrap();
            host.activate(RATE_HZ, 512).unwrap();
        }
        let songs: Vec<_> = (0..50)
            .map(|seed| {
                let mut song = song_like(1_000 + seed, RATE_HZ, 2.0);
                song.channels.truncate(1);
                song
            })
            .collect();
        // Turn by turn, as a host goes through its tracks.
        for turn in 0..4 {
            for (host, song) in hosts.iter_mut().zip(&songs) {
                let from = Step::Locate { frame: turn * 24_000 };
                play(host, song, &[from, Step::Play { len_frames: 24_000 }]);
            }
        }
        for (host, song) in hosts.iter_mut().zip(&songs) {
            play(host, song, &[Step::Locate { frame: 96_000 }, Step::Stand { len_frames: 4_800 }]);
            let expected = Direct::measure(song).measurement().unwrap().unwrap();
            assert_eq!(host.measurement().unwrap(), expected);
            assert_eq!(host.violations(), [""; 0]);
        }
        // They go in an order of their own.
        while !hosts.is_empty() {
            hosts.swap_remove(hosts.len() / 2);
        }
    });
}

#[test]
fn the_library_is_unloaded_and_loaded_again() {
    let name = "life_cycle::the_library_is_unloaded_and_loaded_again";
    child::run(name, &[], || {
        let song = song_like(143, RATE_HZ, 2.0);
        let expected = Direct::measure(&song).measurement().unwrap().unwrap();
        for _ in 0..20 {
            let library = library();
            let mut host = Host::new(&library).unwrap();
            host.activate(RATE_HZ, 512).unwrap();
            play(&mut host, &song, &play_once(&song));
            assert_eq!(host.measurement().unwrap(), expected);
            drop(host);
            drop(library);
        }
        #[cfg(target_os = "linux")]
        {
            // No thread of the library may be left that would run in memory which is gone.
            let left: Vec<String> = std::fs::read_dir("/proc/self/task")
                .unwrap()
                .filter_map(|task| std::fs::read_to_string(task.unwrap().path().join("comm")).ok())
                .filter(|name| !name.starts_with("conformance") && !name.starts_with("life_cycle"))
                .collect();
            assert_eq!(left, [""; 0], "threads are left");
        }
    });
}
