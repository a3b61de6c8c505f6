//! The audio thread's side of matched listening.

use super::Listening;
use std::sync::Arc;

/// A change of gain takes so long: no click, and short enough to compare by ear.
const RAMP_MS: u32 = 25;

/// Applies the gain that [`Listening`] asks for.
pub struct OutputGain {
    listening: Arc<Listening>,
    /// The press that [`Self::limit`] belongs to.
    presses: u32,
    /// What peaks leave of the gain of this press, linear.
    limit: f32,
    ramp_frames: u16,
    /// Present gain, linear.
    gain: f32,
    /// Where it goes.
    goal: f32,
    /// Added to the gain with every frame of a ramp.
    step: f32,
    /// Frames until the goal is reached.
    left_frames: u16,
}

impl OutputGain {
    /// At `rate_hz`; no gain in place yet.
    #[must_use]
    pub fn new(listening: Arc<Listening>, rate_hz: u32) -> Self {
        Self {
            listening,
            presses: 0,
            limit: f32::INFINITY,
            ramp_frames: u16::try_from(rate_hz / 1000 * RAMP_MS).unwrap_or(u16::MAX).max(1),
            gain: 1.0,
            goal: 1.0,
            step: 0.0,
            left_frames: 0,
        }
    }

    /// `[audio-thread]` Applies the gain to a block, after it was measured.
    ///
    /// `true_peak` is the highest amplitude that the meters saw of late, between samples too: a
    /// gain above 0 dB yields to what was not measured yet when it was asked for. No sample is
    /// raised over the ceiling; between samples, the gain yields once the meters saw it.
    /// While `bypassed` the gain is taken off.
    pub fn apply(&mut self, channels: &mut [&mut [f32]], true_peak: f32, bypassed: bool) {
        let asked = self.listening.asked();
        if asked.presses != self.presses {
            self.presses = asked.presses;
            self.limit = f32::INFINITY;
        }
        let mut wanted = if bypassed { 1.0 } else { asked.gain.min(self.limit) };
        if wanted > 1.0 && wanted * true_peak > asked.ceiling {
            wanted = (asked.ceiling / true_peak).max(1.0);
            self.hold_back(wanted);
        }
        if wanted != self.goal {
            self.goal = wanted;
            self.left_frames = self.ramp_frames;
            self.step = (self.goal - self.gain) / f32::from(self.ramp_frames);
        }
        if self.gain == 1.0 && self.goal == 1.0 {
            return;
        }
        let len_frames = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        for frame in 0..len_frames {
            if self.left_frames > 0 {
                self.left_frames -= 1;
                self.gain = if self.left_frames == 0 { self.goal } else { self.gain + self.step };
            }
            let samples = || channels.iter().filter_map(|channel| channel.get(frame));
            let peak = samples().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
            if self.gain > 1.0 && self.gain * peak > asked.ceiling {
                self.gain = (asked.ceiling / peak).max(1.0);
                self.goal = self.gain;
                self.left_frames = 0;
                self.hold_back(self.gain);
            }
            for sample in channels.iter_mut().filter_map(|channel| channel.get_mut(frame)) {
                *sample *= self.gain;
            }
        }
    }

    /// A peak leaves no more than `gain`, until the next press: a gain that came back by itself
    /// would make one part louder than another.
    fn hold_back(&mut self, gain: f32) {
        self.limit = self.limit.min(gain);
        self.listening.tell_held_back(gain);
    }
}

#[cfg(test)]
mod tests;
