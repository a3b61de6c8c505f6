//! What belongs to the song: its name, its sections, and the logs of its playthroughs.

use super::{StateError, check_version};
use crate::section::{Playthrough, Playthroughs, Section, Sections};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the song that this plugin writes.
pub const SONG_VERSION: u32 = 1;

/// Longest name of a song, characters. The project's own choice, no source.
pub const MAX_SONG_NAME_CHARS: usize = 120;

const FIELD: &str = "song";

/// Figures of playthroughs and references are saved to this many decimals: 0.0001 dB, a tenth of what reloaded
/// figures may differ by (issue 4), in a third of the room.
const SAVED_DECIMALS: f64 = 1e4;

/// The song as it is kept in the project.
#[derive(Debug, Clone, Default)]
pub struct Song {
    /// What the user calls it; empty if they did not say.
    pub name: String,
    /// The folder that snapshots of it were saved in last; empty if none was.
    pub folder: String,
    /// Its sections.
    pub sections: Sections,
    /// What was measured in each of the last playthroughs.
    pub playthroughs: Playthroughs,
}

/// A song as it stands in a state of version 1.
#[derive(Serialize, Deserialize)]
struct SavedV1 {
    version: u32,
    #[serde(default)]
    name: String,
    #[serde(default)]
    folder: String,
    sections: Vec<Section>,
    #[serde(default)]
    playthroughs: Vec<Playthrough>,
}

impl Song {
    /// The song as saved in the project.
    #[must_use]
    pub fn save(&self) -> Value {
        let saved = SavedV1 {
            version: SONG_VERSION,
            name: self.name.clone(),
            folder: self.folder.clone(),
            sections: self.sections.as_slice().to_vec(),
            playthroughs: self.playthroughs.as_slice().to_vec(),
        };
        let mut saved = serde_json::to_value(saved).unwrap_or_default();
        if let Some(playthroughs) = saved.get_mut("playthroughs") {
            shorten(playthroughs);
        }
        saved
    }

    /// Reads a saved song of any version so far; `null` is an empty one. Playthroughs that break
    /// a rule are left out and the sections kept; the second value says so, a line each.
    ///
    /// # Errors
    /// A version from the future, or anything malformed.
    pub fn load(saved: &Value) -> Result<(Self, Vec<String>), StateError> {
        if saved.is_null() {
            return Ok(Default::default());
        }
        let malformed = |why: String| StateError::Malformed { field: FIELD, why };
        check_version(saved, FIELD, SONG_VERSION)?;
        let saved = SavedV1::deserialize(saved).map_err(|e| malformed(e.to_string()))?;
        let sections =
            Sections::from_saved(saved.sections).map_err(|e| malformed(e.to_string()))?;
        let mut left_out = Vec::new();
        let playthroughs = Playthroughs::from_saved(saved.playthroughs).unwrap_or_else(|error| {
            left_out.push(format!("saved playthroughs: {error}; they are left out"));
            Playthroughs::default()
        });
        let name = plain_name(&saved.name);
        Ok((Self { name, folder: saved.folder, sections, playthroughs }, left_out))
    }
}

/// `text` as the name of a song: on one line, cut to [`MAX_SONG_NAME_CHARS`].
#[must_use]
pub fn plain_name(text: &str) -> String {
    let one_line = text.chars().map(|c| if c.is_control() { ' ' } else { c });
    let cut: String = one_line.take(MAX_SONG_NAME_CHARS).collect();
    cut.trim().to_owned()
}

/// Rounds every number with a fraction.
pub(super) fn shorten(value: &mut Value) {
    match value {
        Value::Array(values) => values.iter_mut().for_each(shorten),
        Value::Object(fields) => fields.values_mut().for_each(shorten),
        Value::Number(number) if number.is_f64() => {
            let exact = number.as_f64().unwrap_or_default();
            let rounded = (exact * SAVED_DECIMALS).round() / SAVED_DECIMALS;
            // What is too large to be rounded is no figure of ours, and stays.
            *value = if rounded.is_finite() { rounded } else { exact }.into();
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section::{LoggedFigures, LoggedSection, Place};

    fn song() -> Song {
        let mut song = Song { name: "Lantern Tide".to_owned(), ..Song::default() };
        song.sections.add_range(Place::at(0.0), Place::at(10.3), Some("Verse")).unwrap();
        song.sections.mark(Place { at_s: 10.3, bar: Some(5.0) }).unwrap();
        song.playthroughs.add(Playthrough {
            id: 0,
            number: 3,
            pinned_as: Some("less 250 Hz".to_owned()),
            whole: LoggedFigures { integrated_lufs: Some(-14.123_456_7), ..Default::default() },
            start_hop: -20,
            end_hop: 1_000,
            sections: vec![LoggedSection {
                id: 1,
                name: "Verse".to_owned(),
                start_hop: 0,
                end_hop: 1_030,
                figures: Some(LoggedFigures { coverage: 0.9, ..Default::default() }),
            }],
        });
        song
    }

    #[test]
    fn what_is_saved_is_loaded() {
        let song = song();
        let (loaded, left_out) = Song::load(&song.save()).unwrap();
        assert_eq!((loaded.name.as_str(), left_out.len()), ("Lantern Tide", 0));
        assert_eq!(loaded.sections.as_slice(), song.sections.as_slice());
        let [was, is] = [&song, &loaded].map(|song| song.playthroughs.newest().unwrap());
        assert_eq!((is.id, is.number, is.pinned_as.clone()), (1, 3, was.pinned_as.clone()));
        assert_eq!(is.sections, was.sections);
        let [was, is] = [was, is].map(|run| run.whole.integrated_lufs.unwrap());
        assert!((was - is).abs() <= 5e-5);
        // Nothing is lost in the second round.
        assert_eq!(Song::load(&loaded.save()).unwrap().0.save(), loaded.save());
        assert!(Song::load(&Value::Null).unwrap().0.sections.as_slice().is_empty());
    }

    #[test]
    fn saved_songs_that_break_a_rule_are_refused_with_a_reason() {
        let mut saved = song().save();
        saved["sections"][1]["start_s"] = 9.0.into();
        let error = Song::load(&saved).unwrap_err().to_string();
        assert!(error.contains("song") && error.contains('9'), "{error}");
        saved["version"] = 2.into();
        assert!(Song::load(&saved).unwrap_err().to_string().contains("version 2"));
        assert!(Song::load(&serde_json::json!([1])).is_err());
    }

    #[test]
    fn a_bad_playthrough_does_not_take_the_sections_with_it() {
        let mut saved = song().save();
        saved["playthroughs"][0]["id"] = 0.into();
        let (loaded, left_out) = Song::load(&saved).unwrap();
        assert_eq!((loaded.sections.as_slice().len(), left_out.len()), (2, 1));
        assert!(loaded.playthroughs.as_slice().is_empty());
    }

    #[test]
    fn names_are_one_line() {
        assert_eq!(plain_name(" Lantern\nTide\t"), "Lantern Tide");
        assert_eq!(plain_name(&"é".repeat(500)).chars().count(), MAX_SONG_NAME_CHARS);
    }
}
