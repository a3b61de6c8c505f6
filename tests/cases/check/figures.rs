//! Figures, sections, and releases, as JSON tells them.

use super::{folder, program, put, run, song};
use plimsoll_tests::audio_file::{Audio, write_wav_f32};
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::pink;
use serde_json::Value;
use std::path::PathBuf;
use std::process::Command;

#[test]
fn json_holds_the_very_figures_of_the_plugins_record() {
    let Some(program) = program() else { return };
    let audio = song(3, 65, 0.6);
    let file = put(&folder("json"), "song.wav", &audio);
    let said = run(&program, &["check", "--json", "-"], &[&file]);
    let report = said.json();
    let found = &report["files"][0];
    let direct = Direct::measure(&audio);
    let saved = plimsoll::state::Measurement::of(&direct.sources().song, 48_000).unwrap();
    let expected = serde_json::to_value(&saved.figures).unwrap();
    for (key, value) in expected.as_object().unwrap() {
        assert_eq!(&found[key], value, "{key}");
    }
    assert_eq!(found["length_s"], 65.0);
    assert_eq!(found["song"], "song.wav");
    assert_eq!(found["second_reading"]["agrees"], true, "{}", found["second_reading"]);
    let distance = &found["targets"][0]["distance"];
    let gain = distance["gain_to_target_db"].as_f64().unwrap();
    let integrated = found["integrated_lufs"].as_f64().unwrap();
    assert!((gain - (-14.0 - integrated)).abs() < 1e-9);
    // In a file instead.
    let out = file.with_extension("json");
    let words = ["check", "-q", "--json", out.to_str().unwrap()];
    assert_eq!(run(&program, &words, &[&file]).out, "");
    assert_eq!(serde_json::from_slice::<Value>(&std::fs::read(out).unwrap()).unwrap(), report);
}

#[test]
fn sections_come_from_a_list_or_from_the_files_own_markers() {
    let Some(program) = program() else { return };
    let folder = folder("sections");
    let audio = song(9, 12, 0.4);
    // The second half is 6.02 dB louder.
    let file = put(&folder, "song.wav", &audio.with_gain(0..6 * 48_000, 0.5));
    let list = folder.join("sections.txt");
    std::fs::write(&list, "0:00 Verse\n0:06 Chorus\n").unwrap();
    let words = ["check", "--one-reading", "--json", "-", "--sections", list.to_str().unwrap()];
    let listed = run(&program, &words, &[&file]).json()["files"][0]["sections"].clone();

    let mut bytes = std::fs::read(&file).unwrap();
    let cue = |number: u32, frame: u32| {
        [number, frame, u32::from_le_bytes(*b"data"), 0, 0, frame]
            .iter()
            .flat_map(|word| word.to_le_bytes())
            .collect::<Vec<u8>>()
    };
    let label = |number: u32, name: &[u8; 6]| {
        [&b"labl"[..], &10_u32.to_le_bytes(), &number.to_le_bytes(), name].concat()
    };
    let labels = [label(1, b"Verse\0"), label(2, b"Chorus")].concat();
    bytes.extend([&b"cue "[..], &52_u32.to_le_bytes(), &2_u32.to_le_bytes()].concat());
    bytes.extend([cue(1, 0), cue(2, 6 * 48_000)].concat());
    bytes.extend([&b"LIST"[..], &(labels.len() as u32 + 4).to_le_bytes(), b"adtl"].concat());
    bytes.extend(labels);
    let marked = folder.join("marked.wav");
    std::fs::write(&marked, bytes).unwrap();
    let said = run(&program, &["check", "--one-reading", "--json", "-"], &[&marked]);
    let own = said.json()["files"][0]["sections"].clone();
    assert_eq!(own, listed);
    assert_eq!((&own[0]["name"], &own[1]["name"]), (&"Verse".into(), &"Chorus".into()));
    assert_eq!((&own[1]["start_s"], &own[1]["end_s"]), (&6.0.into(), &12.0.into()));
    let step = own[1]["louder_by_lu"].as_f64().unwrap();
    assert!((step - 6.02).abs() < 0.3, "{step}");

    std::fs::write(&list, "no time\n").unwrap();
    let said = run(&program, &words, &[&file]);
    assert_eq!(said.status, 2);
    assert!(said.err.contains("line 1: \"no\" is no time"), "{}", said.err);
}

#[test]
fn several_files_are_a_release() {
    let Some(program) = program() else { return };
    let folder = folder("release");
    let audio = song(11, 10, 0.4);
    put(&folder, "a.wav", &audio.with_gain(0..usize::MAX, 0.5));
    put(&folder, "b.wav", &audio);
    std::fs::write(folder.join("notes.txt"), "no audio").unwrap();
    let report = run(&program, &["check", "--json", "-"], &[&folder]).json();
    assert_eq!(report["files"].as_array().unwrap().len(), 2);
    let of = |file: usize| report["files"][file]["integrated_lufs"].as_f64().unwrap();
    let release = &report["release"];
    let number = |key: &str| release[key].as_f64().unwrap();
    assert_eq!(
        (&release["loudest_song"], &release["quietest_song"]),
        (&"b.wav".into(), &"a.wav".into())
    );
    assert!((number("spread_lu") - 20.0 * 2_f64.log10()).abs() < 1e-4, "{release}");
    // All blocks of both pass the gates: the energies of both average.
    let energy = |lufs: f64| 10_f64.powf(lufs / 10.0);
    let pooled = 10.0 * ((energy(of(0)) + energy(of(1))) / 2.0).log10();
    assert!((number("album_integrated_lufs") - pooled).abs() < 0.02, "{release} {pooled}");
    // AES77, Table 1: the loudest track of an album at −14 LUFS.
    assert!((number("album_gain_db") - (-14.0 - of(1))).abs() < 1e-9, "{release}");
}

#[test]
fn memory_grows_with_the_hops_that_are_kept_and_with_nothing_else() {
    // 28 bytes a hop, the tone of each second, and a little air. Bare, the program takes 9 MB; that the
    // whole stays below the 32 MB that issue 3 wants is not reached yet.
    const HOP_BYTES: u64 = 40;
    const AIR_KB: u64 = 1_024;
    let Some(program) = program() else { return };
    let (Ok(time), true) = (which("/usr/bin/time"), cfg!(target_os = "linux")) else {
        println!("check: memory is not measured here: /usr/bin/time is missing");
        return;
    };
    // A rate that is low enough for a small file: what is kept grows with time, not with frames.
    let folder = folder("long");
    let kilobytes = |len_s: usize| -> u64 {
        let path = folder.join("long.wav");
        let second = pink(19, 8_000, 0.5);
        let plane: Vec<f32> = second.iter().copied().cycle().take(len_s * 8_000).collect();
        write_wav_f32(&path, &Audio { rate_hz: 8_000, channels: vec![plane] }).unwrap();
        let mut command = Command::new(&time);
        command.args(["-f", "%M"]).arg(&program).args(["check", "--quiet"]).arg(&path);
        let output = command.output().unwrap();
        std::fs::remove_file(&path).unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        said.lines().last().unwrap().trim().parse().unwrap()
    };
    let (short, long) = (kilobytes(60), kilobytes(7_200));
    let allowed = short + 714_000 * HOP_BYTES / 1_024 + AIR_KB;
    assert!(long < allowed, "{long} kB for two hours, {short} kB for a minute");
}

fn which(path: &str) -> Result<PathBuf, ()> {
    let path = PathBuf::from(path);
    if path.is_file() { Ok(path) } else { Err(()) }
}
