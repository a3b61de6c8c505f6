//! Loudness and true peak over song time, every 100 ms.

use crate::loudness::{Analysis, BLOCK_STEP_HOPS, HopRange};
use crate::record::hop_seconds;
use crate::units::{Dbtp, Lufs};

/// Hops from one point of a series to the next: 100 ms, as short-term loudness is read
/// (EBU Tech 3341 §2.2).
pub const SERIES_STEP_HOPS: usize = BLOCK_STEP_HOPS;

/// One step of 100 ms.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SeriesPoint {
    /// Momentary loudness of the 400 ms that end with the step, LUFS; `None` with a gap in them.
    pub momentary: Option<Lufs>,
    /// Short-term loudness of the 3 s that end with the step, LUFS; `None` with a gap in them.
    pub short_term: Option<Lufs>,
    /// Highest true peak of the step, dBTP; `None` if nothing of it was measured.
    pub true_peak: Option<Dbtp>,
    /// The newest playthrough that measured in the step; `None` if none did.
    pub playthrough: Option<u32>,
}

/// The series of a song.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// The hop that the first step starts with: a multiple of [`SERIES_STEP_HOPS`].
    pub first_hop: i32,
    /// One past the last measured hop: the last step may be shorter than the others.
    pub end_hop: i32,
    /// The steps, in song order, without a hole.
    pub points: Vec<SeriesPoint>,
}

impl Series {
    /// The series of `range`, whose start lies on the grid of 100 ms.
    #[must_use]
    pub fn new(analysis: &Analysis, range: HopRange) -> Self {
        let step = i32::try_from(SERIES_STEP_HOPS).unwrap_or(1);
        let mut points = Vec::new();
        let mut start = range.start;
        while start < range.end {
            let end = (start + step).min(range.end);
            let measured = analysis.hops(start..end).filter(|(_, kept)| kept.frames() > 0);
            let peak = measured.clone().map(|(_, kept)| kept.true_peak).reduce(f32::max);
            points.push(SeriesPoint {
                momentary: analysis.momentary(end - 1),
                short_term: analysis.short_term(end - 1),
                true_peak: peak.map(Dbtp::from_amplitude),
                playthrough: measured.map(|(_, kept)| kept.playthrough).max(),
            });
            start = end;
        }
        Self { first_hop: range.start, end_hop: range.end, points }
    }

    /// Hops of the step at `index`, the last one as short as it is.
    #[must_use]
    pub fn hops(&self, index: usize) -> HopRange {
        let offset = index.saturating_mul(SERIES_STEP_HOPS);
        let start = i32::try_from(offset).map_or(self.end_hop, |hops| self.first_hop + hops);
        let step = i32::try_from(SERIES_STEP_HOPS).unwrap_or(1);
        start..(start + step).min(self.end_hop)
    }

    /// Start of the first step, seconds of song time.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        hop_seconds(self.first_hop)
    }

    /// The newest playthrough of all.
    #[must_use]
    pub fn newest_playthrough(&self) -> Option<u32> {
        self.points.iter().filter_map(|point| point.playthrough).max()
    }
}
