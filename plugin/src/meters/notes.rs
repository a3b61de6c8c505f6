//! Sums and peaks in the middle of a block, without cutting it: short blocks cost more.

use super::MAX_CHANNELS;

/// Most notes in one block.
const MOST: usize = 8;

/// After which frames of a block the K-weighted sum is to be noted, and what it was.
#[derive(Debug, Clone, Copy, Default)]
pub struct Notes {
    /// In frames from the start of the block, rising.
    ends: [usize; MOST],
    sums: [f64; MOST],
    asked: usize,
    noted: usize,
    /// After so many frames the true peaks are to be taken.
    peaks_after: Option<usize>,
    /// Those that were taken.
    peaks: Option<[f32; MAX_CHANNELS]>,
}

impl Notes {
    /// Asks for the sum after `end` frames of the block, after those that were asked for before.
    /// Says whether there was room.
    pub fn ask(&mut self, end: usize) -> bool {
        let slot = self.ends.get_mut(self.asked);
        let has_room = slot.is_some();
        if let Some(slot) = slot {
            *slot = end;
            self.asked += 1;
        }
        has_room
    }

    /// The sums so far, in the order in which they were asked for: each is
    /// [`Levels::weighted_square_sum`](super::Levels::weighted_square_sum) since the last take.
    #[must_use]
    pub fn sums(&self) -> &[f64] {
        self.sums.get(..self.noted).unwrap_or_default()
    }

    /// Asks for the true peaks to be taken, as
    /// [`take_true_peaks`](super::Meters::take_true_peaks) takes them, after `end` frames of the
    /// block, at least one.
    pub const fn ask_peaks(&mut self, end: usize) {
        self.peaks_after = Some(end);
    }

    /// The true peaks, if they were asked for and the block reached so far.
    #[must_use]
    pub const fn peaks(&self) -> Option<[f32; MAX_CHANNELS]> {
        self.peaks
    }

    /// Where the true peaks are to be taken within the frames from `done` to `end`.
    #[inline(always)]
    pub(super) fn peaks_cut(&self, done: usize, end: usize) -> Option<usize> {
        self.peaks_after.filter(|&after| done < after && after <= end).map(|after| after - done)
    }

    /// The true peaks were taken.
    #[inline(always)]
    pub(super) const fn note_peaks(&mut self, peaks: [f32; MAX_CHANNELS]) {
        self.peaks = Some(peaks);
    }

    /// As many of the frames from `from` to `to` as come before the next note is due.
    #[inline(always)]
    pub(super) fn cut(&self, from: usize, to: usize) -> usize {
        let ends = self.ends.get(..self.asked).unwrap_or_default();
        ends.get(self.noted).map_or(to, |&end| to.min(end.max(from)))
    }

    /// Notes `sum` if that is due after `done` frames.
    #[inline(always)]
    pub(super) fn note(&mut self, done: usize, sum: impl FnOnce() -> f64) {
        let ends = self.ends.get(..self.asked).unwrap_or_default();
        if ends.get(self.noted).is_some_and(|&end| end <= done) {
            if let Some(slot) = self.sums.get_mut(self.noted) {
                *slot = sum();
            }
            self.noted += 1;
        }
    }
}
