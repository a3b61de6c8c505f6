//! Counts what a thread allocates and frees while a guard is held.
//!
//! A test binary installs the allocator itself:
//!
//! ```
//! use plimsoll_tests::alloc_guard::CountingAllocator;
//!
//! #[global_allocator]
//! static ALLOCATOR: CountingAllocator = CountingAllocator;
//! ```
//!
//! A plugin loaded from its built bundle brings its own allocator, which is not seen; linked into
//! the test binary it uses this one.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    /// Constant start values without destructors: reaching these never allocates.
    static HELD: Cell<bool> = const { Cell::new(false) };
    static COUNTS: Cell<Counts> = const { Cell::new(Counts { allocations: 0, frees: 0, bytes: 0 }) };
}

/// What happened on one thread while a guard was held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Calls that asked for memory, growing a block included.
    pub allocations: u64,
    /// Calls that gave memory back.
    pub frees: u64,
    /// Bytes that were asked for, all of a block that was grown.
    pub bytes: u64,
}

/// The system's allocator, counting.
#[derive(Debug)]
pub struct CountingAllocator;

// SAFETY: every call goes to `System` with the arguments unchanged; counting touches only two
// thread-local cells and neither allocates nor unwinds.
#[allow(unsafe_code, reason = "GlobalAlloc is an unsafe trait")]
unsafe impl GlobalAlloc for CountingAllocator {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(1, 0, layout.size());
        // SAFETY: the caller upholds the contract of `alloc`.
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        count(1, 0, layout.size());
        // SAFETY: the caller upholds the contract of `alloc_zeroed`.
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        count(0, 1, 0);
        // SAFETY: the caller upholds the contract of `dealloc`.
        unsafe { System.dealloc(block, layout) }
    }

    unsafe fn realloc(&self, block: *mut u8, layout: Layout, new_size: usize) -> *mut u8 {
        count(1, 0, new_size);
        // SAFETY: the caller upholds the contract of `realloc`.
        unsafe { System.realloc(block, layout, new_size) }
    }
}

fn count(allocations: u64, frees: u64, bytes: usize) {
    // A thread that is being torn down has no cells left and holds no guard.
    let held = HELD.try_with(Cell::get).unwrap_or(false);
    if held {
        let _ = COUNTS.try_with(|counts| {
            let so_far = counts.get();
            counts.set(Counts {
                allocations: so_far.allocations + allocations,
                frees: so_far.frees + frees,
                bytes: so_far.bytes + bytes as u64,
            });
        });
    }
}

/// Held while `work` runs; gives its result and what it allocated and freed on this thread.
///
/// # Panics
/// If called within `work`.
pub fn watch<T>(work: impl FnOnce() -> T) -> (T, Counts) {
    /// Lets go of the guard also when `work` panics.
    struct Release;
    impl Drop for Release {
        fn drop(&mut self) {
            HELD.set(false);
        }
    }
    assert!(!HELD.get(), "the guard is held already");
    COUNTS.set(Counts::default());
    HELD.set(true);
    let release = Release;
    let result = work();
    drop(release);
    (result, COUNTS.get())
}

/// Whether [`CountingAllocator`] is this binary's global allocator: only then do counts of zero
/// mean anything.
#[must_use]
pub fn is_installed() -> bool {
    let (_, counts) = watch(|| drop(std::hint::black_box(Box::new(1_u64))));
    counts.allocations > 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[global_allocator]
    static ALLOCATOR: CountingAllocator = CountingAllocator;

    #[test]
    fn counts_what_the_work_allocates_and_frees_and_nothing_else() {
        assert!(is_installed());
        let kept = vec![1_u8; 100];
        let ((), counts) = watch(|| ());
        assert_eq!(counts, Counts::default());
        let (mut grown, counts) = watch(|| Vec::<u8>::with_capacity(10));
        assert_eq!(counts, Counts { allocations: 1, frees: 0, bytes: 10 });
        let ((), counts) = watch(|| grown.reserve_exact(100_000));
        assert_eq!(counts, Counts { allocations: 1, frees: 0, bytes: 100_000 });
        let ((), counts) = watch(|| drop(grown));
        assert_eq!(counts, Counts { allocations: 0, frees: 1, bytes: 0 });
        drop(kept);
    }

    #[test]
    fn other_threads_are_not_counted() {
        let (send, receive) = std::sync::mpsc::channel::<()>();
        let other = std::thread::spawn(move || {
            receive.recv().unwrap();
            std::hint::black_box(vec![1_u8; 1000]).len()
        });
        let ((), counts) = watch(|| {
            std::thread::yield_now();
        });
        send.send(()).unwrap();
        other.join().unwrap();
        assert_eq!(counts, Counts::default());
    }

    #[test]
    fn a_panic_lets_go_of_the_guard() {
        let caught = std::panic::catch_unwind(|| watch(|| panic!("on purpose")));
        assert!(caught.is_err());
        let ((), counts) = watch(|| ());
        assert_eq!(counts, Counts::default());
    }
}
