//! Matched listening: a gain on the output, so that louder does not pass for better.
//!
//! Off by default and never kept in the project: a reload starts without it. It changes what is
//! heard and nothing that is measured: the meters read before it. Where the host renders offline
//! it does nothing. While it is off, no sample is touched.

mod output_gain;

pub use output_gain::OutputGain;

use crate::units::{Db, Dbtp, db_to_amplitude};
use atomic_float::{AtomicF32, AtomicF64};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// What the gain matches the song to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MatchTo {
    /// Playback that normalises to the chosen target.
    #[default]
    Playback,
    /// The loudness of the reference input.
    Reference,
}

/// What matched listening does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matched {
    /// What the song is matched to.
    pub to: MatchTo,
    /// The gain on the output, dB; lower than what was asked for if [`Self::held_back`].
    pub gain: Db,
    /// Something louder than what was measured came: the gain was lowered so that it does not
    /// pass the ceiling.
    pub held_back: bool,
    /// The host renders offline: nothing is applied.
    pub rendering: bool,
}

/// What the editor asks for and the audio thread tells.
#[derive(Debug, Default)]
pub struct Listening {
    /// Odd while on; moves with every press.
    presses: AtomicU32,
    /// Whether the present press matches to the reference input.
    to_reference: AtomicBool,
    /// The gain asked for, dB.
    gain_db: AtomicF64,
    /// No output is raised above this amplitude.
    ceiling: AtomicF32,
    /// The gain in place or on the way, dB; `[audio-thread]` writes.
    applied_db: AtomicF64,
    /// `[audio-thread]` writes.
    held_back: AtomicBool,
    rendering: AtomicBool,
}

/// One press, as the audio thread reads it.
struct Asked {
    presses: u32,
    /// Linear; 1 while off.
    gain: f32,
    /// Linear.
    ceiling: f32,
}

impl Listening {
    /// `[main-thread]` Puts `gain` on the output, which matches the song `to` something. A gain
    /// above 0 dB never lifts a sample over `ceiling`, or over full scale where there is none.
    pub fn start(&self, to: MatchTo, gain: Db, ceiling: Option<Dbtp>) {
        self.stop();
        self.to_reference.store(to == MatchTo::Reference, Ordering::Relaxed);
        let ceiling = ceiling.map_or(1.0, |ceiling| narrow(db_to_amplitude(ceiling.0)).min(1.0));
        self.ceiling.store(ceiling, Ordering::Relaxed);
        self.gain_db.store(gain.0, Ordering::Relaxed);
        self.applied_db.store(gain.0, Ordering::Relaxed);
        self.held_back.store(false, Ordering::Relaxed);
        // Odd: on. Everything stored before is seen by whoever sees this.
        self.presses.fetch_add(1, Ordering::Release);
    }

    /// `[main-thread]` Takes the gain off again.
    pub fn stop(&self) {
        if self.is_on() {
            self.presses.fetch_add(1, Ordering::Release);
        }
    }

    /// `[main-thread]` Takes it off where it matches the song to the reference input, because that
    /// is not what it was any more.
    pub fn stop_reference(&self) {
        if self.to_reference.load(Ordering::Relaxed) {
            self.stop();
        }
    }

    /// Whether it is on.
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.presses.load(Ordering::Acquire) % 2 == 1
    }

    /// What it does; `None` while it is off.
    #[must_use]
    pub fn matched(&self) -> Option<Matched> {
        let is_reference = self.to_reference.load(Ordering::Relaxed);
        self.is_on().then(|| Matched {
            to: if is_reference { MatchTo::Reference } else { MatchTo::Playback },
            gain: Db(self.applied_db.load(Ordering::Relaxed)),
            held_back: self.held_back.load(Ordering::Relaxed),
            rendering: self.rendering.load(Ordering::Relaxed),
        })
    }

    /// `[main-thread]` Whether the host renders offline.
    pub fn set_rendering(&self, rendering: bool) {
        self.rendering.store(rendering, Ordering::Relaxed);
    }

    /// `[audio-thread]`
    fn asked(&self) -> Asked {
        let presses = self.presses.load(Ordering::Acquire);
        let gain = if presses % 2 == 1 {
            narrow(db_to_amplitude(self.gain_db.load(Ordering::Relaxed)))
        } else {
            1.0
        };
        Asked { presses, gain, ceiling: self.ceiling.load(Ordering::Relaxed) }
    }

    /// `[audio-thread]` A peak lowered the gain of this press.
    fn tell_held_back(&self, gain: f32) {
        let gain_db = crate::units::amplitude_to_db(f64::from(gain));
        self.applied_db.store(gain_db, Ordering::Relaxed);
        self.held_back.store(true, Ordering::Relaxed);
    }
}

#[expect(clippy::cast_possible_truncation, reason = "an amplitude; the output has 32 bits")]
const fn narrow(amplitude: f64) -> f32 {
    amplitude as f32
}
