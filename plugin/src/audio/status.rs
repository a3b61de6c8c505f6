//! What the audio thread tells the editor beside the record, and what it is told: plain atomics.

use atomic_float::AtomicF64;
use std::sync::atomic::{AtomicBool, AtomicI32, AtomicU8, AtomicU64, Ordering};

/// What the host's transport does, as far as it tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transport {
    /// No audio came yet, or the host tells nothing.
    Unknown,
    /// Stopped, song position known.
    Stopped,
    /// Playing, song position known.
    Playing,
}

/// Where bars lie at the playhead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BarPosition {
    /// Song time at which the present bar began, seconds.
    pub start_s: f64,
    /// Number of the present bar, from 1.
    pub number: i32,
    /// Length of a bar at the present tempo and meter, seconds, above zero.
    pub bar_s: f64,
    /// Beats in a bar at the present meter, above zero.
    pub beats: i32,
}

/// Shared by the audio thread and the editor; every field is independent of the others, so that
/// relaxed order is enough.
#[derive(Debug)]
pub struct Status {
    transport: AtomicU8,
    playhead_hop: AtomicI32,
    running: AtomicBool,
    bypassed: AtomicBool,
    supported: AtomicBool,
    bar_start_s: AtomicF64,
    bar_number: AtomicI32,
    bar_beats: AtomicI32,
    /// 0 = unknown.
    bar_s: AtomicF64,
    lost_tone_frames: AtomicU64,
    loop_start_s: AtomicF64,
    /// Not above the start = no loop.
    loop_end_s: AtomicF64,
}

impl Default for Status {
    fn default() -> Self {
        Self {
            transport: AtomicU8::new(0),
            playhead_hop: AtomicI32::new(i32::MIN),
            running: AtomicBool::new(true),
            bypassed: AtomicBool::new(false),
            supported: AtomicBool::new(true),
            lost_tone_frames: AtomicU64::new(0),
            bar_start_s: AtomicF64::new(0.0),
            bar_number: AtomicI32::new(0),
            bar_beats: AtomicI32::new(4),
            bar_s: AtomicF64::new(0.0),
            loop_start_s: AtomicF64::new(0.0),
            loop_end_s: AtomicF64::new(0.0),
        }
    }
}

impl Status {
    /// Frames whose tone was not measured, because the thread that does so fell behind.
    #[must_use]
    pub fn lost_tone_frames(&self) -> u64 {
        self.lost_tone_frames.load(Ordering::Relaxed)
    }

    pub(super) fn add_lost_tone_frames(&self, frames: u64) {
        self.lost_tone_frames.fetch_add(frames, Ordering::Relaxed);
    }

    /// What the transport does.
    #[must_use]
    pub fn transport(&self) -> Transport {
        match self.transport.load(Ordering::Relaxed) {
            1 => Transport::Stopped,
            2 => Transport::Playing,
            _ => Transport::Unknown,
        }
    }

    /// `[audio-thread]`
    pub fn set_transport(&self, transport: Transport) {
        let value = match transport {
            Transport::Unknown => 0,
            Transport::Stopped => 1,
            Transport::Playing => 2,
        };
        self.transport.store(value, Ordering::Relaxed);
    }

    /// The hop being measured, in the time of the record that is written.
    #[must_use]
    pub fn playhead_hop(&self) -> Option<i32> {
        Some(self.playhead_hop.load(Ordering::Relaxed)).filter(|&hop| hop != i32::MIN)
    }

    /// `[audio-thread]`
    pub fn set_playhead_hop(&self, hop: i32) {
        self.playhead_hop.store(hop, Ordering::Relaxed);
    }

    /// Whether measuring runs (`true`) or is paused (EBU Tech 3341 §2.2: running, stand-by).
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.running.load(Ordering::Relaxed)
    }

    /// `[main-thread]` Lets measuring run or pause.
    pub fn set_running(&self, running: bool) {
        self.running.store(running, Ordering::Relaxed);
    }

    /// Whether the host bypasses the plugin.
    #[must_use]
    pub fn is_bypassed(&self) -> bool {
        self.bypassed.load(Ordering::Relaxed)
    }

    /// `[audio-thread]`
    pub fn set_bypassed(&self, bypassed: bool) {
        self.bypassed.store(bypassed, Ordering::Relaxed);
    }

    /// Whether the host's sample rate and channels can be measured.
    #[must_use]
    pub fn is_supported(&self) -> bool {
        self.supported.load(Ordering::Relaxed)
    }

    /// `[main-thread]`
    pub fn set_supported(&self, supported: bool) {
        self.supported.store(supported, Ordering::Relaxed);
    }

    /// The host's loop, seconds of song time from start to end, if there is one.
    #[must_use]
    pub fn loop_range_s(&self) -> Option<(f64, f64)> {
        let range =
            (self.loop_start_s.load(Ordering::Relaxed), self.loop_end_s.load(Ordering::Relaxed));
        (range.0.is_finite() && range.1.is_finite() && range.1 > range.0).then_some(range)
    }

    /// `[audio-thread]` Like bars, read only when the user asks for it.
    pub fn set_loop_range_s(&self, range: Option<(f64, f64)>) {
        let (start_s, end_s) = range.unwrap_or_default();
        self.loop_start_s.store(start_s, Ordering::Relaxed);
        self.loop_end_s.store(end_s, Ordering::Relaxed);
    }

    /// Where bars lie, if the host tells.
    #[must_use]
    pub fn bar(&self) -> Option<BarPosition> {
        let bar_s = self.bar_s.load(Ordering::Relaxed);
        (bar_s > 0.0 && bar_s.is_finite()).then(|| BarPosition {
            start_s: self.bar_start_s.load(Ordering::Relaxed),
            number: self.bar_number.load(Ordering::Relaxed),
            bar_s,
            beats: self.bar_beats.load(Ordering::Relaxed).max(1),
        })
    }

    /// `[audio-thread]` Bars are for drawing only: three words that do not belong together for
    /// one frame do no harm.
    pub fn set_bar(&self, bar: Option<BarPosition>) {
        if let Some(bar) = bar {
            self.bar_start_s.store(bar.start_s, Ordering::Relaxed);
            self.bar_number.store(bar.number, Ordering::Relaxed);
            self.bar_beats.store(bar.beats, Ordering::Relaxed);
            self.bar_s.store(bar.bar_s, Ordering::Relaxed);
        } else {
            self.bar_s.store(0.0, Ordering::Relaxed);
        }
    }
}
