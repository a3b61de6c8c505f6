//! Sequence locks made of safe atomics: one thread writes, any may read.
//!
//! The first word of what is locked is a stamp, whose lower half counts: 0 = never written, even
//! when it is at rest, odd while it is written. (Its upper half is the writer's own.) The writer
//! makes the stamp odd, fences, stores the data, and publishes with an even stamp (release). A
//! reader takes the stamp (acquire), copies, fences, and takes the stamp again: equal and even
//! means that the copy is whole. To be deceived it would have to sleep through exactly 32 767
//! rewrites of what it copies.

use super::words::halves;
use std::sync::atomic::{AtomicU32, Ordering, fence};

/// A reader gives up after so many tries; the writer needs nanoseconds.
const READ_TRIES: usize = 1_000;

/// Writes by `store`, for the only thread that does; `upper` goes into the stamp's upper half.
#[inline(always)]
pub(super) fn write(stamp: &AtomicU32, upper: u16, store: impl FnOnce()) {
    let [_, before] = halves(stamp.load(Ordering::Relaxed));
    stamp.store(u32::from(before.wrapping_add(1)), Ordering::Relaxed);
    // The odd stamp is visible before any of the data below.
    fence(Ordering::Release);
    store();
    // 0 means "never written", so the count goes from the last even value to 2.
    let count = before.wrapping_add(2).max(2);
    stamp.store((u32::from(upper) << 16) | u32::from(count), Ordering::Release);
}

/// A whole copy, made by `copy`; `None` if nothing was ever written.
pub(super) fn read<T>(stamp: &AtomicU32, copy: impl Fn() -> Option<T>) -> Option<T> {
    for _ in 0..READ_TRIES {
        let before = stamp.load(Ordering::Acquire);
        let [_, count] = halves(before);
        if count == 0 {
            return None;
        }
        if count % 2 == 0 {
            let copied = copy();
            // The data above is read before the stamp below.
            fence(Ordering::Acquire);
            if stamp.load(Ordering::Relaxed) == before {
                return copied;
            }
        }
        std::hint::spin_loop();
    }
    None
}
