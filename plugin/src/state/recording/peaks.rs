//! The peaks of the hops, sample peaks and true peaks of each channel, in decibels.
//!
//! What is shown of peaks are maxima of ranges. A hop that is no maximum of any
//! [`SHORTEST_HOPS`] adjacent hops of its channel is not the maximum of any range that long, so
//! its peak is known by its cell of 0.128 dB alone and comes back as the middle of it, off by
//! at most half a cell; the maxima stand in higher cells. All other peaks come back to half of
//! [`LEVEL_DB`]. Which are which follows from the cells, also for the reader.

use super::planes::{Damage, Reader, Writer};
use super::powers::{nearest, power_of_two};
use super::windows::{of_those_that_hold, slide};
use crate::units::{amplitude_to_db, db_to_amplitude};
use std::ops::Range;

/// Step of the peaks that may be a maximum: 0.001 dB, so that they are off by 0.0005 dB.
const LEVEL_DB: f64 = 0.001;
/// Levels in a cell, as a power of two.
const CELL_LEVELS_LOG2: u32 = 7;
const CELL_LEVELS: i64 = 1 << CELL_LEVELS_LOG2;

/// Hops of the shortest range whose maximum is exact: 200 ms, an event of the peak ledger; sections
/// are longer.
pub(super) const SHORTEST_HOPS: usize = 20;

/// Doublings of power in a decibel: 1/(10·log10 2).
const OCTAVES_PER_DB: f64 = 0.332_192_809_488_736_2;

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

/// About the power of the sample peaks, one list per channel: the same when written and when read,
/// to guess mean squares by.
pub(super) type RoughPowers = Vec<Vec<f64>>;

/// Writes the peaks of all channels; within each of `pieces` hops are adjacent.
pub(super) fn write(
    writer: &mut Writer,
    channels: &[Peaks],
    pieces: &[Range<usize>],
) -> RoughPowers {
    let mut first: Option<Vec<i64>> = None;
    let mut rough = Vec::with_capacity(channels.len());
    for peaks in channels {
        let samples: Vec<i64> = peaks.sample.iter().map(|&peak| level_of(peak)).collect();
        let trues: Vec<i64> = peaks.true_peaks.iter().map(|&peak| level_of(peak)).collect();
        let (sample_cells, true_cells) = (cells_of(&samples), cells_of(&trues));
        // A channel moves like the first one, and true peaks stand on sample peaks.
        writer.signed(changes(&sample_cells, first.as_deref()));
        writer.signed(true_cells.iter().zip(&sample_cells).map(|(a, b)| a - b));
        let sample_insides = insides(&samples, may_be_maxima(&sample_cells, pieces));
        let true_insides = insides(&trues, may_be_maxima(&true_cells, pieces));
        writer.bits(sample_insides.iter().flatten().copied(), CELL_LEVELS_LOG2);
        writer.numbers(true_insides.iter().zip(&sample_insides).filter_map(|(inside, below)| {
            Some(inside.as_ref()?.wrapping_sub(below.unwrap_or(0)) % CELL_LEVELS.unsigned_abs())
        }));
        rough.push(rough_powers(&sample_cells));
        first.get_or_insert(sample_cells);
    }
    rough
}

/// Reads the peaks of `channels` channels, `count` hops each.
pub(super) fn read(
    reader: &mut Reader<'_>,
    channels: usize,
    count: usize,
    pieces: &[Range<usize>],
) -> Result<(Vec<Peaks>, RoughPowers), Damage> {
    let mut all = Vec::with_capacity(channels);
    let mut rough = Vec::with_capacity(channels);
    let mut first: Option<Vec<i64>> = None;
    for _ in 0..channels {
        let sample_cells = unchanged(reader.signed(count)?, first.as_deref());
        let above = reader.signed(count)?;
        let true_cells: Vec<i64> =
            above.iter().zip(&sample_cells).map(|(a, b)| a.saturating_add(*b)).collect();
        let are_cells = |cells: &[i64]| cells.iter().all(|cell| (0..CELLS).contains(cell));
        if !are_cells(&sample_cells) || !are_cells(&true_cells) {
            return Err(Damage("a peak that is out of range"));
        }
        let exact = may_be_maxima(&sample_cells, pieces);
        let insides =
            reader.bits(exact.iter().filter(|exact| **exact).count(), CELL_LEVELS_LOG2)?;
        let sample_insides = spread(insides, &exact);
        let exact = may_be_maxima(&true_cells, pieces);
        let above = reader.numbers(exact.iter().filter(|exact| **exact).count())?;
        let true_insides: Vec<Option<u64>> = spread(above, &exact)
            .into_iter()
            .zip(&sample_insides)
            .map(|(above, below)| {
                Some(above?.wrapping_add(below.unwrap_or(0)) % CELL_LEVELS.unsigned_abs())
            })
            .collect();
        all.push(Peaks {
            sample: amplitudes(&sample_cells, &sample_insides),
            true_peaks: amplitudes(&true_cells, &true_insides),
        });
        rough.push(rough_powers(&sample_cells));
        first.get_or_insert(sample_cells);
    }
    Ok((all, rough))
}

/// Where in its cell each level stands, for those that are `exact`.
fn insides(levels: &[i64], exact: Vec<bool>) -> Vec<Option<u64>> {
    let inside = |level: i64| (level - LOWEST_LEVEL).rem_euclid(CELL_LEVELS).unsigned_abs();
    levels.iter().zip(exact).map(|(&level, exact)| exact.then(|| inside(level))).collect()
}

/// One of `numbers` for each hop that is `exact`.
fn spread(numbers: Vec<u64>, exact: &[bool]) -> Vec<Option<u64>> {
    let mut numbers = numbers.into_iter();
    exact.iter().map(|&exact| if exact { numbers.next() } else { None }).collect()
}

fn amplitudes(cells: &[i64], insides: &[Option<u64>]) -> Vec<f32> {
    let amplitude = |(&cell, inside): (&i64, &Option<u64>)| {
        let inside = inside.map_or(CELL_LEVELS / 2, u64::cast_signed);
        if cell == 0 { 0.0 } else { amplitude_of(LOWEST_LEVEL + (cell - 1) * CELL_LEVELS + inside) }
    };
    cells.iter().zip(insides).map(amplitude).collect()
}

/// The level of a peak in steps of [`LEVEL_DB`]; below [`LOWEST_LEVEL`] for silence.
fn level_of(peak: f32) -> i64 {
    let level = nearest(amplitude_to_db(f64::from(peak)) / LEVEL_DB);
    if peak > 0.0 { level.clamp(LOWEST_LEVEL, -LOWEST_LEVEL) } else { i64::MIN }
}

#[expect(clippy::cast_possible_truncation, reason = "single precision is what a hop has")]
fn amplitude_of(level: i64) -> f32 {
    (db_to_amplitude(float(level) * LEVEL_DB) as f32).min(f32::MAX)
}

fn cells_of(levels: &[i64]) -> Vec<i64> {
    let cell = |&level: &i64| {
        if level < LOWEST_LEVEL { 0 } else { (level - LOWEST_LEVEL) / CELL_LEVELS + 1 }
    };
    levels.iter().map(cell).collect()
}

/// How much each cell changed, less half of what the one beside changed: what made songs smallest.
fn changes(cells: &[i64], beside: Option<&[i64]>) -> Vec<i64> {
    let mut beside = Moves::new(beside);
    let mut last = 0;
    let change = |&cell: &i64| cell - std::mem::replace(&mut last, cell) - beside.half_of_next();
    cells.iter().map(change).collect()
}

/// The cells again.
fn unchanged(changes: Vec<i64>, beside: Option<&[i64]>) -> Vec<i64> {
    let mut beside = Moves::new(beside);
    let mut last = 0_i64;
    let cell = |change| {
        last = last.saturating_add(change).saturating_add(beside.half_of_next());
        last
    };
    changes.into_iter().map(cell).collect()
}

/// How the cells of another channel move.
struct Moves<'a> {
    cells: std::slice::Iter<'a, i64>,
    last: i64,
}

impl<'a> Moves<'a> {
    fn new(cells: Option<&'a [i64]>) -> Self {
        Self { cells: cells.unwrap_or_default().iter(), last: 0 }
    }

    fn half_of_next(&mut self) -> i64 {
        let next = self.cells.next().copied().unwrap_or(self.last);
        (next - std::mem::replace(&mut self.last, next)) / 2
    }
}

/// About the power of each cell, for guesses: within a cell and a straight line between octaves.
/// Made of sums and products alone, so that every machine guesses the same.
fn rough_powers(cells: &[i64]) -> Vec<f64> {
    let power = |&cell: &i64| {
        let levels = float(LOWEST_LEVEL + (cell - 1) * CELL_LEVELS);
        let octaves = levels * LEVEL_DB * OCTAVES_PER_DB;
        let whole = octaves.floor();
        if cell == 0 { 0.0 } else { (1.0 + (octaves - whole)) * power_of_two(exponent(whole)) }
    };
    cells.iter().map(power).collect()
}

#[expect(clippy::cast_possible_truncation, reason = "clamped")]
fn exponent(octaves: f64) -> i16 {
    octaves.clamp(-299.0, 299.0) as i16
}

#[expect(clippy::cast_precision_loss, reason = "levels are small numbers")]
const fn float(level: i64) -> f64 {
    level as f64
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
#[allow(
    clippy::cast_possible_truncation,
    clippy::single_range_in_vec_init,
    reason = "small numbers, and a list of one piece"
)]
mod tests;
