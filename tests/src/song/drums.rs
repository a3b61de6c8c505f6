//! The drum kit.

use super::mixer::Mixer;
use super::parts::{Decay, Filter, Noise, Phase, pan};

/// A bass drum: a sine that falls from the beater's click to its own note.
pub(super) fn kick(mixer: &mut Mixer, at_s: f64, level: f64) {
    let rate_hz = mixer.rate_hz();
    let mut phase = Phase::new(0.0, rate_hz);
    let mut body = Decay::new(0.13, rate_hz);
    let mut fall = Decay::new(0.022, rate_hz);
    let mut click = Decay::new(0.003, rate_hz);
    let mut noise = Noise::new(11, rate_hz);
    mixer.play(at_s, 0.5, 0.02, |time_s| {
        let frequency_hz = 47.0 + 150.0 * fall.next();
        let ring = phase.sine(frequency_hz) * body.next() * (time_s / 0.001).min(1.0);
        let value = level * ((1.6 * ring).tanh() + 0.25 * noise.next() * click.next());
        [value, value]
    });
}

/// A snare drum: two tones of the shell and the rattle of the wires.
pub(super) fn snare(mixer: &mut Mixer, at_s: f64, level: f64, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let mut shell_low = Phase::new(0.0, rate_hz);
    let mut shell_high = Phase::new(0.0, rate_hz);
    let mut ring = Decay::new(0.055, rate_hz);
    let mut rattle = Decay::new(0.085, rate_hz);
    let mut noise_l = Noise::new(seed.wrapping_mul(2).wrapping_add(101), rate_hz);
    let mut noise_r = Noise::new(seed.wrapping_mul(2).wrapping_add(102), rate_hz);
    let mut filter_l = Filter::new(3_100.0, 0.6, rate_hz);
    let mut filter_r = Filter::new(3_100.0, 0.6, rate_hz);
    mixer.play(at_s, 0.6, 0.22, |_| {
        let tone = (0.55 * shell_low.sine(186.0) + 0.3 * shell_high.sine(331.0)) * ring.next();
        let wires = 1.3 * rattle.next();
        let centre = noise_l.next();
        let left = filter_l.step(centre).band * wires;
        let right = filter_r.step(0.7 * centre + 0.7 * noise_r.next()).band * wires;
        [level * (tone + left), level * (tone + right)]
    });
}

/// The stick on the rim: a short, dry knock.
pub(super) fn rim(mixer: &mut Mixer, at_s: f64, level: f64) {
    let rate_hz = mixer.rate_hz();
    let mut high = Phase::new(0.0, rate_hz);
    let mut low = Phase::new(0.0, rate_hz);
    let mut ring = Decay::new(0.014, rate_hz);
    mixer.play(at_s, 0.12, 0.3, |_| {
        let value = level * (high.sine(1_720.0) + 0.8 * low.sine(468.0)) * ring.next();
        [0.8 * value, value]
    });
}

/// A hi-hat; `tau_s` tells closed from open.
pub(super) fn hat(mixer: &mut Mixer, at_s: f64, level: f64, tau_s: f64, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let mut noise = Noise::new(seed.wrapping_add(7_001), rate_hz);
    let mut filter = Filter::new(7_800.0, 0.8, rate_hz);
    let mut ring = Decay::new(tau_s, rate_hz);
    let [left, right] = pan(0.35);
    mixer.play(at_s, tau_s * 7.0, 0.04, |_| {
        let value = level * filter.step(noise.next()).high * ring.next();
        [left * value, right * value]
    });
}

/// A crash cymbal: wide noise that rings for seconds.
pub(super) fn crash(mixer: &mut Mixer, at_s: f64, level: f64, seed: u32) {
    let rate_hz = mixer.rate_hz();
    let mut noise_l = Noise::new(seed.wrapping_add(31), rate_hz);
    let mut noise_r = Noise::new(seed.wrapping_add(32), rate_hz);
    let mut filter_l = Filter::new(4_600.0, 0.7, rate_hz);
    let mut filter_r = Filter::new(5_000.0, 0.7, rate_hz);
    let mut ring = Decay::new(0.55, rate_hz);
    mixer.play(at_s, 3.2, 0.1, |_| {
        let gain = level * ring.next();
        let left = filter_l.step(noise_l.next()).high;
        let right = filter_r.step(noise_r.next()).high;
        [gain * left, gain * right]
    });
}

/// A tom-tom of `pitch_hz` at `place` (−1 left to +1 right).
pub(super) fn tom(mixer: &mut Mixer, at_s: f64, level: f64, pitch_hz: f64, place: f64) {
    let rate_hz = mixer.rate_hz();
    let mut phase = Phase::new(0.0, rate_hz);
    let mut overtone = Phase::new(0.0, rate_hz);
    let mut body = Decay::new(0.16, rate_hz);
    let mut fall = Decay::new(0.05, rate_hz);
    let mut skin = Decay::new(0.012, rate_hz);
    let mut noise = Noise::new(57, rate_hz);
    let mut filter = Filter::new(2_200.0, 0.7, rate_hz);
    let [left, right] = pan(place);
    mixer.play(at_s, 0.7, 0.16, |_| {
        let bend = 1.0 + 0.5 * fall.next();
        let tone = phase.sine(pitch_hz * bend) + 0.3 * overtone.sine(1.59 * pitch_hz * bend);
        let hit = 1.2 * filter.step(noise.next()).band * skin.next();
        let value = level * (tone * body.next() + hit);
        [left * value, right * value]
    });
}
