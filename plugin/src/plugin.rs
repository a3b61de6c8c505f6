//! Wiring: the one file that meets the framework's activate, process and reset.

mod transport;

use crate::audio::{BarPosition, Outputs, Recorder, ReferenceInput};
use crate::listening::OutputGain;
use crate::meters::MAX_CHANNELS;
use crate::meters::layout::Layout;
use crate::params::{PlimsollParams, drop_unreadable_fields};
use crate::shared::Shared;
use crate::units::SampleRate;
use crate::window::{HostedEditor, Repaint, editor};
use crate::worker::Worker;
use nice_plug::prelude::*;
use std::sync::Arc;
use transport::{bar_position, host_position};

/// Loudness and true peak against a delivery target, on the master bus. Audio passes through
/// untouched, unless the user listens at matched loudness.
pub struct Plimsoll {
    params: Arc<PlimsollParams>,
    shared: Arc<Shared>,
    repaint: Repaint,
    /// The audio thread's side; `None` before activation, or where the host runs at a rate or
    /// with channels outside of what is built.
    recorder: Option<Recorder>,
    /// The same for the reference input; `None` where the host's layout has none, too.
    input: Option<ReferenceInput>,
    /// Matched listening; `None` before activation and where the host renders offline.
    output_gain: Option<OutputGain>,
    /// The records' writing ends between two activations.
    parked: Option<Outputs>,
    parked_input: Option<Outputs>,
    /// Follows the playthroughs, from the first activation on.
    worker: Option<Worker>,
    repaint_interval_frames: usize,
    frames_since_repaint: usize,
    /// What the host told last beside its transport.
    told: Told,
    /// Something on screen may have changed since the last repaint.
    news: bool,
}

/// What a host tells with each block, and a screen shows, beside its transport.
#[derive(Clone, Copy, PartialEq, Default)]
struct Told {
    bypassed: bool,
    bar: Option<BarPosition>,
    loop_range_s: Option<(f64, f64)>,
}

/// The editor asks for a frame at most so often per second while audio runs.
const REPAINTS_PER_SECOND: u32 = 30;

impl Default for Plimsoll {
    /// Nothing heavy here: hosts make an instance when they scan.
    fn default() -> Self {
        let shared = Arc::new(Shared::default());
        Self {
            params: Arc::new(PlimsollParams::new(&shared)),
            shared,
            repaint: Repaint::default(),
            recorder: None,
            input: None,
            output_gain: None,
            parked: None,
            parked_input: None,
            worker: None,
            repaint_interval_frames: 1,
            frames_since_repaint: 0,
            told: Told::default(),
            news: true,
        }
    }
}

impl Plimsoll {
    /// Makes a recorder for the host's rate and channels, on the records that are there if they
    /// fit: a change of rate does not lose what was measured.
    fn start_recorder(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
    ) -> Option<Recorder> {
        let channels = layout.main_input_channels.map_or(0, NonZeroU32::get);
        let layout = Layout::from_channel_count(usize::try_from(channels).ok()?)?;
        let rate = SampleRate::new(whole_hz(config.sample_rate)).ok()?;
        self.shared.set_rate_hz(rate.hz());
        let parked = self.parked.take();
        let outputs = parked.filter(|outputs| outputs.layout() == layout).unwrap_or_else(|| {
            let (outputs, sources) = Outputs::with_tone(layout, true);
            self.shared.set_sources(sources);
            outputs
        });
        let mut recorder = Recorder::new(rate, outputs, Arc::clone(&self.shared.status));
        if config.process_mode == ProcessMode::Realtime {
            self.shared.set_tone_work(recorder.queue_tone());
        }
        Some(recorder.with_max_block(config.max_buffer_size))
    }

    /// The same for the reference input, where `layout` has one. Its record stays while the host runs
    /// another layout.
    fn start_input(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
    ) -> Option<ReferenceInput> {
        let channels = usize::try_from(layout.aux_input_ports.first()?.get()).ok()?;
        let layout = Layout::from_channel_count(channels)?;
        let rate = SampleRate::new(whole_hz(config.sample_rate)).ok()?;
        let parked = self.parked_input.take();
        let outputs = parked.filter(|outputs| outputs.layout() == layout).unwrap_or_else(|| {
            let (outputs, sources) = Outputs::with_tone(layout, true);
            self.shared.input.set_sources(sources);
            outputs
        });
        let status = Arc::clone(&self.shared.input.status);
        let mut input = ReferenceInput::new(rate, outputs, config.max_buffer_size, status);
        if config.process_mode == ProcessMode::Realtime {
            self.shared.input.set_tone_work(input.queue_tone());
        }
        Some(input)
    }
}

impl Drop for Plimsoll {
    fn drop(&mut self) {
        self.shared.references.stop();
    }
}

impl Plugin for Plimsoll {
    const NAME: &'static str = "Plimsoll";
    const VENDOR: &'static str = "Plimsoll";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");

    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[
        main_ports(2, "Stereo"),
        main_ports(1, "Mono"),
        // The order is the one in which the meters weight the channels.
        main_ports(6, "5.1 (L R C LFE Ls Rs)"),
        main_ports(8, "7.1 (L R C LFE Ls Rs Lb Rb)"),
        // Last: a host that does not choose it never meets what the framework does there
        // (DEVELOPERS.md, what the framework does).
        with_reference(main_ports(2, "Stereo with a reference input")),
    ];

    // With it on, the framework shifts positions that are right already.
    const SAMPLE_ACCURATE_AUTOMATION: bool = false;

    type Editor = HostedEditor;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        Arc::clone(&self.params) as Arc<dyn Params>
    }

    fn editor(&mut self, _: AsyncExecutor<Self>) -> Option<Self::Editor> {
        Some(editor(&self.params, &self.shared, &self.repaint))
    }

    fn filter_state(state: &mut PluginState) {
        drop_unreadable_fields(state);
    }

    fn activate(
        &mut self,
        layout: &AudioIOLayout,
        config: &BufferConfig,
        _: &mut impl ActivateContext<Self>,
    ) -> bool {
        self.deactivate();
        self.recorder = self.start_recorder(layout, config);
        self.input = self.start_input(layout, config);
        self.shared.input.status.set_open(self.input.is_some());
        self.shared.status.set_supported(self.recorder.is_some());
        if self.recorder.is_none() {
            nice_error!(
                "{} Hz with {:?} channels cannot be measured; audio passes through",
                config.sample_rate,
                layout.main_input_channels
            );
        }
        let rate_hz = whole_hz(config.sample_rate);
        let listening = &self.shared.listening;
        let is_rendering = config.process_mode == ProcessMode::Offline;
        listening.set_rendering(is_rendering);
        self.output_gain = (!is_rendering).then(|| OutputGain::new(Arc::clone(listening), rate_hz));
        self.repaint_interval_frames = usize::try_from(rate_hz / REPAINTS_PER_SECOND).unwrap_or(1);
        if self.worker.is_none() {
            let repaint = self.repaint.clone();
            self.worker = Worker::start(&self.shared, move || repaint.request());
        }
        self.repaint.request();
        // Audio passes through in any case.
        true
    }

    fn reset(&mut self) {
        // Only memory of what was heard: hosts also call this when they wake the plugin up.
        if let Some(recorder) = &mut self.recorder {
            recorder.stop();
        }
        if let Some(input) = &mut self.input {
            input.stop();
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        beside: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        if let Some(recorder) = &mut self.recorder {
            let transport = context.transport();
            let told = Told {
                bypassed: self.params.bypass.value(),
                bar: bar_position(transport),
                loop_range_s: transport.loop_range_seconds(),
            };
            if told != self.told {
                self.told = told;
                self.news = true;
                self.shared.status.set_bypassed(told.bypassed);
                self.shared.status.set_bar(told.bar);
                self.shared.status.set_loop_range_s(told.loop_range_s);
            }
            let position = host_position(transport);
            let mut channels: [&[f32]; MAX_CHANNELS] = [&[]; MAX_CHANNELS];
            let given = buffer.as_slice_immutable();
            for (channel, given) in channels.iter_mut().zip(given) {
                *channel = given;
            }
            let count = given.len().min(MAX_CHANNELS);
            recorder.process(channels.get(..count).unwrap_or_default(), &position);
            self.news |= recorder.take_news();
            if let (Some(input), [port, ..]) = (&mut self.input, &*beside.inputs) {
                let status = &self.shared.input.status.recorder;
                status.set_bypassed(told.bypassed);
                status.set_running(self.shared.status.is_running());
                let channels = port.as_slice_immutable().iter().map(|channel| &**channel);
                input.process(channels, buffer.samples(), &position);
                self.news |= input.take_news();
            }
            // Behind the meters: what is measured is what the song is.
            if let Some(gain) = &mut self.output_gain {
                let true_peak = recorder.newest_true_peak();
                gain.apply(buffer.as_slice(), true_peak, told.bypassed);
            }
        }
        self.frames_since_repaint = self.frames_since_repaint.saturating_add(buffer.samples());
        if self.news && self.frames_since_repaint >= self.repaint_interval_frames {
            self.frames_since_repaint = 0;
            self.news = false;
            self.repaint.request();
        }
        // Silence is data: a host must not let the plugin sleep through it.
        match context.plugin_api() {
            // The framework tells a CLAP host to keep processing, whatever the tail, and a tail
            // that never ended would have it render silence behind the song.
            PluginApi::Clap => ProcessStatus::Tail(0),
            // A VST3 host knows no other word for it than a tail that never ends.
            PluginApi::Vst3 | PluginApi::Standalone => ProcessStatus::KeepAlive,
        }
    }

    fn stop_processing(&mut self) {
        if let Some(recorder) = &mut self.recorder {
            recorder.stop();
        }
        if let Some(input) = &mut self.input {
            input.stop();
        }
        self.repaint.request();
    }

    fn deactivate(&mut self) {
        self.output_gain = None;
        if let Some(recorder) = self.recorder.take() {
            self.parked = Some(recorder.into_outputs(self.shared.take_tone_work()));
        }
        if let Some(input) = self.input.take() {
            self.parked_input = Some(input.into_outputs(self.shared.input.take_tone_work()));
        }
    }
}

impl ClapPlugin for Plimsoll {
    const CLAP_ID: &'static str = "plimsoll.plimsoll";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Loudness and true peak against a delivery target");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[
        ClapFeature::AudioEffect,
        ClapFeature::Analyzer,
        ClapFeature::Mastering,
        ClapFeature::Stereo,
        ClapFeature::Mono,
    ];
}

impl Vst3Plugin for Plimsoll {
    const VST3_CLASS_ID: [u8; 16] = *b"PlimsollLoudness";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] = &[
        Vst3SubCategory::Fx,
        Vst3SubCategory::Analyzer,
        Vst3SubCategory::Mastering,
        Vst3SubCategory::Stereo,
    ];
}

/// As many channels in as out.
const fn main_ports(channels: u32, name: &'static str) -> AudioIOLayout {
    let mut layout = AudioIOLayout::const_default();
    layout.main_input_channels = NonZeroU32::new(channels);
    layout.main_output_channels = NonZeroU32::new(channels);
    layout.names.layout = Some(name);
    layout
}

/// One port, stereo.
const REFERENCE_PORTS: &[NonZeroU32] = &[new_nonzero_u32(2)];

/// With a port beside the main one for a reference.
const fn with_reference(mut layout: AudioIOLayout) -> AudioIOLayout {
    layout.aux_input_ports = REFERENCE_PORTS;
    layout.names.aux_inputs = &["Reference"];
    layout
}

/// The rate in whole Hz; 0, which no meter takes, for what is no rate.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "saturates, and what is out of range is refused"
)]
fn whole_hz(rate_hz: f32) -> u32 {
    rate_hz.round() as u32
}
