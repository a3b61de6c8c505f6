//! The song record that came with the project: where it lies, and what is saved in its place.

use crate::audio::Sources;
use crate::meters::layout::Layout;
use crate::record::BaseHops;
use crate::state::{Recording, StateError};
use crate::units::SampleRate;
use serde_json::Value;
use std::sync::Arc;

/// What was loaded, and what was saved last.
#[derive(Default)]
pub(super) struct KeptRecord {
    /// As it was loaded, or as an earlier record with other channels was left; `Null` for none.
    saved: Value,
    /// Its hops, if they can be read here.
    hops: Option<Arc<BaseHops>>,
    /// The song record's revision when the hops were put below it; `None` while they are not.
    laid_at: Option<u64>,
    /// The song record's revision, and as what it was saved then: saving again costs nothing.
    encoded: Option<(u64, Value)>,
}

impl KeptRecord {
    /// Takes over a saved record; what cannot be read is logged and changes nothing.
    pub fn load(&mut self, saved: &Value, sources: Option<&Sources>) {
        let hops = match Recording::load(saved) {
            Ok(recording) => recording.map(|recording| Arc::new(recording.hops)),
            Err(error) => {
                nice_plug::nice_error!("{error}");
                if !matches!(error, StateError::TooNew { .. }) {
                    return;
                }
                // Kept for the version that can read it.
                None
            }
        };
        *self = Self { saved: saved.clone(), hops, ..Self::default() };
        if let Some(sources) = sources {
            self.lay(sources);
        }
    }

    /// Other records take the place of `old`: what that holds is not lost. Without hops it gives
    /// way to what was loaded.
    pub fn leave(&mut self, old: &Sources, rate: Option<SampleRate>) {
        let hops = BaseHops::of(&old.song);
        self.encoded = None;
        if hops.hop_count() > 0 {
            self.saved = rate.map_or(Value::Null, |rate| Recording::save(&old.song, rate));
            self.hops = Some(Arc::new(hops));
        } else if self.laid_at.is_some() {
            // It was there and was reset.
            *self = Self::default();
        }
        self.laid_at = None;
    }

    /// Puts the hops below the song record of `sources`, if they were measured in its channels.
    pub fn lay(&mut self, sources: &Sources) {
        self.encoded = None;
        match sources.song.load(self.hops.clone()) {
            Ok(()) => self.laid_at = self.hops.as_ref().map(|_| sources.song.revision()),
            Err(error) => {
                nice_plug::nice_error!("{error}");
                self.laid_at = None;
                // Hops that lie there came with a state that was loaded before.
                let _ = sources.song.load(None);
            }
        }
    }

    /// The song record as it is to be kept in the project: what was loaded until that changes.
    pub fn save(&mut self, sources: Option<&Sources>, rate: Option<SampleRate>) -> Value {
        let Some((sources, rate)) = sources.zip(rate) else { return self.saved.clone() };
        // Before it is read: what is written meanwhile is for the next time.
        let revision = sources.song.revision();
        if self.laid_at == Some(revision) {
            return self.saved.clone();
        }
        if let Some((_, encoded)) = self.encoded.as_ref().filter(|(at, _)| *at == revision) {
            return encoded.clone();
        }
        let mut saved = Recording::save(&sources.song, rate);
        if saved.is_null() && self.laid_at.is_none() {
            // Nothing was measured, and what was loaded cannot be shown here.
            saved = self.saved.clone();
        }
        self.encoded = Some((revision, saved.clone()));
        saved
    }

    /// Whether what was loaded lies below the song record.
    pub fn is_laid(&self) -> bool {
        self.laid_at.is_some()
    }

    /// Whether it does, and nothing has changed since.
    pub fn is_unchanged(&self, sources: &Sources) -> bool {
        self.laid_at == Some(sources.song.revision())
    }

    /// The channels of what was loaded, if that is left aside because the host runs the plugin
    /// with others.
    pub fn left_aside(&self) -> Option<Layout> {
        self.hops.as_ref().filter(|_| self.laid_at.is_none()).map(|hops| hops.layout())
    }
}
