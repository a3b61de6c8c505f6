//! Tone by second of song time: power by frequency of mid and side, beside the hops of a record.
//!
//! A level takes 16 bits, in steps of 1/256 dB: the song's memory of two hours is 1.2 MB.

use super::seqlock;
use super::slots::Slots;
use super::words::{MAX_PLAYTHROUGH, halves};
use super::{END_HOP, FIRST_HOP, HOPS_PER_SECOND};
use crate::meters::spectrum::bands::SLOT_COUNT;
use crate::meters::spectrum::{Powers, Second};
use crate::units::{db_to_energy, energy_to_db};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// First second that a record can hold.
pub const FIRST_SECOND: i32 = FIRST_HOP / HOPS_PER_SECOND;

/// One past the last second that a record can hold.
pub const END_SECOND: i32 = END_HOP / HOPS_PER_SECOND;

/// Steps of a level in 1 dB.
const STEPS_PER_DB: f64 = 256.0;

/// The level of the first step, dB; below is silence. The last one lies 256 dB above.
const LOWEST_DB: f64 = -200.0;

/// Steps of the covered share: a whole second.
const COVERED_STEPS: u32 = 10_000;

/// Words of a cell: stamp, what it is, levels of mid and side together for each slot and for the
/// K-weighted sum.
const CELL_WORDS: usize = 2 + SLOT_COUNT + 1;

/// What one second measured. Plain data, copied in and out of the record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneSecond {
    /// The share of its frames that were measured, above 0, at most 1.
    pub covered: f64,
    /// The playthrough it came from, counted from 1; higher is newer.
    pub playthrough: u32,
    /// Mean squares of the mid, (L + R)/2, within 0.002 dB.
    pub mid: Powers,
    /// Mean squares of the side, (L − R)/2, within 0.002 dB; zeros in mono.
    pub side: Powers,
}

impl ToneSecond {
    /// What `playthrough` measured.
    #[must_use]
    pub const fn new(second: &Second, playthrough: u32) -> Self {
        let Second { covered, mid, side, .. } = *second;
        Self { covered, playthrough, mid, side }
    }

    /// Whether every frame was measured.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.covered >= 1.0
    }

    /// Whether this may take the place of `old`: partly covered never replaces whole.
    #[must_use]
    pub fn may_replace(&self, old: &Self) -> bool {
        self.is_whole() || !old.is_whole()
    }
}

/// The cells of a record; empty in one without tone.
pub(super) struct ToneCells {
    words: Box<[AtomicU32]>,
    /// Count of writes.
    revision: AtomicU32,
}

impl ToneCells {
    pub fn new(seconds: usize) -> Self {
        let words = bytemuck::zeroed_slice_box(seconds * CELL_WORDS);
        Self { words, revision: AtomicU32::new(0) }
    }

    fn cell(&self, second: i32) -> Option<&[AtomicU32]> {
        if second >= END_SECOND {
            return None;
        }
        let start = usize::try_from(second.checked_sub(FIRST_SECOND)?).ok()? * CELL_WORDS;
        self.words.get(start..start + CELL_WORDS)
    }

    /// What was measured of a second, whether it was forgotten or not.
    pub fn read(&self, second: i32) -> Option<ToneSecond> {
        let cell = self.cell(second)?;
        seqlock::read(cell.first()?, || unpack(cell))
    }

    /// Changes with every write.
    pub fn revision(&self) -> u32 {
        self.revision.load(Ordering::Acquire)
    }

    /// Changes with every write of a second; 0 = never written.
    pub fn stamp(&self, second: i32) -> u32 {
        let stamp = self.cell(second).and_then(<[_]>::first);
        stamp.map_or(0, |stamp| stamp.load(Ordering::Acquire))
    }
}

/// The writing end of the tone of a record, for one thread: there is one of it.
pub struct ToneWriter {
    pub(super) slots: Arc<Slots>,
}

impl ToneWriter {
    /// Writes a second, unless a better one stands there ([`ToneSecond::may_replace`]) or the
    /// record does not reach so far. Wait-free.
    pub fn write(&mut self, second: &Second, playthrough: u32) {
        let index = second.second;
        let Some(cell) = self.slots.tone.cell(index) else { return };
        let new = ToneSecond::new(second, playthrough);
        // Only this thread writes, so a plain look at the old one is whole.
        let old = if self.slots.tone.stamp(index) == 0 { None } else { unpack(cell) };
        let floor = self.slots.tone_floor(index);
        // What a reset forgot stands in nobody's way but that of what is forgotten too.
        let in_the_way = |old: &ToneSecond| old.playthrough >= floor || playthrough < floor;
        if old.is_some_and(|old| in_the_way(&old) && !new.may_replace(&old)) {
            return;
        }
        let [stamp, data @ ..] = cell else { return };
        seqlock::write(stamp, 0, || pack(&new, data));
        self.slots.tone.revision.fetch_add(1, Ordering::Release);
        self.slots.revision.fetch_add(1, Ordering::Release);
    }

    /// Whether what `playthrough` measured of a second was forgotten by a reset or a trim.
    #[must_use]
    pub fn was_forgotten(&self, second: i32, playthrough: u32) -> bool {
        playthrough < self.slots.tone_floor(second)
    }
}

fn pack(second: &ToneSecond, data: &[AtomicU32]) {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to 10 000; a part is never rounded up to a whole"
    )]
    let covered = (second.covered.clamp(0.0, 1.0) * f64::from(COVERED_STEPS)).floor() as u32;
    let kind = (second.playthrough.min(MAX_PLAYTHROUGH) << 14) | covered;
    let pairs = second.mid.slots.iter().zip(&second.side.slots);
    let pairs = pairs.chain([(&second.mid.k_weighted, &second.side.k_weighted)]);
    let levels =
        pairs.map(|(&mid, &side)| (u32::from(level_of(mid)) << 16) | u32::from(level_of(side)));
    for (word, value) in data.iter().zip(std::iter::once(kind).chain(levels)) {
        word.store(value, Ordering::Relaxed);
    }
}

fn unpack(cell: &[AtomicU32]) -> Option<ToneSecond> {
    let mut words = cell.iter().skip(1).map(|word| word.load(Ordering::Relaxed));
    let kind = words.next()?;
    let [mut mid, mut side] = [Powers::ZERO; 2];
    let slots = mid.slots.iter_mut().zip(&mut side.slots);
    let slots = slots.chain([(&mut mid.k_weighted, &mut side.k_weighted)]);
    for ((mid, side), word) in slots.zip(words) {
        let [upper, lower] = halves(word);
        (*mid, *side) = (power_of(upper), power_of(lower));
    }
    let covered = f64::from(kind & ((1 << 14) - 1)) / f64::from(COVERED_STEPS);
    Some(ToneSecond { covered, playthrough: kind >> 14, mid, side })
}

/// Steps above the lowest level, 0 for silence.
pub(crate) fn level_of(power: f64) -> u16 {
    let steps = ((energy_to_db(power) - LOWEST_DB) * STEPS_PER_DB).round();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped; zero power is minus infinity, hence 0"
    )]
    let level = steps.clamp(0.0, f64::from(u16::MAX)) as u16;
    level
}

/// The power that [`level_of`] gives a level.
pub(crate) fn power_of(level: u16) -> f64 {
    if level == 0 { 0.0 } else { db_to_energy(LOWEST_DB + f64::from(level) / STEPS_PER_DB) }
}

#[cfg(test)]
mod tests {
    use super::super::{record, record_with_tone};
    use super::*;
    use crate::meters::layout::Layout;

    fn second(index: i32, covered: f64, power: f64) -> Second {
        let powers = Powers { slots: [power; SLOT_COUNT], k_weighted: power };
        Second { second: index, covered, mid: powers, side: powers.times(0.5) }
    }

    #[test]
    fn levels_come_back_within_a_five_hundredth_of_a_decibel() {
        for db in [-199.9, -100.0, -69.123, -14.001, 0.0, 55.0] {
            let power = db_to_energy(db);
            let back_db = energy_to_db(power_of(level_of(power)));
            assert!((back_db - db).abs() <= 0.5 / STEPS_PER_DB + 1e-9, "{db}: {back_db}");
        }
        assert_eq!([0.0, 1e-30, f64::NAN].map(|power| power_of(level_of(power))), [0.0; 3]);
    }

    #[test]
    fn a_part_of_a_second_never_replaces_a_whole_one_and_a_newer_whole_one_does() {
        let (mut hops, mut writer, reader) = record_with_tone(Layout::Stereo, false);
        let first = hops.begin_playthrough();
        writer.write(&second(3, 0.5, 0.1), first);
        assert_eq!(reader.tone_second(3).unwrap().covered, 0.5);
        writer.write(&second(3, 1.0, 0.2), first);
        let next = hops.begin_playthrough();
        writer.write(&second(3, 0.9999, 0.4), next);
        let found = reader.tone_second(3).unwrap();
        assert_eq!((found.covered, found.playthrough), (1.0, first));
        writer.write(&second(3, 1.0, 0.8), next);
        let found = reader.tone_second(3).unwrap();
        assert_eq!(found.playthrough, next);
        assert!((found.mid.slots[7] / 0.8 - 1.0).abs() < 0.001);
        assert!((found.side.k_weighted / 0.4 - 1.0).abs() < 0.001);
        assert!(reader.tone_second(2).is_none() && reader.tone_second(4).is_none());
    }

    #[test]
    fn resets_and_trims_forget_tone_and_their_undo_brings_it_back() {
        let (mut hops, mut writer, reader) = record_with_tone(Layout::Stereo, false);
        let number = hops.begin_playthrough();
        for index in 0..10 {
            writer.write(&second(index, 1.0, 0.1), number);
        }
        let held = |reader: &super::super::RecordReader| {
            (0..10).filter(|&index| reader.tone_second(index).is_some()).count()
        };
        // A second that is cut in two counts as cut off.
        let before = reader.trim(450);
        assert_eq!(held(&reader), 4);
        reader.undo_trim(before);
        assert_eq!(held(&reader), 10);
        let before = reader.reset();
        assert_eq!(held(&reader), 0);
        assert!(writer.was_forgotten(0, number));
        // What was forgotten stands in no part's way.
        let next = hops.begin_playthrough();
        writer.write(&second(4, 0.1, 0.1), next);
        assert_eq!(held(&reader), 1);
        reader.undo_reset(before);
        assert_eq!(held(&reader), 10);
    }

    #[test]
    fn beyond_the_record_and_in_one_without_tone_there_is_nothing() {
        let (_, mut writer, reader) = record_with_tone(Layout::Stereo, false);
        for index in [i32::MIN, FIRST_SECOND - 1, END_SECOND, i32::MAX] {
            writer.write(&second(index, 1.0, 0.1), 1);
            assert!(reader.tone_second(index).is_none());
        }
        for index in [FIRST_SECOND, END_SECOND - 1] {
            writer.write(&second(index, 1.0, 0.1), 1);
            assert!(reader.tone_second(index).is_some());
        }
        let (_, reader) = record(Layout::Stereo, false);
        assert!(reader.tone_second(0).is_none());
    }
}
