//! `--json`, `--csv`, `--html`: what is in the files, and that no file is lost.

use super::{folder, program, put, run, song};
use plimsoll_tests::audio_file::Audio;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// A name to be quoted and escaped; with quotes, where a name may hold them.
const QUIET: &str =
    if cfg!(windows) { "Lantern Tide, dry & low.wav" } else { "Lantern Tide, \"dry\".wav" };

/// Two songs and a list of two sections for them.
fn release(folder: &Path) -> (PathBuf, PathBuf, PathBuf) {
    let audio = song(21, 8, 0.4);
    let quiet = put(folder, QUIET, &audio.with_gain(0..usize::MAX, 0.5));
    let loud = put(folder, "=Lantern Tide.wav", &audio);
    let list = folder.join("sections.txt");
    fs::write(&list, "0:00 Verse\n0:04 +Chorus\n").unwrap();
    (quiet, loud, list)
}

fn words(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A table of CSV: cells by the names of their columns. It knows quotes as RFC 4180 has them.
fn table(text: &str) -> Vec<Vec<(String, String)>> {
    assert!(text.ends_with("\r\n"));
    let (mut rows, mut cell, mut is_quoted) = (vec![vec![]], String::new(), false);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if is_quoted && letters.next_if_eq(&'"').is_some() => cell.push('"'),
            '"' => is_quoted = !is_quoted,
            ',' if !is_quoted => rows.last_mut().unwrap().push(std::mem::take(&mut cell)),
            '\r' if !is_quoted => {}
            '\n' if !is_quoted => {
                rows.last_mut().unwrap().push(std::mem::take(&mut cell));
                rows.push(vec![]);
            }
            letter => cell.push(letter),
        }
    }
    rows.pop();
    let header = rows.remove(0);
    let named = rows.into_iter().map(|row| {
        assert_eq!(row.len(), header.len());
        header.iter().cloned().zip(row).collect()
    });
    named.collect()
}

#[test]
fn the_table_holds_the_figures_of_the_json() {
    let Some(program) = program() else { return };
    let folder = folder("csv");
    let (quiet, loud, list) = release(&folder);
    let absent = folder.join("absent.wav");
    let (json, csv) = (folder.join("out.json"), folder.join("out.csv"));
    let said = run(
        &program,
        &[
            "check",
            "--sections",
            words(&list),
            "--against",
            "podcast",
            "--json",
            words(&json),
            "--csv",
            words(&csv),
            "-q",
        ],
        &[&quiet, &loud, &absent],
    );
    assert_eq!((said.status, said.out.as_str()), (2, ""));
    let report: Value = serde_json::from_slice(&fs::read(&json).unwrap()).unwrap();
    let rows = table(&fs::read_to_string(&csv).unwrap());
    let cell = |row: usize, key: &str| {
        let found = rows[row].iter().find(|(name, _)| name == key);
        found.unwrap_or_else(|| panic!("no column {key}")).1.as_str()
    };
    let kinds: Vec<&str> = (0..rows.len()).map(|row| cell(row, "row")).collect();
    assert_eq!(
        kinds,
        ["file", "section", "section", "file", "section", "section", "file", "release"]
    );
    let same = |row: usize, key: &str, value: &Value| {
        let found: Option<f64> = cell(row, key).parse().ok();
        assert_eq!(found, value.as_f64(), "{row} {key}");
    };
    for (row, file) in [(0, 0), (3, 1)] {
        let file = &report["files"][file];
        for key in [
            "integrated_lufs",
            "loudness_range_lu",
            "max_momentary_lufs",
            "max_short_term_lufs",
            "max_true_peak_dbtp",
            "sample_peak_dbfs",
            "correlation",
            "side_to_mid_db",
            "rate_hz",
            "channels",
            "clipped_samples",
            "coverage",
        ] {
            same(row, key, &file[key]);
        }
        same(row, "plr_lu", &file["peak_to_loudness_lu"]);
        same(row, "low_end_db", &file["tone"]["low_end_db"]);
        assert_eq!(cell(row, "status"), file["status"].as_str().unwrap());
        for (number, target) in file["targets"].as_array().unwrap().iter().enumerate() {
            let key = |key: &str| format!("target_{}_{key}", number + 1);
            assert_eq!(cell(row, &key("name")), target["name"].as_str().unwrap());
            assert_eq!(cell(row, &key("verdict")), target["verdict"].as_str().unwrap());
            same(row, &key("gain_to_target_db"), &target["distance"]["gain_to_target_db"]);
        }
        for (offset, section) in file["sections"].as_array().unwrap().iter().enumerate() {
            let row = row + 1 + offset;
            for key in ["start_s", "end_s", "integrated_lufs", "louder_by_lu", "correlation"] {
                same(row, key, &section[key]);
            }
        }
    }
    same(7, "integrated_lufs", &report["release"]["album_integrated_lufs"]);
    same(7, "max_true_peak_dbtp", &report["release"]["max_true_peak_dbtp"]);
    // What a spreadsheet would take for a formula is text.
    assert_eq!(cell(0, "file"), QUIET);
    assert_eq!((cell(3, "file"), cell(2, "section")), ("'=Lantern Tide.wav", "'+Chorus"));
    assert_eq!((cell(6, "status"), cell(6, "integrated_lufs")), ("not measured", ""));
    assert_eq!(cell(6, "error"), report["files"][2]["error"].as_str().unwrap());
}

#[test]
fn a_release_is_one_page_with_every_file_and_fact_on_it() {
    let Some(program) = program() else { return };
    let folder = folder("html");
    let (quiet, loud, list) = release(&folder);
    let out = folder.join("out.html");
    let said = run(
        &program,
        &["check", "--sections", words(&list), "--html", words(&out)],
        &[&quiet, &loud, &folder.join("absent.wav")],
    );
    let page = fs::read_to_string(&out).unwrap();
    for expected in [
        "Release of 3 files",
        &QUIET.replace('&', "&amp;").replace('"', "&quot;"),
        "=Lantern Tide.wav",
        "Not measured: no such file",
        "WAV of 32-bit floats, 48000 Hz, stereo, 0:08.000 long",
        "Inter-sample overs",
        "End of the sound",
        "Second reading, by the library ebur128",
        "AES77, music, album-normalised",
    ] {
        assert!(page.contains(expected), "{expected}");
    }
    // The text and the page say the same of a file.
    for line in said.out.lines().filter(|line| line.contains("below −60 dBFS")) {
        let fact = line.trim().split_once("  ").unwrap().1.trim();
        assert!(page.contains(fact), "{fact}");
    }
    assert_eq!(page.matches("<article>").count(), 4);
    assert_eq!(page.matches("id=\"definitions\"").count(), 1);
    let mut ids: Vec<&str> =
        page.split(" id=\"").skip(1).map(|rest| rest.split_once('"').unwrap().0).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count);
    for named in page.split("aria-labelledby=\"").skip(1) {
        for id in named.split_once('"').unwrap().0.split(' ') {
            assert!(ids.binary_search(&id).is_ok(), "no {id}");
        }
    }
    assert!(!page.contains("<script") && !page.contains("http:") && !page.contains("https:"));
}

#[test]
fn no_file_is_overwritten_unless_it_is_asked_for_and_never_one_that_is_read() {
    let Some(program) = program() else { return };
    let folder = folder("replace");
    let file = put(&folder, "song.wav", &song(23, 2, 0.3));
    let before = fs::read(&file).unwrap();
    let target = folder.join("label.json");
    fs::write(&target, r#"{"name":"Label","source":"mail","true_peak_ceiling":-1}"#).unwrap();
    let mine = folder.join("mine.json");
    fs::write(&mine, "mine").unwrap();
    let link = folder.join("hard.wav");
    let _ = fs::remove_file(&link);
    fs::hard_link(&file, &link).unwrap();
    let around = folder.join("../").join(folder.file_name().unwrap()).join("song.wav");
    let nowhere = folder.join("nowhere").join("out.csv");
    let new = folder.join("new.html");
    let _ = fs::remove_file(&new);
    let target_words = ["--target", words(&target)];
    for (options, expected) in [
        (vec!["--json", words(&mine)], "there is a file of this name already"),
        (vec!["--json", words(&file), "--replace"], "is one of the files that are read"),
        (vec!["--html", words(&link), "--replace"], "is one of the files that are read"),
        (vec!["--csv", words(&around), "--replace"], "is one of the files that are read"),
        (vec!["--csv", words(&target), "--replace"], "is one of the files that are read"),
        (vec!["--csv", words(&new), "--html", words(&new)], "--csv and --html: both are"),
        (vec!["--csv", "-", "--json", "-"], "--json and --csv: both are -"),
        (vec!["--csv", words(&nowhere)], "there is no such folder"),
        (vec!["--html", words(&folder), "--replace"], "is no plain file"),
        // A rule broken by one keeps the other from being written.
        (vec!["--html", words(&new), "--json", words(&mine)], "there is a file of this name"),
    ] {
        let options = [&["check"][..], &target_words, &options].concat();
        let said = run(&program, &options, &[&file]);
        assert_eq!((said.status, said.out.as_str()), (2, ""), "{options:?}");
        assert!(said.err.contains(expected), "{options:?}: {}", said.err);
        assert_eq!(said.err.lines().count(), 1, "{}", said.err);
        assert_eq!(fs::read(&file).unwrap(), before);
        assert_eq!(fs::read_to_string(&mine).unwrap(), "mine");
        assert!(!new.exists());
    }
    let said = run(&program, &["check", "-q", "--json", words(&mine), "--replace"], &[&file]);
    assert_eq!(said.err, "");
    let report: Value = serde_json::from_slice(&fs::read(&mine).unwrap()).unwrap();
    assert_eq!(report["files"][0]["song"], "song.wav");
    let said = run(&program, &["check", "--csv", "-"], &[&file]);
    assert_eq!(table(&said.out).len(), 1);
    // Nothing else is left behind.
    let mut names: Vec<_> =
        fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    assert_eq!(names, ["hard.wav", "label.json", "mine.json", "song.wav"]);
}

#[test]
fn what_cannot_be_written_is_told_with_path_and_reason() {
    let Some(program) = program() else { return };
    let file = put(
        &folder("unwritable"),
        "song.wav",
        &Audio { rate_hz: 48_000, channels: vec![vec![0.1; 48_000]] },
    );
    // The kernel's own; where it is not mounted, /sys is a folder like any other.
    if !Path::new("/sys/kernel").is_dir() {
        println!("check: there is no folder here that even root may not write to");
        return;
    }
    let said = run(&program, &["check", "-q", "--csv", "/sys/out.csv"], &[&file]);
    assert_eq!(said.status, 2);
    assert!(said.err.contains("/sys/out.csv: may not be written"), "{}", said.err);
}
