//! What is forgotten without being erased: playthroughs below a number, everywhere (a reset) or
//! from a place in song time on (a trim).
//!
//! Trims are steps of a stair: each lies behind the one before and forgets more, for a trim
//! further ahead takes all of those behind it in. So what is forgotten at one place is all below
//! the last step before it.

use super::{END_HOP, FIRST_HOP};
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Trims that are remembered, each further behind than the one before: with one more, the first
/// of them is taken back. Own choice, no source: a song is cut shorter once or twice.
const MAX_TRIMS: usize = 4;

/// Read by every thread, moved by the main thread alone. Whoever reads while it moves may meet the
/// old and the new stair mixed; the count of moves, which comes after, makes readers look again.
pub(super) struct Floors {
    /// Hops of playthroughs below this one are forgotten.
    everywhere: AtomicU32,
    /// Offset of a hop from [`FIRST_HOP`] and, in the lower half, the playthrough below which hops
    /// from there on are forgotten. 0 = no trim, and none after it.
    trims: [AtomicU64; MAX_TRIMS],
    moves: AtomicU32,
}

/// What [`super::RecordReader::undo_trim`] takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrimUndo([u64; MAX_TRIMS]);

impl Floors {
    pub const fn new() -> Self {
        Self {
            everywhere: AtomicU32::new(1),
            trims: [const { AtomicU64::new(0) }; MAX_TRIMS],
            moves: AtomicU32::new(0),
        }
    }

    /// The number below which playthroughs are forgotten at hop `index`.
    pub fn at(&self, index: i32) -> u32 {
        let everywhere = self.everywhere();
        let steps = self.trims().take_while(|step| step.0 <= index);
        steps.last().map_or(everywhere, |step| everywhere.max(step.1))
    }

    /// The number below which playthroughs are forgotten everywhere.
    pub fn everywhere(&self) -> u32 {
        self.everywhere.load(Ordering::Relaxed)
    }

    /// The number below which playthroughs are forgotten somewhere.
    pub fn highest(&self) -> u32 {
        self.at(END_HOP)
    }

    /// Grows with every move.
    pub fn moves(&self) -> u32 {
        self.moves.load(Ordering::Acquire)
    }

    /// Moves the floor that holds everywhere and gives the one before.
    pub fn set_everywhere(&self, playthrough: u32) -> u32 {
        let before = self.everywhere.swap(playthrough, Ordering::Relaxed);
        self.moves.fetch_add(1, Ordering::Release);
        before
    }

    /// Forgets playthroughs below `playthrough` from hop `end_hop` on.
    pub fn trim(&self, end_hop: i32, playthrough: u32) -> TrimUndo {
        let before = TrimUndo(self.trims.each_ref().map(|step| step.load(Ordering::Relaxed)));
        let end_hop = end_hop.clamp(FIRST_HOP, END_HOP);
        let mut steps: Vec<_> = self.trims().filter(|step| step.0 < end_hop).collect();
        if steps.len() == MAX_TRIMS {
            steps.remove(0);
        }
        steps.push((end_hop, playthrough));
        let mut packed = [0; MAX_TRIMS];
        for (packed, (hop, playthrough)) in packed.iter_mut().zip(steps) {
            let offset = u64::from(hop.abs_diff(FIRST_HOP));
            *packed = (offset << 32) | u64::from(playthrough);
        }
        self.undo_trim(TrimUndo(packed));
        before
    }

    /// Puts a stair back.
    pub fn undo_trim(&self, stair: TrimUndo) {
        for (step, packed) in self.trims.iter().zip(stair.0) {
            step.store(packed, Ordering::Relaxed);
        }
        self.moves.fetch_add(1, Ordering::Release);
    }

    /// Hop and playthrough of each step.
    fn trims(&self) -> impl Iterator<Item = (i32, u32)> {
        let packed = self.trims.iter().map(|step| step.load(Ordering::Relaxed));
        packed.take_while(|&step| step != 0).map(|step| {
            let [hop, playthrough] = [step >> 32, step & u64::from(u32::MAX)];
            let hop = i32::try_from(hop).map_or(END_HOP, |offset| FIRST_HOP.saturating_add(offset));
            (hop, u32::try_from(playthrough).unwrap_or(u32::MAX))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trim_forgets_what_lies_behind_it_and_nothing_before() {
        let floors = Floors::new();
        floors.trim(100, 7);
        assert_eq!([99, 100, END_HOP - 1].map(|hop| floors.at(hop)), [1, 7, 7]);
        assert_eq!((floors.everywhere(), floors.highest()), (1, 7));
    }

    #[test]
    fn a_later_trim_behind_takes_nothing_back_and_one_before_takes_all_in() {
        let floors = Floors::new();
        floors.trim(100, 7);
        floors.trim(200, 9);
        assert_eq!([99, 150, 250].map(|hop| floors.at(hop)), [1, 7, 9]);
        floors.trim(50, 10);
        assert_eq!([49, 75, 150, 250].map(|hop| floors.at(hop)), [1, 10, 10, 10]);
        // The end of the record counts like the end of the song.
        floors.trim(i32::MIN, 11);
        assert_eq!([FIRST_HOP, 0].map(|hop| floors.at(hop)), [11, 11]);
    }

    #[test]
    fn a_reset_and_a_trim_do_not_know_of_each_other() {
        let floors = Floors::new();
        let trim = floors.trim(100, 7);
        let reset = floors.set_everywhere(9);
        assert_eq!([0, 100].map(|hop| floors.at(hop)), [9, 9]);
        floors.undo_trim(trim);
        assert_eq!(floors.at(100), 9);
        floors.set_everywhere(reset);
        assert_eq!([0, 100].map(|hop| floors.at(hop)), [1, 1]);
        assert_eq!(floors.moves(), 4);
    }

    #[test]
    fn of_too_many_trims_the_first_goes() {
        let floors = Floors::new();
        for step in 1..=5 {
            floors.trim(100 * i32::try_from(step).unwrap(), step + 1);
        }
        assert_eq!([150, 250, 350, 450, 550].map(|hop| floors.at(hop)), [1, 3, 4, 5, 6]);
    }
}
