//! The figures of one range of song time: those of [`Figures`] and what a section log adds.

use super::float;
use crate::loudness::{Analysis, BLOCK_STEP_HOPS, Figures, HopRange, Kept, SHORT_TERM_HOPS};
use crate::record::{FIRST_HOP, hop_seconds};
use crate::tone::{Tone, ToneChange};
use crate::units::{Db, Lu, amplitude_to_db, energy_to_db};
use std::collections::VecDeque;

/// Measured hops from which on a loudness range is stable: 60 s (EBU R 128, note 2 and Tech 3341
/// §2.4; both from quotations).
pub const STABLE_RANGE_HOPS: usize = 6_000;

/// Short-term windows at or below this loudness have no PSR: the absolute gate, LUFS
/// (ITU-R BS.1770-5, Annex 1), taken over for PSR by our own choice, no source.
const PSR_GATE_LUFS: f64 = -70.0;

/// Cells of [`BLOCK_STEP_HOPS`] in the window of the lowest correlation: 1 s, moved by 100 ms.
/// The project's own choice, no source: long enough to span a beat, short enough that one
/// out-of-phase bar is not averaged away.
const CORRELATION_CELLS: usize = 10;

/// A playthrough with no more hops than this in a range is no part of its age: at either edge of
/// what is played again one hop of before may remain (see [`Hop::may_replace`](crate::record::Hop)).
const SEAM_HOPS: usize = 2;

/// Windows whose left and right together have a mean square at or below this have no correlation
/// of their own: −70 dB of full scale. The project's own choice, no source.
const CORRELATION_FLOOR: f64 = 1e-7;

/// A side this far below the mid, as a power ratio, reads as mono: −60 dB. The record keeps mean
/// squares in single precision; below this their rounding would start to show.
const MONO_RATIO: f64 = 1e-6;

/// What a range of song time measures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Integrated loudness, maxima, loudness range, peaks, counts and coverage.
    pub figures: Figures,
    /// Whether the loudness range stands on at least [`STABLE_RANGE_HOPS`]. With less than 3 s
    /// there is none at all: [`Figures::loudness_range`] is `None`.
    pub loudness_range_stable: bool,
    /// Lowest peak to short-term ratio, LU: the highest true peak of 3 s minus the short-term
    /// loudness of the same 3 s, moved by 10 ms, windows inside of the range only (common
    /// practice, no source). `None` without a window above −70 LUFS.
    pub min_psr: Option<Lu>,
    /// Hop that ends the window of [`Self::min_psr`].
    pub min_psr_hop: Option<i32>,
    /// Correlation of left and right over the whole range, −1 to 1: Σ LR / √(Σ L² · Σ R²), hops
    /// measured in full. `None` where one of the two is silent.
    pub correlation: Option<f64>,
    /// Lowest correlation over 1 s, moved by 100 ms from the range's start, windows measured in
    /// full and inside of the range only.
    pub lowest_correlation: Option<f64>,
    /// First hop of the window of [`Self::lowest_correlation`].
    pub lowest_correlation_hop: Option<i32>,
    /// Side to mid, dB: Σ ((L−R)/2)² to Σ ((L+R)/2)² as a power ratio. −∞ for mono (a side more
    /// than 60 dB below the mid), +∞ with no mid at all; `None` for silence.
    pub side_to_mid: Option<Db>,
    /// Right to left, dB: Σ R² to Σ L² as a power ratio. Above 0 the right channel is the stronger
    /// one; ±∞ if one of them is silent, `None` if both are.
    pub balance: Option<Db>,
    /// Tone, width by frequency and loss in mono; `None` if no second of it counts.
    pub tone: Option<Box<Tone>>,
    /// The oldest playthrough that these figures stand on, single hops at its seams aside; `None` if
    /// nothing was measured.
    pub oldest_playthrough: Option<u32>,
    /// The newest playthrough that these figures stand on.
    pub newest_playthrough: Option<u32>,
}

impl Measured {
    /// Peak to loudness ratio, LU (see [`Figures::peak_to_loudness_ratio`]).
    #[must_use]
    pub fn plr(&self) -> Option<Lu> {
        self.figures.peak_to_loudness_ratio()
    }

    /// Song time of the hop with the highest true peak, seconds.
    #[must_use]
    pub fn max_true_peak_s(&self) -> Option<f64> {
        self.figures.max_true_peak_hop.map(hop_seconds)
    }

    /// How much louder this is than `before`, LU; `None` unless both are measured and not silent.
    #[must_use]
    pub fn louder_than(&self, before: &Self) -> Option<Lu> {
        let by = self.figures.integrated?.0 - before.figures.integrated?.0;
        by.is_finite().then_some(Lu(by))
    }

    /// How the tone differs from that of `before`; `None` unless both have one.
    #[must_use]
    pub fn tone_change_from(&self, before: &Self) -> Option<ToneChange> {
        Some(self.tone.as_ref()?.change_from(before.tone.as_ref()?))
    }

    /// How much wider this is than `before`, dB of side to mid; `None` where one of the two is
    /// mono, silent or not measured.
    #[must_use]
    pub fn wider_than(&self, before: &Self) -> Option<Db> {
        let by = self.side_to_mid?.0 - before.side_to_mid?.0;
        by.is_finite().then_some(Db(by))
    }
}

/// Measures `range`; `analysis` is to be up to date.
#[must_use]
pub fn measure(analysis: &mut Analysis, range: HopRange) -> Measured {
    let figures = analysis.figures(range.clone());
    let mut measured = Measured {
        loudness_range_stable: figures.coverage.measured_hops >= STABLE_RANGE_HOPS,
        figures,
        tone: analysis.tone(&range).map(Box::new),
        ..Measured::default()
    };
    stereo(analysis, &range, &mut measured);
    ages(analysis, &range, &mut measured);
    min_psr(analysis, &range, &mut measured);
    measured
}

/// Sums over hops measured in full.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct StereoSums {
    left: f64,
    right: f64,
    product: f64,
    hops: usize,
}

impl StereoSums {
    /// Adds a hop, if it was measured in full. Every hop weighs the same, whatever its rate:
    /// mean squares are per time.
    pub fn add(&mut self, kept: &Kept) {
        if kept.is_full() {
            let [left, right, product] = kept.left_right;
            self.left += f64::from(left);
            self.right += f64::from(right);
            self.product += f64::from(product);
            self.hops += 1;
        }
    }

    fn plus(self, other: &Self) -> Self {
        Self {
            left: self.left + other.left,
            right: self.right + other.right,
            product: self.product + other.product,
            hops: self.hops + other.hops,
        }
    }

    pub const fn hops(&self) -> usize {
        self.hops
    }

    /// Mean square of one channel, the mean of left and right; zero for nothing.
    pub fn mean_square(&self) -> f64 {
        if self.hops == 0 { 0.0 } else { (self.left + self.right) / (2.0 * float(self.hops)) }
    }

    fn correlation(&self) -> Option<f64> {
        let both = self.left * self.right;
        (both > 0.0).then(|| (self.product / both.sqrt()).clamp(-1.0, 1.0))
    }

    /// Power of the right channel to that of the left one, dB.
    fn balance(&self) -> Option<Db> {
        (self.left + self.right > 0.0).then(|| Db(energy_to_db(self.right / self.left)))
    }

    /// Power of the side to that of the mid, dB.
    pub fn side_to_mid(&self) -> Option<Db> {
        let both = self.left + self.right;
        if both <= 0.0 {
            return None;
        }
        let (side, mid) = (2.0f64.mul_add(-self.product, both), 2.0f64.mul_add(self.product, both));
        Some(Db(if side <= mid * MONO_RATIO {
            f64::NEG_INFINITY
        } else if mid <= side * MONO_RATIO {
            f64::INFINITY
        } else {
            energy_to_db(side / mid)
        }))
    }
}

fn stereo(analysis: &Analysis, range: &HopRange, measured: &mut Measured) {
    let mut whole = StereoSums::default();
    let mut cell = StereoSums::default();
    let mut cells: VecDeque<StereoSums> = VecDeque::with_capacity(CORRELATION_CELLS);
    let mut hops_in_cell = 0;
    let cells_before_last = i32::try_from((CORRELATION_CELLS) * BLOCK_STEP_HOPS - 1).unwrap_or(0);
    for (hop, kept) in analysis.hops(range.clone()) {
        whole.add(&kept);
        cell.add(&kept);
        hops_in_cell += 1;
        if hops_in_cell < BLOCK_STEP_HOPS {
            continue;
        }
        hops_in_cell = 0;
        if cells.len() == CORRELATION_CELLS {
            cells.pop_front();
        }
        cells.push_back(std::mem::take(&mut cell));
        // Summed anew each time, so that nothing of a louder past stays in the sum.
        let window = cells.iter().fold(StereoSums::default(), StereoSums::plus);
        if window.hops == CORRELATION_CELLS * BLOCK_STEP_HOPS
            && 2.0 * window.mean_square() > CORRELATION_FLOOR
            && let Some(correlation) = window.correlation()
            && measured.lowest_correlation.is_none_or(|lowest| correlation < lowest)
        {
            measured.lowest_correlation = Some(correlation);
            measured.lowest_correlation_hop = Some(hop - cells_before_last);
        }
    }
    measured.correlation = whole.correlation();
    measured.side_to_mid = whole.side_to_mid();
    measured.balance = whole.balance();
}

fn ages(analysis: &Analysis, range: &HopRange, measured: &mut Measured) {
    let numbers = analysis.hops(range.clone()).filter(|(_, kept)| kept.frames() > 0);
    // Few playthroughs, in long stretches: a short list beats a map.
    let mut hops_of: Vec<(u32, usize)> = Vec::new();
    for number in numbers.map(|(_, kept)| kept.playthrough) {
        match hops_of.iter_mut().rev().find(|(known, _)| *known == number) {
            Some((_, hops)) => *hops += 1,
            None => hops_of.push((number, 1)),
        }
    }
    let most = hops_of.iter().map(|(_, hops)| *hops).max().unwrap_or(0);
    let counts = hops_of.iter().filter(|(_, hops)| *hops > SEAM_HOPS || *hops == most);
    let counts = counts.map(|(number, _)| *number);
    measured.oldest_playthrough = counts.clone().min();
    measured.newest_playthrough = counts.max();
}

fn min_psr(analysis: &Analysis, range: &HopRange, measured: &mut Measured) {
    let window = i32::try_from(SHORT_TERM_HOPS).unwrap_or(i32::MAX);
    // Peaks that may still be the highest of a window, falling from front to back.
    let mut falling: VecDeque<(i32, f32)> = VecDeque::new();
    // The decibels of the front, taken only when another one comes to stand there.
    let mut front = (f32::NAN, f64::NAN);
    let first = range.start.max(FIRST_HOP);
    // What comes next of these belongs to the hop `next`.
    let (mut short_terms, mut next) = (analysis.short_terms(first), first);
    for (hop, kept) in analysis.hops(range.clone()) {
        while falling.back().is_some_and(|&(_, peak)| peak <= kept.true_peak) {
            falling.pop_back();
        }
        falling.push_back((hop, kept.true_peak));
        while falling.front().is_some_and(|&(at, _)| at <= hop - window) {
            falling.pop_front();
        }
        if hop - range.start < window - 1 {
            continue;
        }
        let short_term = usize::try_from(hop - next).ok().and_then(|n| short_terms.nth(n));
        next = hop + 1;
        let Some(short_term) = short_term.flatten().filter(|s| s.0 > PSR_GATE_LUFS) else {
            continue;
        };
        let peak = falling.front().map_or(0.0, |&(_, peak)| peak);
        if peak != front.0 {
            front = (peak, amplitude_to_db(f64::from(peak)));
        }
        let psr = front.1 - short_term.0;
        if psr.is_finite() && measured.min_psr.is_none_or(|lowest| psr < lowest.0) {
            measured.min_psr = Some(Lu(psr));
            measured.min_psr_hop = Some(hop);
        }
    }
}

#[cfg(test)]
mod tests;
