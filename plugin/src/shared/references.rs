//! The reference songs of one plugin instance, and files on their way to become some.

use crate::reference::{self, FileError, Reference, ReferenceError, measure_file};
use crate::state::{StateError, load_references, save_references};
use parking_lot::Mutex;
use serde_json::Value;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::thread::JoinHandle;

/// Steps of [`Measuring::share`].
const SHARE_STEPS: f64 = 1_000.0;

/// A file that is being measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measuring {
    /// The name of the file.
    pub name: String,
    /// How much of it is done, 0 to 1.
    pub share: f64,
    /// Files that wait behind it.
    pub waiting: usize,
}

/// Shared by the main thread, the editor, and the thread that measures files.
#[derive(Default)]
pub struct References {
    list: Mutex<Vec<Reference>>,
    /// Changes whenever the list does.
    revision: AtomicU64,
    /// References of a newer version, kept as they are until the user edits something.
    newer: Mutex<Option<Value>>,
    files: Mutex<Files>,
    /// Of the present file, in steps.
    share: AtomicU32,
    /// The user called it off.
    is_cancelled: AtomicBool,
}

#[derive(Default)]
struct Files {
    /// The first one is being measured while there is a thread.
    waiting: VecDeque<PathBuf>,
    is_running: bool,
    thread: Option<JoinHandle<()>>,
    /// What could not be measured and why, a line each, until it is shown.
    refused: Vec<String>,
    /// Whether a reference was added that the host was not told of yet.
    has_added: bool,
}

impl References {
    /// A copy of the list.
    #[must_use]
    pub fn list(&self) -> Vec<Reference> {
        self.list.lock().clone()
    }

    /// Changes whenever the list does.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision.load(Ordering::Acquire)
    }

    /// `[main-thread]` The user changes the list.
    ///
    /// # Errors
    /// What `edit` says; the list is then as it was.
    pub fn edit(
        &self,
        edit: impl FnOnce(&mut Vec<Reference>) -> Result<(), ReferenceError>,
    ) -> Result<(), ReferenceError> {
        let mut list = self.list.lock();
        let mut edited = list.clone();
        edit(&mut edited)?;
        *list = edited;
        *self.newer.lock() = None;
        self.revision.fetch_add(1, Ordering::Release);
        Ok(())
    }

    /// `[main-thread]` Puts another list in place.
    pub fn set(&self, references: Vec<Reference>) {
        *self.list.lock() = references;
        *self.newer.lock() = None;
        self.revision.fetch_add(1, Ordering::Release);
    }

    /// Puts what was measured over the reference input into the list: no edit of the user's.
    pub fn put_input(&self, input: Reference) {
        reference::put_input(&mut self.list.lock(), input);
        self.revision.fetch_add(1, Ordering::Release);
    }

    /// What was measured over the reference input.
    #[must_use]
    pub fn input(&self) -> Option<Reference> {
        self.list.lock().iter().find(|reference| reference.is_input).cloned()
    }

    /// `[main-thread]` Takes over saved references; what cannot be read is logged and changes nothing.
    pub fn load(&self, saved: &Value) {
        match load_references(saved) {
            Ok(references) => self.set(references),
            Err(error) => {
                nice_plug::nice_error!("{error}");
                if matches!(error, StateError::TooNew { .. }) {
                    *self.newer.lock() = Some(saved.clone());
                }
            }
        }
    }

    /// `[main-thread]` The references as they are to be kept in the project.
    #[must_use]
    pub fn saved(&self) -> Value {
        let newer = self.newer.lock().clone();
        newer.unwrap_or_else(|| save_references(&self.list.lock()))
    }

    /// `[main-thread]` Has files measured, one after the other, on a thread of its own.
    pub fn add_files(self: &Arc<Self>, paths: impl IntoIterator<Item = PathBuf>) {
        let mut files = self.files.lock();
        files.waiting.extend(paths);
        if files.is_running || files.waiting.is_empty() {
            return;
        }
        if let Some(ended) = files.thread.take() {
            // It has nothing left to do but return.
            let _ = ended.join();
        }
        self.is_cancelled.store(false, Ordering::Relaxed);
        let this = Arc::clone(self);
        let work = move || this.measure_all();
        match std::thread::Builder::new().name("plimsoll-reference".to_owned()).spawn(work) {
            Ok(thread) => (files.is_running, files.thread) = (true, Some(thread)),
            Err(error) => {
                files.waiting.clear();
                files.refused.push(format!("the system has no thread to give ({error})"));
            }
        }
    }

    fn measure_all(&self) {
        loop {
            let path = {
                let mut files = self.files.lock();
                if self.is_cancelled.load(Ordering::Relaxed) {
                    files.waiting.clear();
                }
                let Some(path) = files.waiting.front().cloned() else {
                    files.is_running = false;
                    return;
                };
                path
            };
            self.share.store(0, Ordering::Relaxed);
            let go_on = |share: f64| {
                self.share.store(steps(share), Ordering::Relaxed);
                !self.is_cancelled.load(Ordering::Relaxed)
            };
            // A panic would leave the editor waiting for ever.
            let measured = catch_unwind(AssertUnwindSafe(|| measure_file(&path, &go_on)));
            let added = match measured {
                Ok(Ok(new)) => self
                    .edit(|list| reference::add(list, new).map(drop))
                    .map_err(|error| Some(error.to_string())),
                Ok(Err(FileError::Cancelled)) => Err(None),
                Ok(Err(error)) => Err(Some(error.to_string())),
                Err(_) => Err(Some("measuring it failed".to_owned())),
            };
            let mut files = self.files.lock();
            files.waiting.pop_front();
            match added {
                Ok(()) => files.has_added = true,
                Err(why) => {
                    files.refused.extend(why.map(|why| format!("“{}”: {why}", path.display())));
                }
            }
        }
    }

    /// The file that is being measured.
    #[must_use]
    pub fn measuring(&self) -> Option<Measuring> {
        let files = self.files.lock();
        let path = files.waiting.front().filter(|_| files.is_running)?;
        Some(Measuring {
            name: file_name(path),
            share: f64::from(self.share.load(Ordering::Relaxed)) / SHARE_STEPS,
            waiting: files.waiting.len() - 1,
        })
    }

    /// `[main-thread]` Calls off what is being measured and what waits.
    pub fn cancel(&self) {
        self.is_cancelled.store(true, Ordering::Relaxed);
    }

    /// `[main-thread]` Calls it off and waits for its end: nothing of the plugin may run when a host
    /// unloads it.
    pub fn stop(&self) {
        self.cancel();
        let thread = self.files.lock().thread.take();
        if thread.is_some_and(|thread| thread.join().is_err()) {
            nice_plug::nice_error!("the thread that measures references failed");
        }
    }

    /// Why files are no references, once.
    #[must_use]
    pub fn take_refusal(&self) -> Option<String> {
        let refused = std::mem::take(&mut self.files.lock().refused);
        (!refused.is_empty()).then(|| refused.join(" · "))
    }

    /// Whether a reference was added since this was asked last.
    #[must_use]
    pub fn take_added(&self) -> bool {
        std::mem::take(&mut self.files.lock().has_added)
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 1 000")]
fn steps(share: f64) -> u32 {
    (share.clamp(0.0, 1.0) * SHARE_STEPS) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::testing::references;
    use std::time::{Duration, Instant};

    /// Waits until nothing is measured any more.
    fn wait(references: &References) {
        let start = Instant::now();
        while references.measuring().is_some() {
            assert!(start.elapsed() < Duration::from_secs(60));
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    /// A WAV file with 16 bits: a sine of 1 kHz at −20 dBFS.
    fn wav(name: &str, seconds: u32) -> PathBuf {
        let frames = 48_000 * seconds;
        let mut bytes = Vec::new();
        bytes.extend(b"RIFF");
        bytes.extend((36 + frames * 2).to_le_bytes());
        bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
        bytes.extend([48_000_u32, 96_000].map(u32::to_le_bytes).as_flattened());
        bytes.extend(b"\x02\0\x10\0data");
        bytes.extend((frames * 2).to_le_bytes());
        for n in 0..frames {
            let phase = f64::from(n % 48) / 48.0 * std::f64::consts::TAU;
            #[allow(clippy::cast_possible_truncation, reason = "at most 3 277")]
            bytes.extend(((3_276.8 * phase.sin()).round() as i16).to_le_bytes());
        }
        let path = std::env::temp_dir().join(format!("{}-{name}.wav", std::process::id()));
        std::fs::write(&path, bytes).unwrap();
        path
    }

    #[test]
    fn a_file_becomes_a_reference_and_what_is_none_is_refused_with_path_and_reason() {
        let references = Arc::new(References::default());
        let (song, missing) = (wav("Ebb", 5), PathBuf::from("missing/Flood.wav"));
        references.add_files([missing, song.clone()]);
        wait(&references);
        let list = references.list();
        assert_eq!(list.len(), 1);
        assert!(list[0].name.ends_with("-Ebb") && list[0].id == 1 && list[0].is_used);
        assert_eq!(list[0].length_s, 5.0);
        // In one channel: −20 dBFS, and K-weighting gives 0.7 dB at 1 kHz (BS.1770: −23 LUFS).
        let figures = &list[0].whole.figures;
        assert!((figures.integrated_lufs.unwrap() + 23.0).abs() < 0.1, "{figures:?}");
        let tone = list[0].whole.tone.as_ref().unwrap();
        assert!((tone.mid.mean_db[17] + 23.01).abs() < 0.05, "{:?}", tone.mid.mean_db[17]);
        assert!(references.take_added() && !references.take_added());
        let why = references.take_refusal().unwrap();
        assert!(why.contains("Flood.wav") && why.contains("no such file"), "{why}");
        assert_eq!(references.take_refusal(), None);
        std::fs::remove_file(song).unwrap();
    }

    #[test]
    fn a_song_that_is_called_off_leaves_nothing() {
        let references = Arc::new(References::default());
        let song = wav("Long", 90);
        references.add_files([song.clone(), song.clone()]);
        assert_eq!(references.measuring().map(|now| now.waiting), Some(1));
        references.stop();
        assert_eq!((references.list().len(), references.measuring()), (0, None));
        assert_eq!(references.take_refusal(), None);
        // And the next one is measured.
        let short = wav("Short", 1);
        references.add_files([short.clone()]);
        wait(&references);
        assert_eq!(references.list().len(), 1);
        std::fs::remove_file(song).unwrap();
        std::fs::remove_file(short).unwrap();
    }

    #[test]
    fn references_of_a_newer_version_are_kept_until_an_edit() {
        let references = References::default();
        let newer = serde_json::json!({"version": 9, "what": "unknown"});
        references.load(&newer);
        assert_eq!((references.saved(), references.list().len()), (newer, 0));
        references
            .edit(|list| {
                *list = self::references();
                Ok(())
            })
            .unwrap();
        assert_eq!(references.saved()["version"], 2);
        let before = references.revision();
        let refused = references.edit(|list| {
            list.clear();
            Err(ReferenceError::TooMany)
        });
        assert!(refused.is_err());
        assert_eq!((references.list().len(), references.revision()), (3, before));
    }
}
