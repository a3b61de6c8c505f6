//! Song time out of what a host tells: an own frame counter that follows the host and tells a
//! jump from a rounded position.

use crate::units::SampleRate;

/// What the host says about its transport at the start of a block.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HostPosition {
    /// Whether the transport runs. Without any position a `false` may only mean "unknown".
    pub playing: bool,
    /// Song position, seconds; negative in a count-in.
    pub seconds: Option<f64>,
    /// Song position, quarter notes; negative in a count-in.
    pub beats: Option<f64>,
    /// Tempo, quarter notes per minute.
    pub tempo_bpm: Option<f64>,
}

impl HostPosition {
    /// The song position in seconds: the host's own, or from beats at the present tempo, which is
    /// all that can be said after a jump in a host that tells only beats.
    fn seconds(&self) -> Option<f64> {
        let finite = |value: &f64| value.is_finite();
        self.seconds.filter(finite).or_else(|| {
            let tempo = self.tempo()?;
            Some(self.beats.filter(finite)? * 60.0 / tempo)
        })
    }

    fn tempo(&self) -> Option<f64> {
        self.tempo_bpm.filter(|tempo| tempo.is_finite() && *tempo > 0.0)
    }

    /// Whether the host tells where in the song it is.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.seconds().is_some()
    }
}

/// How a block follows on the one before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// It continues where the last one ended.
    On,
    /// The host went to another place in the song: this frame.
    Jump(i64),
}

/// Follows the host through one run of its transport.
///
/// CLAP gives seconds and beats, never frames; hosts round them to a millisecond or to their
/// block, or repeat a position for several calls. So frames are counted here, and the host's
/// position only says whether it went elsewhere.
#[derive(Debug)]
pub struct Clock {
    rate: SampleRate,
    /// Frames that the host's position may lag behind while it repeats itself within a block.
    lag_frames: f64,
    /// Positions in a row that were right to a frame: tells an exact host from one that rounds.
    exact_calls: u32,
    run: Option<Run>,
}

#[derive(Debug)]
struct Run {
    next_frame: i64,
    /// Beat position that the host should report next, for hosts that tell only beats.
    next_beats: Option<f64>,
    /// Beats per frame and length of the block before: a host tells the tempo where a block
    /// begins, and may change it anywhere in the block.
    block_before: (Option<f64>, i64),
    /// The frame that the host told last, and how many frames ago it first told that one.
    told: (i64, i64),
    /// Frames in a row for which the host said the same other place, and how far off that is: a
    /// host that rounds to its block is off too, but each time by something else.
    astray_frames: i64,
    astray_off_frames: f64,
}

/// A position off by less than this is the same place, however exact the host is: 2 ms.
/// Own choice: more than a millisecond's rounding, less than any locate.
const SAME_PLACE_MS: f64 = 2.0;
/// Of a host that was seen to round, up to 10 ms forwards.
const ROUNDED_MS: f64 = 10.0;
/// So many exact positions in a row show that the host does not round.
const EXACT_CALLS: u32 = 16;
/// A host that says for one second that it is elsewhere is believed.
const ASTRAY_MS: f64 = 1_000.0;

impl Clock {
    /// A clock for a host whose blocks have at most `max_block_frames` frames.
    #[must_use]
    pub fn new(rate: SampleRate, max_block_frames: u32) -> Self {
        Self { rate, lag_frames: f64::from(max_block_frames), exact_calls: 0, run: None }
    }

    /// Forgets the run: the next block starts a new one.
    pub fn stop(&mut self) {
        self.run = None;
    }

    /// The frame that comes next in the present run.
    #[must_use]
    pub fn next_frame(&self) -> Option<i64> {
        self.run.as_ref().map(|run| run.next_frame)
    }

    /// Takes the position of the next block, of `len_frames` frames. `None` if the host does not
    /// say where it is.
    pub fn advance(&mut self, position: &HostPosition, len_frames: usize) -> Option<Step> {
        let rate_hz = f64::from(self.rate.hz());
        let seconds = position.seconds()?;
        let told_frame = round_to_frame(seconds * rate_hz);
        let len = i64::try_from(len_frames).unwrap_or(i64::MAX);
        let beats_per_frame = position.tempo().map(|tempo| tempo / 60.0 / rate_hz);
        let beats_after = position
            .beats
            .zip(beats_per_frame)
            .map(|(beats, per_frame)| beats + to_f64(len) * per_frame);

        if let Some(run) = &mut self.run {
            let off_frames = match (position.seconds, position.beats, run.next_beats) {
                // Only beats: how far is the host from the beat that should come now? After a
                // change of tempo, beats do not tell seconds any more, but this still holds.
                (None, Some(beats), Some(expected)) => {
                    beats_per_frame.map_or(0.0, |per_frame| {
                        let (before, len) = run.block_before;
                        let changed = (per_frame - before.unwrap_or(per_frame)) * to_f64(len);
                        let other = expected + changed;
                        // Not `clamp`, which panics where a host tells what is no number.
                        let nearest = beats.max(expected.min(other)).min(expected.max(other));
                        (beats - nearest) / per_frame
                    })
                }
                _ => to_f64(told_frame.saturating_sub(run.next_frame)),
            };
            let exact = self.exact_calls >= EXACT_CALLS;
            let place = run.place(off_frames, told_frame, exact, rate_hz, self.lag_frames);
            match place {
                Place::Exact => self.exact_calls = self.exact_calls.saturating_add(1),
                Place::Near => self.exact_calls = 0,
                Place::Repeated | Place::Elsewhere => {}
            }
            if place != Place::Elsewhere && !run.stays_astray(off_frames, rate_hz, len) {
                run.advance(told_frame, len);
                run.block_before = (beats_per_frame, len);
                run.next_beats = match (run.next_beats, beats_per_frame) {
                    // A host that is right to a frame keeps rounding from building up here.
                    _ if place == Place::Exact => beats_after,
                    (Some(expected), Some(per_frame)) => Some(expected + to_f64(len) * per_frame),
                    _ => beats_after,
                };
                return Some(Step::On);
            }
        }
        self.run = Some(Run {
            next_frame: told_frame.saturating_add(len),
            next_beats: beats_after,
            block_before: (beats_per_frame, len),
            told: (told_frame, len),
            astray_frames: 0,
            astray_off_frames: 0.0,
        });
        Some(Step::Jump(told_frame))
    }
}

/// What a told position means against the one that was expected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// The same place, right to a frame.
    Exact,
    /// The same place, rounded.
    Near,
    /// The position of an earlier call again: a host block that comes in several calls.
    Repeated,
    /// Another place.
    Elsewhere,
}

impl Run {
    fn place(
        &self,
        off_frames: f64,
        told_frame: i64,
        exact_host: bool,
        rate_hz: f64,
        lag_frames: f64,
    ) -> Place {
        let frames = |ms: f64| ms / 1_000.0 * rate_hz;
        let (told_before, since) = self.told;
        let (back, ahead) = if exact_host {
            (frames(SAME_PLACE_MS), frames(SAME_PLACE_MS))
        } else {
            (lag_frames + frames(ROUNDED_MS), frames(ROUNDED_MS))
        };
        if off_frames.abs() <= 1.0 {
            Place::Exact
        } else if told_frame == told_before && to_f64(since) <= lag_frames {
            Place::Repeated
        } else if off_frames >= -back && off_frames <= ahead {
            Place::Near
        } else {
            Place::Elsewhere
        }
    }

    /// Whether the host has said for so long that it is elsewhere that it is to be believed.
    fn stays_astray(&mut self, off_frames: f64, rate_hz: f64, len: i64) -> bool {
        let frames = |ms: f64| ms / 1_000.0 * rate_hz;
        if (off_frames - self.astray_off_frames).abs() > frames(SAME_PLACE_MS) {
            self.astray_frames = 0;
            self.astray_off_frames = off_frames;
        }
        if off_frames.abs() <= frames(SAME_PLACE_MS) {
            self.astray_frames = 0;
        } else {
            self.astray_frames = self.astray_frames.saturating_add(len);
        }
        to_f64(self.astray_frames) >= frames(ASTRAY_MS)
    }

    fn advance(&mut self, told_frame: i64, len: i64) {
        self.next_frame = self.next_frame.saturating_add(len);
        let (told_before, since) = self.told;
        let since = if told_frame == told_before { since } else { 0 };
        self.told = (told_frame, since.saturating_add(len));
    }
}

#[expect(clippy::cast_precision_loss, reason = "a song has far fewer than 2^52 frames")]
const fn to_f64(frames: i64) -> f64 {
    frames as f64
}

#[expect(clippy::cast_possible_truncation, reason = "saturates, which is as good as any place")]
fn round_to_frame(frames: f64) -> i64 {
    frames.round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    fn clock() -> Clock {
        Clock::new(SampleRate::new(48_000).unwrap(), 1_024)
    }

    fn at(seconds: f64) -> HostPosition {
        HostPosition { playing: true, seconds: Some(seconds), ..HostPosition::default() }
    }

    fn beats(beats: f64, tempo_bpm: f64) -> HostPosition {
        HostPosition {
            playing: true,
            beats: Some(beats),
            tempo_bpm: Some(tempo_bpm),
            ..HostPosition::default()
        }
    }

    /// Plays blocks of 480 frames and returns what each step was.
    fn play(clock: &mut Clock, told: impl Iterator<Item = HostPosition>) -> Vec<Step> {
        told.map(|position| clock.advance(&position, 480).unwrap()).collect()
    }

    #[test]
    fn exact_positions_continue_and_a_locate_jumps() {
        let mut clock = clock();
        let steps = play(&mut clock, (0..100).map(|n| at(f64::from(n) * 0.01 + 1e-10)));
        assert_eq!(steps[0], Step::Jump(0));
        assert!(steps[1..].iter().all(|&step| step == Step::On));
        assert_eq!(clock.advance(&at(5.0), 480), Some(Step::Jump(240_000)));
        assert_eq!(clock.advance(&at(4.995), 480), Some(Step::Jump(239_760)));
    }

    #[test]
    fn positions_rounded_to_a_millisecond_are_one_run() {
        let mut clock = clock();
        let steps: Vec<_> = (0..2_000)
            .map(|n| {
                let seconds = f64::from(n) * 441.0 / RATE_HZ;
                clock.advance(&at((seconds * 1e3).round() / 1e3), 441).unwrap()
            })
            .collect();
        assert!(steps[1..].iter().all(|&step| step == Step::On));
        assert_eq!(clock.next_frame(), Some(2_000 * 441));
    }

    #[test]
    fn positions_rounded_to_the_hosts_block_are_one_run() {
        let mut clock = clock();
        let steps: Vec<_> = (0..5_000)
            .map(|n| {
                let block = f64::from(n * 64 / 1_024) * 1_024.0;
                clock.advance(&at(block / RATE_HZ), 64).unwrap()
            })
            .collect();
        assert!(steps[1..].iter().all(|&step| step == Step::On));
    }

    #[test]
    fn an_exact_host_may_send_one_block_in_several_calls() {
        let mut clock = clock();
        play(&mut clock, (0..40).map(|n| at(f64::from(n) * 0.01)));
        for _ in 0..3 {
            assert_eq!(clock.advance(&at(0.4), 160), Some(Step::On));
        }
        assert_eq!(clock.advance(&at(0.41), 480), Some(Step::On));
    }

    #[test]
    fn a_host_that_stays_elsewhere_is_believed() {
        let mut clock = clock();
        play(&mut clock, (0..3).map(|n| at(f64::from(n) * 0.01)));
        // 6 ms ahead from here on: too little for a jump at once.
        let steps = play(&mut clock, (3..200).map(|n| at(f64::from(n) * 0.01 + 0.006)));
        assert_eq!(steps[0], Step::On);
        let jumps = steps.iter().filter(|step| matches!(step, Step::Jump(_))).count();
        assert_eq!(jumps, 1);
        assert_eq!(clock.next_frame(), Some(200 * 480 + 288));
    }

    #[test]
    fn a_host_block_that_comes_in_odd_calls_is_no_other_place() {
        // Calls of 333 frames, positions rounded down to 1 024: hardly ever right to 2 ms.
        let mut clock = clock();
        let mut steps = Vec::new();
        for n in 0..2_000 {
            let told = f64::from(n * 333 / 1_024 * 1_024) / RATE_HZ;
            steps.push(clock.advance(&at(told), 333).unwrap());
        }
        assert!(steps[1..].iter().all(|&step| step == Step::On));
    }

    #[test]
    fn beats_alone_carry_through_a_change_of_tempo() {
        let mut clock = clock();
        let mut now = 0.0;
        let mut steps = Vec::new();
        for n in 0..1_000 {
            let tempo = if n < 500 { 120.0 } else { 90.0 };
            steps.push(clock.advance(&beats(now, tempo), 480).unwrap());
            now += tempo / 60.0 * 0.01;
        }
        assert!(steps[1..].iter().all(|&step| step == Step::On));
        assert_eq!(clock.next_frame(), Some(480_000));
        // A locate is still seen: eight beats back.
        assert!(matches!(clock.advance(&beats(now - 8.0, 90.0), 480), Some(Step::Jump(_))));
    }

    #[test]
    fn no_position_is_no_song_time() {
        let mut clock = clock();
        assert_eq!(clock.advance(&HostPosition::default(), 480), None);
        assert_eq!(clock.advance(&beats(4.0, 0.0), 480), None);
        assert_eq!(clock.advance(&at(f64::NAN), 480), None);
    }

    #[test]
    fn a_count_in_is_negative_and_absurd_positions_do_not_overflow() {
        let mut clock = clock();
        assert_eq!(clock.advance(&at(-2.0), 480), Some(Step::Jump(-96_000)));
        for seconds in [1e300, -1e300, 1e300] {
            assert!(clock.advance(&at(seconds), 480).is_some());
        }
    }
}
