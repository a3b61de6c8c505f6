//! Windows that slide over hops: mean energies of 400 ms and of 3 s.

use super::analysis::Kept;
use super::hops::Hops;
use super::{BLOCK_STEP_HOPS, MOMENTARY_HOPS};
use crate::record::{CHUNK_HOPS, Hop};
use crate::units::db_to_energy;
use std::ops::Range;

/// Not measured, in a series of energies.
pub(super) const GAP: f64 = f64::NAN;

/// The highest of the measured `values`, which are energies.
pub(super) fn highest(values: impl Iterator<Item = f64>) -> Option<f64> {
    // A gap is NaN, which is not higher than anything.
    let highest = values.fold(f64::NEG_INFINITY, f64::max);
    (highest >= 0.0).then_some(highest)
}

/// The highest of `values`, energies of momentary windows, and of the windows between. They end
/// with `hops`, but for the first `lead` of those.
pub(super) fn highest_between(
    values: impl Iterator<Item = f64>,
    mut hops: impl Iterator<Item = Kept>,
    lead: usize,
) -> Option<f64> {
    // 10^(rise/10) lies below its chord from 0 dB, 1 to 3.0103 dB, 2.00000002: seldom is more to be
    // computed.
    let chord = 1.000_001 / f64::from(Hop::MAX_MOMENTARY_RISE);
    let mut highest = f64::NEG_INFINITY;
    let mut before = GAP;
    // A rise looks back on 40 hops of its own run: where others stand there now, it says nothing.
    let (mut playthrough, mut hops_in_a_row) = (0, 0_usize);
    let mut same_run = |hop: Kept| {
        let goes_on = hop.is_full() && hop.playthrough == playthrough;
        hops_in_a_row = if goes_on { hops_in_a_row + 1 } else { usize::from(hop.is_full()) };
        playthrough = hop.playthrough;
        hops_in_a_row > MOMENTARY_HOPS
    };
    for hop in hops.by_ref().take(lead) {
        same_run(hop);
    }
    for (value, hop) in values.zip(hops) {
        // A gap is NaN, which is not higher than anything.
        highest = highest.max(value);
        let base = before.max(value);
        let rise = f64::from(hop.momentary_rise);
        let measured = same_run(hop) && !before.is_nan() && !value.is_nan();
        if measured && rise > 0.0 && base * (1.0 + rise * chord) > highest {
            highest = highest.max(base * db_to_energy(rise * Hop::MOMENTARY_RISE_STEP_DB));
        }
        before = value;
    }
    (highest >= 0.0).then_some(highest)
}

/// Adds every [`BLOCK_STEP_HOPS`]-th of `values`, from the first on, to `stepped` if it was
/// measured.
pub(super) fn step(values: impl Iterator<Item = f64>, stepped: &mut Vec<f64>) {
    stepped.extend(values.step_by(BLOCK_STEP_HOPS).filter(|energy| !energy.is_nan()));
}

/// Fills the part of `series` at `ends`, the first of which is at a chunk border.
pub(super) fn slide(hops: &Hops, window: usize, ends: Range<usize>, series: &mut [f64]) {
    let values = Windows::new(hops, window, ends.clone());
    for (place, value) in series.get_mut(ends).unwrap_or_default().iter_mut().zip(values) {
        *place = value;
    }
}

/// Mean energy of the `window` hops that end with each of a range of hops; NaN where one of them
/// is missing.
///
/// Sums anew at every chunk border and slides between, so that a value depends on the hops alone
/// and neither on the order of updates nor on where the range starts, and rounding cannot build
/// up.
pub(super) struct Windows<'a> {
    hops: &'a Hops,
    window: usize,
    per_hop: f64,
    /// The next ends.
    ends: Range<usize>,
    sum: f64,
    missing: usize,
    /// Hops in the window that are not silent.
    sounding: usize,
}

impl<'a> Windows<'a> {
    /// The windows over `hops` that end with those at `ends`.
    pub fn new(hops: &'a Hops, window: usize, ends: Range<usize>) -> Self {
        #[expect(clippy::cast_precision_loss, reason = "windows have at most 300 hops")]
        let per_hop = 1.0 / window as f64;
        let ends = ends.start..ends.end.min(hops.len());
        let mut windows = Self {
            hops,
            window,
            per_hop,
            ends: ends.start - ends.start % CHUNK_HOPS..ends.end,
            sum: 0.0,
            missing: 0,
            sounding: 0,
        };
        while windows.ends.start < ends.start && windows.next().is_some() {}
        windows
    }

    /// The window that ends with `end`, summed anew.
    fn sum_anew(&mut self, end: usize) {
        // Hops before the record's start are missing.
        let start = (end + 1).saturating_sub(self.window);
        let full = (start..=end).filter_map(|hop| self.hops.energy_if_full(hop));
        self.sum = full.clone().map(f64::from).sum();
        self.sounding = full.clone().filter(|&energy| energy > 0.0).count();
        self.missing = self.window - full.count();
    }
}

impl Iterator for Windows<'_> {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        let end = self.ends.next()?;
        if end % CHUNK_HOPS == 0 {
            self.sum_anew(end);
        } else {
            let enters = self.hops.energy_if_full(end);
            self.sum += f64::from(enters.unwrap_or(0.0));
            self.missing += usize::from(enters.is_none());
            self.sounding += usize::from(enters.is_some_and(|energy| energy > 0.0));
            match end.checked_sub(self.window).and_then(|left| self.hops.energy_if_full(left)) {
                Some(left) => {
                    self.sum -= f64::from(left);
                    self.sounding = self.sounding.saturating_sub(usize::from(left > 0.0));
                }
                None => self.missing = self.missing.saturating_sub(1),
            }
        }
        if self.sounding == 0 {
            // Silence is silence, without what rounding left of a louder past.
            self.sum = 0.0;
        }
        let is_whole = self.missing == 0;
        Some(if is_whole { self.sum.max(0.0) * self.per_hop } else { GAP })
    }
}
