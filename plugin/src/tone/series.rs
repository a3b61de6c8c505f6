//! A reader's own copy of a record's seconds.

use super::Tone;
use crate::record::{END_SECOND, FIRST_SECOND, HOPS_PER_SECOND, RecordReader, ToneSecond};
use std::ops::Range;

/// The seconds of a record, as of the last update.
#[derive(Default)]
pub struct ToneSeries {
    /// One entry per second from [`FIRST_SECOND`], as far as was measured.
    seconds: Vec<Option<ToneSecond>>,
    stamps: Vec<u32>,
    /// Count of writes, of loads, and of resets and trims.
    seen: [u32; 3],
}

impl ToneSeries {
    /// Takes over what changed in `record`.
    pub fn update(&mut self, record: &RecordReader) {
        let [writes, loads] = record.tone_revision();
        let seen = [writes, loads, record.forgotten_revision()];
        let before = std::mem::replace(&mut self.seen, seen);
        if before == seen {
            return;
        }
        let is_anew = before[1..] != seen[1..];
        if is_anew {
            self.seconds.clear();
            self.stamps.clear();
        }
        for (offset, second) in (FIRST_SECOND..END_SECOND).enumerate() {
            let stamp = record.tone_stamp(second);
            let known = self.stamps.get(offset).copied().unwrap_or(0);
            if is_anew || stamp != known {
                if let Some(tone) = record.tone_second(second) {
                    self.put(second, tone);
                }
                if self.stamps.len() <= offset {
                    self.stamps.resize(offset + 1, 0);
                }
                if let Some(known) = self.stamps.get_mut(offset) {
                    *known = stamp;
                }
            }
        }
    }

    /// Puts one second; out of a record's range it is left out.
    pub fn put(&mut self, second: i32, tone: ToneSecond) {
        let offset = second.checked_sub(FIRST_SECOND).and_then(|n| usize::try_from(n).ok());
        let Some(offset) = offset.filter(|_| second < END_SECOND) else { return };
        if self.seconds.len() <= offset {
            self.seconds.resize(offset + 1, None);
        }
        if let Some(entry) = self.seconds.get_mut(offset) {
            *entry = Some(tone);
        }
    }

    /// The seconds whose middles lie in a range of hops, in song order, those that were not
    /// measured as `None`.
    pub fn of_hops(&self, hops: &Range<i32>) -> impl Iterator<Item = (i32, Option<&ToneSecond>)> {
        let first_with_middle_from = |hop: i32| {
            let half = HOPS_PER_SECOND / 2;
            (i64::from(hop) - i64::from(half) + i64::from(HOPS_PER_SECOND) - 1)
                .div_euclid(i64::from(HOPS_PER_SECOND))
        };
        let [start, end] = [hops.start, hops.end].map(first_with_middle_from);
        (start..end.max(start)).filter_map(|second| {
            let second = i32::try_from(second).ok()?;
            let offset = usize::try_from(second.checked_sub(FIRST_SECOND)?).ok();
            Some((second, self.seconds.get(offset?).and_then(Option::as_ref)))
        })
    }

    /// What a range of hops reads; `None` if no second of it counts.
    #[must_use]
    pub fn read(&self, hops: &Range<i32>) -> Option<Tone> {
        Tone::of(self.of_hops(hops).filter_map(|(_, second)| second))
    }
}
