//! A song beside one or several references.

use super::roles::{counterpart, place, role};
use super::{Observation, Pool, Profile, Reference};
use crate::record::hop_seconds;
use crate::section::{LogEntry, Measured};

/// A stretch of ours beside what it answers to.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// The section's id; `None` for the whole song.
    pub id: Option<u32>,
    /// Its name; empty for the whole song.
    pub name: String,
    /// What it is held against: the name of the section in each reference, in the order of
    /// [`Comparison::names`]; `None` where that has none that answers to it, and for whole songs.
    pub their_names: Vec<Option<String>>,
    /// Ours.
    pub ours: Pool,
    /// Theirs. Where no reference has a section that answers to ours, the whole references.
    pub theirs: Pool,
    /// Whether [`Self::theirs`] are whole songs.
    pub against_whole: bool,
}

/// A song beside the references that are used, at equal loudness.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The references' names.
    pub names: Vec<String>,
    /// The whole song.
    pub whole: Stretch,
    /// Every section that was measured, in song order.
    pub sections: Vec<Stretch>,
    /// What differs enough to be told.
    pub observations: Vec<Observation>,
}

impl Stretch {
    /// Runs of adjoining bands that lie outside of the range of the references by
    /// [`BANDS_FROM_DB`](super::BANDS_FROM_DB) or more, in this stretch: first band, last band, and the
    /// average of by how much, dB.
    #[must_use]
    pub fn band_runs(&self) -> Vec<([usize; 2], f64)> {
        let found = super::observation::runs(&self.ours, &self.theirs).into_iter();
        found.map(|(bands, by_db, _)| ([*bands.start(), *bands.end()], by_db)).collect()
    }
}

impl Comparison {
    /// Compares a song that measures `whole`, and its sections in `log`, with those of `references`
    /// that are used. `None` if none is, or nothing was measured.
    #[must_use]
    pub fn new(whole: &Measured, log: &[LogEntry], references: &[Reference]) -> Option<Self> {
        let used: Vec<&Reference> = references.iter().filter(|other| other.is_used).collect();
        let wholes: Vec<&Profile> = used.iter().map(|reference| &reference.whole).collect();
        let their_whole = Pool::of(&wholes)?;
        let ours = Profile::from(whole);
        ours.figures.integrated_lufs?;
        let whole = Stretch {
            id: None,
            name: String::new(),
            their_names: vec![None; used.len()],
            ours: Pool::of(&[&ours])?,
            theirs: their_whole.clone(),
            against_whole: true,
        };

        let measured: Vec<(&LogEntry, Profile)> = log
            .iter()
            .map(|entry| (entry, Profile::from(&entry.measured)))
            .filter(|(_, profile)| profile.figures.integrated_lufs.is_some())
            .collect();
        let names: Vec<&str> = measured.iter().map(|(entry, _)| entry.name.as_str()).collect();
        let starts_s: Vec<f64> =
            measured.iter().map(|(entry, _)| hop_seconds(entry.range.start)).collect();
        let answers: Vec<Vec<Option<usize>>> =
            (0..).zip(&starts_s).map(|(at, &at_s)| answers_to(&names, at, at_s, &used)).collect();
        let mut sections = Vec::new();
        for ((entry, profile), answers) in measured.iter().zip(&answers) {
            let theirs = Pool::of(&profiles(&used, answers));
            sections.push(Stretch {
                id: Some(entry.id),
                name: entry.name.clone(),
                their_names: answers
                    .iter()
                    .zip(&used)
                    .map(|(at, reference)| Some(reference.sections.get((*at)?)?.name.clone()))
                    .collect(),
                ours: Pool::of(&[profile])?,
                against_whole: theirs.is_none(),
                theirs: theirs.unwrap_or_else(|| their_whole.clone()),
            });
        }

        let mut roles: Vec<String> = Vec::new();
        for name in &names {
            let role = role(name);
            if !roles.contains(&role) {
                roles.push(role);
            }
        }
        let mut places = Vec::new();
        for role in &roles {
            let of_role = || {
                (0..names.len())
                    .filter(|at| names.get(*at).is_some_and(|n| super::roles::role(n) == *role))
            };
            let ours: Vec<&Profile> =
                of_role().filter_map(|at| measured.get(at)).map(|(_, profile)| profile).collect();
            // Each of theirs once, however many of ours answer to it.
            let mut theirs: Vec<&Profile> = Vec::new();
            for profile in
                of_role().filter_map(|at| answers.get(at)).flat_map(|a| profiles(&used, a))
            {
                if !theirs.iter().any(|known| std::ptr::eq(*known, profile)) {
                    theirs.push(profile);
                }
            }
            let told: Vec<&str> = of_role().filter_map(|at| names.get(at).copied()).collect();
            if let (Some(ours), Some(theirs)) = (Pool::of(&ours), Pool::of(&theirs)) {
                places.push((place(role, &told), ours, theirs));
            }
        }
        let observations =
            Observation::all(used.len(), (&whole.ours, &whole.theirs), &places, roles.len());
        let names = used.iter().map(|reference| reference.name.clone()).collect();
        Some(Self { names, whole, sections, observations })
    }

    /// The section with this id beside what it answers to, or the whole song.
    #[must_use]
    pub fn stretch(&self, id: Option<u32>) -> &Stretch {
        let section = self.sections.iter().find(|section| id.is_some() && section.id == id);
        section.unwrap_or(&self.whole)
    }
}

/// For each reference the section that answers to number `at` of ours, which starts at `start_s`
/// seconds.
fn answers_to(names: &[&str], at: usize, start_s: f64, used: &[&Reference]) -> Vec<Option<usize>> {
    let of = |reference: &&Reference| {
        // It plays beside our song: what answers is what is heard at the same time.
        if reference.is_input {
            return reference.section_at(start_s);
        }
        let theirs: Vec<&str> =
            reference.sections.iter().map(|section| section.name.as_str()).collect();
        counterpart(names, at, &theirs)
    };
    used.iter().map(of).collect()
}

fn profiles<'a>(used: &[&'a Reference], answers: &[Option<usize>]) -> Vec<&'a Profile> {
    let pairs = used.iter().zip(answers);
    pairs.filter_map(|(reference, at)| Some(&reference.sections.get((*at)?)?.profile)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::testing::{Sound, log, reference, references};
    use super::*;

    #[test]
    fn sections_answer_to_those_of_the_same_name_or_to_the_whole() {
        let ours = log(&[("Verse 1", Sound::default()), ("Bridge", Sound::default())]);
        let whole = Sound::default().measured();
        let comparison = Comparison::new(&whole, &ours, &references()).unwrap();
        // "Flood" is not used.
        assert_eq!(comparison.names, ["Copper Weather", "Ebb"]);
        let verse = comparison.stretch(Some(1));
        assert_eq!(verse.their_names, [Some("Verse".to_owned()), None]);
        assert_eq!((verse.theirs.count, verse.against_whole), (1, false));
        let bridge = comparison.stretch(Some(2));
        assert_eq!((bridge.theirs.count, bridge.against_whole), (2, true));
        assert_eq!(bridge.theirs, comparison.whole.theirs);
        assert_eq!(comparison.stretch(None), &comparison.whole);
        assert_eq!(comparison.stretch(Some(77)), &comparison.whole);
    }

    #[test]
    fn of_the_reference_input_what_is_heard_at_the_same_time_answers() {
        let ours = log(&[
            ("Chorus", Sound::default()),
            ("Verse", Sound::default()),
            ("Chorus", Sound::default()),
        ]);
        let mut input = reference(
            1,
            "Reference input",
            Sound::default(),
            &[
                ("Chorus", Sound::changed(0, 5, 1.0)),
                ("A", Sound::default()),
                ("Chorus", Sound::changed(6, 9, 3.0)),
            ],
        );
        let of = |input: &Reference, id: u32| {
            let comparison =
                Comparison::new(&Sound::default().measured(), &ours, std::slice::from_ref(input));
            let comparison = comparison.unwrap();
            let stretch = comparison.stretch(Some(id));
            (stretch.theirs.clone(), stretch.their_names[0].clone())
        };
        let third = Pool::of(&[&input.sections[2].profile]).unwrap();
        // By their names the first of theirs answers to both.
        assert_ne!(of(&input, 3).0, third);
        input.is_input = true;
        assert_eq!(of(&input, 3), (third, Some("Chorus".to_owned())));
        assert_eq!(of(&input, 2).1.as_deref(), Some("A"));
        // Nothing was heard beside the last chorus: no other one stands for it.
        input.sections.pop();
        assert_eq!(of(&input, 3).1, None);
    }

    #[test]
    fn averages_are_of_decibels_at_equal_loudness() {
        let quiet = Sound { integrated_lufs: -30.0, ..Sound::changed(10, 12, 3.0) };
        let two = [reference(1, "", quiet, &[]), reference(2, "", Sound::default(), &[])];
        let comparison = Comparison::new(&Sound::default().measured(), &[], &two).unwrap();
        let band = |band| comparison.whole.ours.band(&comparison.whole.theirs, band).unwrap();
        assert!((band(11).by() + 1.5).abs() < 1e-9 && band(11).beyond() == 0.0);
        assert!(band(20).by().abs() < 1e-9);
        // Seconds lie 1 dB to either side of a level.
        let [low, high] = comparison.whole.theirs.spread[20].unwrap();
        assert!((high - low - 2.0).abs() < 1e-9, "{low} {high}");
    }

    #[test]
    fn nothing_used_or_nothing_measured_is_no_comparison() {
        let whole = Sound::default().measured();
        assert!(Comparison::new(&whole, &[], &[]).is_none());
        let mut unused = references();
        unused.iter_mut().for_each(|reference| reference.is_used = false);
        assert!(Comparison::new(&whole, &[], &unused).is_none());
        assert!(Comparison::new(&Measured::default(), &[], &references()).is_none());
    }
}
