//! What is left of NEW less OLD, once both lie on each other: the null.
//!
//! Sums of squares and products are kept by 100 ms of song time and channel; gain, residue and
//! places come out of them. The gain is the median over all 100 ms, each weighed with its energy,
//! so that a part that was changed does not pull it.

mod residue;

pub use residue::{Loudest, Null, Stretch};

use super::anchors::Alignment;
use super::delay::{self, REACH};
use super::sound::{Form, Sound};
use crate::check::CheckError;
use std::ops::Range;
use std::path::Path;

/// Cells of a second: 100 ms each.
pub const CELLS_PER_SECOND: i64 = 10;

/// Sums over the frames of one channel in one cell; `a` is OLD, `b` NEW.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Σ a².
    pub aa: f64,
    /// Σ a·b.
    pub ab: f64,
    /// Σ b².
    pub bb: f64,
}

impl Sums {
    fn of(old: &[f32], new: &[f32]) -> Self {
        let mut sums = Self::default();
        for (&a, &b) in old.iter().zip(new) {
            let (a, b) = (f64::from(a), f64::from(b));
            sums.aa += a * a;
            sums.ab += a * b;
            sums.bb += b * b;
        }
        sums
    }

    /// Both together.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { aa: self.aa + other.aa, ab: self.ab + other.ab, bb: self.bb + other.bb }
    }

    /// Σ (b − gain·a)².
    #[must_use]
    pub fn left(self, gain: f64) -> f64 {
        (self.bb - 2.0 * gain * self.ab + gain * gain * self.aa).max(0.0)
    }

    /// What is left with the gain that leaves the least.
    #[must_use]
    pub fn least(self) -> f64 {
        if self.aa > 0.0 { self.left(self.ab / self.aa) } else { self.bb }
    }
}

/// The sums of two files that lie on each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Cells {
    /// Frames of OLD that both files have.
    pub frames: Range<i64>,
    /// The form both were read in.
    pub rate_hz: i64,
    /// By channel of OLD, the sums of each cell from that of the first frame on.
    pub channels: Vec<Vec<Sums>>,
    /// Whether every sample is the same in both.
    pub is_same: bool,
}

impl Cells {
    /// Reads both files where they lie on each other; `lens` are their lengths in frames.
    ///
    /// # Errors
    /// A file cannot be read.
    pub fn read(
        paths: [&Path; 2],
        form: Form,
        lens: [i64; 2],
        alignment: &Alignment,
    ) -> Result<Self, CheckError> {
        let lag = alignment.lag_frames;
        let frames = (-lag).max(0)..(lens[0].min(lens[1] - lag)).max((-lag).max(0));
        let [mut old, new] = [Sound::open(paths[0], form)?, Sound::open(paths[1], form)?];
        old.skip(frames.start)?;
        let mut new = Shifted::new(new, frames.start + lag, alignment.part_frame)?;
        let mut planes = vec![Vec::new(); form.channels];
        let mut shifted = planes.clone();
        let mut cells = Self {
            rate_hz: i64::from(form.rate_hz),
            channels: vec![Vec::new(); form.channels],
            is_same: alignment.part_frame == 0.0,
            frames: frames.clone(),
        };
        let (mut at, mut cell) = (frames.start, cells.first_cell());
        while at < frames.end {
            let end = cells.first_frame(cell + 1).min(frames.end);
            let wanted = usize::try_from(end - at).unwrap_or(0);
            let len = old.read(wanted, &mut planes)?.min(new.read(wanted, &mut shifted)?);
            if alignment.swapped {
                shifted.swap(0, 1);
            }
            for ((sums, old), new) in cells.channels.iter_mut().zip(&planes).zip(&shifted) {
                sums.push(Sums::of(old, new));
                cells.is_same &= old == new;
            }
            if alignment.swapped {
                shifted.swap(0, 1);
            }
            if len < wanted {
                break;
            }
            (at, cell) = (end, cell + 1);
        }
        Ok(cells)
    }

    fn first_cell(&self) -> i64 {
        // The last cell that begins at or before the first frame.
        ((self.frames.start + 1) * CELLS_PER_SECOND - 1).div_euclid(self.rate_hz)
    }

    fn first_frame(&self, cell: i64) -> i64 {
        (cell * self.rate_hz).div_euclid(CELLS_PER_SECOND)
    }

    /// The frames of OLD of entry `index` of a channel.
    #[must_use]
    pub fn frames_of(&self, index: usize) -> Range<i64> {
        let cell = self.first_cell() + i64::try_from(index).unwrap_or(i64::MAX / 1_000_000);
        let (start, end) = (self.first_frame(cell), self.first_frame(cell + 1));
        start.max(self.frames.start)..end.min(self.frames.end)
    }
}

/// NEW from a frame and a part of a frame on.
struct Shifted {
    sound: Sound,
    /// Empty where there is no part.
    weights: Vec<f64>,
    held: Vec<Vec<f32>>,
    planes: Vec<Vec<f32>>,
}

impl Shifted {
    fn new(mut sound: Sound, from_frame: i64, part: f64) -> Result<Self, CheckError> {
        let channels = sound.form().channels;
        let weights = if part == 0.0 { Vec::new() } else { delay::weights(part) };
        // What stands before the first frame is heard in the weights; before the file is silence.
        let reach = if part == 0.0 { 0 } else { i64::try_from(REACH).unwrap_or(0) - 1 };
        let first = from_frame - reach;
        sound.skip(first.max(0))?;
        let before = usize::try_from((-first).max(0)).unwrap_or(0);
        let held = vec![vec![0.0; before]; channels];
        Ok(Self { sound, weights, held, planes: vec![Vec::new(); channels] })
    }

    fn read(&mut self, frames: usize, planes: &mut [Vec<f32>]) -> Result<usize, CheckError> {
        if self.weights.is_empty() {
            return self.sound.read(frames, planes);
        }
        let wanted = frames + self.weights.len() - 1;
        let held = self.held.first().map_or(0, Vec::len);
        self.sound.read(wanted.saturating_sub(held), &mut self.planes)?;
        for ((held, more), plane) in self.held.iter_mut().zip(&self.planes).zip(planes) {
            held.extend_from_slice(more);
            held.resize(wanted.max(held.len()), 0.0);
            plane.clear();
            plane.extend(delay::apply(&self.weights, held).take(frames));
            held.drain(..frames);
        }
        Ok(frames)
    }
}
