//! The direct path: the plugin's meters and record without plugin and host, fed by the same
//! scripts. What it measures must equal what the plugin measures, bit for bit.

use crate::audio_file::Audio;
use crate::host::{Measurement, MeasurementError};
use crate::transport::{Blocks, Event, Step, Telling, Told, playback};
use plimsoll::audio::{HostPosition, Outputs, Recorder, Sources, Status};
use plimsoll::loudness::Analysis;
use plimsoll::meters::layout::Layout;
use plimsoll::units::SampleRate;
use std::sync::Arc;

/// A recorder with its records.
pub struct Direct {
    recorder: Recorder,
    sources: Sources,
    status: Arc<Status>,
    rate: SampleRate,
}

impl Direct {
    /// A recorder for `channels` channels at `rate_hz` and blocks of at most `max_frames` frames.
    ///
    /// # Panics
    /// If the meters are not built for it.
    #[must_use]
    pub fn new(rate_hz: u32, channels: usize, max_frames: usize) -> Self {
        let rate = SampleRate::new(rate_hz).unwrap_or_else(|error| panic!("{error}"));
        let layout = Layout::from_channel_count(channels)
            .unwrap_or_else(|| panic!("no layout with {channels} channels"));
        Self::on(Outputs::new(layout, false), rate, max_frames)
    }

    /// The same on records with tone, measured in line, for blocks of any length.
    ///
    /// # Panics
    /// If the meters are not built for it.
    #[must_use]
    pub fn with_tone(rate_hz: u32, channels: usize) -> Self {
        let rate = SampleRate::new(rate_hz).unwrap_or_else(|error| panic!("{error}"));
        let layout = Layout::from_channel_count(channels)
            .unwrap_or_else(|| panic!("no layout with {channels} channels"));
        Self::on(Outputs::with_tone(layout, false), rate, 1024)
    }

    fn on((outputs, sources): (Outputs, Sources), rate: SampleRate, max_frames: usize) -> Self {
        let status = Arc::new(Status::default());
        let recorder =
            Recorder::new(rate, outputs, Arc::clone(&status)).with_max_block(max_frames as u32);
        Self { recorder, sources, status, rate }
    }

    /// Plays a script of `song`, as [`crate::host::Host::run`] does.
    pub fn run(&mut self, song: &Audio, steps: &[Step], telling: &Telling, blocks: &Blocks) {
        let mut planes = vec![Vec::new(); song.channels.len()];
        for event in playback(song.rate_hz, steps, telling.clone(), blocks.clone()) {
            match event {
                Event::Block(block) => {
                    block.fill(song, &mut planes);
                    let channels: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
                    self.recorder.process(&channels, &position(&block.told));
                }
                Event::Reset | Event::Rest => self.recorder.stop(),
            }
        }
    }

    /// Audio stops: what is pending is completed.
    pub fn stop(&mut self) {
        self.recorder.stop();
    }

    /// What the editor and the audio thread tell each other: pause, for one.
    #[must_use]
    pub fn status(&self) -> &Status {
        &self.status
    }

    /// The reading ends of the records.
    #[must_use]
    pub fn sources(&self) -> &Sources {
        &self.sources
    }

    /// The song record, ready to be asked.
    #[must_use]
    pub fn analysis(&self) -> Analysis {
        Analysis::of(&self.sources.song)
    }

    /// The song record's figures in the form in which the plugin saves them; `None` if nothing
    /// was measured.
    ///
    /// # Errors
    /// A key is missing.
    pub fn measurement(&self) -> Result<Option<Measurement>, MeasurementError> {
        plimsoll::state::Measurement::of(&self.sources.song, self.rate.hz())
            .map(|measurement| Measurement::from_json(measurement.save()))
            .transpose()
    }

    /// Measures `song` once from its start to its end, in blocks of 1024 frames.
    #[must_use]
    pub fn measure(song: &Audio) -> Self {
        Self::new(song.rate_hz, song.channels.len(), 1024).played(song)
    }

    /// The same on a record with tone.
    #[must_use]
    pub fn measure_with_tone(song: &Audio) -> Self {
        Self::with_tone(song.rate_hz, song.channels.len()).played(song)
    }

    fn played(mut self, song: &Audio) -> Self {
        let telling = Telling::new(crate::transport::Tells::Everything);
        self.run(song, &crate::transport::play_once(song), &telling, &Blocks::Fixed(1024));
        self.stop();
        self
    }
}

/// What the framework makes of CLAP's event.
fn position(told: &Told) -> HostPosition {
    told.event().map_or_else(HostPosition::default, |event| HostPosition {
        playing: told.playing,
        seconds: told.seconds.map(|_| event.song_pos_seconds.to_float()),
        beats: told.beats.map(|_| event.song_pos_beats.to_float()),
        tempo_bpm: told.tempo_bpm,
    })
}
