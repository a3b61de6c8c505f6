//! What the threads of one plugin instance share. Locks here are for the main and editor threads
//! only; the audio thread has its own ends of everything (see [`crate::audio::Outputs`]).

mod kept_record;

use crate::audio::{Sources, Status, Transport};
use crate::meters::layout::Layout;
use crate::state::{Measurement, Settings, StateError};
use crate::units::SampleRate;
use kept_record::KeptRecord;
use parking_lot::Mutex;
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Shared by the main thread and the editor; the audio thread touches [`Self::status`] alone.
#[derive(Default)]
pub struct Shared {
    /// What the audio thread tells and is told.
    pub status: Arc<Status>,
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
    /// The measurement out of the project, until there is a new one.
    last_session: Mutex<Option<Measurement>>,
    /// The song record out of the project.
    kept_record: Mutex<KeptRecord>,
}

impl Shared {
    /// `[main-thread]` Puts new records in place, and below the song record what came with the
    /// project.
    pub fn set_sources(&self, sources: Sources) {
        if let Some(measured) = self.measurement() {
            *self.last_session.lock() = Some(measured);
        }
        let mut kept_record = self.kept_record.lock();
        if let Some(old) = self.sources() {
            kept_record.leave(&old, self.rate());
        }
        kept_record.lay(&sources);
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
