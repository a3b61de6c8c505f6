use super::*;
use crate::units::{Dbtp, Lufs};

fn name(wanted: &str) -> String {
    find_target(wanted).unwrap().remove(0).name
}

fn from_text(text: &str) -> Result<Vec<Target>, String> {
    let id = std::thread::current().id();
    let file = format!("plimsoll-targets-{}-{id:?}.json", std::process::id());
    let path = std::env::temp_dir().join(file);
    std::fs::write(&path, text).unwrap();
    let outcome = read_targets(&path).map_err(|error| error.to_string());
    std::fs::remove_file(&path).unwrap();
    outcome
}

#[test]
fn a_name_is_found_by_enough_of_it() {
    assert_eq!(name("EBU R 128 programme"), "EBU R 128 programme");
    assert_eq!(name("music streaming, -14"), "Music streaming, −14");
    assert_eq!(name("podcast"), "Podcast, −16");
    assert_eq!(name("tr-b32"), "ARIB TR-B32");
    // The full name of one counts also where another begins with it.
    assert_eq!(name("atsc a/85"), "ATSC A/85");
    let several = find_target("AES").unwrap_err().to_string();
    assert_eq!(
        several,
        "target \"AES\" may mean: AES music, track; AES music, album's loudest track"
    );
    for wanted in ["", "nothing of the kind"] {
        let unknown = find_target(wanted).unwrap_err().to_string();
        assert!(unknown.contains("neither a file nor a built-in target"), "{unknown}");
    }
}

#[test]
fn a_file_holds_one_target_or_a_list() {
    let one = r#"{"name": "Label", "source": "their mail", "true_peak_ceiling": -0.5,
        "integrated": {"loudness": -9.0, "below": null, "above": 0.5}}"#;
    let target = from_text(one).unwrap().remove(0);
    assert_eq!(target.true_peak_ceiling, Some(Dbtp(-0.5)));
    assert_eq!(target.integrated.unwrap().loudness, Lufs(-9.0));
    assert_eq!(from_text(&format!("\u{feff}[{one}, {one}]")).unwrap().len(), 2);
    // What the plugin saves is read.
    let saved = serde_json::to_string(&built_in_targets()).unwrap();
    assert_eq!(from_text(&saved).unwrap(), built_in_targets());
}

#[test]
fn a_file_that_is_no_target_is_refused_with_value_and_rule() {
    for (text, expected) in [
        ("", "no JSON"),
        ("[]", "an empty list"),
        ("3", "a target: must be an object"),
        (r#"{"name": "a"}"#, "no target: missing field `source`"),
        (r#"{"name": "a", "source": ""}"#, "a target needs a loudness or a peak limit"),
        (
            r#"{"name": "a", "source": "", "true_peak_cieling": -1}"#,
            "no field \"true_peak_cieling\"",
        ),
        (
            r#"{"name": "a", "source": "", "integrated": {"loudness": -9, "above": 1, "over": 1}}"#,
            "integrated has no field \"over\"",
        ),
        (
            r#"{"name": "a", "source": "", "integrated": {"loudness": 14, "above": 1}}"#,
            "target \"a\": integrated loudness 14 LUFS: must lie from -60 to 0 LUFS",
        ),
    ] {
        let message = from_text(text).unwrap_err();
        assert!(message.contains(expected), "{message:?} should contain {expected:?}");
    }
    let absent = find_target("absent.json").unwrap_err().to_string();
    assert!(absent.starts_with("absent.json: "), "{absent}");
}

/// The bounded run of the fuzz target of this name, from the same seed.
#[test]
fn two_thousand_damaged_files_are_read_or_refused_in_one_line() {
    let seed = include_str!("../../../../tests/fuzz/seeds/targets/two.json");
    assert_eq!(from_text(seed).unwrap().len(), 2);
    let mut dice = crate::section::testing::Dice(0xF11E);
    let mut refused = 0;
    for _ in 0..2_000 {
        let mut letters: Vec<char> = seed.chars().collect();
        for _ in 0..=dice.below(3) {
            let at = usize::try_from(dice.below(u32::try_from(letters.len()).unwrap())).unwrap();
            match dice.below(4) {
                0 => letters.truncate(at.max(1)),
                1 => letters[at] = char::from_u32(32 + dice.below(95)).unwrap(),
                2 => drop(letters.remove(at)),
                _ => drop(letters.splice(at..at, "1e309".chars())),
            }
        }
        match from_text(&letters.into_iter().collect::<String>()) {
            Ok(targets) => assert!(targets.iter().all(|target| target.validate().is_ok())),
            Err(error) => {
                refused += 1;
                assert!(!error.is_empty() && !error.contains('\n'), "{error:?}");
            }
        }
    }
    assert!((1..2_000).contains(&refused), "{refused}");
}
