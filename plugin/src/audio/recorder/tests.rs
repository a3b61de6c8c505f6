//! A recorder fed by hand: what each thing a host does leaves in the record.

use super::*;
use crate::loudness::{Analysis, Now};
use crate::meters::layout::Layout;
use crate::record::{Hop, RecordReader};

const RATE_HZ: u32 = 48_000;
const HOP: usize = 480;

struct Rig {
    recorder: Recorder,
    sources: Sources,
    status: Arc<Status>,
}

/// A stretch of the test song, which is a function of its frame alone: never zero, no two hops
/// alike.
fn song(first_frame: i64, len: usize) -> Vec<f32> {
    (0..len)
        .map(|n| {
            let t = (first_frame + n as i64) as f64 / f64::from(RATE_HZ);
            let level = 0.2 + 0.1 * (t * 0.7).sin();
            ((t * 440.0 * std::f64::consts::TAU).sin() * level + 0.05 * (t * 9_301.0).sin()) as f32
        })
        .collect()
}

fn playing(frame: i64) -> HostPosition {
    HostPosition {
        playing: true,
        seconds: Some(frame as f64 / f64::from(RATE_HZ)),
        ..HostPosition::default()
    }
}

fn stopped(frame: i64) -> HostPosition {
    HostPosition { playing: false, ..playing(frame) }
}

impl Rig {
    fn new() -> Self {
        let (outputs, sources) = Outputs::new(Layout::Stereo, false);
        let status = Arc::new(Status::default());
        let rate = SampleRate::new(RATE_HZ).unwrap();
        let recorder = Recorder::new(rate, outputs, Arc::clone(&status)).with_max_block(512);
        Self { recorder, sources, status }
    }

    /// Plays the song from `from` to `to` in blocks of these sizes, round and round.
    fn play(&mut self, from: i64, to: i64, blocks: &[usize]) {
        self.feed(from, to, blocks, playing);
    }

    fn feed(&mut self, from: i64, to: i64, blocks: &[usize], at: impl Fn(i64) -> HostPosition) {
        let mut frame = from;
        for &block in blocks.iter().cycle() {
            if frame >= to {
                return;
            }
            let len = block.min(usize::try_from(to - frame).unwrap());
            let left = song(frame, len);
            let right: Vec<f32> = left.iter().map(|x| 0.5 * x).collect();
            self.recorder.process(&[&left, &right], &at(frame));
            frame += len as i64;
        }
    }
}

fn hops(record: &RecordReader, range: std::ops::Range<i32>) -> Vec<Option<Hop>> {
    range.map(|index| record.hop(index)).collect()
}

fn measured(record: &RecordReader) -> Vec<i32> {
    (-200..2_000).filter(|&index| record.hop(index).is_some_and(|hop| hop.full)).collect()
}

#[test]
fn blocks_of_any_size_leave_the_same_bits() {
    let record = |blocks: &[usize]| {
        let mut rig = Rig::new();
        rig.play(0, 50_000, blocks);
        rig.recorder.stop();
        (rig.sources.song.fingerprint(), hops(&rig.sources.song, 0..110))
    };
    let (fingerprint, plain) = record(&[512]);
    assert_eq!(plain.iter().flatten().count(), 105);
    for blocks in [&[1][..], &[7], &[64], &[441], &[8_192], &[3, 1_000, 1, 479, 480, 481]] {
        assert_eq!(record(blocks), (fingerprint, plain.clone()), "{blocks:?}");
    }
}

#[test]
fn a_hop_is_published_when_the_frames_of_its_peaks_have_come() {
    let mut rig = Rig::new();
    let latency = rig.recorder.latency_frames;
    rig.play(0, 480 + latency - 1, &[64]);
    assert_eq!(rig.sources.song.hop(0), None);
    rig.play(480 + latency - 1, 480 + latency, &[1]);
    assert!(rig.sources.song.hop(0).is_some());
}

#[test]
fn the_last_hop_of_a_file_is_there_after_the_stop_partly_covered() {
    let mut rig = Rig::new();
    rig.play(0, 480 * 3 + 100, &[512]);
    rig.recorder.stop();
    let last = rig.sources.song.hop(3).unwrap();
    assert_eq!((last.frames, last.full, last.edge), (100, false, true));
    assert!(rig.sources.song.hop(2).unwrap().full);
}

#[test]
fn stopping_and_going_on_at_the_same_place_leaves_no_gap() {
    let mut rig = Rig::new();
    rig.play(0, 4_900, &[512]);
    rig.feed(4_900, 10_000, &[512], |_| stopped(4_900));
    rig.play(4_900, 96_000, &[512]);
    rig.recorder.stop();
    assert_eq!(measured(&rig.sources.song), (0..200).collect::<Vec<_>>());
    let joined = rig.sources.song.hop(10).unwrap();
    assert_eq!((joined.frames, joined.edge), (480, true));
    // The same as without the stop, up to the filter's cold start.
    let mut whole = Rig::new();
    whole.play(0, 96_000, &[512]);
    let straight = whole.sources.song.hop(10).unwrap();
    assert!((joined.left_mean_square / straight.left_mean_square - 1.0).abs() < 1e-6);
}

#[test]
fn pieces_played_in_any_order_leave_no_gap() {
    // Cut in mid hop, in three pieces, the last one first.
    let pieces = [(0, 20_100), (20_100, 50_333), (50_333, 96_000)];
    for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0], [2, 0, 1]] {
        let mut rig = Rig::new();
        for piece in order {
            let (from, to) = pieces[piece];
            rig.play(from, to, &[512]);
            rig.feed(to, to + 480, &[480], stopped);
        }
        assert_eq!(measured(&rig.sources.song), (0..200).collect::<Vec<_>>(), "{order:?}");
        let hop = rig.sources.song.hop(41).unwrap();
        assert!(hop.full && hop.edge && hop.frames == 480);
    }
}

#[test]
fn a_jump_begins_a_new_playthrough_and_its_seams_replace_nothing_better() {
    let mut rig = Rig::new();
    rig.play(0, 96_000, &[512]);
    let before = hops(&rig.sources.song, 0..199);
    // From the middle of hop 50 to the middle of hop 60, then elsewhere.
    rig.play(50 * 480 + 200, 60 * 480 + 200, &[512]);
    rig.play(150 * 480, 160 * 480, &[512]);
    rig.recorder.stop();
    let after = hops(&rig.sources.song, 0..199);
    let new: Vec<_> = (0..199_usize).filter(|&n| after[n] != before[n]).collect();
    // The first whole hop after each start and the last before each end stand at a seam: hop 59
    // ends 200 frames before the jump, so its peaks had the song behind them.
    assert_eq!(new, (51..60).chain(151..159).collect::<Vec<_>>());
    for index in new {
        let (old, new) = (before[index].unwrap(), after[index].unwrap());
        assert!(new.playthrough > old.playthrough && !new.edge);
    }
}

#[test]
fn replaying_the_same_song_gives_the_same_hops_half_a_second_after_the_seam() {
    let mut rig = Rig::new();
    rig.play(0, 480_000, &[512]);
    let before = hops(&rig.sources.song, 0..990);
    rig.play(240_000, 480_000, &[480]);
    for (index, before) in before.iter().enumerate().skip(500) {
        let (old, new) = (before.unwrap(), rig.sources.song.hop(index as i32).unwrap());
        let tolerance = if index < 550 { 2e-2 } else { 1e-6 };
        assert!((new.energy / old.energy - 1.0).abs() < tolerance, "{index}");
        if !new.edge {
            assert_eq!(new.true_peaks, old.true_peaks, "{index}");
        }
    }
}

#[test]
fn a_count_in_lies_before_zero() {
    let mut rig = Rig::new();
    rig.play(-96_000, 48_000, &[512]);
    rig.recorder.stop();
    assert_eq!(measured(&rig.sources.song), (-200..100).collect::<Vec<_>>());
}

#[test]
fn without_a_song_position_the_live_record_counts_on_its_own_clock() {
    let mut rig = Rig::new();
    let unknown = |_| HostPosition::default();
    rig.feed(0, 48_000, &[512], unknown);
    rig.status.set_running(false);
    rig.feed(48_000, 60_000, &[512], unknown);
    rig.status.set_running(true);
    rig.feed(60_000, 108_000, &[512], unknown);
    rig.recorder.stop();
    assert_eq!(measured(&rig.sources.song), Vec::<i32>::new());
    // 1 s, a pause that takes no time on this clock, and another second.
    assert_eq!(measured(&rig.sources.live), (0..200).collect::<Vec<_>>());
    assert_eq!(rig.status.transport(), Transport::Unknown);
}

#[test]
fn while_the_transport_stands_only_this_moment_is_read() {
    let mut rig = Rig::new();
    rig.feed(0, 48_000, &[512], |_| stopped(0));
    assert_eq!(measured(&rig.sources.song), Vec::<i32>::new());
    assert_eq!(measured(&rig.sources.live), Vec::<i32>::new());
    let now = Now::read(&rig.sources.recent, 2);
    assert!(now.momentary.is_some() && now.short_term.is_none());
    rig.recorder.stop();
    assert_eq!(Now::read(&rig.sources.recent, 2), Now::default());
}

#[test]
fn a_reset_in_mid_song_starts_anew_and_can_be_undone() {
    let mut rig = Rig::new();
    rig.play(0, 96_000, &[512]);
    let undo = rig.sources.song.reset();
    assert_eq!(Analysis::of(&rig.sources.song).extent(), None);
    rig.play(96_000, 192_000, &[512]);
    rig.recorder.stop();
    assert_eq!(Analysis::of(&rig.sources.song).extent(), Some(200..400));
    rig.sources.song.undo_reset(undo);
    assert_eq!(measured(&rig.sources.song), (0..400).collect::<Vec<_>>());
}

#[test]
fn a_reset_in_mid_hop_can_be_undone_without_a_gap() {
    let mut rig = Rig::new();
    rig.play(0, 96_200, &[512]);
    let undo = rig.sources.song.reset();
    rig.play(96_200, 192_000, &[512]);
    rig.recorder.stop();
    assert_eq!(Analysis::of(&rig.sources.song).extent(), Some(201..400));
    rig.sources.song.undo_reset(undo);
    assert_eq!(measured(&rig.sources.song), (0..400).collect::<Vec<_>>());
    // Nothing of what was heard changed: the same hops as without a reset.
    let mut plain = Rig::new();
    plain.play(0, 192_000, &[512]);
    plain.recorder.stop();
    for index in 0..400 {
        let values = |record: &RecordReader| {
            record.hop(index).map(|hop| (hop.energy, hop.true_peaks, hop.momentary_rise, hop.edge))
        };
        assert_eq!(values(&rig.sources.song), values(&plain.sources.song), "{index}");
    }
}

#[test]
fn a_song_cut_shorter_is_trimmed_and_what_is_played_from_then_on_counts() {
    let mut rig = Rig::new();
    rig.play(0, 192_000, &[512]);
    rig.recorder.stop();
    let whole = Analysis::of(&rig.sources.song).song_figures();
    let undo = rig.sources.song.trim(300);
    assert_eq!(Analysis::of(&rig.sources.song).extent(), Some(0..300));
    rig.sources.song.undo_trim(undo);
    assert_eq!(Analysis::of(&rig.sources.song).song_figures(), whole);

    // While the song plays: the hop that is being heard keeps its number.
    rig.play(0, 96_200, &[512]);
    rig.sources.song.trim(300);
    rig.play(96_200, 192_000, &[512]);
    rig.recorder.stop();
    assert_eq!(measured(&rig.sources.song), (0..400).collect::<Vec<_>>());
    let numbers = [100, 250, 350].map(|index| rig.sources.song.hop(index).unwrap().playthrough);
    assert_eq!(numbers, [2, 3, 3]);
}

/// A quarter-wave tone at 45 degrees: samples 3 dB below the crests, so that every cut is a step.
fn tone(frame: i64, len: usize) -> Vec<f32> {
    let turn = |n: i64| (n as f64 * 0.25 + 0.125) * std::f64::consts::TAU;
    (0..len as i64).map(|n| (0.5 * turn(frame + n).sin()) as f32).collect()
}

/// Highest true peak of the tone's record; the tone's own is 0.5. Over-read at most 0.01 dB.
fn assert_no_false_crest(record: &RecordReader, what: &str) {
    let peaks = hops(record, 0..300).into_iter().flatten().map(|hop| hop.true_peaks[0]);
    let highest = peaks.fold(0.0, f32::max);
    assert!(highest <= 0.5 * 1.001_152, "{what}: {highest}");
    assert!(highest > 0.499, "{what}: {highest}");
}

#[test]
fn going_on_where_it_stopped_takes_back_the_crest_against_silence() {
    for stop in 4_800..4_810_i64 {
        for stop in [stop, stop + 10, stop + 200] {
            let mut rig = Rig::new();
            let mut feed = |from: i64, to: i64, at: &dyn Fn(i64) -> HostPosition| {
                let block = tone(from, usize::try_from(to - from).unwrap());
                rig.recorder.process(&[&block, &block], &at(from));
            };
            feed(0, stop, &playing);
            feed(0, 480, &stopped);
            feed(stop, 48_000, &playing);
            // The rest of the last hop is past what is looked at; the first hop's start is a step
            // against the silence before the song.
            let record = &rig.sources.song;
            let seam: Vec<_> = hops(record, 5..90).into_iter().flatten().collect();
            assert_eq!(seam.len(), 85);
            let highest = seam.iter().map(|hop| hop.true_peaks[0]).fold(0.0, f32::max);
            assert!(highest <= 0.5 * 1.001_152, "{stop}: {highest}");
        }
    }
}

#[test]
fn pausing_and_resetting_a_live_measurement_makes_no_false_crest() {
    let unknown = HostPosition::default();
    let mut rig = Rig::new();
    // Fades in, so that the start is no step.
    let mut fade = tone(0, 4_800);
    for (n, sample) in fade.iter_mut().enumerate() {
        *sample *= n as f32 / 4_800.0;
    }
    rig.recorder.process(&[&fade, &fade], &unknown);
    let mut frame = 4_800;
    for step in 0..40 {
        rig.status.set_running(step % 4 != 3);
        if step == 21 {
            rig.sources.live.reset();
        }
        let block = tone(frame, 1_001 + step);
        rig.recorder.process(&[&block, &block], &unknown);
        frame += block.len() as i64;
    }
    assert_no_false_crest(&rig.sources.live, "live");
}

#[test]
fn bypass_and_pause_leave_a_gap_in_song_time() {
    let mut rig = Rig::new();
    rig.play(0, 48_000, &[480]);
    rig.status.set_bypassed(true);
    rig.play(48_000, 96_000, &[480]);
    rig.status.set_bypassed(false);
    rig.play(96_000, 144_000, &[480]);
    rig.recorder.stop();
    assert_eq!(measured(&rig.sources.song), (0..100).chain(200..300).collect::<Vec<_>>());
}

#[test]
fn a_change_of_rate_keeps_what_was_measured() {
    let mut rig = Rig::new();
    rig.play(0, 96_000, &[512]);
    let outputs = rig.recorder.into_outputs(None);
    let rate = SampleRate::new(44_100).unwrap();
    let mut recorder = Recorder::new(rate, outputs, Arc::clone(&rig.status));
    let silence = [0.0; HOP];
    for n in 0..100_i64 {
        let seconds = Some(2.0 + n as f64 * 441.0 / 44_100.0);
        let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
        recorder.process(&[&silence[..441], &silence[..441]], &position);
    }
    recorder.stop();
    assert_eq!(measured(&rig.sources.song), (0..300).collect::<Vec<_>>());
}

#[test]
fn a_loud_seam_never_reads_over_the_waveform() {
    // A quarter-wave tone at 45 degrees: samples at −3 dB of the crests. Cut anywhere and played
    // from there, no true peak may exceed the tone's own.
    let tone = |frame: i64| (frame as f64 * 0.25 + 0.125) * std::f64::consts::TAU;
    for cut in 480_000..480_016_i64 {
        let mut rig = Rig::new();
        for part in 0..40 {
            let from = cut + part * 480;
            let block: Vec<f32> = (0..480).map(|n| (0.5 * tone(from + n).sin()) as f32).collect();
            rig.recorder.process(&[&block, &block], &playing(from));
        }
        rig.play(0, 480, &[480]);
        let highest = hops(&rig.sources.song, 1_000..1_045)
            .iter()
            .flatten()
            .map(|hop| hop.true_peaks[0])
            .fold(0.0, f32::max);
        // Over-read at most 0.01 dB (the bound for true peak).
        assert!(highest <= 0.5 * 1.001_152, "{cut}: {highest}");
        assert!(highest > 0.499, "{cut}: {highest}");
    }
}
