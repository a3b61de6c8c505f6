//! What comes over the reference input: its record, and the reference that is made of it.

use super::References;
use super::kept_record::KeptRecord;
use crate::audio::{InputStatus, Sources, ToneWork};
use crate::loudness::Analysis;
use crate::record::hop_seconds;
use crate::reference::{Reference, ReferenceSection};
use crate::section::{Section, SectionLog, measure};
use crate::units::SampleRate;
use parking_lot::Mutex;
use serde_json::Value;
use std::sync::Arc;

/// Shared by the main thread and the editor; the audio thread touches [`Self::status`] alone.
#[derive(Default)]
pub struct InputRecord {
    /// What the audio thread tells of the port.
    pub status: Arc<InputStatus>,
    /// The record's reading ends, once the plugin was activated with the port.
    sources: Mutex<Option<Sources>>,
    /// What the audio thread sends to have its tone measured.
    tone_work: Mutex<Option<ToneWork>>,
    /// The record out of the project.
    kept: Mutex<KeptRecord>,
    reading: Mutex<Option<Reading>>,
}

/// The record, as it was read last.
struct Reading {
    analysis: Analysis,
    log: SectionLog,
    /// Revisions of the record and of the song.
    seen: Option<(u64, u64)>,
}

impl InputRecord {
    /// `[main-thread]` Puts a new record in place, and below it what came with the project. `rate` is
    /// that of the record before.
    pub fn set_sources(&self, sources: Sources, rate: Option<SampleRate>) {
        let mut kept = self.kept.lock();
        let mut present = self.sources.lock();
        if let Some(old) = present.take() {
            kept.leave(&old, rate);
        }
        kept.lay(&sources);
        let analysis = Analysis::new(sources.song.clone());
        *self.reading.lock() = Some(Reading { analysis, log: SectionLog::default(), seen: None });
        *present = Some(sources);
    }

    /// `[main-thread]` What the worker is to measure the tone of from now on.
    pub fn set_tone_work(&self, work: Option<ToneWork>) {
        *self.tone_work.lock() = work;
    }

    /// `[main-thread]` Takes it from the worker.
    #[must_use]
    pub fn take_tone_work(&self) -> Option<ToneWork> {
        self.tone_work.lock().take()
    }

    /// `[worker]` Measures the tone of what came.
    pub fn work_on_tone(&self) {
        if let Some(work) = self.tone_work.lock().as_mut() {
            work.run();
        }
    }

    /// `[main-thread]` Takes over a saved record.
    pub fn load(&self, saved: &Value) {
        self.kept.lock().load(saved, self.sources.lock().as_ref());
    }

    /// `[main-thread]` The record as it is to be kept in the project.
    #[must_use]
    pub fn saved(&self, rate: Option<SampleRate>) -> Value {
        self.kept.lock().save(self.sources.lock().as_ref(), rate)
    }

    /// `[main-thread]` Forgets all that was measured: what comes from now on is another song.
    pub fn forget(&self) {
        let mut kept = self.kept.lock();
        if let Some(sources) = self.sources.lock().as_ref() {
            sources.song.reset();
        }
        *kept = KeptRecord::default();
    }

    /// Whether [`Self::refresh`] has something to do.
    #[must_use]
    pub fn is_behind(&self, song_revision: u64) -> bool {
        let reading = self.reading.lock();
        let seen = |reading: &Reading| reading.seen;
        let now = |reading: &Reading| Some((reading.analysis.record().revision(), song_revision));
        reading.as_ref().is_some_and(|reading| seen(reading) != now(reading))
    }

    /// `[main-thread]` Brings the reference in `references` up to date with the record and with the
    /// sections of the song at `song_revision`. Costs nothing where nothing changed.
    pub fn refresh(&self, references: &References, sections: &[Section], song_revision: u64) {
        let is_unchanged = {
            let kept = self.kept.lock();
            self.sources.lock().as_ref().is_some_and(|sources| kept.is_unchanged(sources))
        };
        let mut reading = self.reading.lock();
        let Some(Reading { analysis, log, seen }) = reading.as_mut() else { return };
        let now = Some((analysis.record().revision(), song_revision));
        if *seen == now {
            return;
        }
        *seen = now;
        analysis.update();
        let Some(range) = analysis.song_range() else { return };
        log.update(sections, analysis);
        let end_s = hop_seconds(range.end);
        let whole = measure(analysis, range);
        let Some(new) = Reference::of_input(end_s, &whole, log.entries()) else { return };
        // The one out of the project has the digits that were measured, the record rounded ones.
        let is_same = |old: Reference| has_same_sections(&old.sections, &new.sections);
        if !(is_unchanged && references.input().is_some_and(is_same)) {
            references.put_input(new);
        }
    }
}

fn has_same_sections(old: &[ReferenceSection], new: &[ReferenceSection]) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() < 0.005;
    old.len() == new.len()
        && old.iter().zip(new).all(|(old, new)| {
            old.name == new.name && near(old.start_s, new.start_s) && near(old.end_s, new.end_s)
        })
}
