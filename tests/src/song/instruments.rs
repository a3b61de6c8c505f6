//! Bass, pad, plucked string, guitar wall and lead.

use super::mixer::{Mixer, frames};
use super::parts::{Decay, Filter, Noise, Phase, pan, pitch_hz, swell};

/// A note: when, how long, how loud, which.
#[derive(Debug, Clone, Copy)]
pub(super) struct Note {
    /// Start in the song, in seconds.
    pub at_s: f64,
    /// Length in seconds.
    pub length_s: f64,
    /// Linear level.
    pub level: f64,
    /// Number in the equal-tempered scale; 69 is 440 Hz.
    pub pitch: f64,
}

/// The bass: a saw and the sine below it, closing after the attack.
pub(super) fn bass(mixer: &mut Mixer, note: Note, bright_hz: f64) {
    let rate_hz = mixer.rate_hz();
    let frequency_hz = pitch_hz(note.pitch);
    let mut saw = Phase::new(0.5, rate_hz);
    let mut sine = Phase::new(0.0, rate_hz);
    let mut filter = Filter::new(bright_hz, 0.9, rate_hz);
    let mut open = Decay::new(0.12, rate_hz);
    let mut countdown = 0_u32;
    mixer.play(note.at_s, note.length_s, 0.0, |time_s| {
        let opening = open.next();
        if countdown == 0 {
            filter.tune(bright_hz * (0.5 + 1.5 * opening));
            countdown = 32;
        }
        countdown -= 1;
        let buzz = filter.step(saw.saw(frequency_hz)).low;
        let edge = swell(time_s, note.length_s, 0.004, 0.03);
        let value = note.level * edge * (0.55 * buzz + 0.6 * sine.sine(frequency_hz));
        [value, value]
    });
}

/// The pad: each note of the chord as two detuned saws, one leaning left, one right.
pub(super) fn pad(
    mixer: &mut Mixer,
    at_s: f64,
    length_s: f64,
    level: f64,
    chord: &[f64],
    colour: (f64, f64),
) {
    const RELEASE_S: f64 = 0.7;
    let rate_hz = mixer.rate_hz();
    let (bright_hz, width) = colour;
    let mut voices: Vec<(f64, Phase, Phase)> = chord
        .iter()
        .zip([0.13, 0.57, 0.31, 0.83, 0.05])
        .map(|(note, start)| {
            let left = Phase::new(start, rate_hz);
            let right = Phase::new(1.0 - start, rate_hz);
            (pitch_hz(*note), left, right)
        })
        .collect();
    let mut filter_l = Filter::new(bright_hz, 0.7, rate_hz);
    let mut filter_r = Filter::new(bright_hz * 1.08, 0.7, rate_hz);
    let total_s = length_s + RELEASE_S;
    mixer.play(at_s, total_s, 0.35, |time_s| {
        let mut sum_l = 0.0;
        let mut sum_r = 0.0;
        for (frequency_hz, left, right) in &mut voices {
            sum_l += left.saw(*frequency_hz * 0.9985);
            sum_r += right.saw(*frequency_hz * 1.0017);
        }
        let left = filter_l.step(sum_l).low;
        let right = filter_r.step(sum_r).low;
        let (mid, side) = (0.5 * (left + right), 0.5 * width * (left - right));
        let gain = level * swell(time_s, total_s, 0.35, RELEASE_S);
        [gain * (mid + side), gain * (mid - side)]
    });
}

/// A plucked string: a burst of noise that runs round a delay line (Karplus and Strong).
pub(super) fn pluck(mixer: &mut Mixer, note: Note, place: f64, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let period_frames = rate_hz / pitch_hz(note.pitch);
    // Half a frame of the loop is in the averaging below, the rest of the fraction in `mixture`.
    let whole = (period_frames - 0.5).floor().max(2.0);
    let mixture = (period_frames - 0.5 - whole).clamp(0.0, 1.0);
    let mut noise = Noise::new(seed.wrapping_add(401), 48_000.0);
    let mut softer = Filter::new(5_200.0, 0.7, rate_hz);
    let len_frames = frames(whole, 1.0);
    let mut string: std::collections::VecDeque<f64> =
        (0..len_frames).map(|_| softer.step(noise.next()).low).collect();
    // The loop loses 60 dB in about a second and a half, whatever the pitch.
    let loss = 10.0_f64.powf(-3.0 * period_frames / rate_hz / 1.5);
    let (mut last, mut last_filtered) = (0.0, 0.0);
    let [left, right] = pan(place);
    mixer.play(note.at_s, note.length_s, 0.3, |time_s| {
        let out = string.pop_front().unwrap_or(0.0);
        let filtered = 0.5 * (out + last);
        last = out;
        let tuned = filtered + mixture * (last_filtered - filtered);
        last_filtered = filtered;
        string.push_back(tuned * loss);
        let edge = swell(time_s, note.length_s, 0.001, 0.08);
        let value = note.level * edge * out;
        [left * value, right * value]
    });
}

/// The guitar wall: a fifth played twice, once hard left, once hard right, through a saturator.
pub(super) fn wall(mixer: &mut Mixer, note: Note, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let start = f64::from(seed % 17) / 17.0;
    for (place, detune, offset) in [(-0.9, 0.9978, 0.11), (0.9, 1.0024, 0.68)] {
        let root_hz = pitch_hz(note.pitch) * detune;
        let fifth_hz = pitch_hz(note.pitch + 7.0) * detune;
        let octave_hz = 2.0 * root_hz;
        let mut root = Phase::new((start + offset) % 1.0, rate_hz);
        let mut fifth = Phase::new((start * 0.7 + offset) % 1.0, rate_hz);
        let mut octave = Phase::new((start * 0.3 + offset) % 1.0, rate_hz);
        let mut body = Filter::new(130.0, 0.7, rate_hz);
        let mut cabinet = Filter::new(4_300.0, 0.8, rate_hz);
        let mut pick = Decay::new(0.35, rate_hz);
        let [left, right] = pan(place);
        mixer.play(note.at_s, note.length_s, 0.08, |time_s| {
            let raw = root.saw(root_hz) + fifth.saw(fifth_hz) + 0.6 * octave.saw(octave_hz);
            let driven = (1.3 * body.step(raw).high).tanh();
            let edge = swell(time_s, note.length_s, 0.004, 0.05);
            let gain = note.level * edge * (0.6 + 0.4 * pick.next());
            let value = gain * cabinet.step(driven).low;
            [left * value, right * value]
        });
    }
}

/// The lead: a square and a saw with vibrato, and one echo on either side.
pub(super) fn lead(mixer: &mut Mixer, note: Note, bright_hz: f64) {
    const ECHOES: [(f64, f64, f64); 3] =
        [(0.0, 1.0, 0.0), (0.3125, 0.28, -0.7), (0.46875, 0.2, 0.7)];
    let rate_hz = mixer.rate_hz();
    for (delay_s, share, place) in ECHOES {
        let mut square = Phase::new(0.0, rate_hz);
        let mut saw = Phase::new(0.25, rate_hz);
        let mut vibrato = Phase::new(0.0, rate_hz);
        let mut filter = Filter::new(bright_hz, 1.1, rate_hz);
        let frequency_hz = pitch_hz(note.pitch);
        let [left, right] = pan(place);
        mixer.play(note.at_s + delay_s, note.length_s, 0.25, |time_s| {
            let depth = 0.006 * ((time_s - 0.15) / 0.4).clamp(0.0, 1.0);
            let bent_hz = frequency_hz * (1.0 + depth * vibrato.sine(5.3));
            let raw = 0.6 * square.square(bent_hz) + 0.5 * saw.saw(bent_hz * 1.002);
            let edge = swell(time_s, note.length_s, 0.02, 0.09);
            let value = note.level * share * edge * filter.step(raw).low;
            [left * value, right * value]
        });
    }
}
