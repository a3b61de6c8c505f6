//! The score: who plays what in which bar.

use super::drums::{crash, hat, kick, rim, snare, tom};
use super::instruments::{Note, bass, lead, pad, pluck, wall};
use super::mixer::Mixer;
use super::voice::{Vowel, sing};
use super::{BAR_S, BEAT_S};

/// Level of the room against the dry mix.
pub(super) const ROOM_GAIN: f64 = 0.22;
/// Gain of the last stage. Set by ear and meter so that the song sits a few LU from common targets
/// and only the fills reach the soft ceiling.
pub(super) const MASTER_GAIN: f64 = 0.53;

/// Root of the bass and the notes of the chord, lowest first.
#[derive(Debug, Clone, Copy)]
struct Chord {
    root: f64,
    notes: [f64; 4],
}

const fn chord(root: f64, notes: [f64; 4]) -> Chord {
    Chord { root, notes }
}

const A_MINOR: Chord = chord(33.0, [57.0, 60.0, 64.0, 67.0]);
const F_MAJOR: Chord = chord(29.0, [53.0, 57.0, 60.0, 64.0]);
const C_MAJOR: Chord = chord(36.0, [55.0, 60.0, 64.0, 67.0]);
const E_MINOR: Chord = chord(28.0, [55.0, 59.0, 64.0, 67.0]);
const G_MAJOR: Chord = chord(31.0, [55.0, 59.0, 62.0, 67.0]);
const D_MINOR: Chord = chord(38.0, [53.0, 57.0, 60.0, 65.0]);
const B_FLAT: Chord = chord(34.0, [53.0, 58.0, 62.0, 65.0]);
const E_MAJOR: Chord = chord(28.0, [56.0, 59.0, 62.0, 64.0]);

/// Start beat within the section, length in beats, note.
type Tune = &'static [(f64, f64, f64)];

const INTRO: [Chord; 4] = [A_MINOR, F_MAJOR, C_MAJOR, G_MAJOR];
const VERSE: [Chord; 6] = [A_MINOR, F_MAJOR, C_MAJOR, E_MINOR, F_MAJOR, G_MAJOR];
const CHORUS: [Chord; 4] = [F_MAJOR, C_MAJOR, G_MAJOR, A_MINOR];
const BRIDGE: [Chord; 4] = [D_MINOR, A_MINOR, B_FLAT, E_MAJOR];
const LAST: [Chord; 6] = [F_MAJOR, C_MAJOR, G_MAJOR, A_MINOR, F_MAJOR, G_MAJOR];

#[rustfmt::skip]
const VERSE_TUNE: Tune = &[
    (0.0, 1.0, 64.0), (1.0, 1.5, 69.0), (2.5, 0.5, 67.0), (3.0, 1.0, 64.0),
    (4.0, 1.0, 65.0), (5.0, 2.0, 69.0),
    (8.0, 1.0, 67.0), (9.0, 1.0, 64.0), (10.0, 1.0, 62.0), (11.0, 1.0, 60.0),
    (12.0, 1.0, 59.0), (13.0, 1.0, 62.0), (14.0, 1.8, 64.0),
    (16.0, 1.5, 69.0), (17.5, 0.5, 72.0), (18.0, 1.0, 69.0), (19.0, 1.0, 65.0),
    (20.0, 1.0, 67.0), (21.0, 0.9, 69.0),
];
#[rustfmt::skip]
const CHORUS_TUNE: Tune = &[
    (0.0, 1.0, 69.0), (1.0, 1.0, 72.0), (2.0, 0.5, 72.0), (2.5, 0.5, 71.0), (3.0, 1.0, 69.0),
    (4.0, 1.5, 67.0), (5.5, 0.5, 64.0), (6.0, 1.9, 67.0),
    (8.0, 1.0, 71.0), (9.0, 1.0, 74.0), (10.0, 0.5, 74.0), (10.5, 0.5, 72.0), (11.0, 1.0, 71.0),
    (12.0, 1.5, 72.0), (13.5, 0.5, 71.0), (14.0, 1.9, 69.0),
];
#[rustfmt::skip]
const LAST_TUNE_END: Tune = &[
    (16.0, 1.0, 69.0), (17.0, 1.0, 72.0), (18.0, 1.9, 76.0),
    (20.0, 1.0, 74.0), (21.0, 1.0, 71.0), (22.0, 2.4, 74.0),
];
/// The voice: also the vowels from which and to which it moves.
#[rustfmt::skip]
const VOICE_TUNE: &[(f64, f64, f64, Vowel, Vowel)] = &[
    (0.0, 1.5, 62.0, Vowel::Oo, Vowel::Ah), (1.5, 0.5, 65.0, Vowel::Ah, Vowel::Ah),
    (2.0, 1.9, 69.0, Vowel::Ah, Vowel::Oh),
    (4.0, 1.0, 72.0, Vowel::Eh, Vowel::Eh), (5.0, 1.0, 71.0, Vowel::Eh, Vowel::Ah),
    (6.0, 1.9, 69.0, Vowel::Ah, Vowel::Oo),
    (8.0, 1.5, 70.0, Vowel::Oh, Vowel::Ah), (9.5, 0.5, 69.0, Vowel::Ah, Vowel::Eh),
    (10.0, 1.0, 65.0, Vowel::Eh, Vowel::Oh), (11.0, 1.0, 62.0, Vowel::Oh, Vowel::Oo),
    (12.0, 1.9, 64.0, Vowel::Oo, Vowel::Ah), (14.0, 1.9, 68.0, Vowel::Ah, Vowel::Ah),
];

/// Plays the whole song.
pub(super) fn play(mixer: &mut Mixer) {
    intro(mixer, at(0));
    verse(mixer, at(4), Energy::First);
    chorus(mixer, at(10), &CHORUS, Energy::First);
    verse(mixer, at(14), Energy::Second);
    chorus(mixer, at(20), &CHORUS, Energy::Second);
    bridge(mixer, at(24));
    chorus(mixer, at(28), &LAST, Energy::Last);
    outro(mixer, at(34));
}

/// How far the song has come: each return of a part brings more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Energy {
    First,
    Second,
    Last,
}

fn at(bar: u32) -> f64 {
    f64::from(bar) * BAR_S
}

/// Chords of a section with the time at which each begins.
fn bars(start_s: f64, chords: &[Chord]) -> impl Iterator<Item = (f64, Chord)> {
    (0_u32..).zip(chords).map(move |(bar, chord)| (start_s + at(bar), *chord))
}

/// `count` equal steps of `step_beats`, numbered, from `start_s` on.
fn steps(start_s: f64, count: u32, step_beats: f64) -> impl Iterator<Item = (u32, f64)> {
    (0..count).map(move |step| (step, start_s + f64::from(step) * step_beats * BEAT_S))
}

fn note(at_s: f64, length_beats: f64, level: f64, pitch: f64) -> Note {
    Note { at_s, length_s: length_beats * BEAT_S, level, pitch }
}

fn intro(mixer: &mut Mixer, start_s: f64) {
    for (bar_s, chord) in bars(start_s, &INTRO) {
        pad(mixer, bar_s, BAR_S, 0.115, &chord.notes, (1_200.0, 0.8));
        arpeggio(mixer, bar_s, &chord, 8, 0.62);
    }
    for (step, hit_s) in steps(start_s + at(2), 16, 0.5) {
        hat(mixer, hit_s, 0.03, 0.03, step);
    }
    // Two toms call the verse in.
    tom(mixer, start_s + at(4) - BEAT_S, 0.20, 130.0, -0.3);
    tom(mixer, start_s + at(4) - 0.5 * BEAT_S, 0.22, 98.0, 0.3);
}

fn verse(mixer: &mut Mixer, start_s: f64, energy: Energy) {
    let more = if energy == Energy::First { 1.0 } else { 1.12 };
    for (bar_s, chord) in bars(start_s, &VERSE) {
        pad(mixer, bar_s, BAR_S, 0.060 * more, &chord.notes, (1_300.0, 0.7));
        arpeggio(mixer, bar_s, &chord, 8, 0.30);
        bass(mixer, note(bar_s, 2.3, 0.30, chord.root), 420.0);
        bass(mixer, note(bar_s + 2.5 * BEAT_S, 1.4, 0.28, chord.root), 420.0);
        kick(mixer, bar_s, 0.42);
        kick(mixer, bar_s + 2.5 * BEAT_S, 0.38);
        for backbeat in [1.0, 3.0] {
            let hit_s = bar_s + backbeat * BEAT_S;
            if energy == Energy::First {
                rim(mixer, hit_s, 0.20);
            } else {
                snare(mixer, hit_s, 0.22, 3);
            }
        }
        for (step, hit_s) in steps(bar_s, 8, 0.5) {
            let accent = if step % 2 == 0 { 0.055 } else { 0.035 };
            hat(mixer, hit_s, accent * more, 0.035, step);
        }
    }
    for (beat, length, pitch) in VERSE_TUNE {
        let at_s = start_s + beat * BEAT_S;
        lead(mixer, note(at_s, *length, 0.085 * more, *pitch), 1_500.0);
    }
    fill(mixer, start_s + at(6), energy);
}

fn chorus(mixer: &mut Mixer, start_s: f64, chords: &[Chord], energy: Energy) {
    let more = match energy {
        Energy::First => 1.0,
        Energy::Second => 1.06,
        Energy::Last => 1.16,
    };
    crash(mixer, start_s, 0.20 * more, 1);
    if energy == Energy::Last {
        crash(mixer, start_s + at(4), 0.20, 5);
    }
    for ((bar_s, chord), number) in bars(start_s, chords).zip(0_u32..) {
        pad(mixer, bar_s, BAR_S, 0.075 * more, &chord.notes, (3_200.0, 1.5));
        arpeggio(mixer, bar_s, &chord, 16, 0.22);
        for (step, hit_s) in steps(bar_s, 8, 0.5) {
            let octave = if step == 3 || step == 7 { 12.0 } else { 0.0 };
            bass(mixer, note(hit_s, 0.46, 0.34 * more, chord.root + octave), 800.0);
            hat(mixer, hit_s, 0.085 * more, if step % 2 == 0 { 0.05 } else { 0.16 }, step);
        }
        for (half, length) in [(0.0, 1.95), (2.0, 1.95)] {
            let at_s = bar_s + half * BEAT_S;
            wall(mixer, note(at_s, length, 0.155 * more, chord.root + 12.0), number);
        }
        for beat in [0.0, 1.5, 2.5] {
            kick(mixer, bar_s + beat * BEAT_S, 0.50);
        }
        for beat in [1.0, 3.0] {
            snare(mixer, bar_s + beat * BEAT_S, 0.40 * more, 3);
        }
    }
    for (beat, length, pitch) in CHORUS_TUNE {
        let at_s = start_s + beat * BEAT_S;
        lead(mixer, note(at_s, *length, 0.15 * more, *pitch), 3_600.0);
    }
    if energy == Energy::Last {
        for (beat, length, pitch) in LAST_TUNE_END {
            let at_s = start_s + beat * BEAT_S;
            lead(mixer, note(at_s, *length, 0.16 * more, *pitch), 3_600.0);
        }
        // The voice comes back, a third or so above, one on either side.
        for ((bar_s, chord), seed) in bars(start_s, chords).zip(0_u32..) {
            let [_, _, third, top] = chord.notes;
            for (pitch, place) in [(third + 12.0, -0.6), (top + 12.0, 0.6)] {
                let held = note(bar_s, 3.9, 0.20, pitch);
                sing(mixer, held, (Vowel::Oh, Vowel::Ah), place, seed);
            }
        }
    }
}

fn bridge(mixer: &mut Mixer, start_s: f64) {
    for (bar_s, chord) in bars(start_s, &BRIDGE) {
        pad(mixer, bar_s, BAR_S, 0.075, &chord.notes, (900.0, 0.9));
        bass(mixer, note(bar_s, 3.8, 0.24, chord.root), 300.0);
        kick(mixer, bar_s, 0.28);
        let [_, second, third, top] = chord.notes;
        for ((step, hit_s), pitch) in steps(bar_s + BEAT_S, 3, 1.0).zip([third, second, top]) {
            let place = if step % 2 == 0 { 0.6 } else { -0.6 };
            pluck(mixer, note(hit_s, 1.5, 0.12, pitch + 12.0), place, step);
        }
    }
    for ((beat, length, pitch, from, to), seed) in VOICE_TUNE.iter().zip(0_u32..) {
        let sung = note(start_s + beat * BEAT_S, *length, 0.52, *pitch);
        sing(mixer, sung, (*from, *to), 0.0, seed);
    }
    fill(mixer, start_s + at(4), Energy::Last);
}

fn outro(mixer: &mut Mixer, start_s: f64) {
    crash(mixer, start_s, 0.12, 9);
    kick(mixer, start_s, 0.4);
    bass(mixer, note(start_s, 5.0, 0.26, A_MINOR.root), 380.0);
    pad(mixer, start_s, 2.3 * BAR_S, 0.11, &A_MINOR.notes, (1_000.0, 0.9));
    arpeggio(mixer, start_s, &A_MINOR, 8, 0.50);
    let [low, second, third, top] = A_MINOR.notes;
    for (beat, pitch) in [(4.0, low), (4.5, second), (5.0, third), (5.75, top), (6.75, low + 24.0)]
    {
        pluck(mixer, note(start_s + beat * BEAT_S, 4.5, 0.42, pitch), 0.2, 77);
    }
}

/// The plucked arpeggio over one bar: up and down the chord, left and right in turn.
fn arpeggio(mixer: &mut Mixer, bar_s: f64, chord: &Chord, count: u32, level: f64) {
    let [low, second, third, top] = chord.notes;
    let order = [low, second, third, top, low + 12.0, top, third, second];
    let step_beats = 4.0 / f64::from(count);
    for ((step, hit_s), pitch) in steps(bar_s, count, step_beats).zip(order.iter().cycle()) {
        let place = if step % 2 == 0 { -0.65 } else { 0.65 };
        pluck(mixer, note(hit_s, 1.6, level, pitch + 12.0), place, step);
    }
}

/// The fill that ends at `end_s`, where a chorus begins: snare and toms, louder to the last
/// stroke. Its peaks stand above everything else in the song.
fn fill(mixer: &mut Mixer, end_s: f64, energy: Energy) {
    let push = match energy {
        Energy::First => 0.62,
        Energy::Second => 0.76,
        Energy::Last => 1.0,
    };
    let toms = [(165.0, -0.6), (165.0, -0.5), (123.0, 0.0), (123.0, 0.1), (92.0, 0.5), (82.0, 0.6)];
    let start_s = end_s - 2.0 * BEAT_S;
    for ((step, hit_s), (pitch_hz, place)) in steps(start_s, 6, 0.25).zip(toms) {
        let level = push * (0.48 + 0.08 * f64::from(step));
        tom(mixer, hit_s, level, pitch_hz, place);
        snare(mixer, hit_s, 0.30 * level, step);
    }
    for (step, hit_s) in steps(end_s - 0.5 * BEAT_S, 2, 0.25) {
        snare(mixer, hit_s, push * (0.92 + 0.20 * f64::from(step)), 20 + step);
        kick(mixer, hit_s, push * 0.55);
        tom(mixer, hit_s, push * 0.5, 82.0, 0.3);
    }
}
