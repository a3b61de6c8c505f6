//! The demo: plays a song through the built plugin in a host of our own and prints what the plugin
//! measured and how far that is from a delivery target. `cargo xtask demo` builds and runs it.
//!
//! options → song → playback (plugin in the host), direct (the same without a host) → picture,
//! sections, snapshot, report

mod direct;
mod failure;
mod options;
mod picture;
mod playback;
mod progress;
mod report;
mod sections;
mod snapshot;
mod song;

use std::path::PathBuf;
use std::process::ExitCode;

use failure::Failure;
use options::Options;
use plimsoll::target::{Distance, Target, built_in_targets};
use report::Report;

/// Said once, below the table.
const CAUTIONS: &str = "\
The recipient's current specification decides, not this list of targets.
LUFS is not sound pressure: no figure here says how loud your room is or what your ears can take.";

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("demo: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), Failure> {
    let options = Options::parse(std::env::args_os().skip(1))?;
    let target = choose_target(options.target.as_deref())?;
    let song = match &options.file {
        Some(file) => song::read(file)?,
        None => song::render(),
    };
    std::fs::create_dir_all(&options.out).map_err(Failure::io(&options.out))?;
    let mut written: Vec<(&str, PathBuf)> = Vec::new();
    if options.file.is_none() {
        let path = options.out.join("lantern-tide.wav");
        plimsoll_tests::audio_file::write_wav_f32(&path, &song.audio)?;
        written.push(("the song", path));
    }

    let played = playback::play(&options.plugin, &song)?;
    let [direct, last] = direct::check(&song, &played)?;
    let figures = direct.analysis().song_figures();

    let distance = Distance::new(&figures, &target);
    written.extend(picture::write(
        &options.out,
        &played.song,
        last.sources(),
        &target,
        song.tempo_bpm,
        &song.references,
    )?);
    written.extend(snapshot::write(&options.out, &song, &played.song, &last, &target)?);
    let report = Report {
        song: &song,
        measurement: &played.whole,
        figures: &figures,
        target: &target,
        distance: &distance,
    };
    if let Some(path) = &options.json {
        std::fs::write(path, report.json()).map_err(Failure::io(path))?;
        written.push(("every figure, unrounded", path.clone()));
    }
    written.push(("the plugin", options.plugin.clone()));

    println!("{}", report.table());
    let mut first = direct.analysis();
    println!("{}", sections::tables(&song, &played.song, &mut first, &target));
    println!("{}", report::places(&written));
    println!("\n{CAUTIONS}");
    Ok(())
}

/// The built-in target called `name`, the first one without a name.
fn choose_target(name: Option<&str>) -> Result<Target, Failure> {
    let targets = built_in_targets();
    let known: Vec<String> = targets.iter().map(|target| target.name.clone()).collect();
    let chosen = match name {
        None => targets.into_iter().next(),
        Some(name) => targets.into_iter().find(|target| target.name == name),
    };
    chosen
        .ok_or_else(|| Failure::UnknownTarget { name: name.unwrap_or_default().to_owned(), known })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_target_is_found_by_its_name_and_a_wrong_name_lists_them() {
        for target in built_in_targets() {
            assert_eq!(choose_target(Some(&target.name)).unwrap(), target);
        }
        assert_eq!(choose_target(None).unwrap(), built_in_targets()[0]);
        let message = choose_target(Some("nowhere")).unwrap_err().to_string();
        for target in built_in_targets() {
            assert!(message.contains(&target.name));
        }
    }
}
