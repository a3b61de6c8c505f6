//! The hops of the last seconds in the order in which they were heard, whatever song time did:
//! what the momentary and short-term values of this moment are read from.

use super::Hop;
use crate::meters::MAX_CHANNELS;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering, fence};

/// Hops kept: 5.12 s, more than the 3 s that a reader asks for, so that the writer is seldom on
/// a reader's heels.
const KEPT_HOPS: u64 = 512;
const WORDS: usize = 1 + MAX_CHANNELS;

struct Ring {
    /// Energy and true peaks of each hop.
    words: Box<[AtomicU32]>,
    /// Count of hops begun: its slot may be half written.
    begun: AtomicU64,
    /// Count of hops ever written; hop n lies in slot n mod [`KEPT_HOPS`].
    written: AtomicU64,
    /// Count of hops at the last interruption; no window reaches back over it.
    since: AtomicU64,
}

/// Makes the two ends.
#[must_use]
pub fn recent_hops() -> (RecentWriter, RecentReader) {
    let words = usize::try_from(KEPT_HOPS).unwrap_or(0) * WORDS;
    let ring = Arc::new(Ring {
        words: bytemuck::zeroed_slice_box(words),
        begun: AtomicU64::new(0),
        written: AtomicU64::new(0),
        since: AtomicU64::new(0),
    });
    (RecentWriter { ring: Arc::clone(&ring) }, RecentReader { ring })
}

/// The writing end, for the audio thread.
pub struct RecentWriter {
    ring: Arc<Ring>,
}

impl RecentWriter {
    /// `[audio-thread]` Adds a fully covered hop. Wait-free.
    pub fn push(&mut self, hop: &Hop) {
        let count = self.ring.written.load(Ordering::Relaxed);
        self.ring.begun.store(count + 1, Ordering::Relaxed);
        fence(Ordering::Release);
        let values = std::iter::once(&hop.energy).chain(&hop.true_peaks);
        for (word, value) in self.ring.slot(count).iter().zip(values) {
            word.store(value.to_bits(), Ordering::Relaxed);
        }
        self.ring.written.store(count + 1, Ordering::Release);
    }

    /// `[audio-thread]` Audio was interrupted: what comes next does not join what was before.
    pub fn interrupt(&mut self) {
        let written = self.ring.written.load(Ordering::Relaxed);
        self.ring.since.store(written, Ordering::Release);
    }
}

/// The reading end, for any thread.
#[derive(Clone)]
pub struct RecentReader {
    ring: Arc<Ring>,
}

/// A whole copy of the newest hops.
#[derive(Debug, Clone, PartialEq)]
pub struct RecentHops {
    /// Sum of the energies (see [`Hop::energy`]) of the hops asked for.
    pub energy_sum: f64,
    /// Highest true peak per channel in them, linear.
    pub true_peaks: [f32; MAX_CHANNELS],
}

impl RecentReader {
    /// `[any-thread]` Grows with every hop.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.ring.written.load(Ordering::Acquire)
    }

    /// `[any-thread]` The newest `hops` hops; `None` if there are not yet so many since the last
    /// interruption.
    #[must_use]
    pub fn newest(&self, hops: u64) -> Option<RecentHops> {
        const TRIES: usize = 8;
        for _ in 0..TRIES {
            let end = self.ring.written.load(Ordering::Acquire);
            let start = end.checked_sub(hops)?;
            if start < self.ring.since.load(Ordering::Acquire) {
                return None;
            }
            let mut copy = RecentHops { energy_sum: 0.0, true_peaks: [0.0; MAX_CHANNELS] };
            for count in start..end {
                let mut words = self.ring.slot(count).iter();
                let mut next = || {
                    words.next().map_or(0.0, |word| f32::from_bits(word.load(Ordering::Relaxed)))
                };
                copy.energy_sum += f64::from(next());
                for peak in &mut copy.true_peaks {
                    *peak = peak.max(next());
                }
            }
            fence(Ordering::Acquire);
            // Whole if the writer has not begun to go round to where the copy started.
            if self.ring.begun.load(Ordering::Relaxed) <= start + KEPT_HOPS {
                return Some(copy);
            }
        }
        None
    }
}

impl Ring {
    fn slot(&self, count: u64) -> &[AtomicU32] {
        let slot = usize::try_from(count % KEPT_HOPS).unwrap_or(0);
        self.words.get(slot * WORDS..(slot + 1) * WORDS).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hop(energy: f32) -> Hop {
        Hop { energy, true_peaks: [energy; MAX_CHANNELS], ..Hop::default() }
    }

    #[test]
    fn the_newest_hops_are_summed_and_older_ones_are_not() {
        let (mut writer, reader) = recent_hops();
        assert_eq!(reader.newest(1), None);
        // Round the ring several times; under Miri, which is slow here, just over its end.
        let last = if cfg!(miri) { 520 } else { 1_999_u16 };
        for n in 0..=last {
            writer.push(&hop(f32::from(n)));
        }
        let newest = reader.newest(3).unwrap();
        assert_eq!(newest.energy_sum, 3.0 * f64::from(last) - 3.0);
        assert_eq!(newest.true_peaks[1], f32::from(last));
        assert_eq!(reader.newest(KEPT_HOPS + 1), None);
    }

    #[test]
    fn no_window_reaches_over_an_interruption() {
        let (mut writer, reader) = recent_hops();
        writer.push(&hop(1.0));
        writer.interrupt();
        assert_eq!(reader.newest(1), None);
        writer.push(&hop(2.0));
        assert_eq!(reader.newest(1).unwrap().energy_sum, 2.0);
        assert_eq!(reader.newest(2), None);
    }
}
