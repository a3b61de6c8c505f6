//! The share of the power that lies below 20 Hz.
//!
//! Definition (common practice, no source): the power behind a low-pass of the fourth order
//! (Butterworth) at 20 Hz, from 250 ms on, to the power of the whole, DC taken out of both, all
//! channels but the LFE. Of concern above −20 dB, 1 % (the project's own choice). Limit: the low-pass works on means
//! over half a millisecond, so that a tone within 20 Hz of a multiple of some 2 kHz shows with up
//! to −40 dB of its power.

use super::channels::ChannelScan;
use super::group::Group;
use crate::meters::layout::Layout;
use crate::units::{Db, SampleRate, energy_to_db};

/// A share above this is of concern, dB.
pub const SUBSONIC_CONCERN_DB: f64 = -20.0;

/// Where the low-pass is down by 3 dB, Hz.
const CORNER_HZ: f64 = 20.0;

/// The low-pass forgets where it began by e^−48·t, in this time to 1e−5, seconds: a DC offset is a
/// step at the start of the file and no rumble.
const SETTLE_S: f64 = 0.25;

/// Qualities of the two halves of a Butterworth low-pass of the fourth order:
/// 1/(2·cos(π/8)) and 1/(2·cos(3π/8)).
const QUALITIES: [f64; 2] = [0.541_196_100_146_197, 1.306_562_964_876_377];

/// One half of the low-pass, by the bilinear transform.
#[derive(Debug, Clone, Copy)]
struct Half {
    gain: f64,
    a1: f64,
    a2: f64,
    /// x\[n−1\], x\[n−2\], y\[n−1\], y\[n−2\].
    past: [f64; 4],
}

impl Half {
    fn new(rate_hz: f64, quality: f64) -> Self {
        let k = (std::f64::consts::PI * CORNER_HZ / rate_hz).tan();
        let norm = 1.0 + k / quality + k * k;
        Self {
            gain: k * k / norm,
            a1: 2.0 * (k * k - 1.0) / norm,
            a2: (1.0 - k / quality + k * k) / norm,
            past: [0.0; 4],
        }
    }

    fn step(&mut self, x: f64) -> f64 {
        let [x1, x2, y1, y2] = self.past;
        let y = self.gain * (x + 2.0 * x1 + x2) - self.a1 * y1 - self.a2 * y2;
        self.past = [x, x1, y, y1];
        y
    }
}

/// Means that wait: one by one, each would wait for the one before to be written to memory.
const TURN: usize = 64;

/// The low-pass of one channel and the power behind it.
#[derive(Debug, Clone)]
pub struct SubsonicScan {
    /// Means that did not go through the low-pass yet, and the frames up to the end of each.
    waiting: Vec<(f64, f64)>,
    halves: [Half; 2],
    sum: f64,
    square_sum: f64,
    steps: f64,
    frames: f64,
    /// What comes before this frame is not counted.
    settled_frames: f64,
}

impl SubsonicScan {
    /// For groups of `group_frames` at `rate`.
    pub fn new(rate: SampleRate, group_frames: usize) -> Self {
        let group_rate_hz = f64::from(rate.hz()) / float(group_frames);
        Self {
            waiting: Vec::with_capacity(TURN),
            halves: QUALITIES.map(|quality| Half::new(group_rate_hz, quality)),
            sum: 0.0,
            square_sum: 0.0,
            steps: 0.0,
            frames: 0.0,
            settled_frames: SETTLE_S * f64::from(rate.hz()),
        }
    }

    /// Adds a group of `len_frames`.
    pub fn push(&mut self, group: &Group, len_frames: usize) {
        let mean = f64::from(group.sum) / float(len_frames);
        self.frames += float(len_frames);
        self.waiting.push((mean, self.frames));
        if self.waiting.len() >= TURN {
            self.finish();
        }
    }

    /// Has all means go through the low-pass.
    pub fn finish(&mut self) {
        let mut halves = self.halves;
        for (mean, frames) in self.waiting.drain(..) {
            let low = halves.iter_mut().fold(mean, |value, half| half.step(value));
            if frames >= self.settled_frames {
                self.sum += low;
                self.square_sum += low * low;
                self.steps += 1.0;
            }
        }
        self.halves = halves;
    }
}

/// The share of the whole, once all are finished.
pub fn share(low: &[SubsonicScan], all: &[ChannelScan], layout: Layout) -> Option<Db> {
    let (mut low_power, mut power) = (0.0, 0.0);
    for ((low, all), weight) in low.iter().zip(all).zip(layout.weights()) {
        if *weight > 0.0 && low.steps > 0.0 {
            let dc = low.sum / low.steps;
            low_power += (low.square_sum / low.steps - dc * dc).max(0.0);
            power += (all.square_sum() / low.frames - dc * dc).max(0.0);
        }
    }
    (power > 0.0).then(|| Db(energy_to_db((low_power / power).min(1.0))))
}

fn float(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}
