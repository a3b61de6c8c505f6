//! A stream against the recorder, and parts of a file against the whole.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small numbers of test signals"
)]

use super::*;
use crate::audio::measure_with;
use std::collections::BTreeMap;

/// Something like a song: tones and noise with swells, a click now and then, and what is not
/// audio; never twice the same.
pub(crate) fn song(len_frames: usize, seed: u32) -> Vec<f32> {
    let mut state = seed;
    (0..len_frames)
        .map(|n| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1 << 24) - 0.5;
            let t = n as f64 / 48_000.0;
            let swell = 0.3 + 0.25 * (t * 1.3 + f64::from(seed)).sin();
            let tone = (t * 220.0 * std::f64::consts::TAU).sin() + (t * 14_000.0).sin();
            match state >> 10 {
                0..40 => 1.5,
                40..44 => f32::NAN,
                _ => (swell * (0.4 * tone + 0.3 * noise)) as f32,
            }
        })
        .collect()
}

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).unwrap()
}

fn streamed(mut stream: HopStream, channels: &[&[f32]], block_frames: usize) -> BTreeMap<i32, Hop> {
    let mut hops = BTreeMap::new();
    let mut give = |index, hop: &Hop| assert_eq!(hops.insert(index, *hop), None);
    let len_frames = channels[0].len();
    let mut at = stream.next_frame() as usize;
    while at < len_frames {
        let end = (at + block_frames).min(len_frames);
        let block: Vec<&[f32]> = channels.iter().map(|channel| &channel[at..end]).collect();
        stream.push(&block, &mut give);
        at = end;
    }
    stream.finish(&mut give);
    hops
}

#[test]
fn every_hop_has_the_bits_of_the_recorders() {
    for (hz, len_frames, layout) in [
        (48_000, 240_100, Layout::Stereo),
        (44_100, 100_000, Layout::Stereo),
        (22_050, 99_991, Layout::Mono),
        (8_000, 20_000, Layout::Mono),
        (96_000, 96_010, Layout::Surround51),
        (48_000, 480, Layout::Stereo),
        (48_000, 495, Layout::Stereo),
        (48_000, 5, Layout::Stereo),
        (48_000, 0, Layout::Stereo),
    ] {
        let channels: Vec<Vec<f32>> = (0..layout.channel_count())
            .map(|channel| song(len_frames, 7 + channel as u32))
            .collect();
        let channels: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
        // As in a host, where all is computed.
        let record = measure_with(Effort::Even, &channels, rate(hz), layout);
        for block_frames in [1_000_000, 4_096, 441, 1] {
            let stream = HopStream::new(rate(hz), layout);
            let hops = streamed(stream, &channels, block_frames);
            let last = hops.keys().next_back().map_or(0, |last| last + 1);
            assert_eq!(hops.len() as i32, last, "{hz}");
            for index in -1..=last {
                let found = hops.get(&index).copied();
                assert_eq!(found, record.hop(index), "{hz} Hz, hop {index}");
            }
        }
    }
}

#[test]
fn a_stream_from_mid_song_gives_the_hops_of_the_whole_but_for_the_last_digit_of_energies() {
    let len_frames = 48_000 * 60;
    let channels = [song(len_frames, 1), song(len_frames, 2)];
    let channels: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    let whole = streamed(HopStream::new(rate(48_000), Layout::Stereo), &channels, 4_096);
    let (mut compared, mut differing) = (0, 0);
    for first_hop in [1, 10, 20, 21, 500, 2_345, 4_321, 5_999] {
        let stream = HopStream::from_hop(rate(48_000), Layout::Stereo, first_hop);
        let part = streamed(stream, &channels, 4_096);
        assert_eq!(part.keys().next(), Some(&first_hop));
        assert_eq!(part.len(), whole.range(first_hop..).count());
        for (index, hop) in part {
            let expected = whole[&index];
            let ulps = hop.energy.to_bits().abs_diff(expected.energy.to_bits());
            assert!(ulps <= 1, "hop {index}: {} {}", hop.energy, expected.energy);
            compared += 1;
            differing += ulps;
            let energy = expected.energy;
            assert_eq!(Hop { energy, ..hop }, expected, "hop {index} from {first_hop}");
        }
    }
    println!("{differing} of {compared} energies differ, each in the last digit");
    // A hop's energy is rounded from 53 bits to 24: the two sums, off by some thousand times the
    // rounding of f64, fall on two sides of a border once in some 100 000 hops.
    assert!(differing * 1_000 <= compared, "{differing} of {compared}");
}

#[test]
fn silence_after_full_scale_settles_within_the_warm_up() {
    // The hardest start: what stood before the warm-up is the loudest there is.
    let mut loud = song(48_000 * 4, 3);
    for (n, sample) in loud.iter_mut().enumerate() {
        *sample = match n {
            0..48_000 => 1.0,
            48_000..72_000 => 1e-4 * (n as f32 * 0.01).sin(),
            _ => 1e-7 * (n as f32 * 0.3).sin(),
        };
    }
    let channels = [loud.as_slice(), loud.as_slice()];
    let whole = streamed(HopStream::new(rate(48_000), Layout::Stereo), &channels, 4_096);
    for first_hop in [120, 121, 130, 150, 170, 175] {
        let stream = HopStream::from_hop(rate(48_000), Layout::Stereo, first_hop);
        for (index, hop) in streamed(stream, &channels, 4_096) {
            let expected = whole[&index].energy;
            let error = (f64::from(hop.energy) / f64::from(expected) - 1.0).abs();
            assert!(error < 1e-6, "hop {index} from {first_hop}: {error}");
        }
    }
}
