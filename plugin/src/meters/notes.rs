//! Sums in the middle of a block, without cutting it: short blocks cost more.

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
