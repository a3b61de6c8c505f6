//! Audio through the plugin: single blocks, and whole scripts.

use super::handlers::{Handlers, as_audio_thread};
use super::{Host, HostError, SecondInput, failed};
use crate::alloc_guard::{self, Counts};
use crate::audio_file::Audio;
use crate::transport::{Block, Blocks, Event, Step, Telling, playback};
use clack_extensions::tail::{PluginTail, TailLength};
use clack_host::events::event_types::ParamValueEvent;
use clack_host::events::io::{OutputEventBuffer, TryPushError};
use clack_host::events::{Pckn, UnknownEvent};
use clack_host::prelude::*;

/// Whether the plugin gets separate memory for input and output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Buffers {
    /// Output memory apart from the input's, filled with garbage before each block.
    #[default]
    Separate,
    /// One memory for both.
    InPlace,
    /// No port at all: what a host may do that has nothing connected. Nothing can come out.
    Absent,
}

/// What happened while a script ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Run {
    /// Calls of `process`.
    pub blocks: u64,
    /// Frames processed.
    pub frames: u64,
    /// Samples whose bits came out other than they went in.
    pub changed_samples: u64,
    /// Events that the plugin sent.
    pub out_events: u64,
    /// Blocks after which the plugin did not ask to be kept processing.
    pub not_kept: u64,
    /// Allocations within `process`, `reset` and `stop_processing`; zeros unless
    /// [`alloc_guard::is_installed`] and the plugin is linked.
    pub allocations: u64,
    /// Frees within the same calls.
    pub frees: u64,
}

impl Run {
    fn add(&mut self, counts: Counts) {
        self.allocations += counts.allocations;
        self.frees += counts.frees;
    }
}

/// The audio thread's end of one instance.
#[derive(Default)]
pub struct AudioSide {
    /// There while the plugin is active.
    processor: Option<PluginAudioProcessor<Handlers>>,
    scratch: Scratch,
    rate_hz: u32,
    /// Input ports beside the main one.
    more_inputs: usize,
    /// What they get.
    second: SecondInput,
}

/// What the host keeps from block to block.
#[derive(Default)]
struct Scratch {
    input: Vec<Vec<f32>>,
    output: Vec<Vec<f32>>,
    second: Vec<Vec<f32>>,
    events: Vec<ParamValueEvent>,
    /// Frames processed since the instance was made: CLAP's steady time.
    steady_frames: u64,
}

/// Counts events without keeping them, so that the plugin's own allocations are counted alone.
struct Counter(u64);

impl OutputEventBuffer for Counter {
    fn try_push(&mut self, _event: &UnknownEvent) -> Result<(), TryPushError> {
        self.0 += 1;
        Ok(())
    }
}

/// A value that no song holds, to find output that was not written.
const GARBAGE: f32 = f32::from_bits(0x7FA5_5A5A);

impl Host {
    /// Sends a parameter's plain value with the next block.
    pub fn set_param(&mut self, id: u32, value: f64) {
        self.audio.set_param(id, value);
    }

    /// [`AudioSide::run`] on this thread, and what a host does when it is idle.
    ///
    /// # Errors
    /// See there.
    pub fn run(
        &mut self,
        song: &Audio,
        steps: &[Step],
        telling: &Telling,
        blocks: &Blocks,
        buffers: Buffers,
    ) -> Result<Run, HostError> {
        let run = self.audio.run(song, steps, telling, blocks, buffers);
        self.idle();
        run
    }
}

impl AudioSide {
    pub(super) fn put(
        &mut self,
        processor: StoppedPluginAudioProcessor<Handlers>,
        rate_hz: u32,
        more_inputs: usize,
    ) {
        self.processor = Some(processor.into());
        self.rate_hz = rate_hz;
        self.more_inputs = more_inputs;
    }

    /// What the port beside the main input gets from the next block on.
    pub fn set_second_input(&mut self, second: SecondInput) {
        self.second = second;
    }

    pub(super) fn stop_and_take(&mut self) -> Option<StoppedPluginAudioProcessor<Handlers>> {
        let mut processor = self.processor.take()?;
        as_audio_thread(|| {
            processor.ensure_processing_stopped();
        });
        Some(processor.into_stopped())
    }

    pub(super) fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    pub(super) fn start_processing(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(|processor| {
            processor.ensure_processing_started().map(|_| ()).map_err(|e| failed("start")(&e))
        })?
    }

    pub(super) fn stop_processing(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(|processor| {
            processor.ensure_processing_stopped();
        })
    }

    pub(super) fn reset(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(PluginAudioProcessor::reset)
    }

    fn on_audio_thread<T>(
        &mut self,
        work: impl FnOnce(&mut PluginAudioProcessor<Handlers>) -> T,
    ) -> Result<T, HostError> {
        let processor = self
            .processor
            .as_mut()
            .ok_or_else(|| HostError("the plugin is not active".to_owned()))?;
        Ok(as_audio_thread(|| work(processor)))
    }

    /// Sends a parameter's plain value with the next block.
    pub fn set_param(&mut self, id: u32, value: f64) {
        let event = ParamValueEvent::new(0, ClapId::new(id), Pckn::match_all(), value);
        self.scratch.events.push(event);
    }

    /// How long the plugin sounds on after its input ends, in frames; `None` for ever.
    ///
    /// # Errors
    /// It is not active or has no tail extension.
    pub fn tail_frames(&mut self) -> Result<Option<u32>, HostError> {
        self.on_audio_thread(|processor| {
            let plugin = processor.plugin_handle();
            let tail: PluginTail = plugin
                .get_extension()
                .ok_or_else(|| HostError("the plugin has no tail extension".to_owned()))?;
            Ok(match tail.get(&plugin) {
                TailLength::Finite(frames) => Some(frames),
                TailLength::Infinite => None,
            })
        })?
    }

    /// Plays a script of `song` through the plugin, which is active for at least the plan's
    /// longest block. See [`playback`].
    ///
    /// # Errors
    /// The plugin is not active, or processing fails.
    pub fn run(
        &mut self,
        song: &Audio,
        steps: &[Step],
        telling: &Telling,
        blocks: &Blocks,
        buffers: Buffers,
    ) -> Result<Run, HostError> {
        let mut run = Run::default();
        for event in playback(self.rate_hz, steps, telling.clone(), blocks.clone()) {
            match event {
                Event::Block(block) => self.block(song, &block, buffers, &mut run)?,
                Event::Reset => {
                    let ((), counts) =
                        self.on_audio_thread(|processor| alloc_guard::watch(|| processor.reset()))?;
                    run.add(counts);
                }
                Event::Rest => {
                    let (stopped, counts) = alloc_guard::watch(|| self.stop_processing());
                    stopped?;
                    run.add(counts);
                    self.start_processing()?;
                }
            }
        }
        Ok(run)
    }

    fn block(
        &mut self,
        song: &Audio,
        block: &Block,
        buffers: Buffers,
        run: &mut Run,
    ) -> Result<(), HostError> {
        let mut scratch = std::mem::take(&mut self.scratch);
        scratch.input.resize_with(song.channels.len(), Vec::new);
        block.fill(song, &mut scratch.input);
        scratch.second.clear();
        if let Some(second) = self.second.song() {
            scratch.second.resize_with(second.channels.len(), Vec::new);
            block.fill(&second, &mut scratch.second);
        } else if let SecondInput::Constant(value) = self.second {
            scratch.second.resize(SECOND_CHANNELS, vec![value; block.len_frames]);
        }
        let result = self.process_scratch(&mut scratch, block, buffers, run);
        scratch.events.clear();
        scratch.steady_frames += block.len_frames as u64;
        // What came out, against what the song holds there.
        let mut expected = vec![Vec::new(); song.channels.len()];
        block.fill(song, &mut expected);
        let came_out = match buffers {
            Buffers::Separate => {
                // A plugin may write into its input too; one that passes audio through must not.
                run.changed_samples += differing_samples(&scratch.input, &expected);
                &scratch.output
            }
            Buffers::InPlace | Buffers::Absent => &scratch.input,
        };
        run.changed_samples += differing_samples(came_out, &expected);
        run.blocks += 1;
        run.frames += block.len_frames as u64;
        self.scratch = scratch;
        result
    }

    fn process_scratch(
        &mut self,
        scratch: &mut Scratch,
        block: &Block,
        buffers: Buffers,
        run: &mut Run,
    ) -> Result<(), HostError> {
        let channels = scratch.input.len();
        let masks = [&scratch.input, &scratch.second].map(|planes| constant_mask(planes));
        let (mut input_ports, mut output_ports) =
            (AudioPorts::with_capacity(channels, 1), AudioPorts::with_capacity(channels, 1));
        let (mut inputs, mut output) = match buffers {
            Buffers::Separate => {
                scratch.output.resize_with(channels, Vec::new);
                for plane in &mut scratch.output {
                    plane.clear();
                    plane.resize(block.len_frames, GARBAGE);
                }
                let input = input_ports.with_input_buffers([AudioPortBuffer {
                    latency: 0,
                    channels: AudioPortBufferType::f32_input_only(
                        scratch.input.iter_mut().map(InputChannel::variable),
                    ),
                }]);
                let output = output_ports.with_output_buffers([port(&mut scratch.output)]);
                (input.as_raw_buffers().to_vec(), output)
            }
            Buffers::InPlace => {
                let mut output = output_ports.with_output_buffers([port(&mut scratch.input)]);
                (output.as_raw_buffers().to_vec(), output)
            }
            Buffers::Absent => (Vec::new(), OutputAudioBuffers::empty()),
        };
        let mut second_ports = AudioPorts::with_capacity(scratch.second.len(), 1);
        if let [main, ..] = inputs.as_mut_slice() {
            main.constant_mask = masks[0];
            let mut second = *main;
            (second.data32, second.data64) = (std::ptr::null_mut(), std::ptr::null_mut());
            if !scratch.second.is_empty() {
                let port = second_ports.with_input_buffers([AudioPortBuffer {
                    latency: 0,
                    channels: AudioPortBufferType::f32_input_only(
                        scratch.second.iter_mut().map(InputChannel::variable),
                    ),
                }]);
                second = port.as_raw_buffers()[0];
                second.constant_mask = masks[1];
            }
            inputs.extend((0..self.more_inputs).map(|_| second));
        }
        let counted = if self.second.is_counted() { inputs.len() } else { inputs.len().min(1) };
        let len_frames = block.len_frames as u32;
        // SAFETY: the first descriptor points at the channels of `input_ports` or, in place, of
        // `output`, which outlive the call and hold `len_frames` frames; the others point at those of
        // `second_ports`, which do so too, or at nothing, which is how a host says that nothing is
        // connected. CLAP allows a pair of ports to share memory, and nothing on this side touches it
        // during the call.
        #[allow(unsafe_code, reason = "the safe way cannot lend one memory twice")]
        let input = unsafe { InputAudioBuffers::from_raw_buffers(&inputs[..counted], len_frames) };
        self.call(&input, &mut output, &scratch.events, scratch.steady_frames, block, run)
    }

    fn call(
        &mut self,
        input: &InputAudioBuffers,
        output: &mut OutputAudioBuffers,
        events: &[ParamValueEvent],
        steady_frames: u64,
        block: &Block,
        run: &mut Run,
    ) -> Result<(), HostError> {
        let transport = block.told.event();
        let mut counter = Counter(0);
        let status = self.on_audio_thread(|processor| {
            let started = processor.as_started_mut().map_err(|e| failed("process")(&e))?;
            let in_events = InputEvents::from_buffer(&events);
            let mut out_events = OutputEvents::from_buffer(&mut counter);
            let (status, counts) = alloc_guard::watch(|| {
                started.process(
                    input,
                    output,
                    &in_events,
                    &mut out_events,
                    Some(steady_frames),
                    transport.as_ref(),
                )
            });
            run.add(counts);
            status.map_err(|e| failed("process")(&e))
        })??;
        run.out_events += counter.0;
        if status != ProcessStatus::Continue {
            run.not_kept += 1;
        }
        Ok(())
    }
}

/// Channels of a port beside the main one, where no song says so.
const SECOND_CHANNELS: usize = 2;

/// A bit for every plane whose samples are all alike.
fn constant_mask(planes: &[Vec<f32>]) -> u64 {
    let is_constant =
        |plane: &Vec<f32>| plane.windows(2).all(|pair| pair[0].to_bits() == pair[1].to_bits());
    let constant = planes.iter().enumerate().filter(|(_, plane)| is_constant(plane));
    constant.fold(0, |mask, (channel, _)| mask | 1 << channel)
}

type OutputPort<'a> = AudioPortBuffer<
    Box<dyn Iterator<Item = &'a mut [f32]> + 'a>,
    std::array::IntoIter<&'static mut [f64], 0>,
>;

fn port(planes: &mut [Vec<f32>]) -> OutputPort<'_> {
    AudioPortBuffer {
        latency: 0,
        channels: AudioPortBufferType::F32(Box::new(planes.iter_mut().map(Vec::as_mut_slice))),
    }
}

fn differing_samples(ours: &[Vec<f32>], theirs: &[Vec<f32>]) -> u64 {
    ours.iter()
        .zip(theirs)
        .flat_map(|(a, b)| a.iter().zip(b))
        .filter(|(a, b)| a.to_bits() != b.to_bits())
        .count() as u64
}
