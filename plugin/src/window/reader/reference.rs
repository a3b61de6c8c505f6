//! Reference songs for the model, compared again only where something changed.

use crate::editor::model::{Asked, Model, Source};
use crate::reference::Comparison;
use crate::section::{LogEntry, Measured};
use crate::shared::Shared;

/// Keeps the references of a model up to date.
#[derive(Default)]
pub struct ReferenceReader {
    seen_list: Option<u64>,
    /// What was compared last.
    seen: Option<(u64, Option<Measured>, Vec<LogEntry>)>,
}

impl ReferenceReader {
    /// Brings the model up to date; the song in it is to be so already.
    pub fn read(&mut self, shared: &Shared, asked: &Asked, model: &mut Model) {
        let references = &shared.references;
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
