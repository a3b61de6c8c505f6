//! What is played: the user's file or the demo song.

use std::path::Path;

use plimsoll_tests::audio_file::{self, Audio};
use plimsoll_tests::song::{DEMO_RATE_HZ, TEMPO_BPM, TITLE};

use crate::failure::Failure;

/// A song, ready to be played.
#[derive(Debug)]
pub struct Song {
    /// Title or file name.
    pub name: String,
    /// The sound.
    pub audio: Audio,
    /// Quarter notes a minute, where known.
    pub tempo_bpm: Option<f64>,
}

/// Renders the demo song.
pub fn render() -> Song {
    eprintln!("Rendering \"{TITLE}\" …");
    Song {
        name: TITLE.to_owned(),
        audio: plimsoll_tests::song::render(DEMO_RATE_HZ),
        tempo_bpm: Some(TEMPO_BPM),
    }
}

/// Reads the user's file.
pub fn read(file: &Path) -> Result<Song, Failure> {
    eprintln!("Reading {} …", file.display());
    let audio = audio_file::read(file)?;
    let name = file.file_name().unwrap_or(file.as_os_str());
    Ok(Song { name: name.to_string_lossy().into_owned(), audio, tempo_bpm: None })
}
