use crate::audio::{HostPosition, Outputs, Recorder, Sources, Status, ToneWork};
use crate::meters::layout::Layout;
use crate::record::{RecordReader, ToneSecond};
use crate::units::SampleRate;
use std::sync::Arc;

const RATE_HZ: u32 = 8_000;

/// A recorder with what is to be looked at.
struct Rig {
    recorder: Recorder,
    sources: Sources,
    status: Arc<Status>,
    work: Option<ToneWork>,
}

impl Rig {
    fn new(queued: bool) -> Self {
        let (outputs, sources) = Outputs::with_tone(Layout::Stereo, false);
        let status = Arc::new(Status::default());
        let rate = SampleRate::new(RATE_HZ).unwrap();
        let mut recorder = Recorder::new(rate, outputs, Arc::clone(&status));
        let work = if queued { recorder.queue_tone() } else { None };
        assert_eq!(work.is_some(), queued);
        Self { recorder, sources, status, work }
    }

    /// Plays song frames `range` of a sound at `level`; the worker's turn comes every `turn` blocks.
    fn play(&mut self, range: std::ops::Range<i64>, level: f32, turn: usize) {
        let mut at = range.start;
        let mut blocks = 0;
        while at < range.end {
            let end = (at + 100).min(range.end);
            let left: Vec<f32> = (at..end).map(|n| level * (n * n % 101) as f32 / 101.0).collect();
            let right: Vec<f32> = left.iter().map(|sample| 0.5 * sample).collect();
            let seconds = Some(at as f64 / f64::from(RATE_HZ));
            let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
            self.recorder.process(&[&left, &right], &position);
            blocks += 1;
            if blocks % turn == 0 {
                self.turn();
            }
            at = end;
        }
    }

    fn turn(&mut self) {
        if let Some(work) = &mut self.work {
            work.run();
        }
    }

    fn tone(&self) -> Vec<(i32, ToneSecond)> {
        tone(&self.sources.song)
    }
}

fn tone(record: &RecordReader) -> Vec<(i32, ToneSecond)> {
    record.tone_seconds().collect()
}

fn covered(rig: &Rig) -> Vec<(i32, f64)> {
    rig.tone().iter().map(|(second, tone)| (*second, tone.covered)).collect()
}

#[test]
fn a_queue_gives_the_same_bits_as_in_line() {
    let [mut in_line, mut queued] = [Rig::new(false), Rig::new(true)];
    for rig in [&mut in_line, &mut queued] {
        rig.play(0..40_000, 0.1, 17);
        // A jump back, onto what was measured, and a stop.
        rig.play(12_000..30_100, 0.2, 17);
        rig.recorder.stop();
        rig.turn();
    }
    assert_eq!(in_line.tone(), queued.tone());
    let numbers: Vec<u32> = queued.tone().iter().map(|(_, tone)| tone.playthrough).collect();
    // Seconds 1 and 3 were touched in part.
    assert_eq!(numbers, [1, 1, 2, 1, 1]);
    assert_eq!(queued.status.lost_tone_frames(), 0);
}

#[test]
fn what_is_played_again_is_replaced_and_nothing_else() {
    let mut rig = Rig::new(false);
    rig.play(0..80_000, 0.1, 1);
    let before = rig.tone();
    rig.play(24_000..48_000, 0.2, 1);
    rig.recorder.stop();
    let after = rig.tone();
    assert_eq!(after.len(), 10);
    for ((second, before), (_, after)) in before.iter().zip(&after) {
        if (3..6).contains(second) {
            // Twice the level is 6.02 dB more, four times the power.
            let ratio = after.mid.k_weighted / before.mid.k_weighted;
            assert!((ratio / 4.0 - 1.0).abs() < 0.01, "{second}: {ratio}");
        } else {
            assert_eq!(before, after, "{second}");
        }
    }
}

#[test]
fn a_worker_that_falls_behind_loses_whole_frames_says_so_and_takes_up_again() {
    let mut rig = Rig::new(true);
    // One second fits; the worker comes after four and a half.
    rig.play(0..36_000, 0.1, usize::MAX);
    assert_eq!(rig.status.lost_tone_frames(), 28_000);
    rig.turn();
    rig.play(36_000..80_000, 0.1, 20);
    rig.recorder.stop();
    rig.turn();
    assert_eq!(rig.status.lost_tone_frames(), 28_000);
    assert_eq!(
        covered(&rig),
        [(0, 1.0), (4, 0.5), (5, 1.0), (6, 1.0), (7, 1.0), (8, 1.0), (9, 1.0)]
    );
    // What was measured is what is measured without a loss.
    let mut whole = Rig::new(false);
    whole.play(0..80_000, 0.1, 1);
    whole.recorder.stop();
    for (second, tone) in rig.tone().into_iter().filter(|(second, _)| *second > 5) {
        assert_eq!(whole.sources.song.tone_second(second), Some(tone));
    }
}

#[test]
fn more_jumps_than_the_queue_holds_lose_frames_and_never_mix_places() {
    let mut rig = Rig::new(true);
    for jump in 0..400_i64 {
        rig.play(jump * 8_000..jump * 8_000 + 10, 0.1, usize::MAX);
    }
    assert!(rig.status.lost_tone_frames() > 0);
    rig.turn();
    rig.play(4_000_000..4_016_000, 0.1, 10);
    rig.recorder.stop();
    rig.turn();
    for (second, tone) in rig.tone() {
        let expected = if second < 500 { 10.0 / 8_000.0 } else { 1.0 };
        assert!((tone.covered - expected).abs() < 1e-4, "{second}: {}", tone.covered);
    }
    assert_eq!(rig.tone().last().unwrap().0, 501);
}

#[test]
fn after_a_reset_the_next_second_counts_and_its_undo_finds_all_whole() {
    for queued in [false, true] {
        let mut rig = Rig::new(queued);
        rig.play(0..28_000, 0.1, 10);
        rig.turn();
        let undo = rig.sources.song.reset();
        rig.play(28_000..48_000, 0.1, 10);
        rig.recorder.stop();
        rig.turn();
        assert_eq!(covered(&rig), [(4, 1.0), (5, 1.0)]);
        rig.sources.song.undo_reset(undo);
        assert_eq!(covered(&rig), [0, 1, 2, 3, 4, 5].map(|second| (second, 1.0)));
    }
}

#[test]
fn a_stop_and_going_on_in_mid_second_makes_it_whole() {
    let mut rig = Rig::new(true);
    rig.play(0..20_000, 0.1, 10);
    rig.recorder.stop();
    rig.play(20_000..40_000, 0.1, 10);
    rig.recorder.stop();
    rig.turn();
    assert_eq!(covered(&rig), [0, 1, 2, 3, 4].map(|second| (second, 1.0)));
}

#[test]
fn the_writing_ends_come_back_with_all_that_waited() {
    let mut rig = Rig::new(true);
    rig.play(0..8_000, 0.1, usize::MAX);
    let outputs = rig.recorder.into_outputs(rig.work.take());
    assert_eq!(tone(&rig.sources.song).len(), 1);
    let rate = SampleRate::new(RATE_HZ).unwrap();
    rig.recorder = Recorder::new(rate, outputs, Arc::clone(&rig.status));
    rig.play(8_000..16_000, 0.1, usize::MAX);
    rig.recorder.stop();
    assert_eq!(covered(&rig), [(0, 1.0), (1, 1.0)]);
}

#[test]
fn a_host_without_position_fills_the_live_record() {
    let mut rig = Rig::new(true);
    let sound = vec![0.1; 8_000];
    for _ in 0..3 {
        rig.recorder.process(&[&sound, &sound], &HostPosition::default());
        rig.turn();
    }
    assert!(rig.tone().is_empty());
    assert_eq!(tone(&rig.sources.live).len(), 2);
}
