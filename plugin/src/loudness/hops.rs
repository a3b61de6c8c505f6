//! The hops that a reader keeps, in 28 bytes each: two hours of them have to fit into a small part
//! of 32 MB. What most songs have none of is kept beside them, from when there is some on.

use super::analysis::Kept;
use std::ops::Range;

/// Beside the frames, which are at most 3 840: every frame of the hop was covered.
const FULL: u16 = 1 << 15;

/// The first playthrough, the only one of a file.
const FIRST_PLAYTHROUGH: u32 = 1;

/// What every hop has.
#[derive(Debug, Clone, Copy, Default)]
struct Packed {
    energy: f32,
    sample_peak: f32,
    true_peak: f32,
    left_right: [f32; 3],
    momentary_rise: u16,
    frames_and_full: u16,
}

/// Hops one after the other.
#[derive(Debug, Default)]
pub(super) struct Hops {
    packed: Vec<Packed>,
    /// Clipped and scrubbed samples, as far as there are any.
    counts: Vec<[u16; 2]>,
    /// The playthrough of each, as far as there is another than the first.
    playthroughs: Vec<u32>,
}

impl Hops {
    /// None yet, with room for `len`.
    pub fn with_room(len: usize) -> Self {
        Self { packed: Vec::with_capacity(len), ..Self::default() }
    }

    /// How many there are.
    pub const fn len(&self) -> usize {
        self.packed.len()
    }

    /// Forgets all.
    pub fn clear(&mut self) {
        self.packed.clear();
        self.counts.clear();
        self.playthroughs.clear();
    }

    /// Makes it `len` hops if there are fewer; the new ones were not measured.
    pub fn grow(&mut self, len: usize) {
        if self.packed.len() < len {
            self.packed.resize(len, Packed::default());
        }
    }

    /// Puts `kept` in place of a hop that is there.
    pub fn set(&mut self, index: usize, kept: &Kept) {
        if let Some(packed) = self.packed.get_mut(index) {
            *packed = Packed {
                energy: kept.energy,
                sample_peak: kept.sample_peak,
                true_peak: kept.true_peak,
                left_right: kept.left_right,
                momentary_rise: kept.momentary_rise,
                frames_and_full: kept.frames | if kept.full { FULL } else { 0 },
            };
            set(&mut self.counts, index, [kept.clipped, kept.scrubbed], [0; 2]);
            set(&mut self.playthroughs, index, kept.playthrough, FIRST_PLAYTHROUGH);
        }
    }

    /// Puts `kept` behind the last hop.
    pub fn push(&mut self, kept: &Kept) {
        let index = self.len();
        self.grow(index + 1);
        self.set(index, kept);
    }

    /// Puts `next` behind the last hop.
    pub fn append(&mut self, next: &Self) {
        let index = self.len();
        self.packed.extend_from_slice(&next.packed);
        append(&mut self.counts, index, &next.counts, [0; 2]);
        append(&mut self.playthroughs, index, &next.playthroughs, FIRST_PLAYTHROUGH);
    }

    /// A hop.
    pub fn get(&self, index: usize) -> Option<Kept> {
        let packed = self.packed.get(index)?;
        let frames = packed.frames_and_full & !FULL;
        if frames == 0 {
            return Some(Kept::default());
        }
        let [clipped, scrubbed] = self.counts.get(index).copied().unwrap_or_default();
        Some(Kept {
            energy: packed.energy,
            sample_peak: packed.sample_peak,
            true_peak: packed.true_peak,
            left_right: packed.left_right,
            momentary_rise: packed.momentary_rise,
            frames,
            full: packed.frames_and_full & FULL != 0,
            playthrough: self.playthroughs.get(index).copied().unwrap_or(FIRST_PLAYTHROUGH),
            clipped,
            scrubbed,
        })
    }

    /// The hops of a range, as far as there are any.
    pub fn iter(
        &self,
        range: Range<usize>,
    ) -> impl DoubleEndedIterator<Item = Kept> + ExactSizeIterator + Clone {
        let end = range.end.min(self.len());
        (range.start.min(end)..end).map(|index| self.get(index).unwrap_or_default())
    }

    /// Whether every frame of a hop was covered, and its energy.
    #[inline]
    pub fn energy_if_full(&self, index: usize) -> Option<f32> {
        let packed = self.packed.get(index)?;
        (packed.frames_and_full & FULL != 0).then_some(packed.energy)
    }
}

/// Sets an entry of a list that ends where nothing but `usual` follows.
fn set<T: Copy + PartialEq>(list: &mut Vec<T>, index: usize, value: T, usual: T) {
    if list.len() <= index && value != usual {
        list.resize(index + 1, usual);
    }
    if let Some(entry) = list.get_mut(index) {
        *entry = value;
    }
}

/// The same for entries from `index` on, where the list has none yet.
fn append<T: Copy>(list: &mut Vec<T>, index: usize, next: &[T], usual: T) {
    if !next.is_empty() {
        list.resize(index, usual);
        list.extend_from_slice(next);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_hours_fit_into_a_part_of_32_megabytes_even_if_every_hop_is_clipped() {
        // What comes on top is the program, its blocks and its lists of gating blocks.
        let hops = 2 * 60 * 60 * 100;
        assert!(hops * size_of::<Packed>() <= 20_200_000, "{}", size_of::<Packed>());
        assert!(hops * (size_of::<Packed>() + size_of::<[u16; 2]>()) <= 23_100_000);
        let mut kept = Hops::default();
        let quiet = Kept { frames: 480, full: true, playthrough: 1, ..Kept::default() };
        kept.grow(3);
        (0..3).for_each(|index| kept.set(index, &quiet));
        assert!(kept.counts.capacity() == 0 && kept.playthroughs.capacity() == 0);
    }

    #[test]
    fn what_is_set_comes_back_whatever_was_there_before() {
        let mut hops = Hops::default();
        hops.grow(5);
        let hop = |clipped, playthrough| Kept {
            energy: 0.5,
            sample_peak: 0.75,
            true_peak: 0.875,
            left_right: [0.25, 0.125, -0.0625],
            momentary_rise: 30_103,
            frames: 3_840,
            full: clipped == 0,
            playthrough,
            clipped,
            scrubbed: clipped / 2,
        };
        for (index, kept) in
            [(1, hop(7, 1)), (3, hop(0, 9)), (3, hop(0, 1)), (1, hop(0, 2)), (4, hop(9, 1))]
        {
            hops.set(index, &kept);
            assert_eq!(hops.get(index), Some(kept));
        }
        assert_eq!(hops.get(0), Some(Kept::default()));
        assert_eq!(hops.get(5), None);
        assert_eq!(hops.iter(3..9).collect::<Vec<_>>(), [hop(0, 1), hop(9, 1)]);
        hops.clear();
        hops.grow(2);
        assert_eq!(hops.get(1), Some(Kept::default()));
    }

    #[test]
    fn parts_put_together_are_what_was_set_one_by_one() {
        let kept = |clipped: u16, playthrough: u32| Kept {
            energy: 0.5,
            frames: 480,
            playthrough,
            clipped,
            ..Kept::default()
        };
        // Lists that are kept only where they are needed: in every part, in some, in none.
        let lists: [&[Kept]; 4] = [
            &[],
            &[kept(0, 1); 3],
            &[kept(0, 1), kept(7, 1), kept(0, 1)],
            &[kept(0, 4), kept(0, 1)],
        ];
        for first in lists {
            for second in lists {
                for third in lists {
                    let mut joined = Hops::default();
                    for part in [first, second, third] {
                        let mut hops = Hops::default();
                        part.iter().for_each(|kept| hops.push(kept));
                        joined.append(&hops);
                    }
                    let all = [first, second, third].concat();
                    assert_eq!(joined.iter(0..10).collect::<Vec<_>>(), all);
                }
            }
        }
    }
}
