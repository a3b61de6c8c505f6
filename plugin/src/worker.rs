//! A thread of our own beside host and editor: follows what is played, so that playthroughs are
//! logged and bars are known whether an editor is open or not.

use crate::audio::Transport;
use crate::record::hop_seconds;
use crate::section::{RunFollower, Section};
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
    /// `[main-thread]` Starts it. `None`, and a line in the log, if the system has no thread to
    /// give: then there are no playthroughs, and all else works.
    #[must_use]
    pub fn start(shared: &Arc<Shared>) -> Option<Self> {
        let ends = Arc::new((Mutex::new(false), Condvar::new()));
        let mut rounds = Rounds::new(Arc::clone(shared));
        let ends_too = Arc::clone(&ends);
        let run = move || {
            let (ended, wake) = &*ends_too;
            let mut ended = ended.lock();
            while !*ended {
                rounds.round();
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

/// What the thread does, again and again.
pub struct Rounds {
    shared: Arc<Shared>,
    generation: u64,
    follower: Option<RunFollower>,
}

impl Rounds {
    /// Nothing followed yet.
    #[must_use]
    pub const fn new(shared: Arc<Shared>) -> Self {
        Self { shared, generation: 0, follower: None }
    }

    /// One look at what is played: bars, the end of the song, playthroughs.
    pub fn round(&mut self) {
        self.shared.see_bar();
        let generation = self.shared.sources_generation();
        if generation != self.generation {
            self.generation = generation;
            self.follower = self.shared.sources().map(|sources| RunFollower::new(sources.song));
        }
        let Some(follower) = &mut self.follower else { return };
        let playing = self.shared.status.transport() == Transport::Playing;
        let sections: Vec<Section> =
            self.shared.with_song(|song| song.sections.as_slice().to_vec());
        let finished = follower.poll(playing, &sections);
        if let Some(open) = sections.last().filter(|section| section.open) {
            let song_end_s = follower.last_hop().map(|last| hop_seconds(last + 1));
            if song_end_s.is_some_and(|end_s| end_s != open.end_s) {
                self.shared.follow_song_end(song_end_s);
            }
        }
        if let Some(finished) = finished {
            self.shared.change_song(|song| song.playthroughs.log(finished));
        }
    }
}
