//! Host parameters, and what is kept in the project.
//!
//! Readings are never parameters: they would flood the host's undo list and mark the project as
//! modified by playing it.

use crate::editor::{MIN_SIZE, ViewPrefs, ZOOM_RANGE};
use crate::shared::Shared;
use nice_plug::params::persist::PersistentField;
use nice_plug::prelude::*;
use parking_lot::Mutex;
use serde_json::Value;
use std::sync::Arc;

/// The plugin's parameters and persisted fields.
#[derive(Params)]
pub struct PlimsollParams {
    /// The host's bypass. Audio passes through either way; while bypassed nothing is measured.
    #[id = "bypass"]
    pub bypass: BoolParam,

    /// Counts the user's edits of what is kept in the project. A host takes a project as modified
    /// when a parameter changes, and by nothing else that a plugin can do here. One that cannot be
    /// automated does not do: there are hosts that pass over it (`tests/cases/real_host.rs`).
    #[id = "edits"]
    pub edits: IntParam,

    /// Targets.
    #[persist = "settings"]
    settings: SettingsField,

    /// Sections and playthroughs.
    #[persist = "song"]
    song: SongField,

    /// Figures of the last measurement.
    #[persist = "measurement"]
    measurement: MeasurementField,

    /// The song record.
    #[persist = "record"]
    record: RecordField,

    /// What reference songs measured.
    #[persist = "references"]
    references: ReferencesField,

    /// The record of the reference input.
    #[persist = "reference_input"]
    reference_input: InputField,

    /// Theme, size and zoom of the editor.
    #[persist = "view"]
    pub view: ViewField,
}

/// Largest side of the editor, logical points: beyond any screen.
const MAX_SIDE: f32 = 16_384.0;

/// Edits are counted up to here and then from zero again.
pub const MAX_EDITS: i32 = 1_000_000;

impl PlimsollParams {
    /// Parameters at their defaults, persisting what `shared` holds.
    #[must_use]
    pub fn new(shared: &Arc<Shared>) -> Self {
        Self {
            // Left to itself the framework takes every text for "off".
            bypass: BoolParam::new("Bypass", false)
                .make_bypass()
                .with_value_to_string(formatters::v2s_bool_bypass())
                .with_string_to_value(formatters::s2v_bool_bypass()),
            edits: IntParam::new("Edits", 0, IntRange::Linear { min: 0, max: MAX_EDITS })
                .hide_in_generic_ui(),
            settings: SettingsField(Arc::clone(shared)),
            song: SongField(Arc::clone(shared)),
            measurement: MeasurementField(Arc::clone(shared)),
            record: RecordField(Arc::clone(shared)),
            references: ReferencesField(Arc::clone(shared)),
            reference_input: InputField(Arc::clone(shared)),
            view: ViewField::default(),
        }
    }
}

/// Takes out saved fields that are not JSON, which the framework would pass over without a word in
/// a release build. A state from before there was a record, references, or a reference input is one without. The count of
/// edits stays where it is: hosts take a project for modified whose parameters move when it is opened.
pub fn drop_unreadable_fields(state: &mut PluginState) {
    state.params.remove("edits");
    for field in ["record", "references", "reference_input"] {
        state.fields.entry(field.to_owned()).or_insert_with(|| Value::Null.to_string());
    }
    state.fields.retain(|field, text| match serde_json::from_str::<Value>(text) {
        Ok(_) => true,
        Err(error) => {
            nice_error!("saved {field} cannot be read ({error}): it is left aside");
            false
        }
    });
}

struct SettingsField(Arc<Shared>);

impl PersistentField<'_, Value> for SettingsField {
    fn set(&self, saved: Value) {
        self.0.load_settings(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&self.0.saved_settings())
    }
}

struct SongField(Arc<Shared>);

impl PersistentField<'_, Value> for SongField {
    fn set(&self, saved: Value) {
        self.0.load_song(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&self.0.saved_song())
    }
}

struct MeasurementField(Arc<Shared>);

impl PersistentField<'_, Value> for MeasurementField {
    fn set(&self, saved: Value) {
        self.0.load_measurement(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        let measurement = self.0.measurement();
        f(&measurement.map_or(Value::Null, |measurement| measurement.save()))
    }
}

struct RecordField(Arc<Shared>);

impl PersistentField<'_, Value> for RecordField {
    fn set(&self, saved: Value) {
        self.0.load_record(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&self.0.saved_record())
    }
}

struct ReferencesField(Arc<Shared>);

impl PersistentField<'_, Value> for ReferencesField {
    fn set(&self, saved: Value) {
        self.0.references.load(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&self.0.saved_references())
    }
}

struct InputField(Arc<Shared>);

impl PersistentField<'_, Value> for InputField {
    fn set(&self, saved: Value) {
        self.0.input.load(&saved);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&self.0.saved_input())
    }
}

/// The editor's preferences: not worth an error if they cannot be read.
#[derive(Default)]
pub struct ViewField {
    prefs: Mutex<ViewPrefs>,
}

impl ViewField {
    /// A copy of the preferences.
    #[must_use]
    pub fn get(&self) -> ViewPrefs {
        *self.prefs.lock()
    }

    /// Replaces the preferences; a size or zoom that no window has becomes the nearest that one has.
    pub fn put(&self, prefs: ViewPrefs) {
        *self.prefs.lock() = within_limits(prefs);
    }

    /// The same, unless they are others than `before`. Gives what the caller has seen now.
    #[must_use]
    pub fn replace(&self, before: ViewPrefs, prefs: ViewPrefs) -> ViewPrefs {
        let mut kept = self.prefs.lock();
        if *kept != before {
            return before;
        }
        *kept = within_limits(prefs);
        *kept
    }
}

fn within_limits(mut prefs: ViewPrefs) -> ViewPrefs {
    let [min_width, min_height] = MIN_SIZE;
    let [min_zoom, max_zoom] = ZOOM_RANGE;
    // `max` and `min` also turn a NaN into a number.
    prefs.width = prefs.width.max(min_width).min(MAX_SIDE);
    prefs.height = prefs.height.max(min_height).min(MAX_SIDE);
    prefs.zoom = prefs.zoom.max(min_zoom).min(max_zoom);
    prefs
}

impl PersistentField<'_, Value> for ViewField {
    fn set(&self, saved: Value) {
        match serde_json::from_value(saved) {
            Ok(prefs) => self.put(prefs),
            Err(error) => nice_warn!("saved view cannot be read ({error}): it stays as it is"),
        }
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Value) -> R,
    {
        f(&serde_json::to_value(self.get()).unwrap_or_default())
    }
}
