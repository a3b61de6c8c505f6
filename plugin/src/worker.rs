//! A thread of our own beside host and editor: measures the tone of what is played and follows it,
//! so that playthroughs are logged and bars are known whether an editor is open or not.

use crate::audio::Transport;
use crate::shared::Shared;
use nice_plug::nice_error;
use parking_lot::{Condvar, Mutex};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

/// Time between two looks: a fraction of a bar, and of any loop that is worth a log.
const ROUND: Duration = Duration::from_millis(200);

/// The thread of one plugin instance; dropping it ends the thread.
pub struct Worker {
    ends: Arc<(Mutex<bool>, Condvar)>,
    thread: Option<JoinHandle<()>>,
}

impl Worker {
    /// `[main-thread]` Starts it; `on_change` is called from it whenever it changed what a screen
    /// shows. `None`, and a line in the log, if the system has no thread to
    /// give: then there are no playthroughs and no tone, and all else works.
    #[must_use]
    pub fn start(shared: &Arc<Shared>, on_change: impl Fn() + Send + 'static) -> Option<Self> {
        let ends = Arc::new((Mutex::new(false), Condvar::new()));
        let shared = Arc::clone(shared);
        let ends_too = Arc::clone(&ends);
        let run = move || {
            let (ended, wake) = &*ends_too;
            let mut ended = ended.lock();
            let mut seen = None;
            while !*ended {
                shared.work_on_tone();
                shared.follow(shared.status.transport() == Transport::Playing);
                let revisions = Some((shared.song_revision(), shared.bars_revision()));
                if revisions != seen {
                    seen = revisions;
                    on_change();
                }
                wake.wait_for(&mut ended, ROUND);
            }
        };
        match std::thread::Builder::new().name("plimsoll".to_owned()).spawn(run) {
            Ok(thread) => Some(Self { ends, thread: Some(thread) }),
            Err(error) => {
                nice_error!("no thread to log playthroughs ({error}); measuring goes on");
                None
            }
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        let (ended, wake) = &*self.ends;
        *ended.lock() = true;
        wake.notify_all();
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            nice_error!("the thread that logs playthroughs failed");
        }
    }
}
