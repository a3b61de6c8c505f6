//! Reference songs for the model, compared again only where something changed.

use crate::editor::model::{Asked, InputState, Model, Source};
use crate::reference::Comparison;
use crate::section::{LogEntry, Measured};
use crate::shared::Shared;
use std::time::{Duration, Instant};

/// What comes over the reference input is taken in so often at most: it is measured as a whole each
/// time, on the editor's thread.
const INPUT_PERIOD: Duration = Duration::from_millis(500);

/// Keeps the references of a model up to date.
#[derive(Default)]
pub struct ReferenceReader {
    seen_list: Option<u64>,
    /// When the reference input was taken in last.
    input_read: Option<Instant>,
    /// What was compared last.
    seen: Option<(u64, Option<Measured>, Vec<LogEntry>)>,
}

impl ReferenceReader {
    /// Brings the model up to date at the time `now`; the song in it is to be so already.
    pub fn read(&mut self, shared: &Shared, asked: &Asked, model: &mut Model, now: Instant) {
        let references = &shared.references;
        let status = &shared.input.status;
        model.reference.input = match (status.is_open(), status.arrives()) {
            (false, _) => InputState::Absent,
            (true, false) => InputState::Silent,
            (true, true) => InputState::Arrives,
        };
        let waits = asked.reference && shared.input.is_behind(shared.song_revision());
        let is_due = self.input_read.is_none_or(|last| now - last >= INPUT_PERIOD);
        model.reference.is_behind = waits && !is_due;
        if waits && is_due {
            self.input_read = Some(now);
            shared.refresh_input();
        }
        let revision = references.revision();
        if self.seen_list != Some(revision) {
            self.seen_list = Some(revision);
            model.reference.list = references.list();
        }
        model.reference.measuring = references.measuring();
        if !asked.reference || model.source != Source::Song {
            model.reference.comparison = None;
            self.seen = None;
            return;
        }
        let song = &model.song;
        let is_known = self.seen.as_ref().is_some_and(|(list, whole, log)| {
            *list == revision && *whole == song.whole && *log == song.log
        });
        if !is_known {
            self.seen = Some((revision, song.whole.clone(), song.log.clone()));
            let whole = song.whole.as_ref();
            model.reference.comparison =
                whole.and_then(|whole| Comparison::new(whole, &song.log, &model.reference.list));
        }
    }
}
