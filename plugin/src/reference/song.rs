//! What is kept of a reference song.

use crate::section::{LogEntry, LoggedFigures, Measured};
use crate::tone::Tone;
use std::fmt;

/// Most references that are kept, beside that of the reference input. The project's own choice, no
/// source.
pub const MAX_REFERENCES: usize = 8;

/// Most sections of a reference; those beyond are left out. The project's own choice, no source.
pub const MAX_REFERENCE_SECTIONS: usize = 32;

/// What the reference input is called, until the user says otherwise.
const INPUT_NAME: &str = "Reference input";

/// Longest name, characters. The project's own choice, no source.
const MAX_NAME_CHARS: usize = 120;

/// What a stretch of a song measures, as far as it is compared.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Profile {
    /// Loudness, peaks and ratios.
    pub figures: LoggedFigures,
    /// Tone and width; `None` if no second of the stretch counts.
    pub tone: Option<Box<Tone>>,
}

impl From<&Measured> for Profile {
    fn from(measured: &Measured) -> Self {
        Self { figures: LoggedFigures::from(measured), tone: measured.tone.clone() }
    }
}

/// A section of a reference.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceSection {
    /// Its name.
    pub name: String,
    /// Its start, seconds from the start of the song.
    pub start_s: f64,
    /// Its end, seconds.
    pub end_s: f64,
    /// What it measures.
    pub profile: Profile,
}

/// A song to compare with: its measurement, never its sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Number that tells it from the others; above 0.
    pub id: u32,
    /// What the user calls it.
    pub name: String,
    /// Length, seconds.
    pub length_s: f64,
    /// Whether it is compared with now.
    pub is_used: bool,
    /// Whether it came over the reference input; at most one did. Its sections are those of our song,
    /// at the same song time.
    pub is_input: bool,
    /// What the whole of it measures.
    pub whole: Profile,
    /// Its sections, in the order of time; empty if it has none.
    pub sections: Vec<ReferenceSection>,
}

impl Reference {
    /// A song of `length_s` seconds out of its measurement; its id is still to be given.
    #[must_use]
    pub fn new(name: &str, length_s: f64, whole: &Measured, log: &[LogEntry]) -> Self {
        let sections = log.iter().take(MAX_REFERENCE_SECTIONS).map(|entry| ReferenceSection {
            name: entry.name.clone(),
            start_s: crate::record::hop_seconds(entry.range.start),
            end_s: crate::record::hop_seconds(entry.range.end).min(length_s),
            profile: Profile::from(&entry.measured),
        });
        Self {
            id: 0,
            name: plain_name(name),
            length_s,
            is_used: true,
            is_input: false,
            whole: Profile::from(whole),
            sections: sections.collect(),
        }
    }

    /// What came over the reference input up to song time `end_s`, seconds; sections are those of
    /// our song, as far as they were measured. `None` if there is no loudness to compare at.
    #[must_use]
    pub fn of_input(end_s: f64, whole: &Measured, log: &[LogEntry]) -> Option<Self> {
        let has_loudness = |measured: &Measured| {
            measured.figures.integrated.is_some_and(|integrated| integrated.0.is_finite())
        };
        let measured: Vec<LogEntry> = log
            .iter()
            .filter(|entry| entry.range.start >= 0 && has_loudness(&entry.measured))
            .filter(|entry| crate::record::hop_seconds(entry.range.start) < end_s)
            .cloned()
            .collect();
        let new = Self::new(INPUT_NAME, end_s, whole, &measured);
        (has_loudness(whole) && end_s > 0.0).then_some(Self { is_input: true, ..new })
    }

    /// The section at the song time `start_s`, seconds, to half a hop.
    pub(super) fn section_at(&self, start_s: f64) -> Option<usize> {
        self.sections.iter().position(|section| (section.start_s - start_s).abs() < 0.005)
    }
}

/// What is wrong with a reference, or with a list of them.
#[derive(Debug, Clone, PartialEq)]
pub enum ReferenceError {
    /// There would be more than [`MAX_REFERENCES`].
    TooMany,
    /// More than one came over the reference input.
    TwoInputs,
    /// No reference has this id.
    NoSuchReference {
        /// The id.
        id: u32,
    },
    /// Two have the same id, or one has 0.
    BadId {
        /// The id.
        id: u32,
    },
    /// A name that is empty or too long.
    BadName {
        /// How many characters it has.
        chars: usize,
    },
    /// More than [`MAX_REFERENCE_SECTIONS`].
    TooManySections {
        /// How many.
        count: usize,
    },
    /// Times that are no numbers, or out of order.
    BadTime {
        /// The name of the reference.
        name: String,
        /// The time, seconds.
        at_s: f64,
    },
}

impl fmt::Display for ReferenceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooMany => {
                write!(f, "too many references: at most {MAX_REFERENCES} are kept; remove one")
            }
            Self::TwoInputs => {
                write!(f, "two references of the reference input: there is only one input")
            }
            Self::NoSuchReference { id } => {
                write!(f, "reference {id}: there is none with this number")
            }
            Self::BadId { id } => {
                write!(f, "reference {id}: numbers must be above 0 and all different")
            }
            Self::BadName { chars } => write!(
                f,
                "name of {chars} characters: a reference needs one of 1 to {MAX_NAME_CHARS}"
            ),
            Self::TooManySections { count } => {
                write!(f, "{count} sections: a reference has at most {MAX_REFERENCE_SECTIONS}")
            }
            Self::BadTime { name, at_s } => {
                write!(f, "reference \"{name}\": {at_s} s is no time of it")
            }
        }
    }
}

impl std::error::Error for ReferenceError {}

/// Checks a whole list, as it was saved.
///
/// # Errors
/// The first rule that is broken, with its value.
pub fn check_list(references: &[Reference]) -> Result<(), ReferenceError> {
    let inputs = references.iter().filter(|reference| reference.is_input).count();
    if inputs > 1 {
        return Err(ReferenceError::TwoInputs);
    }
    if references.len() - inputs > MAX_REFERENCES {
        return Err(ReferenceError::TooMany);
    }
    for (index, reference) in references.iter().enumerate() {
        let id = reference.id;
        let before = references.get(..index).unwrap_or_default();
        if id == 0 || before.iter().any(|other| other.id == id) {
            return Err(ReferenceError::BadId { id });
        }
        check_name(&reference.name)?;
        let count = reference.sections.len();
        if count > MAX_REFERENCE_SECTIONS {
            return Err(ReferenceError::TooManySections { count });
        }
        let times = reference.sections.iter().flat_map(|section| [section.start_s, section.end_s]);
        let mut last_s = 0.0;
        for at_s in times.chain([reference.length_s]) {
            if !at_s.is_finite() || at_s < last_s {
                return Err(ReferenceError::BadTime { name: reference.name.clone(), at_s });
            }
            last_s = at_s;
        }
        reference.sections.iter().try_for_each(|section| check_name(&section.name))?;
    }
    Ok(())
}

/// Adds a reference that was just measured, and gives it its id.
///
/// # Errors
/// There are enough already.
pub(crate) fn add(list: &mut Vec<Reference>, mut new: Reference) -> Result<u32, ReferenceError> {
    let files = list.iter().filter(|reference| !reference.is_input).count();
    if files >= MAX_REFERENCES {
        return Err(ReferenceError::TooMany);
    }
    let id = next_id(list);
    new.id = id;
    list.push(new);
    Ok(id)
}

/// Puts what was measured over the reference input in place of what was there; the name and whether
/// it is used stay as the user has them.
pub(crate) fn put_input(list: &mut Vec<Reference>, new: Reference) {
    if let Some(old) = list.iter_mut().find(|reference| reference.is_input) {
        let name = std::mem::take(&mut old.name);
        *old = Reference { id: old.id, name, is_used: old.is_used, is_input: true, ..new };
    } else {
        list.push(Reference { id: next_id(list), is_input: true, ..new });
    }
}

fn next_id(list: &[Reference]) -> u32 {
    list.iter().map(|reference| reference.id).max().unwrap_or(0).saturating_add(1)
}

/// The reference with this id.
///
/// # Errors
/// There is none.
pub(crate) fn find(list: &mut [Reference], id: u32) -> Result<&mut Reference, ReferenceError> {
    let found = list.iter_mut().find(|reference| reference.id == id);
    found.ok_or(ReferenceError::NoSuchReference { id })
}

impl Reference {
    /// Gives it another name.
    ///
    /// # Errors
    /// An empty name.
    pub fn rename(&mut self, name: &str) -> Result<(), ReferenceError> {
        let name = plain_name(name);
        check_name(&name)?;
        self.name = name;
        Ok(())
    }
}

fn check_name(name: &str) -> Result<(), ReferenceError> {
    let chars = name.chars().count();
    let is_good = (1..=MAX_NAME_CHARS).contains(&chars);
    if is_good { Ok(()) } else { Err(ReferenceError::BadName { chars }) }
}

/// On one line, cut to [`MAX_NAME_CHARS`].
fn plain_name(text: &str) -> String {
    let one_line = text.chars().map(|c| if c.is_control() { ' ' } else { c });
    let cut: String = one_line.take(MAX_NAME_CHARS).collect();
    cut.trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::testing::{Sound, log, reference, references};
    use super::*;

    #[test]
    fn the_reference_input_is_one_beside_the_files() {
        let mut list: Vec<Reference> =
            (1..=8).map(|id| reference(id, "File", Sound::default(), &[])).collect();
        let whole = Sound::default().measured();
        let input =
            Reference::of_input(20.0, &whole, &log(&[("Verse", Sound::default())])).unwrap();
        put_input(&mut list, input.clone());
        assert_eq!(check_list(&list), Ok(()));
        assert_eq!(add(&mut list, references().remove(0)), Err(ReferenceError::TooMany));
        // Measured on: what the user chose for it stays.
        list[8].rename("Rain").unwrap();
        list[8].is_used = false;
        put_input(&mut list, Reference { length_s: 25.0, ..input.clone() });
        assert_eq!((list.len(), list[8].id, list[8].name.as_str()), (9, 9, "Rain"));
        assert_eq!((list[8].length_s, list[8].is_used), (25.0, false));
        list.remove(0);
        list.push(Reference { id: 10, ..input });
        assert_eq!(check_list(&list), Err(ReferenceError::TwoInputs));
    }

    #[test]
    fn sections_that_were_not_heard_over_the_input_are_none_of_it() {
        let whole = Sound::default().measured();
        let mut sections = log(&[("Verse", Sound::default()), ("Chorus", Sound::default())]);
        sections[1].measured = Measured::default();
        let before = LogEntry { id: 3, range: -500..0, ..sections[0].clone() };
        let behind = LogEntry { id: 4, range: 9_000..9_500, ..sections[0].clone() };
        let all = [&[before], &sections[..], &[behind]].concat();
        let input = Reference::of_input(40.0, &whole, &all).unwrap();
        let names: Vec<&str> = input.sections.iter().map(|section| section.name.as_str()).collect();
        assert_eq!((input.name.as_str(), names), ("Reference input", vec!["Verse"]));
        assert!(input.is_input && check_list(&[Reference { id: 1, ..input }]).is_ok());
        // Nothing to compare at.
        assert_eq!(Reference::of_input(40.0, &Measured::default(), &sections), None);
        assert_eq!(Reference::of_input(0.0, &whole, &[]), None);
    }
}
