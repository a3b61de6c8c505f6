//! What is played: the user's file or the demo song.

use std::ops::Range;
use std::path::Path;

use plimsoll::loudness::FileMeter;
use plimsoll::meters::layout::Layout;
use plimsoll::reference::Reference;
use plimsoll::section::{Marker, Place, Section, Sections, log_markers, measure};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::{self, Audio};
use plimsoll_tests::song::{
    BAR_S, DEMO_RATE_HZ, SECOND_SECTIONS, SECOND_TITLE, SECTIONS, SongSection, TEMPO_BPM, TITLE,
    render_second,
};

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
    /// What it is compared with; nothing for the user's own file.
    pub references: Vec<Reference>,
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
        references: reference().into_iter().collect(),
        audio,
        tempo_bpm: Some(TEMPO_BPM),
    }
}

/// The second made-up song, measured as a file with markers would be.
fn reference() -> Option<Reference> {
    eprintln!("Rendering \"{SECOND_TITLE}\" to compare with …");
    let audio = render_second(DEMO_RATE_HZ);
    let planes: Vec<&[f32]> = audio.channels.iter().map(Vec::as_slice).collect();
    let mut meter = FileMeter::with_tone(SampleRate::new(audio.rate_hz).ok()?, Layout::Stereo);
    meter.push(&planes);
    let mut analysis = meter.finish();
    let markers = SECOND_SECTIONS.map(|part| Marker {
        at_s: part.start_s,
        name: part.name.to_owned(),
        length_s: None,
    });
    let (log, _) = log_markers(&markers, audio.len_s(), &mut analysis).ok()?;
    let extent = analysis.extent()?;
    let whole = measure(&mut analysis, extent);
    let new = Reference::new(SECOND_TITLE, audio.len_s(), &whole, &log);
    Some(Reference { id: 1, ..new })
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
        references: Vec::new(),
        tweak: None,
    })
}
