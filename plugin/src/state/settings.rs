//! What the user chose: targets of their own, the one in use, and those that the song is measured
//! against beside it.

use super::{StateError, check_version};
use crate::target::{Target, built_in_targets};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the settings that this plugin writes.
///
/// Version 2 added `beside`.
pub const SETTINGS_VERSION: u32 = 2;

/// Most targets of the user's own that are kept; a state with more is not one of ours.
const MAX_USER_TARGETS: usize = 200;

const FIELD: &str = "settings";

/// The user's choices, kept in the project.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    built_in: Vec<Target>,
    user_targets: Vec<Target>,
    chosen: usize,
    /// Indices of the targets beside the chosen one, ascending.
    beside: Vec<usize>,
}

/// Settings as they stand in a state of version 2; version 1 had nothing beside.
#[derive(Serialize, Deserialize)]
struct Saved {
    version: u32,
    /// Name of the chosen target.
    target: String,
    /// The user's own targets.
    user_targets: Vec<Target>,
    /// Names of the targets beside the chosen one.
    #[serde(default)]
    beside: Vec<String>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            built_in: built_in_targets(),
            user_targets: Vec::new(),
            chosen: 0,
            beside: Vec::new(),
        }
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
        if index < self.count() {
            self.chosen = index;
        }
    }

    /// Indices of the targets that the song is measured against beside the chosen one, in the order
    /// of the list. The chosen one may be among them: it stays there when another is chosen.
    #[must_use]
    pub fn beside(&self) -> &[usize] {
        &self.beside
    }

    /// Puts the target with this index beside the chosen one, or takes it away; an index beyond the
    /// list changes nothing.
    pub fn set_beside(&mut self, index: usize, is_beside: bool) {
        self.beside.retain(|other| *other != index);
        if is_beside && index < self.count() {
            self.beside.push(index);
            self.beside.sort_unstable();
        }
    }

    const fn count(&self) -> usize {
        self.built_in.len() + self.user_targets.len()
    }

    /// Adds a target of the user's own and chooses it. A name that is taken gets a number.
    pub fn add(&mut self, mut target: Target) {
        if self.user_targets.len() < MAX_USER_TARGETS {
            target.name = self.free_name(&target.name, None);
            self.user_targets.push(target);
            self.chosen = self.count() - 1;
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
            self.set_beside(index, false);
            for other in self.beside.iter_mut().filter(|other| **other > index) {
                *other -= 1;
            }
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
        let name = |index: usize| self.targets().nth(index).map(|target| target.name.clone());
        let saved = Saved {
            version: SETTINGS_VERSION,
            target: name(self.chosen).unwrap_or_default(),
            user_targets: self.user_targets.clone(),
            beside: self.beside.iter().filter_map(|index| name(*index)).collect(),
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
        let saved = Saved::deserialize(saved).map_err(|e| malformed(e.to_string()))?;
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
        for name in &saved.beside {
            // The user's own come last, and first into question.
            let names: Vec<&str> = settings.targets().map(|target| target.name.as_str()).collect();
            match names.iter().rposition(|other| other == name) {
                Some(index) => settings.set_beside(index, true),
                None => left_out.push(format!(
                    "saved target \"{name}\" is not in the list any more; it is not shown beside"
                )),
            }
        }
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
        settings.set_beside(settings.built_in_count() + 1, true);
        settings.set_beside(3, true);
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
    fn targets_beside_the_chosen_one_follow_the_list() {
        let mut settings = Settings::default();
        settings.add(own("Label A"));
        settings.add(own("Label B"));
        let [a, b] = [settings.built_in_count(), settings.built_in_count() + 1];
        for index in [b, 0, a, 0, 9_999] {
            settings.set_beside(index, true);
        }
        assert_eq!(settings.beside(), [0, a, b]);
        settings.delete(a);
        assert_eq!(settings.beside(), [0, a], "B has moved up");
        settings.set_beside(0, false);
        assert_eq!(settings.beside(), [a]);
        // One that is gone is said, and the others stay.
        let mut saved = settings.save();
        saved["beside"] = serde_json::json!(["gone", "Label B"]);
        let (loaded, said) = Settings::load(&saved).unwrap();
        assert_eq!(loaded.beside(), [a]);
        assert!(said.iter().any(|line| line.contains("gone")), "{said:?}");
    }

    #[test]
    fn a_state_of_version_1_has_nothing_beside() {
        let saved = r#"{"version":1,"target":"Podcast, −16","user_targets":[]}"#;
        let (loaded, said) = Settings::load(&serde_json::from_str(saved).unwrap()).unwrap();
        assert_eq!((loaded.beside(), said.len()), (&[][..], 0));
    }

    #[test]
    fn states_that_are_not_ours_are_refused_with_a_reason() {
        let load = |text: &str| {
            Settings::load(&serde_json::from_str(text).unwrap()).map_err(|e| e.to_string())
        };
        assert!(load("{}").unwrap_err().contains("missing field `version`"));
        assert!(load("[1, 2]").is_err());
        assert!(load(r#"{"version":3}"#).unwrap_err().contains("version 3"));
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
