//! Replaying part of a song replaces just that part: the whole song, then the last chorus again
//! 3 dB louder, measures what a file measures in which that chorus is 3 dB louder.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    reason = "a test"
)]

use plimsoll::record::{Hop, RecordReader, hop_of_frame};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Figures, Host, Library};
use plimsoll_tests::noise::even_song;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};
use std::ops::Range;

/// 3 dB.
const LOUDER: f32 = 1.412_537_5;
/// Hops this near to a seam may feel the filters' memory of what stood there before (DESIGN's
/// bound, in s).
const SEAM_S: f64 = 0.5;

struct Scene {
    song: Audio,
    /// The song with its last chorus louder.
    edited: Audio,
    chorus: Range<usize>,
}

/// 80 s of sections of 8 s; the sixth is the last chorus. `offset` frames put it off the hops.
fn scene(rate_hz: u32, offset: usize) -> Scene {
    let section = 8 * rate_hz as usize;
    let chorus = 6 * section + offset..7 * section + offset;
    // The chorus is among the loud sections.
    let song = even_song(21, rate_hz, 80.0).with_gain(chorus.clone(), LOUDER);
    let edited = song.with_gain(chorus.clone(), LOUDER);
    Scene { song, edited, chorus }
}

fn replay_steps(chorus: &Range<usize>) -> [Step; 3] {
    [
        Step::Locate { frame: chorus.start as i64 },
        Step::Play { len_frames: chorus.len() },
        Step::Stand { len_frames: 4800 },
    ]
}

fn assert_within_a_hundredth(replayed: &Figures, expected: &Figures) {
    for (name, replayed, expected) in [
        ("integrated", replayed.integrated_lufs, expected.integrated_lufs),
        ("LRA", replayed.loudness_range_lu, expected.loudness_range_lu),
        ("maximum M", replayed.max_momentary_lufs, expected.max_momentary_lufs),
        ("maximum S", replayed.max_short_term_lufs, expected.max_short_term_lufs),
        ("true peak", replayed.max_true_peak_dbtp, expected.max_true_peak_dbtp),
        ("sample peak", replayed.sample_peak_dbfs, expected.sample_peak_dbfs),
    ] {
        let (replayed, expected) = (replayed.unwrap(), expected.unwrap());
        assert!((replayed - expected).abs() <= 0.01, "{name}: {replayed}, not {expected}");
    }
}

#[test]
fn the_plugin_brings_the_whole_song_up_to_date_when_the_last_chorus_is_played_again() {
    let library = Library::linked(&plimsoll::clap_entry).unwrap();
    for (rate_hz, offset, tells) in
        [(48_000, 0, Tells::Everything), (44_100, 1234, Tells::Seconds), (48_000, 77, Tells::Beats)]
    {
        let scene = scene(rate_hz, offset);
        let before = Direct::measure(&scene.song).measurement().unwrap().unwrap().figures;
        let expected = Direct::measure(&scene.edited).measurement().unwrap().unwrap().figures;
        // The test means something only if the edit moves the figures.
        assert!(expected.integrated_lufs.unwrap() > before.integrated_lufs.unwrap() + 0.1);

        let mut host = Host::new(&library).unwrap();
        host.activate(rate_hz, 512).unwrap();
        let telling = Telling::new(tells);
        let blocks = Blocks::Fixed(512);
        host.run(&scene.song, &play_once(&scene.song), &telling, &blocks, Buffers::Separate)
            .unwrap();
        assert_eq!(host.measurement().unwrap().figures, before);
        host.run(&scene.edited, &replay_steps(&scene.chorus), &telling, &blocks, Buffers::Separate)
            .unwrap();
        let replayed = host.measurement().unwrap().figures;
        assert_within_a_hundredth(&replayed, &expected);
        assert_eq!(replayed.measured_hops, expected.measured_hops);
        assert_eq!(replayed.frames, expected.frames);
    }
}

/// What of a hop does not name its playthrough.
fn values(hop: &Hop) -> Vec<f64> {
    let mut values = vec![
        f64::from(hop.energy),
        f64::from(hop.frames),
        f64::from(hop.left_mean_square),
        f64::from(hop.right_mean_square),
        f64::from(hop.left_right_mean),
    ];
    values.extend(hop.sample_peaks.map(f64::from));
    values.extend(hop.true_peaks.map(f64::from));
    values
}

fn assert_same_hops_away_from(
    seams: &[usize],
    rate_hz: u32,
    replayed: &RecordReader,
    expected: &RecordReader,
    len_frames: usize,
) {
    let rate = SampleRate::new(rate_hz).unwrap();
    let mut compared = 0;
    for hop in 0..=hop_of_frame(len_frames as i64 - 1, rate) {
        let time_s = f64::from(hop) / 100.0;
        let near_a_seam = seams.iter().any(|&seam| {
            let seam_s = seam as f64 / f64::from(rate_hz);
            // The hop spans 10 ms from its time.
            time_s > seam_s - SEAM_S - 0.01 && time_s < seam_s + SEAM_S
        });
        let (Some(a), Some(b)) = (replayed.hop(hop), expected.hop(hop)) else {
            panic!("hop {hop} is not measured");
        };
        assert!(a.full && b.full || hop == hop_of_frame(len_frames as i64 - 1, rate), "hop {hop}");
        if near_a_seam {
            continue;
        }
        compared += 1;
        for (a, b) in values(&a).into_iter().zip(values(&b)) {
            assert!((a - b).abs() <= 1e-6 * b.abs().max(1e-6), "hop {hop}: {a}, not {b}");
        }
    }
    assert!(compared > 7000, "only {compared} hops compared");
}

#[test]
fn hops_away_from_the_seams_equal_those_of_the_edited_file_to_a_millionth() {
    for (rate_hz, offset) in [(48_000, 0), (44_100, 1234)] {
        let scene = scene(rate_hz, offset);
        let mut direct = Direct::new(rate_hz, 2, 512);
        let telling = Telling::new(Tells::Everything);
        let blocks = Blocks::Fixed(512);
        direct.run(&scene.song, &play_once(&scene.song), &telling, &blocks);
        direct.run(&scene.edited, &replay_steps(&scene.chorus), &telling, &blocks);
        direct.stop();
        assert_same_hops_away_from(
            &[scene.chorus.start, scene.chorus.end],
            rate_hz,
            &direct.sources().song,
            &Direct::measure(&scene.edited).sources().song,
            scene.song.len_frames(),
        );
    }
}

/// Plays the pieces between `cuts` (the first is 0, the last the end) in `order`.
fn play_in_pieces(song: &Audio, cuts: &[usize], order: &[usize]) -> Direct {
    let telling = Telling::new(Tells::Everything);
    let mut direct = Direct::new(song.rate_hz, song.channels.len(), 512);
    for &index in order {
        let piece = cuts[index]..cuts[index + 1];
        let steps =
            [Step::Locate { frame: piece.start as i64 }, Step::Play { len_frames: piece.len() }];
        direct.run(song, &steps, &telling, &Blocks::Fixed(512));
    }
    direct.run(song, &[Step::Stand { len_frames: 4800 }], &telling, &Blocks::Fixed(512));
    direct.stop();
    direct
}

#[test]
fn a_song_played_in_pieces_in_any_order_measures_as_if_played_once() {
    let song = even_song(22, 48_000, 80.0);
    let expected = Direct::measure(&song);
    let exact = expected.measurement().unwrap().unwrap().figures;
    for (off_the_grid, cuts) in [
        (false, [0, 300_000, 1_000_320, 1_900_320, 2_700_000, song.len_frames()]),
        (true, [0, 300_017, 1_000_003, 1_900_100, 2_700_111, song.len_frames()]),
    ] {
        for order in [[0, 1, 2, 3, 4], [4, 3, 2, 1, 0], [2, 0, 4, 1, 3]] {
            let in_order = order[0] == 0;
            let direct = play_in_pieces(&song, &cuts, &order);
            let figures = direct.measurement().unwrap().unwrap().figures;
            // A hop that was cut, and whose later half came first, may lack; nothing else.
            let lacking = if off_the_grid && !in_order { 4.0 } else { 0.0 };
            assert!(figures.measured_hops.unwrap() >= 8000.0 - lacking, "{cuts:?} {order:?}");
            if lacking == 0.0 {
                assert_within_a_hundredth(&figures, &exact);
                assert_same_hops_away_from(
                    &cuts[1..5],
                    48_000,
                    &direct.sources().song,
                    &expected.sources().song,
                    song.len_frames(),
                );
            }
        }
    }
}
