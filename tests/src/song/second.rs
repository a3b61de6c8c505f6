//! A second made-up song, "Copper Weather", to compare with: a finished master of the same kind. Its
//! verses are fuller in the low mids, its choruses brighter and wider, its bass leaner.

use super::drums::{crash, hat, kick, snare};
use super::instruments::{Note, bass, lead, pad, pluck, wall};
use super::mixer::Mixer;
use super::{BAR_S, BEAT_S, SongSection, section};
use crate::audio_file::Audio;

/// The title.
pub const SECOND_TITLE: &str = "Copper Weather";

/// Bars of the song, ring-out included: 60 s.
const LENGTH_BARS: u32 = 24;

/// Its sections, in order.
pub const SECOND_SECTIONS: [SongSection; 7] = [
    section("Intro", 0, 2),
    section("Verse 1", 2, 4),
    section("Chorus 1", 6, 4),
    section("Verse 2", 10, 4),
    section("Chorus 2", 14, 4),
    section("Last chorus", 18, 4),
    section("Outro", 22, 2),
];

const ROOM_GAIN: f64 = 0.18;
const MASTER_GAIN: f64 = 0.66;

/// Roots of the bars of a part.
const VERSE: [f64; 4] = [38.0, 34.0, 41.0, 36.0];
const CHORUS: [f64; 4] = [34.0, 41.0, 36.0, 38.0];

/// Renders the song at `rate_hz`, left channel first.
#[must_use]
pub fn render_second(rate_hz: u32) -> Audio {
    let mut mixer = Mixer::new(BAR_S * f64::from(LENGTH_BARS), f64::from(rate_hz));
    for part in SECOND_SECTIONS {
        for bar in 0..part.len_bars {
            let bar_s = part.start_s + f64::from(bar) * BAR_S;
            let of = |roots: &[f64; 4]| roots.iter().cycle().nth(bar as usize).copied();
            let verse = of(&VERSE).unwrap_or_default();
            let chorus = of(&CHORUS).unwrap_or_default();
            match part.name {
                "Intro" | "Outro" => quiet_bar(&mut mixer, bar_s, verse),
                "Verse 1" | "Verse 2" => verse_bar(&mut mixer, bar_s, verse),
                _ => chorus_bar(&mut mixer, bar_s, chorus, bar == 0),
            }
        }
    }
    let stereo = mixer.mix_down(ROOM_GAIN, MASTER_GAIN);
    Audio { rate_hz, channels: vec![stereo.left, stereo.right] }
}

/// A minor seventh on a root two octaves down.
fn chord(root: f64) -> [f64; 4] {
    [root + 12.0, root + 19.0, root + 24.0, root + 27.0]
}

fn note(at_s: f64, beats: f64, level: f64, pitch: f64) -> Note {
    Note { at_s, length_s: beats * BEAT_S, level, pitch }
}

fn quiet_bar(mixer: &mut Mixer, bar_s: f64, root: f64) {
    pad(mixer, bar_s, BAR_S, 0.10, &chord(root), (1_500.0, 0.8));
    for (step, pitch) in (0_u32..).zip(chord(root)) {
        let at_s = bar_s + f64::from(step) * BEAT_S;
        pluck(mixer, note(at_s, 1.6, 0.45, pitch + 12.0), 0.4, step);
    }
}

fn verse_bar(mixer: &mut Mixer, bar_s: f64, root: f64) {
    // Low in pitch: where the verses of the other song are thin.
    pad(mixer, bar_s, BAR_S, 0.105, &chord(root), (900.0, 0.7));
    bass(mixer, note(bar_s, 3.6, 0.22, root), 600.0);
    for beat in [0.0, 2.0] {
        kick(mixer, bar_s + beat * BEAT_S, 0.40);
        snare(mixer, bar_s + (beat + 1.0) * BEAT_S, 0.24, 3);
    }
    rhythm(mixer, bar_s, 0.05);
    for (beat, step) in [(0.0, 24.0), (1.0, 27.0), (1.5, 31.0), (2.5, 29.0), (3.0, 27.0)] {
        lead(mixer, note(bar_s + beat * BEAT_S, 0.9, 0.09, root + step), 1_700.0);
    }
}

fn chorus_bar(mixer: &mut Mixer, bar_s: f64, root: f64, is_first: bool) {
    if is_first {
        crash(mixer, bar_s, 0.22, 2);
    }
    pad(mixer, bar_s, BAR_S, 0.10, &chord(root + 12.0), (5_200.0, 1.8));
    bass(mixer, note(bar_s, 3.8, 0.26, root), 900.0);
    wall(mixer, note(bar_s, 3.9, 0.17, root + 12.0), 4);
    for beat in [0.0, 2.0] {
        kick(mixer, bar_s + beat * BEAT_S, 0.46);
        snare(mixer, bar_s + (beat + 1.0) * BEAT_S, 0.36, 3);
    }
    rhythm(mixer, bar_s, 0.13);
    for (beat, step) in [(0.0, 31.0), (1.0, 34.0), (2.0, 36.0), (3.0, 34.0)] {
        lead(mixer, note(bar_s + beat * BEAT_S, 0.95, 0.14, root + step), 4_200.0);
    }
}

/// Eight strokes of the hi-hat in a bar.
fn rhythm(mixer: &mut Mixer, bar_s: f64, level: f64) {
    for step in 0_u32..8 {
        let at_s = bar_s + f64::from(step) * 0.5 * BEAT_S;
        hat(mixer, at_s, level, if step % 2 == 0 { 0.04 } else { 0.10 }, step);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_song_is_as_long_as_its_sections_and_below_full_scale() {
        let song = render_second(44_100);
        let last = SECOND_SECTIONS[SECOND_SECTIONS.len() - 1];
        assert_eq!(song.len_s(), last.end_s);
        for pair in SECOND_SECTIONS.windows(2) {
            assert_eq!(pair[0].end_s, pair[1].start_s);
        }
        for channel in &song.channels {
            let peak = channel.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
            assert!((0.3..1.0).contains(&peak), "{peak}");
        }
    }
}
