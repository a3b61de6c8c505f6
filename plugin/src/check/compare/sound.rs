//! The sound of a file in the form in which two files are compared.

use crate::check::CheckError;
use crate::check::measure::max_frames;
use plimsoll_encoder::{EncodeError, Resampler};
use plimsoll_reader::{Block, FileFacts, Reader};
use std::path::Path;

/// Samples beyond this magnitude, +72 dBFS, and what is no number are no audio, as in the meters.
const NOT_AUDIO: f32 = 4096.0;

/// The form that both files are brought into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    /// Frames per second: the lower of both rates.
    pub rate_hz: u32,
    /// Channels; 1 where one of the files is mono, and the other's mid, (L + R)/2, is compared.
    pub channels: usize,
}

impl Form {
    /// The form of two files; `None` if their channels have nothing to do with each other.
    #[must_use]
    pub fn of(old: &FileFacts, new: &FileFacts) -> Option<Self> {
        let channels = match [old.channels, new.channels] {
            [old, new] if old == new => old,
            [1 | 2, 1 | 2] => 1,
            _ => return None,
        };
        Some(Self { rate_hz: old.rate_hz.min(new.rate_hz), channels })
    }
}

/// A file as a stream of frames in a [`Form`].
pub struct Sound {
    reader: Reader,
    block: Block,
    resampler: Option<Resampler>,
    form: Form,
    /// Frames that were read and not given yet.
    waiting: Vec<Vec<f32>>,
    left_frames: u64,
    has_ended: bool,
}

impl Sound {
    /// Opens the file at `path`.
    ///
    /// # Errors
    /// See [`CheckError`].
    pub fn open(path: &Path, form: Form) -> Result<Self, CheckError> {
        let reader = Reader::open(path)?;
        let from_hz = reader.facts().rate_hz;
        let resampler = if from_hz == form.rate_hz {
            None
        } else {
            Some(Resampler::new(from_hz, form.rate_hz, form.channels)?)
        };
        Ok(Self {
            reader,
            block: Block::default(),
            resampler,
            form,
            waiting: vec![Vec::new(); form.channels],
            left_frames: max_frames(from_hz),
            has_ended: false,
        })
    }

    /// The form of what is read.
    pub const fn form(&self) -> Form {
        self.form
    }

    /// Fills `planes` with the next `frames` frames, fewer only at the end; says how many.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn read(&mut self, frames: usize, planes: &mut [Vec<f32>]) -> Result<usize, CheckError> {
        while !self.has_ended && self.waiting_frames() < frames {
            self.read_block()?;
        }
        let len = self.waiting_frames().min(frames);
        for (plane, waiting) in planes.iter_mut().zip(&mut self.waiting) {
            plane.clear();
            plane.extend(waiting.drain(..len));
        }
        Ok(len)
    }

    /// Leaves out the next `frames` frames.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn skip(&mut self, frames: i64) -> Result<(), CheckError> {
        let mut left = usize::try_from(frames).unwrap_or(0);
        while left > 0 {
            if self.waiting_frames() == 0 {
                if self.has_ended {
                    return Ok(());
                }
                self.read_block()?;
            }
            let len = self.waiting_frames().min(left);
            for waiting in &mut self.waiting {
                waiting.drain(..len);
            }
            left -= len;
        }
        Ok(())
    }

    fn waiting_frames(&self) -> usize {
        self.waiting.first().map_or(0, Vec::len)
    }

    fn read_block(&mut self) -> Result<(), CheckError> {
        let Self { reader, block, resampler, waiting, .. } = self;
        reader.read(block)?;
        let frames = block.len_frames() as u64;
        let planes = shaped(block.planes(), self.form.channels);
        let mut give = |planes: &[&[f32]]| -> Result<(), EncodeError> {
            for (waiting, plane) in waiting.iter_mut().zip(planes) {
                waiting.extend_from_slice(plane);
            }
            Ok(())
        };
        self.has_ended = frames == 0 || frames > self.left_frames;
        self.left_frames = self.left_frames.saturating_sub(frames);
        if self.has_ended {
            if let Some(resampler) = resampler.take() {
                resampler.finish(give)?;
            }
        } else if let Some(resampler) = resampler {
            resampler.push(&planes, give)?;
        } else {
            let planes: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
            give(&planes)?;
        }
        Ok(())
    }
}

/// The planes of a block as so many channels, without what is no audio.
fn shaped(planes: &[Vec<f32>], channels: usize) -> Vec<Vec<f32>> {
    let audio = |sample: f32| if sample.abs() <= NOT_AUDIO { sample } else { 0.0 };
    match planes {
        [left, right] if channels == 1 => {
            let mid = left.iter().zip(right).map(|(&l, &r)| 0.5 * (audio(l) + audio(r)));
            vec![mid.collect()]
        }
        planes => planes.iter().map(|plane| plane.iter().copied().map(audio).collect()).collect(),
    }
}
