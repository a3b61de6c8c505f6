//! What the user chose: targets of their own and the one in use.

use super::{StateError, check_version};
use crate::target::{Target, built_in_targets};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the settings that this plugin writes.
pub const SETTINGS_VERSION: u32 = 1;

/// Most targets of the user's own that are kept; a state with more is not one of ours.
const MAX_USER_TARGETS: usize = 200;

const FIELD: &str = "settings";

/// The user's choices, kept in the project.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    built_in: Vec<Target>,
    user_targets: Vec<Target>,
    chosen: usize,
}

/// Settings as they stand in a state of version 1.
#[derive(Serialize, Deserialize)]
struct SavedV1 {
    version: u32,
    /// Name of the chosen target.
    target: String,
    /// The user's own targets.
    user_targets: Vec<Target>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { built_in: built_in_targets(), user_targets: Vec::new(), chosen: 0 }
    }
}

impl Settings {
    /// All targets: the built-in ones, then the user's own.
    pub fn targets(&self) -> impl Iterator<Item = &Target> {
        self.built_in.iter().chain(&self.user_targets)
    }

    /// How many of the targets are built in.
    #[must_use]
    pub const fn built_in_count(&self) -> usize {
        self.built_in.len()
    }

    /// Index of the chosen target among [`Self::targets`].
    #[must_use]
    pub const fn chosen(&self) -> usize {
        self.chosen
    }

    /// The chosen target.
    #[must_use]
    pub fn chosen_target(&self) -> Option<&Target> {
        self.targets().nth(self.chosen)
    }

    /// Chooses the target with this index; an index beyond the list changes nothing.
    pub fn choose(&mut self, index: usize) {
        if index < self.built_in.len() + self.user_targets.len() {
            self.chosen = index;
        }
    }

    /// Adds a target of the user's own and chooses it. A name that is taken gets a number.
    pub fn add(&mut self, mut target: Target) {
        if self.user_targets.len() < MAX_USER_TARGETS {
            target.name = self.free_name(&target.name, None);
            self.user_targets.push(target);
            self.chosen = self.built_in.len() + self.user_targets.len() - 1;
        }
    }

    /// Replaces the user's target with this index; built-in ones stay as they are.
    pub fn replace(&mut self, index: usize, mut target: Target) {
        target.name = self.free_name(&target.name, Some(index));
        if let Some(slot) = self.user_target_mut(index) {
            *slot = target;
        }
    }

    /// Deletes the user's target with this index; built-in ones stay. Where it was the chosen
    /// one, the one before it is chosen.
    pub fn delete(&mut self, index: usize) {
        if self.user_target_mut(index).is_some() {
            self.user_targets.remove(index - self.built_in.len());
            if self.chosen >= index {
                self.chosen = self.chosen.saturating_sub(1);
            }
        }
    }

    fn user_target_mut(&mut self, index: usize) -> Option<&mut Target> {
        self.user_targets.get_mut(index.checked_sub(self.built_in.len())?)
    }

    fn free_name(&self, wanted: &str, except: Option<usize>) -> String {
        let wanted = wanted.trim();
        let taken = |name: &str| {
            self.targets()
                .enumerate()
                .any(|(index, target)| Some(index) != except && target.name == name)
        };
        let numbered = (2..).map(|n| format!("{wanted} {n}"));
        std::iter::once(wanted.to_owned())
            .chain(numbered)
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// The settings as saved in the project.
    #[must_use]
    pub fn save(&self) -> Value {
        let saved = SavedV1 {
            version: SETTINGS_VERSION,
            target: self.chosen_target().map_or_else(String::new, |target| target.name.clone()),
            user_targets: self.user_targets.clone(),
        };
        serde_json::to_value(saved).unwrap_or_default()
    }

    /// Reads saved settings of any version so far. A target that breaks its rules is left out, and
    /// the rest is kept; the second value says what was left out and why, a line each.
    ///
    /// # Errors
    /// A version from the future, or anything malformed.
    pub fn load(saved: &Value) -> Result<(Self, Vec<String>), StateError> {
        let malformed = |why: String| StateError::Malformed { field: FIELD, why };
        check_version(saved, FIELD, SETTINGS_VERSION)?;
        let saved = SavedV1::deserialize(saved).map_err(|e| malformed(e.to_string()))?;
        if saved.user_targets.len() > MAX_USER_TARGETS {
            let count = saved.user_targets.len();
            return Err(malformed(format!("{count} targets, at most {MAX_USER_TARGETS}")));
        }
        let mut settings = Self::default();
        let mut left_out = Vec::new();
        // The user's own come first: a later built-in may have taken the name since.
        let mut chosen = None;
        for target in saved.user_targets {
            if let Err(error) = target.validate() {
                left_out.push(format!("saved target \"{}\": {error}; it is left out", target.name));
                continue;
            }
            let is_chosen = target.name == saved.target;
            settings.add(target);
            if is_chosen {
                chosen = Some(settings.chosen);
            }
        }
        let chosen = chosen
            .or_else(|| settings.built_in.iter().position(|target| target.name == saved.target));
        if chosen.is_none() {
            let default = settings.built_in.first().map_or("", |target| &target.name);
            left_out.push(format!(
                "saved target \"{}\" is not in the list any more; \"{default}\" is chosen",
                saved.target
            ));
        }
        settings.chosen = chosen.unwrap_or(0);
        Ok((settings, left_out))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(name: &str) -> Target {
        Target { name: name.to_owned(), ..built_in_targets().remove(0) }
    }

    #[test]
    fn what_is_saved_is_loaded() {
        let mut settings = Settings::default();
        settings.add(own("Label A"));
        settings.add(own("Label B"));
        settings.choose(settings.built_in_count());
        assert_eq!(Settings::load(&settings.save()), Ok((settings.clone(), Vec::new())));
        assert_eq!(settings.chosen_target().unwrap().name, "Label A");
    }

    #[test]
    fn names_stay_unique() {
        let mut settings = Settings::default();
        let first = built_in_targets().remove(0).name;
        settings.add(own(&first));
        settings.add(own(&first));
        let names: Vec<_> = settings.targets().map(|target| target.name.clone()).collect();
        assert!(names.contains(&format!("{first} 2")));
        assert!(names.contains(&format!("{first} 3")));
        // Saving an edit under its own name is no clash.
        let index = settings.built_in_count();
        settings.replace(index, own(&format!("{first} 2")));
        assert_eq!(settings.targets().nth(index).unwrap().name, format!("{first} 2"));
    }

    #[test]
    fn built_in_targets_cannot_be_changed_or_deleted() {
        let mut settings = Settings::default();
        settings.replace(0, own("Mine"));
        settings.delete(0);
        assert_eq!(settings, Settings::default());
    }

    #[test]
    fn deleting_the_chosen_target_chooses_the_one_before() {
        let mut settings = Settings::default();
        settings.add(own("Mine"));
        let index = settings.chosen();
        settings.delete(index);
        assert_eq!(settings.chosen(), index - 1);
        settings.choose(9_999);
        assert_eq!(settings.chosen(), index - 1);
    }

    #[test]
    fn states_that_are_not_ours_are_refused_with_a_reason() {
        let load = |text: &str| {
            Settings::load(&serde_json::from_str(text).unwrap()).map_err(|e| e.to_string())
        };
        assert!(load("{}").unwrap_err().contains("missing field `version`"));
        assert!(load("[1, 2]").is_err());
        assert!(load(r#"{"version":2}"#).unwrap_err().contains("version 2"));
        let broken = r#"{"version":1,"target":"x","user_targets":[{"name":"x","source":"",
            "integrated":{"loudness":14.0,"below":null,"above":1.0},"true_peak_ceiling":null,
            "max_short_term":null,"max_momentary":null,"max_loudness_range":null,
            "peak_window":null}]}"#;
        // One target that breaks its rules does not take the others with it.
        let (settings, left_out) = load(broken).unwrap();
        assert_eq!(settings, Settings::default());
        assert!(left_out.iter().any(|line| line.contains("integrated loudness 14 LUFS")));
    }

    #[test]
    fn a_built_in_target_of_the_same_name_does_not_take_the_choice() {
        let mut settings = Settings::default();
        let mut mine = own("Mine");
        mine.true_peak_ceiling = Some(crate::units::Dbtp(-3.0));
        settings.add(mine);
        let mut saved = settings.save();
        let taken = built_in_targets().remove(0).name;
        saved["target"] = taken.clone().into();
        saved["user_targets"][0]["name"] = taken.into();
        let (loaded, left_out) = Settings::load(&saved).unwrap();
        assert!(left_out.is_empty());
        let chosen = loaded.chosen_target().unwrap();
        assert_eq!(chosen.true_peak_ceiling, Some(crate::units::Dbtp(-3.0)));
    }

    #[test]
    fn a_target_that_no_longer_exists_falls_back_to_the_default() {
        let saved = r#"{"version":1,"target":"gone","user_targets":[]}"#;
        let (loaded, said) = Settings::load(&serde_json::from_str(saved).unwrap()).unwrap();
        assert_eq!(loaded, Settings::default());
        assert!(said.iter().any(|line| line.contains("gone")));
    }
}
