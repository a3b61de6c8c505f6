//! Scripted transport: where the host is in the song, block by block, and what it says about it.
//!
//! A script is a list of [`Step`]s; [`playback`] turns it into [`Event`]s. A host that splits its
//! block where a loop wraps, as all must, gets there a shorter block.

use crate::audio_file::Audio;
use crate::noise::Rng;
use clack_host::events::event_types::{TransportEvent, TransportFlags};
use clack_host::events::{EventFlags, EventHeader};
use clack_host::utils::{BeatTime, SecondsTime};

/// One thing that the user or the host does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Plays on from the present place.
    Play {
        /// For so long, in frames.
        len_frames: usize,
    },
    /// Goes to another place, playing on or standing as before. Before song time zero in a
    /// count-in.
    Locate {
        /// The frame of the song to go to.
        frame: i64,
    },
    /// Plays on and goes back to `start_frame` whenever `end_frame` is reached.
    Loop {
        /// First frame of the loop.
        start_frame: i64,
        /// The frame after the last of the loop.
        end_frame: i64,
        /// For so long, in frames.
        len_frames: usize,
    },
    /// The transport stands, the plugin hears silence.
    Stand {
        /// For so long, in frames.
        len_frames: usize,
    },
    /// The host calls `reset`.
    Reset,
    /// The host lets the plugin rest: `stop_processing`, `start_processing`.
    Rest,
}

/// Which parts of its position a host tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tells {
    /// Seconds, beats, tempo, bars.
    Everything,
    /// Only seconds.
    Seconds,
    /// Only beats and tempo.
    Beats,
    /// Only that it plays or stands.
    Playing,
    /// No transport at all.
    Nothing,
}

/// How a host rounds the position it tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// Not at all.
    Exact,
    /// To the nearest millisecond.
    Millisecond,
    /// Down to a multiple of so many frames: one host block told to several calls.
    Block(usize),
}

/// How a host tells where it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Telling {
    /// What it tells.
    pub tells: Tells,
    /// How it rounds.
    pub rounding: Rounding,
    /// Frame of the song and tempo from there on, in beats (quarter notes) a minute; the first
    /// entry holds for all time before it too. Not empty.
    pub tempo_map: Vec<(i64, f64)>,
}

impl Telling {
    /// Tells `tells`, unrounded, at 120 beats a minute.
    #[must_use]
    pub fn new(tells: Tells) -> Self {
        Self {
            tells,
            rounding: Rounding::Exact,
            tempo_map: vec![(0, 120.0)],
        }
    }

    /// The same with `rounding`.
    #[must_use]
    pub fn rounded(self, rounding: Rounding) -> Self {
        Self { rounding, ..self }
    }

    /// What is told at `frame`. `repeat` is the loop range, if one is on.
    fn at(&self, frame: i64, rate_hz: u32, playing: bool, repeat: Option<(i64, i64)>) -> Told {
        let rate = f64::from(rate_hz);
        let seconds = match self.rounding {
            Rounding::Exact => frame as f64 / rate,
            Rounding::Millisecond => (frame as f64 / rate * 1000.0).round() / 1000.0,
            Rounding::Block(len) => (frame.div_euclid(len as i64) * len as i64) as f64 / rate,
        };
        let beats = self.beats(seconds, rate);
        let tells_seconds = matches!(self.tells, Tells::Everything | Tells::Seconds);
        let tells_beats = matches!(self.tells, Tells::Everything | Tells::Beats);
        Told {
            playing,
            seconds: tells_seconds.then_some(seconds),
            beats: tells_beats.then_some(beats),
            tempo_bpm: tells_beats.then(|| self.tempo_bpm(seconds * rate)),
            repeat_seconds: repeat
                .filter(|_| tells_seconds)
                .map(|(start, end)| (start as f64 / rate, end as f64 / rate)),
            repeat_beats: repeat.filter(|_| tells_beats).map(|(start, end)| {
                (
                    self.beats(start as f64 / rate, rate),
                    self.beats(end as f64 / rate, rate),
                )
            }),
            is_null: self.tells == Tells::Nothing,
        }
    }

    fn tempo_bpm(&self, frame: f64) -> f64 {
        self.tempo_map
            .iter()
            .rev()
            .find(|&&(from, _)| from as f64 <= frame)
            .unwrap_or(&self.tempo_map[0])
            .1
    }

    /// Quarter notes from song time zero, counted through all changes of tempo.
    fn beats(&self, seconds: f64, rate: f64) -> f64 {
        let frame = seconds * rate;
        let mut beats = 0.0;
        for (index, &(from, bpm)) in self.tempo_map.iter().enumerate() {
            // The first tempo reaches back from song time zero, where the count starts.
            let from = if index == 0 { 0.0 } else { from as f64 };
            let until = self
                .tempo_map
                .get(index + 1)
                .map_or(f64::INFINITY, |next| next.0 as f64);
            let part = if index == 0 {
                frame.min(until)
            } else {
                frame.min(until).max(from)
            };
            beats += (part - from) / rate * bpm / 60.0;
        }
        beats
    }
}

/// What the host tells at the start of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// Whether it plays.
    pub playing: bool,
    /// Song position, in s.
    pub seconds: Option<f64>,
    /// Song position, in quarter notes.
    pub beats: Option<f64>,
    /// Tempo, in quarter notes a minute.
    pub tempo_bpm: Option<f64>,
    /// The loop range in s, if looping is on.
    pub repeat_seconds: Option<(f64, f64)>,
    /// The loop range in quarter notes, if looping is on.
    pub repeat_beats: Option<(f64, f64)>,
    /// The host passes no transport at all.
    pub is_null: bool,
}

impl Told {
    /// As CLAP puts it; `None` for no transport. Meter is 4/4.
    #[must_use]
    pub fn event(&self) -> Option<TransportEvent> {
        if self.is_null {
            return None;
        }
        let mut flags = TransportFlags::empty();
        flags.set(TransportFlags::IS_PLAYING, self.playing);
        flags.set(TransportFlags::HAS_SECONDS_TIMELINE, self.seconds.is_some());
        flags.set(TransportFlags::HAS_BEATS_TIMELINE, self.beats.is_some());
        flags.set(TransportFlags::HAS_TIME_SIGNATURE, self.beats.is_some());
        flags.set(TransportFlags::HAS_TEMPO, self.tempo_bpm.is_some());
        let repeats = self.repeat_seconds.is_some() || self.repeat_beats.is_some();
        flags.set(TransportFlags::IS_LOOP_ACTIVE, repeats);
        let (start_s, end_s) = self.repeat_seconds.unwrap_or_default();
        let (start_beats, end_beats) = self.repeat_beats.unwrap_or_default();
        let bar = (self.beats.unwrap_or_default() / 4.0).floor();
        Some(TransportEvent {
            header: EventHeader::new_core(0, EventFlags::empty()),
            flags,
            song_pos_beats: BeatTime::from_float(self.beats.unwrap_or_default()),
            song_pos_seconds: SecondsTime::from_float(self.seconds.unwrap_or_default()),
            tempo: self.tempo_bpm.unwrap_or_default(),
            tempo_inc: 0.0,
            loop_start_beats: BeatTime::from_float(start_beats),
            loop_end_beats: BeatTime::from_float(end_beats),
            loop_start_seconds: SecondsTime::from_float(start_s),
            loop_end_seconds: SecondsTime::from_float(end_s),
            bar_start: BeatTime::from_float(bar * 4.0),
            bar_number: bar as i32,
            time_signature_numerator: 4,
            time_signature_denominator: 4,
        })
    }
}

/// How long the host makes its blocks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Blocks {
    /// All of one length, in frames.
    Fixed(usize),
    /// These lengths in turn, in frames.
    InTurn(Vec<usize>),
    /// Random lengths from 1 to a longest, in frames.
    Random {
        /// Seed of the sequence.
        seed: u64,
        /// The longest, in frames.
        max_frames: usize,
    },
}

impl Blocks {
    /// The longest block, in frames: what the plugin is activated with.
    #[must_use]
    pub fn max_frames(&self) -> usize {
        match self {
            Self::Fixed(len) => *len,
            Self::InTurn(lens) => lens.iter().copied().max().unwrap_or(1),
            Self::Random { max_frames, .. } => *max_frames,
        }
    }

    fn lengths(self) -> Box<dyn Iterator<Item = usize>> {
        match self {
            Self::Fixed(len) => Box::new(std::iter::repeat(len)),
            Self::InTurn(lens) => Box::new(lens.into_iter().cycle()),
            Self::Random { seed, max_frames } => {
                let mut rng = Rng::new(seed);
                Box::new(std::iter::repeat_with(move || rng.between(1, max_frames)))
            }
        }
    }
}

/// What the host does next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// Processes a block.
    Block(Block),
    /// Calls `reset`.
    Reset,
    /// Calls `stop_processing` and `start_processing`.
    Rest,
}

/// One call of `process`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// The frame of the song that the first frame of the block is; `None` while the transport
    /// stands.
    pub song_frame: Option<i64>,
    /// Length in frames, at least 1.
    pub len_frames: usize,
    /// What the host tells.
    pub told: Told,
}

impl Block {
    /// Puts the sound of the block into `planes`: the song where it plays within it, else silence.
    pub fn fill(&self, song: &Audio, planes: &mut [Vec<f32>]) {
        for (plane, channel) in planes.iter_mut().zip(&song.channels) {
            plane.clear();
            plane.extend((0..self.len_frames as i64).map(|offset| {
                self.song_frame
                    .and_then(|start| usize::try_from(start + offset).ok())
                    .and_then(|frame| channel.get(frame).copied())
                    .unwrap_or(0.0)
            }));
        }
    }
}

/// The events of a script. The transport starts at song time zero.
pub fn playback(
    rate_hz: u32,
    steps: &[Step],
    telling: Telling,
    blocks: Blocks,
) -> impl Iterator<Item = Event> {
    let mut steps = steps.iter().copied();
    let mut lengths = blocks.lengths();
    let mut position = 0_i64;
    let mut present: Option<(Step, usize)> = None;
    std::iter::from_fn(move || {
        loop {
            if let Some((step, left)) = present.take().filter(|&(_, left)| left > 0) {
                let mut len = lengths.next()?.clamp(1, left);
                let mut repeat = None;
                if let Step::Loop {
                    start_frame,
                    end_frame,
                    ..
                } = step
                {
                    repeat = Some((start_frame, end_frame));
                    if position >= end_frame {
                        position = start_frame;
                    }
                    len = len.min((end_frame - position).max(1) as usize);
                }
                present = Some((step, left - len));
                let playing = !matches!(step, Step::Stand { .. });
                let block = Block {
                    song_frame: playing.then_some(position),
                    len_frames: len,
                    told: telling.at(position, rate_hz, playing, repeat),
                };
                if playing {
                    position += len as i64;
                }
                return Some(Event::Block(block));
            }
            let step = steps.next()?;
            match step {
                Step::Locate { frame } => position = frame,
                Step::Play { len_frames }
                | Step::Stand { len_frames }
                | Step::Loop { len_frames, .. } => present = Some((step, len_frames)),
                Step::Reset => return Some(Event::Reset),
                Step::Rest => return Some(Event::Rest),
            }
        }
    })
}

/// A script that plays `song` once from its start to its end and then stands for a moment.
#[must_use]
pub fn play_once(song: &Audio) -> Vec<Step> {
    vec![
        Step::Play {
            len_frames: song.len_frames(),
        },
        Step::Stand {
            len_frames: song.rate_hz as usize / 10,
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks_of(steps: &[Step], telling: Telling, blocks: Blocks) -> Vec<Block> {
        playback(48_000, steps, telling, blocks)
            .filter_map(|event| match event {
                Event::Block(block) => Some(block),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn playing_covers_every_frame_once_in_order_whatever_the_blocks() {
        for plan in [
            Blocks::Fixed(64),
            Blocks::InTurn(vec![1, 7, 441]),
            Blocks::Random {
                seed: 3,
                max_frames: 512,
            },
        ] {
            let steps = [Step::Play { len_frames: 10_000 }];
            let mut next = 0;
            for block in blocks_of(&steps, Telling::new(Tells::Seconds), plan.clone()) {
                assert!((1..=plan.max_frames()).contains(&block.len_frames));
                assert_eq!(block.song_frame, Some(next));
                assert_eq!(block.told.seconds, Some(next as f64 / 48_000.0));
                next += block.len_frames as i64;
            }
            assert_eq!(next, 10_000);
        }
    }

    #[test]
    fn a_loop_wraps_at_its_end_to_the_frame() {
        let steps = [
            Step::Locate { frame: 900 },
            Step::Loop {
                start_frame: 500,
                end_frame: 1000,
                len_frames: 1200,
            },
        ];
        let frames: Vec<i64> =
            blocks_of(&steps, Telling::new(Tells::Everything), Blocks::Fixed(64))
                .iter()
                .flat_map(|b| (0..b.len_frames as i64).map(|k| b.song_frame.unwrap() + k))
                .collect();
        let expected: Vec<i64> = (900..1000)
            .chain(500..1000)
            .chain(500..1000)
            .chain(500..600)
            .collect();
        assert_eq!(frames, expected);
    }

    #[test]
    fn standing_is_silent_and_keeps_the_place() {
        let song = Audio {
            rate_hz: 48_000,
            channels: vec![vec![0.5; 1000]],
        };
        let steps = [
            Step::Play { len_frames: 100 },
            Step::Stand { len_frames: 100 },
            Step::Play { len_frames: 100 },
        ];
        let blocks = blocks_of(&steps, Telling::new(Tells::Everything), Blocks::Fixed(100));
        let mut plane = vec![Vec::new()];
        blocks[1].fill(&song, &mut plane);
        assert_eq!(plane[0], vec![0.0; 100]);
        assert!(!blocks[1].told.playing);
        assert_eq!(blocks[2].song_frame, Some(100));
        blocks[2].fill(&song, &mut plane);
        assert_eq!(plane[0], vec![0.5; 100]);
    }

    #[test]
    fn a_count_in_is_silent_before_song_time_zero() {
        let song = Audio {
            rate_hz: 48_000,
            channels: vec![vec![0.5; 1000]],
        };
        let steps = [Step::Locate { frame: -10 }, Step::Play { len_frames: 20 }];
        let blocks = blocks_of(&steps, Telling::new(Tells::Seconds), Blocks::Fixed(20));
        let mut plane = vec![Vec::new()];
        blocks[0].fill(&song, &mut plane);
        assert_eq!(plane[0], [vec![0.0; 10], vec![0.5; 10]].concat());
        assert_eq!(blocks[0].told.seconds, Some(-10.0 / 48_000.0));
    }

    #[test]
    fn positions_are_told_as_the_host_is_made() {
        let at = |telling: Telling, frame| telling.at(frame, 48_000, true, None);
        // Half a second at 120 beats a minute is one beat.
        let told = at(Telling::new(Tells::Beats), 24_000);
        assert_eq!(
            (told.seconds, told.beats, told.tempo_bpm),
            (None, Some(1.0), Some(120.0))
        );
        let told = at(
            Telling::new(Tells::Seconds).rounded(Rounding::Millisecond),
            24_025,
        );
        assert_eq!(told.seconds, Some(0.501));
        let told = at(
            Telling::new(Tells::Seconds).rounded(Rounding::Block(512)),
            1000,
        );
        assert_eq!(told.seconds, Some(512.0 / 48_000.0));
        assert!(at(Telling::new(Tells::Nothing), 0).event().is_none());
        let told = at(Telling::new(Tells::Playing), 24_000);
        assert_eq!(told.event().unwrap().flags, TransportFlags::IS_PLAYING);
    }

    #[test]
    fn beats_count_through_a_change_of_tempo() {
        let telling = Telling {
            tempo_map: vec![(0, 120.0), (48_000, 60.0)],
            ..Telling::new(Tells::Beats)
        };
        // One second at 120 is 2 beats, another at 60 one more; a count-in is negative.
        assert_eq!(telling.beats(2.0, 48_000.0), 3.0);
        assert_eq!(telling.beats(-1.0, 48_000.0), -2.0);
        assert_eq!(telling.tempo_bpm(47_999.0), 120.0);
        assert_eq!(telling.tempo_bpm(48_000.0), 60.0);
    }

    #[test]
    fn the_clap_event_holds_the_position_to_a_billionth_of_a_second() {
        let told = Telling::new(Tells::Everything).at(959_520, 48_000, true, Some((0, 48_000)));
        let event = told.event().unwrap();
        assert!((event.song_pos_seconds.to_float() - 19.99).abs() < 1e-9);
        assert_eq!(event.bar_number, 9);
        assert_eq!(event.bar_start.to_float(), 36.0);
        assert!(event.flags.contains(TransportFlags::IS_LOOP_ACTIVE));
        assert_eq!(event.loop_end_seconds.to_float(), 1.0);
    }
}
