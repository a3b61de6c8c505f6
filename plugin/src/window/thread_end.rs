//! Tells when the thread of a window has ended, which its library does not.

use parking_lot::{Condvar, Mutex};
use std::cell::RefCell;
use std::sync::Arc;
use std::time::Duration;

/// Whoever closes a window waits so long at most.
const PATIENCE: Duration = Duration::from_secs(5);

/// Whether one window's thread still runs.
#[derive(Default)]
pub struct ThreadEnd {
    is_running: Mutex<bool>,
    ended: Condvar,
}

/// Lives in a thread's own storage: the system drops it when all else of the thread has ended.
struct Marker(Arc<ThreadEnd>);

impl Drop for Marker {
    fn drop(&mut self) {
        *self.0.is_running.lock() = false;
        self.0.ended.notify_all();
    }
}

thread_local! {
    static MARKER: RefCell<Option<Marker>> = const { RefCell::new(None) };
}

impl ThreadEnd {
    /// To be called on the window's thread.
    pub fn mark_this_thread(self: &Arc<Self>) {
        *self.is_running.lock() = true;
        MARKER.set(Some(Marker(Arc::clone(self))));
    }

    /// Waits until the marked thread, if there is one, has ended. False if it does not.
    #[must_use]
    pub fn wait(&self) -> bool {
        let mut is_running = self.is_running.lock();
        let is_late = |running: &mut bool| *running;
        !self.ended.wait_while_for(&mut is_running, is_late, PATIENCE).timed_out()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicBool, Ordering};

    #[test]
    fn waiting_ends_with_the_thread_and_not_before() {
        let end = Arc::new(ThreadEnd::default());
        assert!(end.wait(), "no thread, nothing to wait for");
        let (marked, is_marked) = std::sync::mpsc::channel();
        let has_worked = Arc::new(AtomicBool::new(false));
        let (its_end, its_work) = (Arc::clone(&end), Arc::clone(&has_worked));
        let thread = std::thread::spawn(move || {
            its_end.mark_this_thread();
            marked.send(()).unwrap();
            std::thread::sleep(Duration::from_millis(50));
            its_work.store(true, Ordering::SeqCst);
        });
        is_marked.recv().unwrap();
        assert!(end.wait());
        assert!(has_worked.load(Ordering::SeqCst));
        thread.join().unwrap();
    }
}
