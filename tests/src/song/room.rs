//! The room: four delay lines that feed each other (a small feedback delay network), damped.

use super::mixer::frames;

/// Delay of the four lines in seconds: mutually prime in milliseconds, so that echoes do not pile
/// up on one spot.
const LINE_S: [f64; 4] = [0.0297, 0.0371, 0.0411, 0.0437];
/// Time in which the tail falls by 60 dB, in seconds.
const DECAY_S: f64 = 1.6;
/// Above this frequency the tail fades faster, in Hz.
const DAMPING_HZ: f64 = 4_200.0;

#[derive(Debug)]
struct Line {
    buffer: Vec<f64>,
    at: usize,
    low: f64,
    feedback: f64,
}

impl Line {
    fn new(length_s: f64, rate_hz: f64) -> Self {
        Self {
            buffer: vec![0.0; frames(length_s, rate_hz).max(1)],
            at: 0,
            low: 0.0,
            feedback: 10.0_f64.powf(-3.0 * length_s / DECAY_S),
        }
    }

    fn oldest(&self) -> f64 {
        self.buffer.get(self.at).copied().unwrap_or(0.0)
    }

    fn push(&mut self, value: f64) {
        if let Some(slot) = self.buffer.get_mut(self.at) {
            *slot = value;
        }
        self.at += 1;
        if self.at == self.buffer.len() {
            self.at = 0;
        }
    }
}

/// A stereo room.
#[derive(Debug)]
pub(super) struct Room {
    lines: [Line; 4],
    damping: f64,
}

impl Room {
    /// An empty room at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            lines: LINE_S.map(|length_s| Line::new(length_s, rate_hz)),
            damping: 1.0 - (-std::f64::consts::TAU * DAMPING_HZ / rate_hz).exp(),
        }
    }

    /// One frame in, one frame of the room's answer out.
    pub fn step(&mut self, left: f64, right: f64) -> [f64; 2] {
        let damping = self.damping;
        let [a, b, c, d] = &mut self.lines;
        let outs = [&mut *a, &mut *b, &mut *c, &mut *d].map(|line| {
            line.low += damping * (line.oldest() - line.low);
            line.low * line.feedback
        });
        // Householder matrix: every line hears all others, energy is kept.
        let half_sum = 0.5 * outs.iter().sum::<f64>();
        let [oa, ob, oc, od] = outs;
        a.push(left + oa - half_sum);
        b.push(right + ob - half_sum);
        c.push(left + oc - half_sum);
        d.push(right + od - half_sum);
        [oa + oc, ob + od]
    }
}
