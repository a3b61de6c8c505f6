//! Scripted transport: where the host is in the song, block by block, and what it says about it.
//!
//! A script is a list of [`Step`]s; [`playback`] turns it into [`Event`]s. A host that splits its
//! block where a loop wraps, as all must, gets there a shorter block.

mod telling;

pub use telling::{Rounding, Telling, Tells, Told};

use crate::audio_file::Audio;
use crate::noise::Rng;

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
                if let Step::Loop { start_frame, end_frame, .. } = step {
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
        Step::Play { len_frames: song.len_frames() },
        Step::Stand { len_frames: song.rate_hz as usize / 10 },
    ]
}

#[cfg(test)]
mod tests;
