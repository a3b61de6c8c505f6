//! The signals of EBU Tech 3341 (2023) Table 1, cases 1 to 6 and 9 to 23, and of Tech 3342 (2023)
//! §4, cases 1 to 4, at five sample rates through the direct path, and some of them through the
//! plugin in a host.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, reason = "a test")]

use plimsoll::record::{first_frame_of_hop, hop_of_frame};
use plimsoll::units::{Lufs, SampleRate};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host, Library};
use plimsoll_tests::signals::{Case, Expected, Figure, Part, cases, tech_3341, tech_3342};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};

/// The sound as the plugin gets it: five channels (L R C Ls Rs) become L R C LFE Ls Rs.
fn layout(mut audio: Audio) -> Audio {
    if audio.channels.len() == 5 {
        audio.channels.insert(3, vec![0.0; audio.len_frames()]);
    }
    audio
}

/// Every reading of `expected`'s figure over its range of frames.
fn readings(direct: &Direct, rate_hz: u32, expected: &Expected) -> Vec<f64> {
    let mut analysis = direct.analysis();
    let figures = analysis.song_figures();
    let rate = SampleRate::new(rate_hz).unwrap();
    // Hops that end in the range.
    let ends = |hop: &i32| {
        let end = first_frame_of_hop(hop + 1, rate);
        (expected.from_frame as i64..=expected.until_frame as i64).contains(&end)
    };
    let hops = || (0..=hop_of_frame(expected.until_frame as i64, rate)).filter(ends);
    let momentary = || hops().filter_map(|hop| analysis.momentary(hop)).map(|lufs| lufs.0);
    let short_term = || hops().filter_map(|hop| analysis.short_term(hop)).map(|lufs| lufs.0);
    let one = |lufs: Option<Lufs>| lufs.map(|lufs| lufs.0).into_iter().collect();
    match expected.figure {
        Figure::IntegratedLufs => one(figures.integrated),
        Figure::MomentaryLufs => momentary().collect(),
        Figure::ShortTermLufs => short_term().collect(),
        Figure::MaxMomentaryLufs => momentary().reduce(f64::max).into_iter().collect(),
        Figure::MaxShortTermLufs => short_term().reduce(f64::max).into_iter().collect(),
        Figure::LoudnessRangeLu => figures.loudness_range.map(|lu| lu.0).into_iter().collect(),
        Figure::MaxTruePeakDbtp => figures.max_true_peak.map(|dbtp| dbtp.0).into_iter().collect(),
    }
}

fn check_part(case: Case, rate_hz: u32, index: usize, part: Part) {
    let direct = Direct::measure(&layout(part.audio));
    for expected in &part.expected {
        let readings = readings(&direct, rate_hz, expected);
        assert!(!readings.is_empty(), "{case} at {rate_hz} Hz, part {index}: no {expected:?}");
        for reading in readings {
            assert!(
                expected.admits(reading),
                "{case} at {rate_hz} Hz, part {index}: read {reading}, expected {expected:?}"
            );
        }
    }
}

fn check_all(rate_hz: u32) {
    for case in cases() {
        for (index, part) in case.parts(rate_hz).into_iter().enumerate() {
            check_part(case, rate_hz, index, part);
        }
    }
}

#[test]
fn all_cases_are_within_the_tolerance_at_44100_hz() {
    check_all(44_100);
}

#[test]
fn all_cases_are_within_the_tolerance_at_48000_hz() {
    check_all(48_000);
}

#[test]
fn all_cases_are_within_the_tolerance_at_88200_hz() {
    check_all(88_200);
}

#[test]
fn all_cases_are_within_the_tolerance_at_96000_hz() {
    check_all(96_000);
}

#[test]
fn all_cases_are_within_the_tolerance_at_192000_hz() {
    check_all(192_000);
}

/// BS.1770-5 Annex 1: the same signal reads the same at every rate. The project asks for 0.01 LU.
#[test]
fn the_same_tone_reads_the_same_at_every_rate_within_a_hundredth() {
    let read = |rate_hz| {
        let part = tech_3341(1).parts(rate_hz).remove(0);
        Direct::measure(&part.audio).analysis().song_figures().integrated.unwrap().0
    };
    let at_48_khz = read(48_000);
    for rate_hz in [44_100, 88_200, 96_000, 176_400, 192_000, 384_000] {
        let reading = read(rate_hz);
        assert!((reading - at_48_khz).abs() <= 0.01, "{rate_hz} Hz: {reading}, not {at_48_khz}");
    }
}

/// BS.1770-5 Annex 1, Table 3: the LFE channel is excluded.
#[test]
fn the_lfe_channel_does_not_count() {
    let mut audio = layout(tech_3341(6).parts(48_000).remove(0).audio);
    let read = |audio: &Audio| Direct::measure(audio).analysis().song_figures().integrated;
    let without = read(&audio);
    audio.channels[3] = plimsoll_tests::noise::white(1, audio.len_frames(), 0.9);
    assert_eq!(read(&audio), without);
}

/// The plugin itself, in a host with odd blocks: figures that a saved state holds.
#[test]
fn the_plugin_in_a_host_is_within_the_tolerance_too() {
    let library = Library::linked(&plimsoll::clap_entry).unwrap();
    for (case, part, rate_hz) in [
        (tech_3341(3), 0, 48_000),
        (tech_3341(5), 0, 44_100),
        (tech_3341(10), 7, 48_000),
        (tech_3341(13), 7, 48_000),
        (tech_3341(13), 13, 44_100),
        (tech_3341(16), 0, 192_000),
        (tech_3341(19), 0, 44_100),
        (tech_3341(21), 0, 96_000),
        (tech_3341(22), 0, 48_000),
        (tech_3342(4), 0, 48_000),
    ] {
        let part = case.parts(rate_hz).remove(part);
        let blocks = Blocks::Random { seed: u64::from(rate_hz), max_frames: 700 };
        let mut host = Host::new(&library).unwrap();
        host.activate(rate_hz, blocks.max_frames()).unwrap();
        let telling = Telling::new(Tells::Everything);
        host.run(&part.audio, &play_once(&part.audio), &telling, &blocks, Buffers::InPlace)
            .unwrap();
        let figures = host.measurement().unwrap().figures;
        for expected in &part.expected {
            let reading = match expected.figure {
                Figure::IntegratedLufs => figures.integrated_lufs,
                Figure::MaxMomentaryLufs => figures.max_momentary_lufs,
                Figure::MaxShortTermLufs => figures.max_short_term_lufs,
                Figure::LoudnessRangeLu => figures.loudness_range_lu,
                Figure::MaxTruePeakDbtp => figures.max_true_peak_dbtp,
                Figure::MomentaryLufs | Figure::ShortTermLufs => continue,
            };
            let reading = reading.unwrap();
            assert!(expected.admits(reading), "{case} at {rate_hz} Hz: {reading}, {expected:?}");
        }
    }
}
