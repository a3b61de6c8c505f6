//! Files against song records.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "small numbers of test signals"
)]

use super::*;
use crate::audio::measure;

/// Noise that swells and falls silent, 9 s of each: something to gate.
fn song(len_frames: usize, seed: u32) -> Vec<f32> {
    let mut state = seed;
    (0..len_frames)
        .map(|n| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = (state >> 8) as f32 / (1 << 24) as f32 - 0.5;
            let t = n as f32 / 48_000.0;
            let level = if (t / 18.0).fract() < 0.5 { 0.5 } else { 1e-5 };
            noise * level * (1.2 + (t * 0.9).sin())
        })
        .collect()
}

fn one() -> NonZeroUsize {
    NonZeroUsize::MIN
}

fn stereo(len_s: usize) -> [Vec<f32>; 2] {
    [song(48_000 * len_s + 77, 5), song(48_000 * len_s + 77, 6)]
}

#[test]
fn figures_and_windows_have_the_bits_of_a_song_record() {
    let rate = SampleRate::new(48_000).unwrap();
    let [left, right] = stereo(40);
    let channels = [left.as_slice(), right.as_slice()];
    let mut record = Analysis::of(&measure(&channels, rate, Layout::Stereo));

    let mut meter = FileMeter::new(rate, Layout::Stereo);
    for (left, right) in left.chunks(1_000).zip(right.chunks(1_000)) {
        meter.push(&[left, right]);
    }
    for mut file in [meter.finish(), measure_file(&channels, rate, Layout::Stereo, one())] {
        assert!(record.song_figures().loudness_range.is_some());
        assert_eq!(file.song_figures(), record.song_figures());
        assert_eq!(file.extent(), record.extent());
        for range in [0..4_001, 17..3_000, 250..300, 3_990..4_010, -500..900] {
            assert_eq!(file.figures(range.clone()), record.figures(range));
        }
        for index in -50..4_050 {
            assert_eq!(file.momentary(index), record.momentary(index), "{index}");
            assert_eq!(file.short_term(index), record.short_term(index), "{index}");
            assert_eq!(file.hop(index), record.hop(index), "{index}");
        }
    }
}

#[test]
fn parts_side_by_side_give_the_figures_of_the_whole() {
    let rate = SampleRate::new(48_000).unwrap();
    let [left, right] = stereo(61);
    let channels = [left.as_slice(), right.as_slice()];
    let mut whole = measure_file(&channels, rate, Layout::Stereo, one());
    let expected = whole.song_figures();
    for threads in [2, 3, 6, 100] {
        let threads = NonZeroUsize::new(threads).unwrap();
        let mut parts = measure_file(&channels, rate, Layout::Stereo, threads);
        assert_eq!(parts.extent(), whole.extent());
        let figures = parts.song_figures();
        // One f32 step of one hop in a window of 40: 6e-8/40 of its energy, 1e-8 LU. Hold it to
        // a hundredth of the 0.0001 LU that nobody prints.
        let close = |a: f64, b: f64| (a - b).abs() < 1e-6;
        assert!(close(figures.integrated.unwrap().0, expected.integrated.unwrap().0));
        assert!(close(figures.loudness_range.unwrap().0, expected.loudness_range.unwrap().0));
        assert!(close(figures.max_momentary.unwrap().0, expected.max_momentary.unwrap().0));
        assert!(close(figures.max_short_term.unwrap().0, expected.max_short_term.unwrap().0));
        let rest = crate::loudness::Figures {
            integrated: expected.integrated,
            loudness_range: expected.loudness_range,
            max_momentary: expected.max_momentary,
            max_short_term: expected.max_short_term,
            ..figures
        };
        assert_eq!(rest, expected);
    }
}

#[test]
fn a_file_of_nothing_and_one_shorter_than_a_hop_are_no_special_case() {
    let rate = SampleRate::new(48_000).unwrap();
    let two = NonZeroUsize::new(2).unwrap();
    let mut nothing = measure_file(&[&[], &[]], rate, Layout::Stereo, two);
    assert_eq!(nothing.song_figures(), crate::loudness::Figures::default());
    let short = song(100, 1);
    let mut file = measure_file(&[&short, &short], rate, Layout::Stereo, two);
    let figures = file.song_figures();
    assert_eq!(figures.frames, 100);
    assert!(figures.max_true_peak.is_some() && figures.integrated.is_none());
}
