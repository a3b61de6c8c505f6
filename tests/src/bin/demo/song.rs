//! What is played: the user's file or the demo song.

use std::ops::Range;
use std::path::Path;

use plimsoll::section::{Place, Section, Sections};
use plimsoll_tests::audio_file::{self, Audio};
use plimsoll_tests::song::{BAR_S, DEMO_RATE_HZ, SECTIONS, SongSection, TEMPO_BPM, TITLE};

use crate::failure::Failure;

/// How much louder the choruses are in the second version, dB.
const TWEAK_DB: f32 = 0.8;

/// A song, ready to be played.
#[derive(Debug)]
pub struct Song {
    /// Title or file name.
    pub name: String,
    /// The sound.
    pub audio: Audio,
    /// Quarter notes a minute, where known.
    pub tempo_bpm: Option<f64>,
    /// Its sections, where known.
    pub sections: Sections,
    /// The same song after a tweak, and what of it is played again; not for the user's own file.
    pub tweak: Option<Tweak>,
}

/// What the user of the demo tries: choruses a little louder, and only the last one played again.
#[derive(Debug)]
pub struct Tweak {
    /// How much louder the choruses are, dB.
    pub gain_db: f32,
    /// The whole song with it.
    pub audio: Audio,
    /// The frames that are played again, end exclusive.
    pub frames: Range<usize>,
}

/// Renders the demo song.
pub fn render() -> Song {
    eprintln!("Rendering \"{TITLE}\" …");
    let audio = plimsoll_tests::song::render(DEMO_RATE_HZ);
    Song {
        name: TITLE.to_owned(),
        tweak: Some(louder_choruses(&audio)),
        sections: sections(),
        audio,
        tempo_bpm: Some(TEMPO_BPM),
    }
}

fn sections() -> Sections {
    let place = |at_s: f64| Place { at_s, bar: Some(at_s / BAR_S) };
    let section = |(part, id): (&SongSection, u32)| Section {
        id,
        name: part.name.to_owned(),
        start_s: part.start_s,
        end_s: part.end_s,
        start_bar: place(part.start_s).bar,
        end_bar: place(part.end_s).bar,
        open: false,
    };
    Sections::from_saved(SECTIONS.iter().zip(1..).map(section).collect()).unwrap_or_default()
}

fn louder_choruses(audio: &Audio) -> Tweak {
    let mut louder = audio.clone();
    let mut frames = 0..0;
    for part in SECTIONS.iter().filter(|part| part.name.to_lowercase().contains("chorus")) {
        frames = frame(part.start_s, audio.rate_hz)..frame(part.end_s, audio.rate_hz);
        louder = louder.with_gain(frames.clone(), 10.0_f32.powf(TWEAK_DB / 20.0));
    }
    Tweak { gain_db: TWEAK_DB, audio: louder, frames }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "times of the demo song, 0 to 92.5 s"
)]
fn frame(at_s: f64, rate_hz: u32) -> usize {
    (at_s * f64::from(rate_hz)).round() as usize
}

/// Reads the user's file.
pub fn read(file: &Path) -> Result<Song, Failure> {
    eprintln!("Reading {} …", file.display());
    let audio = audio_file::read(file)?;
    let name = file.file_name().unwrap_or(file.as_os_str());
    Ok(Song {
        name: name.to_string_lossy().into_owned(),
        audio,
        tempo_bpm: None,
        sections: Sections::default(),
        tweak: None,
    })
}
