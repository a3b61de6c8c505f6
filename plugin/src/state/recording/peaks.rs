//! The peaks of the hops, sample peaks and true peaks of each channel, in decibels.
//!
//! What is shown of peaks are maxima of ranges. A hop that is no maximum of any
//! [`SHORTEST_HOPS`] adjacent hops of its channel is not the maximum of any range that long, so
//! its peak is known by its cell of [`CELL_DB`] alone and comes back as the middle of it, off by
//! at most half a cell; the maxima stand in higher cells. All other peaks come back to half of
//! [`LEVEL_DB`]. Which are which follows from the cells, also for the reader.

use super::planes::{Damage, Reader, Writer};
use super::windows::{of_those_that_hold, slide};
use crate::units::{amplitude_to_db, db_to_amplitude};
use std::ops::Range;

/// Step of the peaks that may be a maximum: 0.001 dB, so that they are off by 0.0005 dB.
const LEVEL_DB: f64 = 0.001;
/// Levels in a cell, as a power of two.
const CELL_LEVELS_LOG2: u32 = 7;
const CELL_LEVELS: i64 = 1 << CELL_LEVELS_LOG2;
/// Width of a cell: 0.128 dB.
#[cfg(test)]
pub(super) const CELL_DB: f64 = 0.128;

/// Hops of the shortest range whose maximum is exact: 100 ms, a point of the strip; sections are
/// longer.
pub(super) const SHORTEST_HOPS: usize = crate::loudness::BLOCK_STEP_HOPS;

/// Level of silence's neighbour: −900 dB, below the smallest number in single precision. Cell 0
/// is silence.
const LOWEST_LEVEL: i64 = -900_000;
/// Cells, silence included: up to +900 dB.
const CELLS: i64 = 2 * 900_000 / CELL_LEVELS + 2;

/// Sample peaks and true peaks of one channel, linear, one entry per hop.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Peaks {
    pub sample: Vec<f32>,
    pub true_peaks: Vec<f32>,
}

/// Writes the peaks of all channels; within each of `pieces` hops are adjacent.
pub(super) fn write(writer: &mut Writer, channels: &[Peaks], pieces: &[Range<usize>]) {
    let mut first: Option<Vec<i64>> = None;
    for peaks in channels {
        let samples: Vec<i64> = peaks.sample.iter().map(|&peak| level_of(peak)).collect();
        let trues: Vec<i64> = peaks.true_peaks.iter().map(|&peak| level_of(peak)).collect();
        let (sample_cells, true_cells) = (cells_of(&samples), cells_of(&trues));
        // A channel moves like the first one, and true peaks stand on sample peaks.
        writer.signed(changes(&sample_cells, first.as_deref()));
        writer.signed(true_cells.iter().zip(&sample_cells).map(|(a, b)| a - b));
        for (levels, cells) in [(&samples, &sample_cells), (&trues, &true_cells)] {
            let exact = levels.iter().zip(may_be_maxima(cells, pieces));
            let exact = exact.filter(|(_, exact)| *exact).map(|(level, _)| *level);
            let inside = exact.map(|level| (level - LOWEST_LEVEL).rem_euclid(CELL_LEVELS));
            writer.bits(inside.map(i64::cast_unsigned), CELL_LEVELS_LOG2);
        }
        first.get_or_insert(sample_cells);
    }
}

/// Reads the peaks of `channels` channels, `count` hops each.
pub(super) fn read(
    reader: &mut Reader<'_>,
    channels: usize,
    count: usize,
    pieces: &[Range<usize>],
) -> Result<Vec<Peaks>, Damage> {
    let mut all = Vec::with_capacity(channels);
    let mut first: Option<Vec<i64>> = None;
    for _ in 0..channels {
        let sample_cells = unchanged(reader.signed(count)?, first.as_deref());
        let above = reader.signed(count)?;
        let true_cells: Vec<i64> =
            above.iter().zip(&sample_cells).map(|(a, b)| a.saturating_add(*b)).collect();
        let sample = read_levels(reader, &sample_cells, pieces)?;
        let true_peaks = read_levels(reader, &true_cells, pieces)?;
        all.push(Peaks { sample, true_peaks });
        first.get_or_insert(sample_cells);
    }
    Ok(all)
}

fn read_levels(
    reader: &mut Reader<'_>,
    cells: &[i64],
    pieces: &[Range<usize>],
) -> Result<Vec<f32>, Damage> {
    if !cells.iter().all(|cell| (0..CELLS).contains(cell)) {
        return Err(Damage("a peak that is out of range"));
    }
    let exact = may_be_maxima(cells, pieces);
    let count = exact.iter().filter(|&&exact| exact).count();
    let mut inside = reader.bits(count, CELL_LEVELS_LOG2)?.into_iter();
    let peaks = cells.iter().zip(exact).map(|(&cell, exact)| {
        let inside = if exact { inside.next().map(u64::cast_signed) } else { None };
        let inside = inside.unwrap_or(CELL_LEVELS / 2);
        (cell > 0).then(|| amplitude_of(LOWEST_LEVEL + (cell - 1) * CELL_LEVELS + inside))
    });
    Ok(peaks.map(Option::unwrap_or_default).collect())
}

/// The level of a peak in steps of [`LEVEL_DB`]; below [`LOWEST_LEVEL`] for silence.
#[expect(clippy::cast_possible_truncation, reason = "clamped to small whole numbers")]
fn level_of(peak: f32) -> i64 {
    let level = (amplitude_to_db(f64::from(peak)) / LEVEL_DB).round() as i64;
    if peak > 0.0 { level.clamp(LOWEST_LEVEL, -LOWEST_LEVEL) } else { i64::MIN }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "single precision is what a hop has; levels are small numbers"
)]
fn amplitude_of(level: i64) -> f32 {
    (db_to_amplitude(level as f64 * LEVEL_DB) as f32).min(f32::MAX)
}

fn cells_of(levels: &[i64]) -> Vec<i64> {
    let cell = |&level: &i64| {
        if level < LOWEST_LEVEL { 0 } else { (level - LOWEST_LEVEL) / CELL_LEVELS + 1 }
    };
    levels.iter().map(cell).collect()
}

/// How much more each cell changed than the one beside.
fn changes(cells: &[i64], beside: Option<&[i64]>) -> Vec<i64> {
    let mut last = 0;
    let differences = cells.iter().enumerate().map(|(at, cell)| {
        let beside = beside.and_then(|beside| beside.get(at)).copied().unwrap_or(0);
        cell - beside
    });
    differences.map(|difference| difference - std::mem::replace(&mut last, difference)).collect()
}

/// The cells again.
fn unchanged(changes: Vec<i64>, beside: Option<&[i64]>) -> Vec<i64> {
    let mut last = 0_i64;
    let differences = changes.into_iter().map(|change| {
        last = last.saturating_add(change);
        last
    });
    let cells = differences.enumerate().map(|(at, difference)| {
        let beside = beside.and_then(|beside| beside.get(at)).copied().unwrap_or(0);
        difference.saturating_add(beside)
    });
    cells.collect()
}

/// Which hops are a maximum of some [`SHORTEST_HOPS`] adjacent ones. Beyond the ends of a piece
/// nothing was measured, so that less than that may count there.
fn may_be_maxima(cells: &[i64], pieces: &[Range<usize>]) -> Vec<bool> {
    let mut exact = vec![false; cells.len()];
    let beyond = vec![i64::MIN; SHORTEST_HOPS - 1];
    for piece in pieces {
        let cells = cells.get(piece.clone()).unwrap_or_default();
        let highest = slide(&[&beyond, cells, &beyond].concat(), SHORTEST_HOPS, i64::max);
        let lowest = of_those_that_hold(&highest, SHORTEST_HOPS, i64::MAX, i64::min);
        let lowest = lowest.iter().skip(SHORTEST_HOPS - 1);
        let exact = exact.get_mut(piece.clone()).unwrap_or_default();
        for ((exact, cell), lowest) in exact.iter_mut().zip(cells).zip(lowest) {
            *exact = cell >= lowest && *cell > 0;
        }
    }
    exact
}

#[cfg(test)]
mod tests;
