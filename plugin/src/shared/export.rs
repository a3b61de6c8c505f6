//! A snapshot on its way into files, on a thread of its own.

use super::Shared;
use crate::loudness::Analysis;
use crate::snapshot::{Existing, Export, Moment, Snapshot, SnapshotOrder, Source, UtcTime};
use crate::target::Target;
use parking_lot::Mutex;
use std::path::Path;
use std::sync::Arc;
use std::time::SystemTime;

/// What became of the last snapshot.
#[derive(Default)]
pub struct Exports(Mutex<State>);

#[derive(Default)]
struct State {
    shown: Export,
    /// The snapshot that could not be written.
    kept: Option<Arc<Snapshot>>,
    /// A summary on its way to the clipboard, which belongs to the window's thread.
    summary: Option<String>,
}

impl Exports {
    /// What to say of it.
    #[must_use]
    pub fn shown(&self) -> Export {
        self.0.lock().shown.clone()
    }

    /// The summary that is to be put into the clipboard, once.
    #[must_use]
    pub fn take_summary(&self) -> Option<String> {
        self.0.lock().summary.take()
    }

    /// What became of it was read; a snapshot that could not be written is dropped.
    pub fn forget(&self) {
        *self.0.lock() = State::default();
    }

    fn end(&self, snapshot: Arc<Snapshot>, order: &SnapshotOrder) {
        let folder = Path::new(&order.folder);
        let name = snapshot.suggested_name();
        let written = match order.formats.as_slice() {
            [] => Ok(Vec::new()),
            formats => snapshot.write_all(folder, &name, formats, Existing::Keep),
        };
        let summary = order.copy.then(|| snapshot.summary());
        let mut state = self.0.lock();
        state.kept = None;
        state.shown = match written {
            Ok(_) if order.copy => Export::Copied,
            Ok(paths) => Export::Saved(paths),
            Err(error) => {
                state.kept = Some(snapshot);
                Export::Failed(error.to_string())
            }
        };
        state.summary = summary;
    }

    fn fail(&self, why: &str) {
        self.0.lock().shown = Export::Failed(why.to_owned());
    }
}

impl Shared {
    /// `[main-thread]` Takes a snapshot of what `source` holds and writes it, on a thread of its
    /// own; the one that could not be written before, if there is one. One at a time.
    pub fn start_export(self: &Arc<Self>, source: Source, order: SnapshotOrder) {
        let kept = {
            let mut state = self.export.0.lock();
            if state.shown == Export::Writing {
                return;
            }
            state.shown = Export::Writing;
            state.kept.take()
        };
        let shared = Arc::clone(self);
        let work = move || {
            let snapshot = kept.or_else(|| shared.snapshot(source).map(Arc::new));
            match snapshot {
                Some(snapshot) => shared.export.end(snapshot, &order),
                None => shared.export.fail("nothing was measured yet"),
            }
        };
        let thread = std::thread::Builder::new().name("plimsoll-snapshot".to_owned()).spawn(work);
        if let Err(error) = thread {
            self.export.fail(&format!("the system has no thread to give ({error})"));
        }
    }

    /// Everything measured now; `None` before the first activation.
    fn snapshot(&self, source: Source) -> Option<Snapshot> {
        let sources = self.sources()?;
        let record = if source == Source::Song { sources.song } else { sources.live };
        let settings = self.settings();
        let targets: Vec<Target> = settings.targets().cloned().collect();
        let (bars, song) = (self.bar_grid(), self.with_song(Clone::clone));
        let track = self.track();
        self.refresh_input();
        Some(Snapshot::take(Moment {
            analysis: &mut Analysis::new(record),
            source,
            rate: self.rate(),
            sections: &song.sections,
            bars: bars.as_ref(),
            playthroughs: &song.playthroughs,
            references: &self.references.list(),
            targets: &targets,
            chosen: Some(settings.chosen()),
            song: &song.name,
            track: track.as_deref(),
            taken: UtcTime::from_system(SystemTime::now()),
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::Sources;
    use crate::meters::layout::Layout;
    use crate::record::{Hop, recent_hops, record};
    use std::time::{Duration, Instant};

    fn measured() -> Arc<Shared> {
        let shared = Arc::new(Shared::default());
        let (mut writer, song) = record(Layout::Stereo, false);
        let sources =
            Sources { live: record(Layout::Stereo, false).1, recent: recent_hops().1, song };
        for index in 0..500 {
            let hop =
                Hop { energy: 0.01, frames: 480, full: true, playthrough: 1, ..Hop::default() };
            writer.write(index, &hop);
        }
        shared.set_sources(sources);
        shared.set_rate_hz(48_000);
        shared.edit_song(|song| song.name = "Lantern Tide".to_owned());
        shared.set_track("Mix\nbus ");
        shared
    }

    fn wait(shared: &Shared) -> Export {
        let start = Instant::now();
        while shared.export.shown() == Export::Writing {
            assert!(start.elapsed() < Duration::from_secs(20), "the snapshot never ends");
            std::thread::sleep(Duration::from_millis(5));
        }
        shared.export.shown()
    }

    #[test]
    fn a_snapshot_that_cannot_be_written_is_kept_and_saved_elsewhere() {
        let shared = measured();
        let folder = std::env::temp_dir().join(format!("plimsoll-export-{}", std::process::id()));
        let order = |folder: &Path| SnapshotOrder {
            folder: folder.display().to_string(),
            formats: vec![crate::snapshot::Format::Json],
            ..SnapshotOrder::default()
        };
        shared.start_export(Source::Song, order(&folder.join("missing")));
        let Export::Failed(why) = wait(&shared) else { panic!("there is no such folder") };
        assert!(why.contains("missing"), "{why}");
        // What is measured after that is not in it: it is the snapshot of then.
        shared.edit_song(|song| song.name = "Another".to_owned());
        std::fs::create_dir_all(&folder).unwrap();
        shared.start_export(Source::Song, order(&folder));
        let Export::Saved(paths) = wait(&shared) else { panic!("{:?}", shared.export.shown()) };
        let text = std::fs::read_to_string(&paths[0]).unwrap();
        assert!(text.contains("Lantern Tide") && !text.contains("Another"));
        assert!(text.contains("\"track\": \"Mix bus\""), "{text}");
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_summary_is_handed_over_once() {
        let shared = measured();
        let order = SnapshotOrder { copy: true, ..SnapshotOrder::default() };
        shared.start_export(Source::Song, order);
        assert_eq!(wait(&shared), Export::Copied);
        assert!(shared.export.take_summary().unwrap().contains("LUFS"));
        assert_eq!(shared.export.take_summary(), None);
        shared.export.forget();
        assert_eq!(shared.export.shown(), Export::None);
    }
}
