//! What reference songs measured, as it is kept in the project.

mod tones;

use super::planes::check;
use super::song::shorten;
use super::{StateError, check_version};
use crate::reference::{Profile, Reference, ReferenceSection, check_list};
use crate::section::LoggedFigures;
use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the references that this plugin writes.
pub const REFERENCES_VERSION: u32 = 2;

const FIELD: &str = "references";

/// References as they stand in a state of version 2. Version 1 knew no reference input.
#[derive(Serialize, Deserialize)]
struct SavedV2 {
    version: u32,
    references: Vec<SavedReference>,
    /// The tone of each profile, in order: of a reference as a whole, then of its sections; base64.
    tones: String,
    /// Hash of `tones`.
    check: String,
}

#[derive(Serialize, Deserialize)]
struct SavedReference {
    id: u32,
    name: String,
    length_s: f64,
    used: bool,
    /// Whether it came over the reference input.
    #[serde(default)]
    input: bool,
    whole: LoggedFigures,
    sections: Vec<SavedSection>,
}

#[derive(Serialize, Deserialize)]
struct SavedSection {
    name: String,
    start_s: f64,
    end_s: f64,
    figures: LoggedFigures,
}

/// The references as saved in the project; `Null` if there are none.
#[must_use]
pub fn save_references(references: &[Reference]) -> Value {
    if references.is_empty() {
        return Value::Null;
    }
    let profiles = references.iter().flat_map(|reference| {
        let sections = reference.sections.iter().map(|section| &section.profile);
        std::iter::once(&reference.whole).chain(sections)
    });
    let tones = STANDARD_NO_PAD.encode(tones::write(profiles.map(|p| p.tone.as_deref())));
    let section = |section: &ReferenceSection| SavedSection {
        name: section.name.clone(),
        start_s: section.start_s,
        end_s: section.end_s,
        figures: section.profile.figures.clone(),
    };
    let saved = references.iter().map(|reference| SavedReference {
        id: reference.id,
        name: reference.name.clone(),
        length_s: reference.length_s,
        used: reference.is_used,
        input: reference.is_input,
        whole: reference.whole.figures.clone(),
        sections: reference.sections.iter().map(section).collect(),
    });
    let saved = SavedV2 {
        version: REFERENCES_VERSION,
        references: saved.collect(),
        check: check(&[&tones]),
        tones,
    };
    let mut saved = serde_json::to_value(saved).unwrap_or_default();
    if let Some(references) = saved.get_mut("references") {
        shorten(references);
    }
    saved
}

/// Reads saved references of any version so far; `Null` is none.
///
/// # Errors
/// A version from the future, or anything malformed.
pub fn load_references(saved: &Value) -> Result<Vec<Reference>, StateError> {
    if saved.is_null() {
        return Ok(Vec::new());
    }
    let malformed = |why: String| StateError::Malformed { field: FIELD, why };
    check_version(saved, FIELD, REFERENCES_VERSION)?;
    let saved = SavedV2::deserialize(saved).map_err(|error| malformed(error.to_string()))?;
    if check(&[&saved.tones]) != saved.check {
        return Err(malformed("its check does not fit: it was damaged".to_owned()));
    }
    let bytes = STANDARD_NO_PAD.decode(&saved.tones).map_err(|e| malformed(e.to_string()))?;
    let count = saved.references.iter().map(|reference| 1 + reference.sections.len()).sum();
    let tones =
        tones::read(&bytes, count).map_err(|why| malformed(format!("it holds {}", why.0)))?;
    let mut tones = tones.into_iter();
    let mut profile = |figures| Profile { figures, tone: tones.next().flatten().map(Box::new) };
    let references: Vec<Reference> = saved
        .references
        .into_iter()
        .map(|saved| Reference {
            id: saved.id,
            name: saved.name,
            length_s: saved.length_s,
            is_used: saved.used,
            is_input: saved.input,
            whole: profile(saved.whole),
            sections: saved
                .sections
                .into_iter()
                .map(|section| ReferenceSection {
                    name: section.name,
                    start_s: section.start_s,
                    end_s: section.end_s,
                    profile: profile(section.figures),
                })
                .collect(),
        })
        .collect();
    check_list(&references).map_err(|error| malformed(error.to_string()))?;
    Ok(references)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::testing::references;

    #[test]
    fn what_is_saved_is_loaded_within_a_hundredth_of_a_decibel() {
        let references = references();
        let saved = save_references(&references);
        let loaded = load_references(&saved).unwrap();
        assert_eq!(loaded.len(), references.len());
        for (was, is) in references.iter().zip(&loaded) {
            assert_eq!((was.id, &was.name, was.is_used), (is.id, &is.name, is.is_used));
            assert_eq!((was.length_s, was.sections.len()), (is.length_s, is.sections.len()));
            assert_eq!(was.is_input, is.is_input);
            let names = |reference: &Reference| -> Vec<String> {
                reference.sections.iter().map(|section| section.name.clone()).collect()
            };
            assert_eq!(names(was), names(is));
            let off = was.whole.figures.plr_lu.unwrap() - is.whole.figures.plr_lu.unwrap();
            assert!(off.abs() <= 5e-5);
            let pairs =
                was.sections.iter().zip(&is.sections).map(|(a, b)| (&a.profile, &b.profile));
            for (was, is) in pairs.chain([(&was.whole, &is.whole)]) {
                let (Some(was), Some(is)) = (&was.tone, &is.tone) else {
                    assert_eq!(was.tone, is.tone);
                    continue;
                };
                assert_eq!(was.seconds, is.seconds);
                let levels = |tone: &crate::tone::Tone| -> Vec<f64> {
                    let of = [&tone.both, &tone.mid, &tone.side];
                    let all = of.iter().flat_map(|levels| {
                        levels.percentiles_db.iter().chain([&levels.mean_db]).flatten().copied()
                    });
                    let widths = tone.side_to_mid.iter().flatten().map(|width| width.0);
                    let rest = [tone.low_end.0, tone.air.0, tone.fold_down_loss.0];
                    all.chain(widths).chain(rest).chain(tone.slope_db_per_octave).collect()
                };
                for (was, is) in levels(was).into_iter().zip(levels(is)) {
                    assert!((was - is).abs() <= 0.005_001 || was == is, "{was} {is}");
                }
            }
        }
        // Nothing is lost in the second round.
        assert_eq!(save_references(&loaded), saved);
        assert_eq!(load_references(&Value::Null).unwrap(), []);
        assert!(save_references(&[]).is_null());
    }

    #[test]
    fn eight_songs_with_nine_sections_each_take_less_than_a_song_record() {
        let one = references().remove(0);
        let section = one.sections[0].clone();
        let eight: Vec<Reference> = (1..=8)
            .map(|id| Reference { id, sections: vec![section.clone(); 9], ..one.clone() })
            .collect();
        // 250 KB: the record of five minutes of music (DEVELOPERS, State).
        let len = save_references(&eight).to_string().len();
        assert!(len < 250_000, "{len}");
    }

    #[test]
    fn saved_references_that_break_a_rule_are_refused_with_a_reason() {
        let saved = save_references(&references());
        let broken = |change: &dyn Fn(&mut Value)| {
            let mut saved = saved.clone();
            change(&mut saved);
            load_references(&saved).unwrap_err().to_string()
        };
        let why = broken(&|saved| saved["version"] = 3.into());
        assert!(why.contains("version 3"), "{why}");
        let why = broken(&|saved| {
            saved["references"][0]["input"] = true.into();
            saved["references"][1]["input"] = true.into();
        });
        assert!(why.contains("there is only one input"), "{why}");
        let why = broken(&|saved| saved["references"][1]["id"] = 1.into());
        assert!(why.contains("reference 1: numbers must be above 0 and all different"), "{why}");
        let why = broken(&|saved| saved["references"][0]["name"] = "".into());
        assert!(why.contains("name of 0 characters"), "{why}");
        let why = broken(&|saved| saved["references"][0]["sections"][0]["end_s"] = 1e9.into());
        assert!(why.contains("is no time of it"), "{why}");
        let why = broken(&|saved| saved["tones"] = "AAAA".into());
        assert!(why.contains("damaged"), "{why}");
        let why = broken(&|saved| {
            saved["tones"] = "AAAA".into();
            saved["check"] = check(&["AAAA"]).into();
        });
        assert!(why.contains("it holds"), "{why}");
        let many = vec![saved["references"][0].clone(); 9];
        assert!(load_references(&serde_json::json!([1])).is_err());
        broken(&|saved| saved["references"] = many.clone().into());
    }
}
