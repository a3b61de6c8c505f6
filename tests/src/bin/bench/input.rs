//! What is measured.

use plimsoll::meters::layout::Layout;
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::{self, Audio};
use plimsoll_tests::music;
use plimsoll_tests::song::{DEMO_RATE_HZ, TITLE};

/// A song in memory.
pub struct Song {
    /// Title or file name.
    pub name: String,
    /// The sound, stereo.
    pub audio: Audio,
}

impl Song {
    /// Its rate.
    ///
    /// # Panics
    /// If the meters are not built for it.
    pub fn rate(&self) -> SampleRate {
        SampleRate::new(self.audio.rate_hz).unwrap_or_else(|error| panic!("{error}"))
    }

    /// Both channels.
    pub fn planes(&self) -> [&[f32]; 2] {
        [&self.audio.channels[0], &self.audio.channels[1]]
    }

    /// Name, length and rate.
    pub fn describe(&self) -> String {
        let Audio { rate_hz, .. } = self.audio;
        format!("{} ({:.1} s, {rate_hz} Hz)", self.name, self.audio.len_s())
    }
}

/// The layout of every song here.
pub const LAYOUT: Layout = Layout::Stereo;

/// The demo song, which stands for a home master at 48 kHz, and the longest real song that can
/// be had.
pub fn songs() -> Vec<Song> {
    eprintln!("Rendering \"{TITLE}\" …");
    let mut songs = vec![Song {
        name: format!("\"{TITLE}\""),
        audio: plimsoll_tests::song::render(DEMO_RATE_HZ),
    }];
    match music::files() {
        Ok(files) => songs.extend(longest(&files)),
        Err(skipped) => eprintln!("a real song: {skipped}"),
    }
    songs
}

fn longest(files: &[std::path::PathBuf]) -> Option<Song> {
    files
        .iter()
        .filter_map(|file| {
            let audio = audio_file::read(file).ok()?;
            let name = file.file_name()?.to_string_lossy().into_owned();
            (audio.channels.len() == 2).then_some(Song { name, audio })
        })
        .max_by_key(|song| song.audio.len_frames())
}

/// `song` over and over, in blocks of at most `block_frames` frames, `len_frames` in all.
pub fn repeat(
    song: &Song,
    len_frames: usize,
    block_frames: usize,
    mut push: impl FnMut(&[&[f32]]),
) {
    let [left, right] = song.planes();
    let mut done = 0;
    while done < len_frames {
        let at = done % left.len();
        let len = block_frames.min(left.len() - at).min(len_frames - done);
        push(&[&left[at..at + len], &right[at..at + len]]);
        done += len;
    }
}
