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
    /// `[main-thread]` Puts the record in place, once, and below it what came with the project.
    pub fn set_sources(&self, sources: Sources) {
        self.kept.lock().lay(&sources);
        let analysis = Analysis::new(sources.song.clone());
        *self.reading.lock() = Some(Reading { analysis, log: SectionLog::default(), seen: None });
        *self.sources.lock() = Some(sources);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meters::layout::Layout;
    use crate::record::{Hop, RecordWriter, recent_hops, record};
    use crate::section::Place;
    use crate::shared::Shared;

    fn with_input() -> (Shared, RecordWriter) {
        let shared = Shared::default();
        shared.set_rate_hz(48_000);
        let (writer, song) = record(Layout::Stereo, false);
        let live = record(Layout::Stereo, false).1;
        shared.input.set_sources(Sources { song, live, recent: recent_hops().1 });
        (shared, writer)
    }

    fn write(writer: &mut RecordWriter, hops: std::ops::Range<i32>, energy: f32) {
        let playthrough = writer.begin_playthrough();
        let hop = Hop { energy, frames: 480, full: true, playthrough, ..Hop::default() };
        hops.for_each(|index| writer.write(index, &hop));
    }

    #[test]
    fn it_follows_the_record_and_the_sections_of_the_song() {
        let (shared, mut writer) = with_input();
        shared.refresh_input();
        assert_eq!(shared.references.input(), None);
        write(&mut writer, 0..500, 0.01);
        assert!(shared.input.is_behind(shared.song_revision()));
        shared.refresh_input();
        assert!(!shared.input.is_behind(shared.song_revision()));
        let input = shared.references.input().unwrap();
        assert_eq!((input.length_s, input.sections.len()), (5.0, 0));
        let revision = shared.references.revision();
        shared.refresh_input();
        assert_eq!(shared.references.revision(), revision, "nothing changed");
        shared.edit_song(|song| {
            song.sections.add_range(Place::at(1.0), Place::at(3.0), Some("Verse")).unwrap();
        });
        write(&mut writer, 500..700, 0.04);
        shared.refresh_input();
        let input = shared.references.input().unwrap();
        assert_eq!((input.length_s, input.sections.len()), (7.0, 1));
        assert!((input.sections[0].profile.figures.integrated_lufs.unwrap() + 20.691).abs() < 1e-3);
    }

    #[test]
    fn what_was_forgotten_is_not_saved_and_the_next_song_is_another() {
        let (shared, mut writer) = with_input();
        write(&mut writer, 0..1_000, 0.01);
        let saved = shared.saved_input();
        assert!(!saved.is_null() && !shared.saved_references().is_null());
        // As measured here, and as it came with a project.
        for is_loaded in [false, true] {
            if is_loaded {
                shared.input.load(&saved);
                shared.refresh_input();
                assert!(shared.references.input().is_some());
            }
            shared.input.forget();
            shared.references.set(Vec::new());
            assert!(shared.saved_references().is_null() && shared.saved_input().is_null());
        }
        write(&mut writer, 0..200, 0.04);
        shared.refresh_input();
        assert_eq!(shared.references.input().unwrap().length_s, 2.0);
    }
}
