//! Sound at another rate, with the resampler of the crate `rubato`: it cuts what lies above the
//! lower rate's half, and so moves peaks by itself.

use crate::EncodeError;
use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Indexing, Resampler as _, WindowFunction};

/// Frames of a piece: long enough that the filter's edge is steep. The project's own choice.
const CHUNK_FRAMES: usize = 4_096;

/// Changes the rate of sound that comes in blocks; what goes out begins and ends where what came
/// in does.
pub struct Resampler {
    inner: Fft<f32>,
    from_hz: u32,
    to_hz: u32,
    /// Frames that came and are not used yet.
    waiting: Vec<Vec<f32>>,
    out: Vec<Vec<f32>>,
    came_frames: u64,
    given_frames: u64,
    /// Frames still to be left out: the filter's delay.
    skip_frames: usize,
}

impl Resampler {
    /// From a rate to another, Hz.
    ///
    /// # Errors
    /// What the library refuses.
    pub fn new(from_hz: u32, to_hz: u32, channels: usize) -> Result<Self, EncodeError> {
        let rate = |rate_hz: u32| usize::try_from(rate_hz).unwrap_or(0);
        let inner = Fft::new_custom(
            rate(from_hz),
            rate(to_hz),
            CHUNK_FRAMES,
            1,
            channels,
            WindowFunction::BlackmanHarris2,
            FixedSync::Both,
        )
        .map_err(|error| EncodeError::library(&error))?;
        Ok(Self {
            out: vec![vec![0.0; inner.output_frames_max()]; channels],
            skip_frames: inner.output_delay(),
            inner,
            from_hz,
            to_hz,
            waiting: vec![Vec::new(); channels],
            came_frames: 0,
            given_frames: 0,
        })
    }

    /// Takes the next frames; what comes out goes to `give`, perhaps nothing yet.
    ///
    /// # Errors
    /// What the library or `give` refuses.
    pub fn push<P: AsRef<[f32]>>(
        &mut self,
        planes: &[P],
        mut give: impl FnMut(&[&[f32]]) -> Result<(), EncodeError>,
    ) -> Result<(), EncodeError> {
        for (waiting, plane) in self.waiting.iter_mut().zip(planes) {
            waiting.extend_from_slice(plane.as_ref());
        }
        self.came_frames += planes.first().map_or(0, |plane| plane.as_ref().len()) as u64;
        while self.waiting.first().map_or(0, Vec::len) >= self.inner.input_frames_next() {
            self.step(u64::MAX, &mut give)?;
        }
        Ok(())
    }

    /// The sound ends: the rest comes out.
    ///
    /// # Errors
    /// What the library or `give` refuses.
    pub fn finish(
        mut self,
        mut give: impl FnMut(&[&[f32]]) -> Result<(), EncodeError>,
    ) -> Result<(), EncodeError> {
        let frames = u128::from(self.came_frames) * u128::from(self.to_hz);
        let frames = u64::try_from(frames.div_ceil(u128::from(self.from_hz))).unwrap_or(u64::MAX);
        while self.given_frames < frames {
            self.step(frames - self.given_frames, &mut give)?;
        }
        Ok(())
    }

    /// One piece, filled up with silence; at most `left_frames` of it are given.
    fn step(
        &mut self,
        left_frames: u64,
        give: &mut impl FnMut(&[&[f32]]) -> Result<(), EncodeError>,
    ) -> Result<(), EncodeError> {
        let failed = |error: &dyn ToString| EncodeError::Library { what: error.to_string() };
        let channels = self.waiting.len();
        let wanted = self.inner.input_frames_next();
        let there = self.waiting.first().map_or(0, Vec::len).min(wanted);
        for waiting in &mut self.waiting {
            let len = waiting.len().max(wanted);
            waiting.resize(len, 0.0);
        }
        let room = self.out.first().map_or(0, Vec::len);
        let from = SequentialSliceOfVecs::new(&self.waiting, channels, wanted)
            .map_err(|error| failed(&error))?;
        let mut to = SequentialSliceOfVecs::new_mut(&mut self.out, channels, room)
            .map_err(|error| failed(&error))?;
        let indexing = Indexing::new().partial_len(there);
        let (_, made) = self
            .inner
            .process_into_buffer(&from, &mut to, Some(&indexing))
            .map_err(|error| failed(&error))?;
        for waiting in &mut self.waiting {
            waiting.drain(..wanted);
        }
        let start = self.skip_frames.min(made);
        self.skip_frames -= start;
        let end = made.min(start.saturating_add(usize::try_from(left_frames).unwrap_or(made)));
        self.given_frames += (end - start) as u64;
        let planes: Vec<&[f32]> =
            self.out.iter().map(|plane| plane.get(start..end).unwrap_or_default()).collect();
        give(&planes)
    }
}
