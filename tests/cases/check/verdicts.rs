//! The exit status, targets, and what is said on the standard outputs.

use super::{folder, integrated, program, put, run, song};
use plimsoll_tests::audio_file::{Audio, write_wav_i24};
use std::path::{Path, PathBuf};

#[test]
fn the_exit_status_says_within_not_within_and_not_measured() {
    let Some(program) = program() else { return };
    let folder = folder("status");
    let audio = song(1, 5, 0.3);
    let plain = put(&folder, "plain.wav", &audio);
    let gain = -14.0 - integrated(&program, &plain);
    let scale = |db: f64| audio.with_gain(0..usize::MAX, 10_f64.powf(db / 20.0) as f32);
    let on = put(&folder, "on.wav", &scale(gain));
    let over = put(&folder, "over.wav", &scale(gain + 2.0));
    let silent = put(&folder, "silent.wav", &scale(-400.0));
    let short = put(
        &folder,
        "short.wav",
        &Audio { channels: vec![audio.channels[0][..9_600].to_vec()], rate_hz: 48_000 },
    );
    let words = ["check", "--quiet", "--target", "music streaming, -14"];
    let status = |files: &[&Path]| run(&program, &words, files).status;
    assert_eq!(status(&[&on]), 0);
    assert_eq!(status(&[&over]), 1);
    assert_eq!(status(&[&on, &over]), 1);
    assert_eq!(status(&[&silent]), 2);
    assert_eq!(status(&[&short]), 2);
    assert_eq!(status(&[&on, Path::new("absent.wav")]), 2);
    // A further target that does not hold counts as well.
    let words = ["check", "-q", "--target", "music streaming, -14", "--against", "EBU R 128 live"];
    assert_eq!(run(&program, &words, &[&on]).status, 1);
    // A mistake on the command line is told and is no verdict.
    for words in [
        &["check"][..],
        &["check", "--loud", "a"],
        &["chekc"],
        &["check", "--target", "no such target"],
    ] {
        let said = run(
            &program,
            words,
            &[&on].map(|path: &PathBuf| path.as_path())[..usize::from(words.len() > 2)],
        );
        assert_eq!(said.status, 2, "{words:?}");
        assert!(!said.err.is_empty(), "{words:?}");
    }
}

#[test]
fn text_is_plain_where_no_terminal_reads_it_and_quiet_is_quiet() {
    let Some(program) = program() else { return };
    let folder = folder("text");
    let file = folder.join("Lantern Tide.wav");
    write_wav_i24(&file, &song(5, 5, 0.5)).unwrap();
    let words = ["check", "--target", "AES music, track", "--against", "podcast"];
    let said = run(&program, &words, &[&file]);
    assert!(!said.out.contains('\x1b'), "{:?}", said.out);
    assert_eq!(said.err, "");
    for expected in [
        "Lantern Tide.wav",
        "WAV of 24 bits, 48000 Hz, stereo, 0:05.000 long",
        "AES music, track",
        "Podcast, −16",
        "Integrated loudness (I)",
        "all 24 bits are used",
        "second reading",
    ] {
        assert!(said.out.contains(expected), "{expected:?} is missing: {}", said.out);
    }
    let line = said.out.lines().find(|line| line.contains("Integrated loudness")).unwrap();
    assert!(line.contains("LUFS") && line.contains('−'), "{line}");
    let quiet = run(&program, &["check", "--quiet"], &[&file]);
    assert_eq!((quiet.out.as_str(), quiet.err.as_str()), ("", ""));
    let one = run(&program, &["check", "--one-reading"], &[&file]);
    assert!(!one.out.contains("second reading"), "{}", one.out);
}

#[test]
fn targets_out_of_a_file_are_used_or_refused_with_the_rule() {
    let Some(program) = program() else { return };
    let folder = folder("target");
    let file = put(&folder, "song.wav", &song(7, 5, 0.5));
    let target = folder.join("label.json");
    let write = |ceiling: &str| {
        let text = format!(r#"{{"name":"Label","source":"mail","true_peak_ceiling":{ceiling}}}"#);
        std::fs::write(&target, text).unwrap();
    };
    let words = ["check", "--one-reading", "--target", target.to_str().unwrap()];
    write("6.0");
    let said = run(&program, &words, &[&file]);
    assert!(said.out.contains("Label"), "{}", said.out);
    assert_eq!(said.status, 0);
    write("-30.0");
    assert_eq!(run(&program, &words, &[&file]).status, 1);
    write("30.0");
    let said = run(&program, &words, &[&file]);
    assert_eq!((said.status, said.out.as_str()), (2, ""));
    assert!(
        said.err.contains("true-peak ceiling 30 dBTP: must lie from -30 to 6 dBTP"),
        "{}",
        said.err
    );
}

#[test]
fn manual_and_completions_are_written() {
    let Some(program) = program() else { return };
    assert!(run(&program, &["manual"], &[]).out.contains(".TH plimsoll"));
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let said = run(&program, &["completions", shell], &[]);
        assert!(said.status == 0 && said.out.contains("one-reading"), "{shell}");
    }
    assert!(run(&program, &["targets"], &[]).out.contains("EBU R 128 programme"));
}
