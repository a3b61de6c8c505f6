//! What the threads of one plugin instance share. Locks here are for the main and editor threads
//! only; the audio thread has its own ends of everything (see [`crate::audio::Outputs`]).

mod export;
mod kept_record;
mod reference_input;
mod references;

use crate::audio::{Sources, Status, ToneWork, Transport};
use crate::listening::Listening;
use crate::meters::layout::Layout;
use crate::record::hop_seconds;
use crate::section::{BarGrid, BarMap, RunFollower, Section};
use crate::state::{Measurement, Settings, Song, StateError, plain_name};
use crate::units::SampleRate;
pub use export::Exports;
use kept_record::KeptRecord;
use parking_lot::Mutex;
pub use reference_input::InputRecord;
pub use references::{Measuring, References};
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Shared by the main thread and the editor; the audio thread touches [`Self::status`],
/// [`Self::listening`] and the status of [`Self::input`] alone.
#[derive(Default)]
pub struct Shared {
    /// What the audio thread tells and is told.
    pub status: Arc<Status>,
    /// The gain on the output, and what the audio thread tells of it.
    pub listening: Arc<Listening>,
    /// The records' reading ends, once the plugin was activated.
    sources: Mutex<Option<Sources>>,
    /// Grows when there are other records, so that a reader takes them up.
    sources_generation: AtomicU64,
    /// Rate of the last activation, Hz; 0 before the first.
    rate_hz: AtomicU32,
    settings: Mutex<Settings>,
    /// Settings of a newer version, which cannot be read here: kept as they are, so that saving
    /// the project loses nothing, until the user edits something.
    newer_settings: Mutex<Option<Value>>,
    /// Sections and playthroughs.
    song: Mutex<Song>,
    /// A song of a newer version, kept like [`Self::newer_settings`].
    newer_song: Mutex<Option<Value>>,
    /// Changes whenever [`Self::song`] gives something else.
    song_revision: AtomicU64,
    /// Copies the playthrough that is being played. Locked before [`Self::song`] where both are.
    follower: Mutex<Option<RunFollower>>,
    /// The host's bars, as far as they were seen.
    bars: Mutex<BarMap>,
    /// Changes whenever [`Self::bar_grid`] gives something else.
    bars_revision: AtomicU64,
    /// The name of the host's track, once the host told it; may be empty.
    track: Mutex<String>,
    /// What the audio thread sends to have its tone measured.
    tone_work: Mutex<Option<ToneWork>>,
    /// What became of the last snapshot.
    pub export: Exports,
    /// Reference songs.
    pub references: Arc<References>,
    /// What comes over the reference input.
    pub input: InputRecord,
    /// The measurement out of the project, until there is a new one.
    last_session: Mutex<Option<Measurement>>,
    /// The song record out of the project.
    kept_record: Mutex<KeptRecord>,
}

impl Shared {
    /// `[main-thread]` The host tells the name of the track that the plugin is on.
    pub fn set_track(&self, name: &str) {
        *self.track.lock() = plain_name(name);
    }

    /// The name of the host's track, if the host told one.
    #[must_use]
    pub fn track(&self) -> Option<String> {
        let track = self.track.lock().clone();
        (!track.is_empty()).then_some(track)
    }

    /// `[main-thread]` Puts new records in place, and below the song record what came with the
    /// project.
    pub fn set_sources(&self, sources: Sources) {
        // What the records before were told to the end.
        self.follow(false);
        if let Some(measured) = self.measurement() {
            *self.last_session.lock() = Some(measured);
        }
        let mut kept_record = self.kept_record.lock();
        if let Some(old) = self.sources() {
            kept_record.leave(&old, self.rate());
        }
        kept_record.lay(&sources);
        // From its first new hop on: those of the project were logged when they were played.
        *self.follower.lock() = Some(RunFollower::new(sources.song.clone()));
        *self.sources.lock() = Some(sources);
        self.sources_generation.fetch_add(1, Ordering::Release);
    }

    /// `[main-thread]` The records' reading ends; `None` before the first activation.
    #[must_use]
    pub fn sources(&self) -> Option<Sources> {
        self.sources.lock().clone()
    }

    /// Changes whenever [`Self::sources`] gives other records.
    #[must_use]
    pub fn sources_generation(&self) -> u64 {
        self.sources_generation.load(Ordering::Acquire)
    }

    /// `[main-thread]`
    pub fn set_rate_hz(&self, rate_hz: u32) {
        self.rate_hz.store(rate_hz, Ordering::Relaxed);
    }

    /// `[main-thread]` Brings the reference out of the reference input up to date with what came.
    pub fn refresh_input(&self) {
        let (revision, sections) = {
            let song = self.song.lock();
            (self.song_revision(), song.sections.as_slice().to_vec())
        };
        self.input.refresh(&self.references, &sections, revision);
    }

    /// `[main-thread]` The references as they are to be kept in the project.
    #[must_use]
    pub fn saved_references(&self) -> Value {
        self.refresh_input();
        self.references.saved()
    }

    /// `[main-thread]` The record of the reference input as it is to be kept in the project.
    #[must_use]
    pub fn saved_input(&self) -> Value {
        self.input.saved(self.rate())
    }

    fn rate(&self) -> Option<SampleRate> {
        SampleRate::new(self.rate_hz.load(Ordering::Relaxed)).ok()
    }

    /// A copy of the settings.
    #[must_use]
    pub fn settings(&self) -> Settings {
        self.settings.lock().clone()
    }

    /// `[main-thread]` Changes the settings.
    pub fn edit_settings(&self, edit: impl FnOnce(&mut Settings)) {
        *self.newer_settings.lock() = None;
        edit(&mut self.settings.lock());
    }

    /// `[main-thread]` Takes over saved settings; what cannot be read is logged and changes
    /// nothing.
    pub fn load_settings(&self, saved: &Value) {
        // Another project, or the one from before: nobody asked for a gain there.
        self.listening.stop();
        match Settings::load(saved) {
            Ok((settings, left_out)) => {
                for line in left_out {
                    nice_plug::nice_error!("{line}");
                }
                *self.newer_settings.lock() = None;
                *self.settings.lock() = settings;
            }
            Err(error) => {
                nice_plug::nice_error!("{error}");
                if matches!(error, StateError::TooNew { .. }) {
                    *self.newer_settings.lock() = Some(saved.clone());
                }
            }
        }
    }

    /// `[main-thread]` The settings as they are to be kept in the project.
    #[must_use]
    pub fn saved_settings(&self) -> Value {
        let newer = self.newer_settings.lock().clone();
        newer.unwrap_or_else(|| self.settings().save())
    }

    /// Looks at the song.
    pub fn with_song<R>(&self, look: impl FnOnce(&Song) -> R) -> R {
        look(&self.song.lock())
    }

    /// Changes whenever the song does.
    #[must_use]
    pub fn song_revision(&self) -> u64 {
        self.song_revision.load(Ordering::Acquire)
    }

    /// `[main-thread]` The user changes the song.
    pub fn edit_song<R>(&self, edit: impl FnOnce(&mut Song) -> R) -> R {
        *self.newer_song.lock() = None;
        self.change_song(edit)
    }

    /// `[main-thread, worker]` The song follows what was played; no edit of the user's.
    pub fn change_song<R>(&self, change: impl FnOnce(&mut Song) -> R) -> R {
        let result = change(&mut self.song.lock());
        self.song_revision.fetch_add(1, Ordering::Release);
        result
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

    /// `[worker, main-thread]` Measures the tone of what was played.
    pub fn work_on_tone(&self) {
        self.input.work_on_tone();
        if let Some(work) = self.tone_work.lock().as_mut() {
            work.run();
        }
    }

    /// `[worker, main-thread]` Follows what is played: bars, the end of the song, the playthrough. One
    /// that goes on is logged when it ends, or as far as it is if it is not said to be `playing`.
    pub fn follow(&self, playing: bool) {
        self.see_bar();
        let mut follower = self.follower.lock();
        let Some(follower) = follower.as_mut() else { return };
        let sections: Vec<Section> = self.with_song(|song| song.sections.as_slice().to_vec());
        // One that ended, and the one after it.
        for finished in (0..2).filter_map(|_| follower.poll(playing, &sections)) {
            self.change_song(|song| song.playthroughs.log(finished));
        }
        if let Some(open) = sections.last().filter(|section| section.open) {
            let song_end_s = follower.last_hop().map(|last| hop_seconds(last + 1));
            if song_end_s.is_some_and(|end_s| end_s != open.end_s)
                && self.song.lock().sections.follow_song_end(song_end_s)
            {
                self.song_revision.fetch_add(1, Ordering::Release);
            }
        }
    }

    /// `[main-thread]` Takes over a saved song; what cannot be read is logged and changes nothing.
    pub fn load_song(&self, saved: &Value) {
        match Song::load(saved) {
            Ok((song, left_out)) => {
                for line in left_out {
                    nice_plug::nice_error!("{line}");
                }
                self.edit_song(|present| *present = song);
            }
            Err(error) => {
                nice_plug::nice_error!("{error}");
                if matches!(error, StateError::TooNew { .. }) {
                    *self.newer_song.lock() = Some(saved.clone());
                }
            }
        }
    }

    /// `[main-thread]` The song as it is to be kept in the project.
    #[must_use]
    pub fn saved_song(&self) -> Value {
        // With all that was played until now, so that saving twice saves the same.
        self.follow(false);
        let newer = self.newer_song.lock().clone();
        newer.unwrap_or_else(|| self.with_song(Song::save))
    }

    /// Takes in the bar that the host tells now.
    fn see_bar(&self) {
        let Some(bar) = self.status.bar() else { return };
        if self.bars.lock().see(bar.number, bar.start_s, bar.bar_s) {
            self.bars_revision.fetch_add(1, Ordering::Release);
        }
    }

    /// The host's bars, as far as they were seen; `None` if none was.
    #[must_use]
    pub fn bar_grid(&self) -> Option<BarGrid> {
        self.bars.lock().grid().ok()
    }

    /// Changes whenever the bars do.
    #[must_use]
    pub fn bars_revision(&self) -> u64 {
        self.bars_revision.load(Ordering::Acquire)
    }

    /// `[main-thread]` The present measurement; before there is one, that of the last session.
    #[must_use]
    pub fn measurement(&self) -> Option<Measurement> {
        let rate_hz = self.rate_hz.load(Ordering::Relaxed);
        let measured = self.sources().and_then(|sources| {
            if let Some(loaded) = self.unchanged_measurement(&sources) {
                return Some(loaded);
            }
            // As on screen: the live record counts where the host tells no position.
            let (first, second) = match self.status.transport() {
                Transport::Unknown => (&sources.live, &sources.song),
                Transport::Stopped | Transport::Playing => (&sources.song, &sources.live),
            };
            Measurement::of(first, rate_hz).or_else(|| Measurement::of(second, rate_hz))
        });
        measured.or_else(|| self.last_session())
    }

    /// The measurement that came with the project, if its record did too and nothing was measured
    /// since: to the last digit as it was saved.
    fn unchanged_measurement(&self, sources: &Sources) -> Option<Measurement> {
        let is_unchanged = self.kept_record.lock().is_unchanged(sources);
        let nothing_live = sources.live.newest_playthrough() == 0;
        (is_unchanged && nothing_live).then(|| self.last_session.lock().clone())?
    }

    /// `[main-thread]` Takes over a saved song record: its hops lie below what is measured.
    pub fn load_record(&self, saved: &Value) {
        self.kept_record.lock().load(saved, self.sources().as_ref());
    }

    /// `[main-thread]` The song record as it is to be kept in the project.
    #[must_use]
    pub fn saved_record(&self) -> Value {
        self.kept_record.lock().save(self.sources().as_ref(), self.rate())
    }

    /// The channels of the song record that came with the project, if it cannot be shown because
    /// the host runs the plugin with others.
    #[must_use]
    pub fn left_aside_record(&self) -> Option<Layout> {
        let is_running = self.sources.lock().is_some();
        self.kept_record.lock().left_aside().filter(|_| is_running)
    }

    /// `[main-thread]` Takes over a saved measurement as that of the last session.
    pub fn load_measurement(&self, saved: &Value) {
        match Measurement::load(saved) {
            Ok(measurement) => *self.last_session.lock() = measurement,
            Err(error) => nice_plug::nice_error!("{error}"),
        }
    }

    /// The measurement that came with the project, if there was one. `None` once its hops are in
    /// the song record: what shows is measured there, and a reset forgets it.
    #[must_use]
    pub fn last_session(&self) -> Option<Measurement> {
        if self.kept_record.lock().is_laid() { None } else { self.last_session.lock().clone() }
    }
}
