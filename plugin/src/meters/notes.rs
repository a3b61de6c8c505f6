//! Sums and peaks in the middle of a block, without cutting it: short blocks cost more.

use super::MAX_CHANNELS;

/// Most notes in one block.
pub(super) const MOST: usize = 8;

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

    /// The notes that are due within the `len_frames` frames after `done`, counted from there.
    #[inline(always)]
    pub(super) fn due(&self, done: usize, len_frames: usize) -> Ends {
        let mut due = Ends::default();
        let ends = self.ends.get(self.noted..self.asked).unwrap_or_default();
        for (slot, end) in due.ends.iter_mut().zip(ends) {
            if *end > done + len_frames {
                break;
            }
            *slot = end.saturating_sub(done);
            due.count += 1;
        }
        due
    }

    /// Notes the sums of the ends that were [`due`](Self::due).
    #[inline(always)]
    pub(super) fn note(&mut self, due: &Ends, sum: impl Fn(usize) -> f64) {
        for index in 0..due.count {
            if let Some(slot) = self.sums.get_mut(self.noted) {
                *slot = sum(index);
            }
            self.noted += 1;
        }
    }
}

/// Where notes are due within a block, rising.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Ends {
    ends: [usize; MOST],
    count: usize,
}

impl std::ops::Deref for Ends {
    type Target = [usize];

    #[inline(always)]
    fn deref(&self) -> &[usize] {
        self.ends.get(..self.count).unwrap_or_default()
    }
}
