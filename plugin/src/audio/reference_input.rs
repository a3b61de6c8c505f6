//! The reference input: a second port, measured like the first one into a record of its own.

use super::clock::{Clock, HostPosition, Step};
use super::recorder::{Outputs, Recorder};
use super::status::Status;
use super::tone::ToneWork;
use crate::meters::MAX_CHANNELS;
use crate::units::SampleRate;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// After so much silence the port counts as unused: a host gives silence for a port that nothing is
/// sent to. As long as the longest window, so that no figure misses silence that it stands on. The
/// project's own choice, no source.
const UNUSED_AFTER_S: u64 = 3;

/// What the audio thread tells of the port: plain atomics, independent of each other.
#[derive(Debug, Default)]
pub struct InputStatus {
    /// What the recorder of the port tells.
    pub recorder: Arc<Status>,
    is_open: AtomicBool,
    arrives: AtomicBool,
}

impl InputStatus {
    /// Whether the host runs the plugin with the port.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.is_open.load(Ordering::Relaxed)
    }

    /// `[main-thread]`
    pub fn set_open(&self, is_open: bool) {
        self.is_open.store(is_open, Ordering::Relaxed);
        self.arrives.store(false, Ordering::Relaxed);
    }

    /// Whether sound comes over the port.
    #[must_use]
    pub fn arrives(&self) -> bool {
        self.arrives.load(Ordering::Relaxed)
    }
}

/// The audio thread's side of the port.
///
/// What is measured begins with the first sound of a run of the transport and ends with the run, or
/// after [`UNUSED_AFTER_S`] of silence: not to spend time on a port that nothing is sent to, and so
/// that a playthrough without the reference leaves what was measured with it.
pub struct ReferenceInput {
    recorder: Recorder,
    /// Follows the host, to know where runs begin.
    clock: Clock,
    unused_after_frames: u64,
    /// Silence up to now in this run; at least [`Self::unused_after_frames`] where nothing is measured.
    silent_frames: u64,
    status: Arc<InputStatus>,
    /// As [`Self::status`] tells it.
    arrives: bool,
    news: bool,
}

impl ReferenceInput {
    /// A port at `rate` that fills `outputs`, for blocks of at most `max_block_frames`.
    #[must_use]
    pub fn new(
        rate: SampleRate,
        outputs: Outputs,
        max_block_frames: u32,
        status: Arc<InputStatus>,
    ) -> Self {
        let unused_after_frames = UNUSED_AFTER_S * u64::from(rate.hz());
        let recorder = Recorder::new(rate, outputs, Arc::clone(&status.recorder));
        Self {
            recorder: recorder.with_max_block(max_block_frames),
            clock: Clock::new(rate, max_block_frames),
            unused_after_frames,
            silent_frames: unused_after_frames,
            status,
            arrives: false,
            news: false,
        }
    }

    /// See [`Recorder::queue_tone`].
    pub fn queue_tone(&mut self) -> Option<ToneWork> {
        self.recorder.queue_tone()
    }

    /// See [`Recorder::into_outputs`].
    #[must_use]
    pub fn into_outputs(self, work: Option<ToneWork>) -> Outputs {
        self.recorder.into_outputs(work)
    }

    const fn is_used(&self) -> bool {
        self.silent_frames < self.unused_after_frames
    }

    /// `[audio-thread]` Measures `len_frames` frames of the port. Channels that are shorter, or none
    /// at all, are a port without memory behind it. Without a song position nothing is measured.
    pub fn process<'a>(
        &mut self,
        channels: impl Iterator<Item = &'a [f32]>,
        len_frames: usize,
        position: &HostPosition,
    ) {
        let playing = position.playing.then(|| self.clock.advance(position, len_frames));
        let Some(step) = playing.flatten() else {
            if self.is_used() || self.clock.next_frame().is_some() {
                self.stop();
            }
            return;
        };
        let was_used = self.is_used();
        let goes_on = step == Step::On;
        if !goes_on {
            self.silent_frames = self.unused_after_frames;
        }
        let mut given: [&[f32]; MAX_CHANNELS] = [&[]; MAX_CHANNELS];
        let mut count = 0;
        let mut is_silent = true;
        for (slot, channel) in given.iter_mut().zip(channels) {
            let Some(frames) = channel.get(..len_frames) else {
                count = 0;
                break;
            };
            // What is no number is no silence either: it is measured, and counted there.
            is_silent &= frames.iter().all(|&sample| sample == 0.0);
            *slot = frames;
            count += 1;
        }
        self.silent_frames = match (count, is_silent) {
            (0, _) => self.unused_after_frames,
            (_, true) => {
                self.silent_frames.saturating_add(u64::try_from(len_frames).unwrap_or(u64::MAX))
            }
            (_, false) => 0,
        };
        let is_used = self.is_used();
        if is_used != self.arrives {
            self.arrives = is_used;
            self.status.arrives.store(is_used, Ordering::Relaxed);
            self.news = true;
        }
        let channels = given.get(..count).unwrap_or_default();
        match (was_used, is_used) {
            (false, true) if goes_on => self.recorder.process_behind_silence(channels, position),
            (_, true) => self.recorder.process(channels, position),
            (true, false) if goes_on && count > 0 => self.recorder.stop(),
            (true, false) => self.recorder.break_off(),
            (false, false) => {}
        }
    }

    /// `[audio-thread]` See [`Recorder::stop`].
    pub fn stop(&mut self) {
        self.clock.stop();
        self.silent_frames = self.unused_after_frames;
        self.recorder.stop();
    }

    /// `[audio-thread]` See [`Recorder::take_news`].
    pub fn take_news(&mut self) -> bool {
        self.recorder.take_news() | std::mem::take(&mut self.news)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::Sources;
    use crate::meters::layout::Layout;

    const BLOCK: i32 = 480;

    struct Port {
        input: ReferenceInput,
        sources: Sources,
        status: Arc<InputStatus>,
    }

    impl Port {
        fn new() -> Self {
            let (outputs, sources) = Outputs::new(Layout::Stereo, false);
            let status = Arc::new(InputStatus::default());
            let rate = SampleRate::new(48_000).unwrap();
            let input = ReferenceInput::new(rate, outputs, 480, Arc::clone(&status));
            Self { input, sources, status }
        }

        /// Plays hops of 10 ms, each a block, with this value in every sample.
        fn play(&mut self, hops: std::ops::Range<i32>, value: f32) {
            let frames = vec![value; usize::try_from(BLOCK).unwrap()];
            for hop in hops {
                let seconds = Some(f64::from(hop) / 100.0);
                let position = HostPosition { playing: true, seconds, ..HostPosition::default() };
                let channels = [frames.as_slice(); 2].into_iter();
                self.input.process(channels, frames.len(), &position);
            }
        }

        /// Hops that were measured, and whether sound is said to come.
        fn told(&self) -> (usize, bool) {
            (self.sources.song.hops().count(), self.status.arrives())
        }
    }

    #[test]
    fn a_run_counts_from_its_first_sound_to_three_seconds_of_silence() {
        let mut port = Port::new();
        port.play(0..50, 0.0);
        assert_eq!(port.told(), (0, false));
        port.play(50..100, 0.5);
        assert!(port.status.arrives());
        port.play(100..399, 0.0);
        assert!(port.status.arrives());
        port.play(399..1_000, 0.0);
        assert_eq!(port.told(), (50 + 299, false));
        assert!(port.input.take_news() && !port.input.take_news());
    }

    /// Behind a jump nobody knows what would have come: the wave that is cut there is not taken for
    /// one that falls to silence, and the silence at the other place is not measured.
    #[test]
    fn a_jump_into_silence_ends_it_without_a_peak_at_the_cut() {
        let mut port = Port::new();
        port.play(0..100, 0.9);
        port.play(1_000..1_010, 0.0);
        assert_eq!(port.told(), (100, false));
        let peak = |port: &Port, hop| port.sources.song.hop(hop).unwrap().true_peaks[0];
        // At song time zero silence stands before it, and the wave overshoots.
        assert!(peak(&port, 0) > 0.92, "{}", peak(&port, 0));
        assert!(peak(&port, 99) < 0.901, "{}", peak(&port, 99));
    }

    #[test]
    fn without_a_song_position_or_memory_nothing_is_measured() {
        let mut port = Port::new();
        let frames = [0.5_f32; 480];
        for position in
            [HostPosition::default(), HostPosition { playing: true, ..HostPosition::default() }]
        {
            port.input.process([frames.as_slice(); 2].into_iter(), 480, &position);
        }
        let position =
            HostPosition { playing: true, seconds: Some(0.0), ..HostPosition::default() };
        port.input.process(std::iter::empty(), 480, &position);
        // Memory of the block before, which was shorter.
        port.input.process([&frames[..100]; 2].into_iter(), 480, &position);
        assert_eq!(port.told(), (0, false));
    }
}
