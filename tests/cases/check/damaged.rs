//! Files that no one should write: one clear line, or a measurement with a warning.

use super::{folder, program, put, run, song};
use plimsoll_tests::audio_file::write_wav_i24;
use plimsoll_tests::damage::damaged;
use plimsoll_tests::file_input;
use plimsoll_tests::noise::Rng;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// Damaged copies of the seeds that each bounded run looks at.
const COPIES: usize = 2_000;

/// The files that fuzzing starts from, by the fuzz target that they are for.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/seeds").join(target);
    let mut paths: Vec<_> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths.into_iter().map(|path| fs::read(path).unwrap()).collect()
}

/// Damaged copies of the seeds of a target.
fn copies(target: &str) -> impl Iterator<Item = Vec<u8>> {
    let seeds = seeds(target);
    let mut rng = Rng::new(0xF11E);
    (0..COPIES).map(move |copy| damaged(&seeds[copy % seeds.len()], 8, &mut rng))
}

#[test]
fn two_thousand_damaged_audio_files_are_read_or_refused_in_one_line() {
    let path = folder("scratch").join("input");
    for data in seeds("audio_file").into_iter().chain(copies("audio_file")) {
        fs::write(&path, data).unwrap();
        file_input::audio_file(&path);
    }
}

#[test]
fn two_thousand_damaged_section_lists_are_read_or_refused_in_one_line() {
    copies("section_list").for_each(|copy| file_input::section_list(&copy));
}

/// All of them through the program at once. 200 MB is far more than such files need, and less
/// than any size that lies: the smallest of those in a header is 2^31.
#[test]
fn two_thousand_damaged_audio_files_are_measured_or_refused_by_the_program() {
    const MOST_KB: u64 = 200_000;
    let Some(program) = program() else { return };
    let folder = folder("copies");
    for (number, copy) in copies("audio_file").enumerate() {
        fs::write(folder.join(format!("{number:04}.wav")), copy).unwrap();
    }
    let timer = Path::new("/usr/bin/time");
    let mut command = if timer.is_file() {
        let mut command = Command::new(timer);
        command.args(["-f", "%M"]).arg(&program);
        command
    } else {
        Command::new(&program)
    };
    let output = command.args(["check", "--json", "-"]).arg(&folder).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    let report: serde_json::Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}", &said[said.len().saturating_sub(2_000)..]));
    let files = report["files"].as_array().unwrap();
    assert_eq!(files.len(), COPIES);
    let refused = files.iter().filter(|file| !file["error"].is_null());
    let mut lines: Vec<&str> = said.lines().filter(|line| line.starts_with("plimsoll: ")).collect();
    assert_eq!(lines.len(), refused.clone().count(), "{said}");
    for file in refused {
        let why = file["error"].as_str().unwrap();
        assert!(!why.is_empty() && !why.contains("this program"), "{file}");
    }
    // Seeds in all formats stay readable somewhere.
    assert!(lines.len() > COPIES / 10 && lines.len() < COPIES * 9 / 10, "{}", lines.len());
    if timer.is_file() {
        lines = said.lines().collect();
        let peak_kb: u64 = lines.last().unwrap().trim().parse().unwrap();
        assert!(peak_kb < MOST_KB, "{peak_kb} kB");
    }
    fs::remove_dir_all(folder).unwrap();
}

/// Files that no one should write.
fn damaged_files(folder: &Path) -> Vec<PathBuf> {
    let good = folder.join("good.wav");
    write_wav_i24(&good, &song(13, 1, 0.5)).unwrap();
    let good = std::fs::read(good).unwrap();
    let mut files: Vec<Vec<u8>> = Vec::new();
    let changed = |at: usize, bytes: &[u8]| {
        let mut file = good.clone();
        file[at..at + bytes.len()].copy_from_slice(bytes);
        file
    };
    // Header of the writer: RIFF, fmt of 40 bytes from 20 on, then 'data'.
    files.push(changed(22, &0_u16.to_le_bytes()));
    files.push(changed(22, &u16::MAX.to_le_bytes()));
    files.push(changed(24, &(1_u32 << 31).to_le_bytes()));
    files.push(changed(24, &0_u32.to_le_bytes()));
    files.push(changed(16, &u32::MAX.to_le_bytes()));
    let data = good.windows(4).position(|id| id == b"data").unwrap();
    files.push(changed(data + 4, &u32::MAX.to_le_bytes()));
    files.push(changed(data + 4, &0_u32.to_le_bytes()));
    for len in [0, 4, 11, 12, 20, 30, 44, data + 8, data + 11, data + 100] {
        files.push(good[..len].to_vec());
    }
    let mut rng = Rng::new(0xBAD);
    let starts: [&[u8]; 9] = [
        b"fLaC\0\0\0\x22",
        b"OggS\0\x02",
        b"ID3\x04\0\0\x7F\x7F\x7F\x7F",
        b"\xFF\xFB\x90\x64",
        b"\xFF\xF1\x50\x80",
        b"\0\0\0\x20ftypM4A ",
        b"caff\0\x01\0\0desc",
        b"FORM\0\0\0\0AIFFCOMM",
        b"riff\x2E\x91\xCF\x11\xA5\xD6\x28\xDB\x04\xC1\0\0",
    ];
    for start in starts {
        for len in [0, 30, 5_000] {
            let mut file = start.to_vec();
            file.extend((0..len).map(|_| rng.next_u64() as u8));
            files.push(file);
        }
    }
    for _ in 0..60 {
        let mut file = good.clone();
        for _ in 0..rng.between(1, 12) {
            let at = rng.between(0, 200);
            file[at] = rng.next_u64() as u8;
        }
        file.truncate(rng.between(0, good.len()));
        files.push(file);
    }
    let named = files.into_iter().enumerate().map(|(index, bytes)| {
        let path = folder.join(format!("bad-{index}.wav"));
        std::fs::write(&path, bytes).unwrap();
        path
    });
    named.collect()
}

#[test]
fn no_damaged_file_ends_the_check_or_takes_long() {
    let Some(program) = program() else { return };
    let files = damaged_files(&folder("damaged"));
    let paths: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    let start = Instant::now();
    let said = run(&program, &["check", "--json", "-"], &paths);
    assert!(start.elapsed() < Duration::from_secs(120), "{:?}", start.elapsed());
    assert_eq!(said.status, 2);
    assert!(!said.err.contains("panicked"), "{}", said.err);
    let report = said.json();
    let refused =
        report["files"].as_array().unwrap().iter().filter(|file| !file["error"].is_null());
    // One line for each file that is refused, and each says why.
    assert_eq!(said.err.lines().count(), refused.clone().count(), "{}", said.err);
    for file in refused {
        let why = file["error"].as_str().unwrap();
        assert!(!why.is_empty() && !why.contains("this program"), "{file}");
    }
    let measured =
        report["files"].as_array().unwrap().iter().filter(|file| file["error"].is_null());
    assert!(measured.count() > 5);
}

#[test]
fn what_is_no_number_is_measured_and_told() {
    let Some(program) = program() else { return };
    let mut audio = song(17, 5, 0.5);
    audio.channels[0][100_000] = f32::NAN;
    audio.channels[1][100_001] = f32::INFINITY;
    let file = put(&folder("nan"), "nan.wav", &audio);
    let said = run(&program, &["check"], &[&file]);
    assert!(said.out.contains("2 samples are no number or beyond +72 dBFS"), "{}", said.out);
    let json = run(&program, &["check", "--json", "-"], &[&file]).json();
    assert_eq!(json["files"][0]["scrubbed_samples"], 2);
    assert_eq!(json["files"][0]["second_reading"]["agrees"], true, "{json}");
}
