//! 5.1 and 7.1: weights of BS.1770-5, Annex 1, Table 3 and Annex 3, in the direct path and through
//! the plugin's ports, linked and as built bundle, against the float64 oracle.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_precision_loss, reason = "a test")]

use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host, Library, Measurement, built_bundle};
use plimsoll_tests::noise::even_song;
use plimsoll_tests::oracle::{Oracle, true_peak};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};

const RATE_HZ: u32 = 48_000;

/// L R C LFE Ls Rs and L R C LFE Ls Rs Lb Rb, and their weights as the document has them: Table 3
/// for 5.1, with the surrounds at 110°; Annex 3 for 7.1 (0+7+0), sides at 90°, backs at 135°. The
/// LFE channel is excluded.
const LAYOUTS: [&[f64]; 2] =
    [&[1.0, 1.0, 1.0, 0.0, 1.41, 1.41], &[1.0, 1.0, 1.0, 0.0, 1.41, 1.41, 1.0, 1.0]];

/// The project's tolerance against the oracle at 48 kHz, LU.
const INTEGRATED_LU: f64 = 0.002;

fn libraries() -> [(&'static str, Library); 2] {
    [
        ("linked", Library::linked(&plimsoll::clap_entry).unwrap()),
        ("built", Library::load(&built_bundle()).unwrap()),
    ]
}

/// Another sound in every channel.
fn song(channels: usize) -> Audio {
    let mut song = Audio { rate_hz: RATE_HZ, channels: Vec::new() };
    for seed in (0..).take(channels.div_ceil(2)) {
        song.channels.extend(even_song(200 + seed, RATE_HZ, 12.0).channels);
    }
    // The centre is the loudest, the LFE louder still.
    song.channels[3].iter_mut().for_each(|sample| *sample *= 2.0);
    song.channels.iter_mut().flatten().for_each(|sample| *sample *= 0.4);
    song
}

fn through(library: &Library, song: &Audio) -> Measurement {
    let mut host = Host::new(library).unwrap();
    let channels = u32::try_from(song.channels.len()).unwrap();
    host.select_layout(channels).unwrap();
    for is_input in [true, false] {
        let ports = host.ports(is_input).unwrap();
        assert_eq!((ports.len(), ports[0].channels), (1, channels));
    }
    let blocks = Blocks::Random { seed: 7, max_frames: 900 };
    host.activate(song.rate_hz, blocks.max_frames()).unwrap();
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, &play_once(song), &telling, &blocks, Buffers::Separate).unwrap();
    assert_eq!(run.changed_samples, 0);
    host.measurement().unwrap()
}

/// A tone of 997 Hz at −20 dBFS in one channel alone.
fn tone_in(channel: usize, channels: usize) -> Audio {
    let tone: Vec<f32> = (0..5 * RATE_HZ)
        .map(|frame| {
            let turns = (997.0 * f64::from(frame) / f64::from(RATE_HZ)).fract();
            #[allow(clippy::cast_possible_truncation, reason = "a sample")]
            let sample = (0.1 * (std::f64::consts::TAU * turns).sin()) as f32;
            sample
        })
        .collect();
    let mut audio = Audio { rate_hz: RATE_HZ, channels: vec![vec![0.0; tone.len()]; channels] };
    audio.channels[channel] = tone;
    audio
}

#[test]
fn every_channel_alone_reads_its_weight() {
    for weights in LAYOUTS {
        let alone = Direct::measure(&tone_in(0, weights.len()));
        let left = alone.sources().song.hop(300).unwrap();
        let left_lufs = alone.analysis().song_figures().integrated.unwrap().0;
        // 0 dBFS reads −3.01 LKFS (Annex 1): −23.01.
        assert!((left_lufs + 23.01).abs() < 0.005, "{left_lufs}");
        for (channel, &weight) in weights.iter().enumerate() {
            let what = format!("channel {channel} of {}", weights.len());
            let direct = Direct::measure(&tone_in(channel, weights.len()));
            let hop = direct.sources().song.hop(300).unwrap();
            // Single precision, twice.
            let exact = weight * f64::from(left.energy);
            assert!((f64::from(hop.energy) - exact).abs() <= exact * 2.0_f64.powi(-23), "{what}");
            // Peaks count in every channel, the LFE's too.
            assert_eq!(hop.true_peaks[channel], left.true_peaks[0], "{what}");
            let lufs = direct.analysis().song_figures().integrated.unwrap().0;
            if weight == 0.0 {
                assert_eq!((hop.energy, lufs), (0.0, f64::NEG_INFINITY), "{what}");
            } else {
                let off_lu = lufs - left_lufs - 10.0 * weight.log10();
                assert!(off_lu.abs() < 1e-6, "{what}: {off_lu}");
            }
        }
    }
}

#[test]
fn surround_is_that_of_the_oracle_in_the_direct_path_and_through_the_plugins_ports() {
    for weights in LAYOUTS {
        let song = song(weights.len());
        let oracle = Oracle::weighted(&song, weights);
        let exact_lufs = oracle.integrated_lufs().unwrap();
        // The weights matter: with others it would read otherwise.
        let all_one = Oracle::weighted(&song, &vec![1.0; weights.len()]);
        assert!((all_one.integrated_lufs().unwrap() - exact_lufs).abs() > 0.1);

        let direct = Direct::measure(&song).measurement().unwrap().unwrap();
        for (name, library) in libraries() {
            let measured = through(&library, &song);
            assert_eq!(measured.fingerprint, direct.fingerprint, "{name}");
            assert_eq!(measured.figures, direct.figures, "{name}");
        }
        let off = |ours: Option<f64>, exact: Option<f64>| ours.unwrap() - exact.unwrap();
        let figures = direct.figures;
        let integrated = off(figures.integrated_lufs, Some(exact_lufs));
        assert!(integrated.abs() <= INTEGRATED_LU, "{integrated}");
        let momentary = off(figures.max_momentary_lufs, oracle.max_momentary_lufs());
        assert!((-0.01..=0.001).contains(&momentary), "{momentary}");
        let short_term = off(figures.max_short_term_lufs, oracle.max_short_term_lufs());
        assert!((-0.01..=0.001).contains(&short_term), "{short_term}");
        let range = off(figures.loudness_range_lu, oracle.loudness_range_lu());
        assert!(range.abs() <= 0.02, "{range}");
        // Of all channels, the LFE's too; white parts reach beyond the band that has a tolerance,
        // so the standard's own holds (Tech 3341, cases 15 to 23).
        let peak = off(figures.max_true_peak_dbtp, Some(true_peak::max_dbtp(&song)));
        assert!((-0.4..=0.2).contains(&peak), "{peak}");
    }
}

#[test]
fn the_layouts_that_a_host_may_offer_are_named() {
    for (name, library) in libraries() {
        let layouts = Host::new(&library).unwrap().layouts().unwrap();
        let layouts: Vec<_> =
            layouts.iter().map(|(name, channels)| (name.as_str(), *channels)).collect();
        assert_eq!(
            layouts,
            [
                ("Stereo", 2),
                ("Mono", 1),
                ("5.1 (L R C LFE Ls Rs)", 6),
                ("7.1 (L R C LFE Ls Rs Lb Rb)", 8),
                ("Stereo with a reference input", 2)
            ],
            "{name}"
        );
    }
}
