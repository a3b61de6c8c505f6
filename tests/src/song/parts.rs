//! The building blocks of the instruments: noise, oscillators, a filter, envelopes.

use std::f64::consts::{PI, TAU};

use crate::noise::Rng;

/// Frequency of a note of the equal-tempered scale, in Hz; 69 is the A at 440 Hz.
pub(super) fn pitch_hz(note: f64) -> f64 {
    440.0 * ((note - 69.0) / 12.0).exp2()
}

/// Left and right gain for a place from −1 (left) over 0 to +1 (right), equal power.
pub(super) fn pan(place: f64) -> [f64; 2] {
    let angle = (place + 1.0) * PI / 4.0;
    [angle.cos(), angle.sin()]
}

/// White noise, always the same for the same seed.
#[derive(Debug, Clone)]
pub(super) struct Noise {
    rng: Rng,
    scale: f64,
}

impl Noise {
    /// Scaled so that a fixed band holds the same power at every rate.
    pub fn new(seed: u32, rate_hz: f64) -> Self {
        Self { rng: Rng::new(u64::from(seed)), scale: (rate_hz / 48_000.0).sqrt() }
    }

    /// The next value, −1 to +1 at 48 kHz.
    pub fn next(&mut self) -> f64 {
        self.rng.bipolar() * self.scale
    }
}

/// A phase that runs from 0 to 1.
#[derive(Debug, Clone)]
pub(super) struct Phase {
    at: f64,
    rate_hz: f64,
}

impl Phase {
    pub fn new(start: f64, rate_hz: f64) -> Self {
        Self { at: start, rate_hz }
    }

    fn advance(&mut self, frequency_hz: f64) -> (f64, f64) {
        // Above 0.45 of the rate nothing sensible comes out: hold it there (low rates only).
        let step = (frequency_hz / self.rate_hz).min(0.45);
        let now = self.at;
        self.at += step;
        if self.at >= 1.0 {
            self.at -= 1.0;
        }
        (now, step)
    }

    /// The next value of a sine.
    pub fn sine(&mut self, frequency_hz: f64) -> f64 {
        (TAU * self.advance(frequency_hz).0).sin()
    }

    /// The next value of a saw whose step is rounded by a polynomial (polyBLEP), so that it
    /// aliases little.
    pub fn saw(&mut self, frequency_hz: f64) -> f64 {
        let (at, step) = self.advance(frequency_hz);
        2.0 * at - 1.0 - step_correction(at, step)
    }

    /// The next value of a square, rounded likewise.
    pub fn square(&mut self, frequency_hz: f64) -> f64 {
        let (at, step) = self.advance(frequency_hz);
        let half = if at < 0.5 { at + 0.5 } else { at - 0.5 };
        let raw = if at < 0.5 { 1.0 } else { -1.0 };
        raw + step_correction(at, step) - step_correction(half, step)
    }
}

fn step_correction(at: f64, step: f64) -> f64 {
    if at < step {
        let t = at / step;
        t + t - t * t - 1.0
    } else if at > 1.0 - step {
        let t = (at - 1.0) / step;
        t * t + t + t + 1.0
    } else {
        0.0
    }
}

/// Low, band and high output of [`Filter`].
#[derive(Debug, Clone, Copy)]
pub(super) struct Bands {
    pub low: f64,
    pub band: f64,
    pub high: f64,
}

/// A state-variable filter of second order, trapezoidal integration: stable while it is swept.
#[derive(Debug, Clone)]
pub(super) struct Filter {
    rate_hz: f64,
    g: f64,
    damping: f64,
    first: f64,
    second: f64,
}

impl Filter {
    /// Corner in Hz; `q` 0.707 is flat, above it rings.
    pub fn new(corner_hz: f64, q: f64, rate_hz: f64) -> Self {
        let mut filter = Self { rate_hz, g: 0.0, damping: 1.0 / q, first: 0.0, second: 0.0 };
        filter.tune(corner_hz);
        filter
    }

    /// Moves the corner.
    pub fn tune(&mut self, corner_hz: f64) {
        self.g = (PI * (corner_hz / self.rate_hz).min(0.45)).tan();
    }

    /// One sample in, three bands out. The band output has gain 1 at the corner.
    pub fn step(&mut self, input: f64) -> Bands {
        let high = (input - (self.damping + self.g) * self.first - self.second)
            / (1.0 + self.damping * self.g + self.g * self.g);
        let band = self.g * high + self.first;
        self.first = self.g * high + band;
        let low = self.g * band + self.second;
        self.second = self.g * band + low;
        Bands { low, band: band * self.damping, high }
    }
}

/// Something that fades by a factor of e in `tau_s`, without calling `exp` once a frame.
#[derive(Debug, Clone)]
pub(super) struct Decay {
    value: f64,
    factor: f64,
}

impl Decay {
    pub fn new(tau_s: f64, rate_hz: f64) -> Self {
        Self { value: 1.0, factor: (-1.0 / (tau_s * rate_hz)).exp() }
    }

    /// The value now; the next call is one frame later.
    pub fn next(&mut self) -> f64 {
        let now = self.value;
        self.value *= self.factor;
        now
    }
}

/// Rises in `attack_s`, stays, falls in the last `release_s` before `length_s`. Rounded ends, so
/// that nothing clicks.
pub(super) fn swell(time_s: f64, length_s: f64, attack_s: f64, release_s: f64) -> f64 {
    let rise = (time_s / attack_s).clamp(0.0, 1.0);
    let fall = ((length_s - time_s) / release_s).clamp(0.0, 1.0);
    let edge = rise.min(fall);
    edge * edge * (3.0 - 2.0 * edge)
}
