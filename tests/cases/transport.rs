//! Song time: what is measured lands where it belongs, whatever the host does and however little
//! it tells.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, reason = "a test")]
#![allow(clippy::cast_precision_loss, reason = "a test")]

#[path = "transport/position.rs"]
mod position;
#[path = "transport/render.rs"]
mod render;

use clack_extensions::params::ParamInfoFlags;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Figures, Host, Library, Measurement};
use plimsoll_tests::noise::{even_song, song_like};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells, play_once};
use std::ops::Range;

const RATE_HZ: u32 = 48_000;
const SECOND: usize = RATE_HZ as usize;

fn linked_host(rate_hz: u32, max_frames: usize) -> Host {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.activate(rate_hz, max_frames).unwrap();
    host
}

fn everything() -> Telling {
    Telling::new(Tells::Everything)
}

/// Plays a script through the plugin; audio must pass untouched. Blocks of 512 frames.
fn play(host: &mut Host, song: &Audio, steps: &[Step], telling: &Telling) {
    let run = host.run(song, steps, telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
    assert_eq!(run.changed_samples, 0);
}

fn file(song: &Audio) -> Measurement {
    Direct::measure(song).measurement().unwrap().unwrap()
}

/// The frames of `range` as a song of their own.
fn cut(song: &Audio, range: Range<usize>) -> Audio {
    let channels = song.channels.iter().map(|channel| channel[range.clone()].to_vec()).collect();
    Audio { rate_hz: song.rate_hz, channels }
}

const STAND: Step = Step::Stand { len_frames: 4800 };

const fn play_for(len_frames: usize) -> Step {
    Step::Play { len_frames }
}

const fn locate(frame: usize) -> Step {
    Step::Locate { frame: frame as i64 }
}

/// Loudness within `lu`, peaks within `db`.
fn assert_near(ours: &Figures, expected: &Figures, lu: f64, db: f64) {
    for (name, ours, expected, tolerance) in [
        ("integrated", ours.integrated_lufs, expected.integrated_lufs, lu),
        ("LRA", ours.loudness_range_lu, expected.loudness_range_lu, lu),
        ("maximum M", ours.max_momentary_lufs, expected.max_momentary_lufs, lu),
        ("maximum S", ours.max_short_term_lufs, expected.max_short_term_lufs, lu),
        ("true peak", ours.max_true_peak_dbtp, expected.max_true_peak_dbtp, db),
        ("sample peak", ours.sample_peak_dbfs, expected.sample_peak_dbfs, db),
    ] {
        let (ours, expected) = (ours.unwrap(), expected.unwrap());
        assert!((ours - expected).abs() <= tolerance, "{name}: {ours}, not {expected}");
    }
}

#[test]
fn playing_from_the_middle_measures_that_part_and_the_rest_joins_later() {
    let song = even_song(31, RATE_HZ, 60.0);
    for off_the_grid in [0, 123] {
        let middle = 20 * SECOND + off_the_grid;
        let mut host = linked_host(RATE_HZ, 512);
        let steps = [locate(middle), play_for(song.len_frames() - middle), STAND];
        play(&mut host, &song, &steps, &everything());
        let part = host.measurement().unwrap().figures;
        // Off the grid the first hop was met after its start: it does not count, and blocks and
        // short-term values stand 123 frames before those of the part as a file.
        assert_eq!(part.measured_hops, Some(if off_the_grid == 0 { 4000.0 } else { 3999.0 }));
        if off_the_grid == 0 {
            let as_file = file(&cut(&song, middle..song.len_frames())).figures;
            assert_near(&part, &as_file, 0.01, 0.01);
        }

        play(&mut host, &song, &[locate(0), play_for(middle), STAND], &everything());
        let whole = host.measurement().unwrap().figures;
        assert_eq!(whole.span_hops, Some(6000.0));
        if off_the_grid == 0 {
            assert_near(&whole, &file(&song).figures, 0.01, 0.01);
            assert_eq!(whole.measured_hops, Some(6000.0));
        } else {
            // The hop of the seam was never met as a whole: it alone may lack, and with it the
            // 300 short-term windows that hold it.
            assert!(whole.measured_hops.unwrap() >= 5999.0);
            let range_lu = file(&song).figures.loudness_range_lu.unwrap();
            assert!((whole.loudness_range_lu.unwrap() - range_lu).abs() < 0.1);
            let whole = Figures { loudness_range_lu: Some(range_lu), ..whole };
            assert_near(&whole, &file(&song).figures, 0.01, 0.01);
        }
    }
}

#[test]
fn a_count_in_at_negative_time_is_measured_as_silence_before_the_song() {
    let song = song_like(32, RATE_HZ, 30.0);
    let mut with_silence = Audio { rate_hz: RATE_HZ, channels: vec![vec![0.0; 2 * SECOND]; 2] };
    with_silence.append(&song);
    let expected = file(&with_silence).figures;
    for tells in [Tells::Everything, Tells::Seconds, Tells::Beats] {
        let mut host = linked_host(RATE_HZ, 512);
        let steps = [
            Step::Locate { frame: -2 * SECOND as i64 },
            play_for(2 * SECOND + song.len_frames()),
            STAND,
        ];
        play(&mut host, &song, &steps, &Telling::new(tells));
        let figures = host.measurement().unwrap().figures;
        assert_near(&figures, &expected, 1e-9, 1e-9);
        assert_eq!(figures.measured_hops, expected.measured_hops);
    }
}

#[test]
fn ten_minutes_of_looping_a_chorus_measure_the_chorus_once() {
    let song = song_like(33, RATE_HZ, 60.0);
    // On the grid of hops, and off it at both ends.
    for chorus in [16 * SECOND..32 * SECOND, 16 * SECOND + 77..32 * SECOND + 13] {
        let mut host = linked_host(RATE_HZ, 512);
        let steps = [
            locate(chorus.start),
            Step::Loop {
                start_frame: chorus.start as i64,
                end_frame: chorus.end as i64,
                len_frames: 600 * SECOND,
            },
            STAND,
        ];
        play(&mut host, &song, &steps, &everything());
        let looped = host.measurement().unwrap().figures;

        let mut host = linked_host(RATE_HZ, 512);
        let steps = [locate(chorus.start), play_for(chorus.len()), STAND];
        play(&mut host, &song, &steps, &everything());
        let once = host.measurement().unwrap().figures;
        assert_near(&looped, &once, 0.001, 0.001);
        assert_eq!(looped.measured_hops, once.measured_hops);
        assert_eq!(looped.span_hops, once.span_hops);
        if chorus.start == 16 * SECOND {
            assert_near(&looped, &file(&cut(&song, chorus)).figures, 0.001, 0.001);
        }
    }
}

#[test]
fn locating_backwards_while_playing_replaces_and_loses_nothing() {
    let song = even_song(34, RATE_HZ, 60.0);
    let mut host = linked_host(RATE_HZ, 512);
    let steps = [
        play_for(30 * SECOND),
        locate(10 * SECOND),
        play_for(5 * SECOND),
        locate(9 * SECOND + 1),
        play_for(51 * SECOND),
        STAND,
    ];
    play(&mut host, &song, &steps, &everything());
    let figures = host.measurement().unwrap().figures;
    assert_near(&figures, &file(&song).figures, 0.01, 0.01);
    assert_eq!(figures.measured_hops, Some(6000.0));
}

#[test]
fn standing_resting_and_reset_in_mid_song_lose_nothing() {
    let song = even_song(35, RATE_HZ, 30.0);
    let expected = file(&song).figures;
    for pause in [STAND, Step::Rest, Step::Reset] {
        let mut host = linked_host(RATE_HZ, 512);
        let steps = [play_for(10 * SECOND + 77), pause, play_for(20 * SECOND - 77), STAND];
        play(&mut host, &song, &steps, &everything());
        let figures = host.measurement().unwrap().figures;
        // A stop cuts the waveform, and the crest between its last sample and the silence that the
        // host plays then was heard: true peak may be higher than the file's, never lower.
        let true_peak_dbtp = figures.max_true_peak_dbtp.unwrap();
        assert!(true_peak_dbtp >= expected.max_true_peak_dbtp.unwrap() - 0.01);
        let figures = Figures { max_true_peak_dbtp: expected.max_true_peak_dbtp, ..figures };
        assert_near(&figures, &expected, 0.01, 0.01);
        assert_eq!(figures.measured_hops, Some(3000.0), "{pause:?}");
    }
}

/// A song of tones that sounds the same at every rate; the last third is `last_dbfs` loud.
fn tones(rate_hz: u32, last_dbfs: f64) -> Audio {
    let channel: Vec<f32> = (0..60 * rate_hz as usize)
        .map(|frame| {
            let time_s = frame as f64 / f64::from(rate_hz);
            let level_dbfs = if time_s < 20.0 {
                -30.0
            } else if time_s < 40.0 {
                -20.0
            } else {
                last_dbfs
            };
            let sine = (std::f64::consts::TAU * (time_s * 500.0).fract()).sin();
            (10.0_f64.powf(level_dbfs / 20.0) * sine) as f32
        })
        .collect();
    Audio { rate_hz, channels: vec![channel.clone(), channel] }
}

#[test]
fn a_change_of_sample_rate_keeps_what_was_measured() {
    let mut host = linked_host(RATE_HZ, 512);
    let before = tones(RATE_HZ, -20.0);
    play(&mut host, &before, &play_once(&before), &everything());
    for rate_hz in [44_100, 96_000] {
        host.deactivate();
        host.activate(rate_hz, 512).unwrap();
        let third = 20 * rate_hz as usize;
        let louder = tones(rate_hz, -17.0);
        play(&mut host, &louder, &[locate(2 * third), play_for(third), STAND], &everything());
        let expected = file(&tones(RATE_HZ, -17.0)).figures;
        let figures = host.measurement().unwrap().figures;
        assert_near(&figures, &expected, 0.01, 0.01);
        assert_eq!(figures.measured_hops, Some(6000.0));
    }
}

#[test]
fn bypass_in_mid_song_leaves_a_gap_and_passes_audio() {
    let song = song_like(39, RATE_HZ, 30.0);
    let mut host = linked_host(RATE_HZ, 512);
    let bypass = host
        .params()
        .unwrap()
        .into_iter()
        .find(|param| param.flags.contains(ParamInfoFlags::IS_BYPASS))
        .expect("no bypass parameter");
    play(&mut host, &song, &[play_for(10 * SECOND)], &everything());
    host.set_param(bypass.id, 1.0);
    play(&mut host, &song, &[locate(10 * SECOND), play_for(5 * SECOND)], &everything());
    host.set_param(bypass.id, 0.0);
    play(&mut host, &song, &[locate(15 * SECOND), play_for(15 * SECOND), STAND], &everything());
    let measured = host.measurement().unwrap();
    assert_eq!(measured.figures.span_hops, Some(3000.0));
    assert_eq!(measured.figures.measured_hops, Some(2500.0));
    assert_eq!(measured.json["figures"]["gaps"], 1);
    // What was measured before stays if it is bypassed over it.
    host.set_param(bypass.id, 1.0);
    play(&mut host, &song, &[locate(0), play_for(5 * SECOND), STAND], &everything());
    assert_eq!(host.measurement().unwrap().figures, measured.figures);
}

/// EBU Tech 3341 §2.2: measuring is running or in stand-by.
#[test]
fn a_pause_measures_nothing_and_continuing_goes_on() {
    let song = song_like(40, RATE_HZ, 30.0);
    for tells in [Tells::Everything, Tells::Nothing] {
        let telling = Telling::new(tells);
        let mut direct = Direct::new(RATE_HZ, 2, 512);
        direct.run(&song, &[play_for(10 * SECOND)], &telling, &Blocks::Fixed(512));
        direct.status().set_running(false);
        let paused = [locate(10 * SECOND), play_for(10 * SECOND)];
        direct.run(&song, &paused, &telling, &Blocks::Fixed(512));
        direct.status().set_running(true);
        let rest = [locate(20 * SECOND), play_for(10 * SECOND)];
        direct.run(&song, &rest, &telling, &Blocks::Fixed(512));
        direct.stop();
        let sources = direct.sources();
        let record = if tells == Tells::Nothing { &sources.live } else { &sources.song };
        let coverage = plimsoll::loudness::Analysis::of(record).song_figures().coverage;
        assert_eq!(coverage.measured_hops, 2000);
        // On song time the pause is a gap; a live clock stands still meanwhile.
        assert_eq!(coverage.gaps, usize::from(tells != Tells::Nothing));
    }
}

#[test]
fn beyond_two_hours_what_was_measured_is_kept_and_the_overrun_is_said() {
    const LOW_RATE_HZ: u32 = 8_000;
    let limit = 2 * 3600 * LOW_RATE_HZ as usize;
    let minute = song_like(41, LOW_RATE_HZ, 60.0).channels.remove(0);
    let len = limit + 60 * LOW_RATE_HZ as usize;
    let mut channel: Vec<f32> = minute.iter().copied().cycle().take(len).collect();
    // The loudest moment lies beyond the end.
    for sample in &mut channel[limit + 8_000..] {
        *sample *= 1.5;
    }
    let song = Audio { rate_hz: LOW_RATE_HZ, channels: vec![channel] };
    let mut direct = Direct::new(LOW_RATE_HZ, 1, 1024);
    direct.run(&song, &[play_for(limit)], &everything(), &Blocks::Fixed(1000));
    assert!(!direct.sources().song.overrun());
    let beyond = [locate(limit), play_for(len - limit), STAND];
    direct.run(&song, &beyond, &everything(), &Blocks::Fixed(1000));
    assert!(direct.sources().song.overrun());
    let figures = direct.measurement().unwrap().unwrap().figures;
    assert_eq!(figures.measured_hops, Some(720_000.0));
    let expected = file(&cut(&song, 0..limit)).figures;
    assert_near(&figures, &expected, 1e-6, 0.01);
}
