//! What runs of hops add up to: with it, a change in a long song costs what changed and not the
//! song.

use super::analysis::Kept;
use super::{Coverage, Figures};
use crate::record::CHUNK_HOPS;
use crate::units::{Dbfs, Dbtp};
use std::ops::Range;

/// What one chunk of an analysis adds up to.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Chunk {
    pub tally: Tally,
    /// Highest energy of a momentary window that ends in the chunk, between hops too.
    pub momentary: Option<f64>,
    /// The same of the short-term windows, which end with hops.
    pub short_term: Option<f64>,
}

/// Peaks, counts and coverage of hops that follow each other.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Tally {
    measured_hops: usize,
    gaps: usize,
    /// There are hops before the first full one, or no full one at all.
    gap_before: bool,
    /// There are hops behind the last full one.
    gap_behind: bool,
    /// Whether any frame was measured.
    is_any: bool,
    /// Highest true peak, and the first entry that has it.
    true_peak: (f32, usize),
    sample_peak: f32,
    clipped_samples: u64,
    scrubbed_samples: u64,
    frames: u64,
}

impl Tally {
    /// Takes in the next hop.
    pub fn add(&mut self, offset: usize, kept: &Kept) {
        self.append(&Self {
            measured_hops: usize::from(kept.is_full()),
            gap_before: !kept.is_full(),
            is_any: kept.frames() > 0,
            true_peak: (kept.true_peak, offset),
            sample_peak: kept.sample_peak,
            clipped_samples: u64::from(kept.clipped),
            scrubbed_samples: u64::from(kept.scrubbed),
            frames: u64::from(kept.frames()),
            ..Self::default()
        });
    }

    /// Takes in what follows.
    pub fn append(&mut self, next: &Self) {
        if next.measured_hops > 0 {
            let is_between = self.measured_hops > 0 && (self.gap_behind || next.gap_before);
            self.gaps += next.gaps + usize::from(is_between);
            // Before the first full hop there is nothing but gap.
            self.gap_before |= self.measured_hops == 0 && next.gap_before;
            self.gap_behind = next.gap_behind;
        } else if self.measured_hops > 0 {
            self.gap_behind |= next.gap_before;
        } else {
            self.gap_before |= next.gap_before;
        }
        self.measured_hops += next.measured_hops;
        if next.is_any {
            if !self.is_any || next.true_peak.0 > self.true_peak.0 {
                self.true_peak = next.true_peak;
            }
            self.is_any = true;
            self.sample_peak = self.sample_peak.max(next.sample_peak);
            self.clipped_samples += next.clipped_samples;
            self.scrubbed_samples += next.scrubbed_samples;
            self.frames += next.frames;
        }
    }

    /// Whether any frame was measured.
    pub const fn is_any(&self) -> bool {
        self.is_any
    }

    /// The figures that these are, without loudness; the span is the caller's. `hop_at` gives an
    /// entry's song time.
    pub fn figures(&self, hop_at: impl Fn(usize) -> i32) -> Figures {
        let mut figures = Figures {
            clipped_samples: self.clipped_samples,
            scrubbed_samples: self.scrubbed_samples,
            frames: self.frames,
            coverage: Coverage {
                measured_hops: self.measured_hops,
                gaps: self.gaps,
                ..Coverage::default()
            },
            ..Figures::default()
        };
        if self.is_any {
            let (amplitude, offset) = self.true_peak;
            figures.max_true_peak = Some(Dbtp::from_amplitude(amplitude));
            figures.max_true_peak_hop = Some(hop_at(offset));
            figures.sample_peak = Some(Dbfs::from_amplitude(self.sample_peak));
        }
        figures
    }
}

/// The entries of a chunk.
pub(super) const fn entries(chunk: usize) -> Range<usize> {
    chunk * CHUNK_HOPS..(chunk + 1) * CHUNK_HOPS
}

/// The chunks that lie in `range` whole and begin at `from` or later, and the entries before and
/// behind them.
pub(super) fn split(
    range: &Range<usize>,
    from: usize,
) -> (Range<usize>, Range<usize>, Range<usize>) {
    let first = range.start.max(from).div_ceil(CHUNK_HOPS);
    let end = range.end / CHUNK_HOPS;
    if first >= end {
        return (range.clone(), 0..0, range.end..range.end);
    }
    (range.start..first * CHUNK_HOPS, first..end, end * CHUNK_HOPS..range.end)
}

/// The higher of two energies, of which there may be none.
pub(super) fn higher(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.max(other)),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(is_full: bool, true_peak: f32) -> Kept {
        let frames = if is_full { 480 } else { 0 };
        Kept { frames, full: is_full, true_peak, sample_peak: true_peak, ..Kept::default() }
    }

    fn tally(hops: &[Kept], from: usize) -> Tally {
        let mut tally = Tally::default();
        (from..).zip(hops).for_each(|(offset, hop)| tally.add(offset, hop));
        tally
    }

    #[test]
    fn parts_add_up_to_the_whole_wherever_they_are_cut() {
        // Every pattern of 12 hops measured or not, cut at every place into three.
        for pattern in 0..1_u32 << 12 {
            let hops: Vec<Kept> = (0..12)
                .map(|place| kept(pattern >> place & 1 == 1, [0.5, 0.75, 0.25][place % 3]))
                .collect();
            let text: String =
                hops.iter().map(|hop| if hop.is_full() { 'x' } else { '.' }).collect();
            let whole = tally(&hops, 0).figures(|offset| i32::try_from(offset).unwrap());
            let runs = text.trim_matches('.').split('x').filter(|gap| !gap.is_empty()).count();
            assert_eq!(whole.coverage.gaps, runs, "{text}");
            assert_eq!(whole.coverage.measured_hops, text.matches('x').count());
            for first in 0..=12 {
                for second in first..=12 {
                    let mut parts = tally(&hops[..first], 0);
                    parts.append(&tally(&hops[first..second], first));
                    parts.append(&tally(&hops[second..], second));
                    let parts = parts.figures(|offset| i32::try_from(offset).unwrap());
                    assert_eq!(parts, whole, "{text} {first} {second}");
                }
            }
        }
    }

    #[test]
    fn a_range_is_split_at_whole_chunks() {
        let size = CHUNK_HOPS;
        assert_eq!(split(&(3..size + 2), 0), (3..size + 2, 0..0, size + 2..size + 2));
        assert_eq!(split(&(3..2 * size + 2), 0), (3..size, 1..2, 2 * size..2 * size + 2));
        assert_eq!(split(&(0..2 * size), 0), (0..0, 0..2, 2 * size..2 * size));
        assert_eq!(split(&(0..4 * size), size + 1), (0..2 * size, 2..4, 4 * size..4 * size));
    }
}
