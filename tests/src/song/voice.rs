//! A voice-like lead: a glottal buzz and breath through the formants of a vowel.

use super::instruments::Note;
use super::mixer::Mixer;
use super::parts::{Filter, Noise, Phase, pan, pitch_hz, swell};

/// Centre (Hz), gain (linear) and quality of four formants.
type Formants = [(f64, f64, f64); 4];

/// A vowel. Formant centres are rounded averages of an adult voice, from memory: good enough to
/// sound like one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Vowel {
    /// As in "father".
    Ah,
    /// As in "bed".
    Eh,
    /// As in "more".
    Oh,
    /// As in "moon".
    Oo,
}

impl Vowel {
    fn formants(self) -> Formants {
        match self {
            Self::Ah => [
                (800.0, 1.0, 8.0),
                (1_200.0, 0.6, 10.0),
                (2_700.0, 0.25, 16.0),
                (3_600.0, 0.12, 18.0),
            ],
            Self::Eh => [
                (560.0, 1.0, 8.0),
                (1_900.0, 0.4, 14.0),
                (2_550.0, 0.3, 16.0),
                (3_600.0, 0.12, 18.0),
            ],
            Self::Oh => [
                (500.0, 1.0, 8.0),
                (880.0, 0.5, 10.0),
                (2_600.0, 0.12, 16.0),
                (3_500.0, 0.06, 18.0),
            ],
            Self::Oo => [
                (340.0, 1.0, 7.0),
                (820.0, 0.3, 10.0),
                (2_300.0, 0.06, 16.0),
                (3_400.0, 0.03, 18.0),
            ],
        }
    }
}

/// Sings one note, from one vowel to the next.
pub(super) fn sing(mixer: &mut Mixer, note: Note, vowels: (Vowel, Vowel), place: f64, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let from = vowels.0.formants();
    let to = vowels.1.formants();
    let mut tract: Vec<((f64, f64), f64, Filter)> = from
        .iter()
        .zip(to)
        .map(|(start, end)| {
            let filter = Filter::new(start.0, start.2, rate_hz);
            ((start.0, end.0), 0.5 * (start.1 + end.1), filter)
        })
        .collect();
    let mut glottis = Phase::new(0.0, rate_hz);
    let mut vibrato = Phase::new(0.0, rate_hz);
    let mut breath = Noise::new(seed.wrapping_add(901), rate_hz);
    let mut slope = Filter::new(900.0, 0.6, rate_hz);
    let frequency_hz = pitch_hz(note.pitch);
    let [left, right] = pan(place);
    let mut countdown = 0_u32;
    mixer.play(note.at_s, note.length_s, 0.45, |time_s| {
        if countdown == 0 {
            let way = (time_s / note.length_s).clamp(0.0, 1.0);
            for ((start_hz, end_hz), _, filter) in &mut tract {
                filter.tune(*start_hz + way * (*end_hz - *start_hz));
            }
            countdown = 64;
        }
        countdown -= 1;
        // A singer slides up into the note and lets the vibrato come late.
        let scoop = 1.0 - 0.035 * (-time_s / 0.05).exp();
        let depth = 0.011 * ((time_s - 0.25) / 0.35).clamp(0.0, 1.0);
        let bent_hz = frequency_hz * scoop * (1.0 + depth * vibrato.sine(5.6));
        let buzz = slope.step(glottis.saw(bent_hz)).low + 0.015 * breath.next();
        let mut sum = 0.12 * buzz;
        for (_, gain, filter) in &mut tract {
            sum += *gain * filter.step(buzz).band;
        }
        let value = note.level * swell(time_s, note.length_s, 0.06, 0.12) * sum;
        [left * value, right * value]
    });
}
