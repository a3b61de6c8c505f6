//! The demo song "Lantern Tide", synthesised.
//!
//! 37 bars at 96 beats a minute: intro, verse, chorus, verse, chorus, bridge with a voice-like
//! lead, last chorus, outro. It stands for a home master that is nearly finished: the choruses are
//! louder, wider and brighter than the verses, the bridge is pulled back, and the fills just before
//! the choruses leave peaks that cost headroom. It is no target's answer yet, so that every figure
//! says something.
//!
//! Deterministic: own noise, no clock; the same rate gives the same samples. Score → instruments →
//! mixer → room → soft ceiling.

mod drums;
mod instruments;
mod mixer;
mod parts;
mod room;
mod score;
mod second;
mod voice;

pub use second::{SECOND_SECTIONS, SECOND_TITLE, render_second};

use crate::audio_file::Audio;

/// The title.
pub const TITLE: &str = "Lantern Tide";
/// Tempo in quarter notes a minute, constant.
pub const TEMPO_BPM: f64 = 96.0;
/// Quarter notes in a bar.
pub const BEATS_PER_BAR: u32 = 4;
/// Length of a beat in seconds: 0.625.
pub const BEAT_S: f64 = 60.0 / TEMPO_BPM;
/// Length of a bar in seconds: 2.5, a whole number of frames at every usual sample rate.
pub const BAR_S: f64 = BEAT_S * 4.0;
/// Bars in the song, ring-out included.
pub const LENGTH_BARS: u32 = 37;
/// Length of the song in seconds: 92.5.
pub const LENGTH_S: f64 = BAR_S * 37.0;
/// Sample rate that the demo renders at, in Hz.
pub const DEMO_RATE_HZ: u32 = 48_000;

/// A named part of the song. Sections follow each other without a gap and begin on bars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SongSection {
    /// Name, as a musician would write it.
    pub name: &'static str,
    /// First bar, counted from 0.
    pub bar: u32,
    /// Length in bars.
    pub len_bars: u32,
    /// Start in seconds of song time.
    pub start_s: f64,
    /// End in seconds of song time; the next section starts there.
    pub end_s: f64,
}

const fn section(name: &'static str, bar: u32, len_bars: u32) -> SongSection {
    // `f64::from` is not const; both numbers are far below 2^53.
    #[allow(clippy::cast_lossless, reason = "const context")]
    let (first, last) = (bar as f64, (bar + len_bars) as f64);
    SongSection { name, bar, len_bars, start_s: first * BAR_S, end_s: last * BAR_S }
}

/// The song's sections, in order.
pub const SECTIONS: [SongSection; 8] = [
    section("Intro", 0, 4),
    section("Verse 1", 4, 6),
    section("Chorus 1", 10, 4),
    section("Verse 2", 14, 6),
    section("Chorus 2", 20, 4),
    section("Bridge", 24, 4),
    section("Last chorus", 28, 6),
    section("Outro", 34, 3),
];

/// Renders the song at `rate_hz`, left channel first.
#[must_use]
pub fn render(rate_hz: u32) -> Audio {
    let mut mixer = mixer::Mixer::new(LENGTH_S, f64::from(rate_hz));
    score::play(&mut mixer);
    let stereo = mixer.mix_down(score::ROOM_GAIN, score::MASTER_GAIN);
    Audio { rate_hz, channels: vec![stereo.left, stereo.right] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_cover_the_song_and_begin_on_bars() {
        let mut bar = 0;
        for section in SECTIONS {
            assert_eq!(section.bar, bar, "{}", section.name);
            assert_eq!(section.start_s, f64::from(bar) * BAR_S);
            bar += section.len_bars;
            assert_eq!(section.end_s, f64::from(bar) * BAR_S);
        }
        assert_eq!(bar, LENGTH_BARS);
        assert_eq!(f64::from(LENGTH_BARS) * BAR_S, LENGTH_S);
    }

    #[test]
    fn the_song_is_the_same_every_time_and_as_long_as_it_says() {
        let song = render(8_000);
        assert_eq!(song.len_frames(), 740_000);
        assert_eq!(song, render(8_000));
    }

    #[test]
    fn every_sample_is_finite_and_below_full_scale_and_the_ends_are_quiet() {
        let song = render(44_100);
        for channel in &song.channels {
            assert!(channel.iter().all(|sample| sample.abs() < 1.0));
            assert!(channel[0].abs() < 0.001);
            assert!(channel[channel.len() - 1].abs() < 0.001);
        }
    }

    #[test]
    fn choruses_are_louder_and_wider_than_the_verses_before_them() {
        let song = render(DEMO_RATE_HZ);
        let figures = SECTIONS.map(|section| {
            let from = mixer::frames(section.start_s, f64::from(song.rate_hz));
            let to = mixer::frames(section.end_s, f64::from(song.rate_hz));
            let (mut mid, mut side) = (0.0, 0.0);
            for (l, r) in song.channels[0][from..to].iter().zip(&song.channels[1][from..to]) {
                mid += f64::from(l + r).powi(2);
                side += f64::from(l - r).powi(2);
            }
            ((mid + side) / f64::from(section.len_bars), side / mid)
        });
        for (verse, chorus) in [(1, 2), (3, 4), (5, 6)] {
            assert!(figures[chorus].0 > 1.3 * figures[verse].0, "{figures:?}");
            assert!(figures[chorus].1 > 1.3 * figures[verse].1, "{figures:?}");
        }
    }

    #[test]
    fn the_highest_peaks_stand_in_the_two_beats_before_a_chorus() {
        let song = render(DEMO_RATE_HZ);
        let rate_hz = f64::from(song.rate_hz);
        let peak_between = |from_s: f64, to_s: f64| {
            let range = mixer::frames(from_s, rate_hz)..mixer::frames(to_s, rate_hz);
            let both = song.channels.iter().flat_map(|channel| &channel[range.clone()]);
            both.fold(0.0_f32, |peak, sample| peak.max(sample.abs()))
        };
        let mut since_s = 0.0;
        for chorus in [2, 4, 6].map(|index| SECTIONS[index]) {
            let fill_s = chorus.start_s - 2.0 * BEAT_S;
            let fill = peak_between(fill_s, chorus.start_s);
            assert!(fill > 1.2 * peak_between(since_s, fill_s), "{}", chorus.name);
            assert!(fill > 1.2 * peak_between(chorus.start_s, chorus.end_s));
            since_s = chorus.start_s;
        }
    }
}
