//! A CLAP host in this process: loads the built bundle or an entry linked into the binary, feeds
//! it audio with a scripted transport, reads back what it measured.
//!
//! One thread plays both the main and the audio thread, and says which it is at the moment; or the
//! audio side goes to another thread ([`Host::take_audio`]). All calls obey CLAP's order, because
//! clack-host's types do not let them be made otherwise.

mod describe;
mod handlers;
mod library;
mod measurement;
mod process;
mod second_input;

pub use describe::{Param, Port};
pub use handlers::{Calls, TRACK_NAME};
pub use library::{Descriptor, Library, built_bundle};
pub use measurement::{Figures, Measurement, MeasurementError, field, with_field};
pub use process::{AudioSide, Buffers, Run};
pub use second_input::SecondInput;

use clack_extensions::log::LogSeverity;
use clack_extensions::state::PluginState;
use clack_host::prelude::*;
use handlers::{Handlers, MainThread, Shared};
use std::ffi::CString;
use std::fmt;
use std::io::{Read, Write};
use std::path::Path;

/// What did not work.
#[derive(Debug)]
pub struct HostError(String);

impl fmt::Display for HostError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for HostError {}

fn failed(what: &str) -> impl Fn(&dyn fmt::Display) -> HostError {
    move |error| HostError(format!("{what}: {error}"))
}

/// One instance of a plugin in this host.
pub struct Host {
    instance: PluginInstance<Handlers>,
    audio: AudioSide,
}

impl Host {
    /// Makes an instance of the first plugin in `library`.
    ///
    /// # Errors
    /// There is none, or it refuses.
    pub fn new(library: &Library) -> Result<Self, HostError> {
        let id = library
            .descriptors()
            .into_iter()
            .next()
            .ok_or_else(|| HostError("the library holds no plugin".to_owned()))?
            .id;
        let id = CString::new(id).map_err(|e| failed("the plugin's identifier")(&e))?;
        let info = HostInfo::new("Headless harness", "Plimsoll", "", env!("CARGO_PKG_VERSION"))
            .map_err(|e| failed("the host's name")(&e))?;
        let instance = PluginInstance::new(
            |()| Shared::default(),
            |shared| MainThread { shared },
            &library.entry,
            &id,
            &info,
        )
        .map_err(|e| failed("the instance")(&e))?;
        Ok(Self { instance, audio: AudioSide::default() })
    }

    /// Loads the built bundle and makes an instance.
    ///
    /// # Errors
    /// See [`Library::load`] and [`Host::new`].
    pub fn bundle(path: &Path) -> Result<Self, HostError> {
        Self::new(&Library::load(path)?)
    }

    /// The bare instance, for extensions that the harness does not wrap.
    pub fn instance(&mut self) -> &mut PluginInstance<Handlers> {
        &mut self.instance
    }

    /// The sample rate of the last activation, in Hz; 0 before.
    #[must_use]
    pub fn rate_hz(&self) -> u32 {
        self.audio.rate_hz()
    }

    /// Activates for blocks of 1 to `max_frames` frames and starts processing.
    ///
    /// # Errors
    /// The plugin refuses, or is active.
    pub fn activate(&mut self, rate_hz: u32, max_frames: usize) -> Result<(), HostError> {
        let configuration = PluginAudioConfiguration {
            sample_rate: f64::from(rate_hz),
            min_frames_count: 1,
            max_frames_count: max_frames as u32,
        };
        let stopped =
            self.instance.activate(|_, _| (), configuration).map_err(|e| failed("activate")(&e))?;
        let more_inputs = self.ports(true).map_or(0, |ports| ports.len().saturating_sub(1));
        self.audio.put(stopped, rate_hz, more_inputs);
        self.audio.start_processing()
    }

    /// Lets the plugin process, if it does not.
    ///
    /// # Errors
    /// The plugin refuses, or is not active.
    pub fn start_processing(&mut self) -> Result<(), HostError> {
        self.audio.start_processing()
    }

    /// Lets the plugin rest.
    ///
    /// # Errors
    /// It is not active.
    pub fn stop_processing(&mut self) -> Result<(), HostError> {
        self.audio.stop_processing()
    }

    /// Calls the plugin's `reset`.
    ///
    /// # Errors
    /// It is not active.
    pub fn reset(&mut self) -> Result<(), HostError> {
        self.audio.reset()
    }

    /// Deactivates, if it is active.
    pub fn deactivate(&mut self) {
        if let Some(processor) = self.audio.stop_and_take() {
            self.instance.deactivate(processor);
        }
    }

    /// Takes the audio side out, to be moved to a thread of its own; it comes back by
    /// [`Host::put_audio`] before the host deactivates or goes.
    #[must_use]
    pub fn take_audio(&mut self) -> AudioSide {
        std::mem::take(&mut self.audio)
    }

    /// Puts back what [`Host::take_audio`] took.
    pub fn put_audio(&mut self, audio: AudioSide) {
        self.audio = audio;
    }

    /// Calls of the plugin that came on a thread on which CLAP does not allow them.
    #[must_use]
    pub fn violations(&self) -> Vec<String> {
        self.instance.access_shared_handler(Shared::violations)
    }

    /// What the plugin asked of the host so far.
    #[must_use]
    pub fn calls(&self) -> Calls {
        self.instance.access_shared_handler(Shared::calls)
    }

    /// What the plugin logged through CLAP's log extension so far.
    #[must_use]
    pub fn log(&self) -> Vec<(LogSeverity, String)> {
        self.instance.access_shared_handler(Shared::log_lines)
    }

    /// Does what a host does when it is idle: the main-thread callback, if it was asked for.
    pub fn idle(&mut self) {
        if self.instance.access_shared_handler(Shared::take_callback_request) {
            self.instance.call_on_main_thread_callback();
        }
    }

    /// The plugin's state, as a host would put it into its project.
    ///
    /// # Errors
    /// The plugin has no state extension or does not save.
    pub fn save_state(&mut self) -> Result<Vec<u8>, HostError> {
        let mut bytes = Vec::new();
        self.save_state_into(&mut bytes)?;
        Ok(bytes)
    }

    /// The same through a stream of the host's own kind.
    ///
    /// # Errors
    /// The plugin has no state extension, or says that it could not save.
    pub fn save_state_into(&mut self, stream: &mut impl Write) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let state: PluginState = extension(&plugin, "state")?;
        state.save(&plugin, stream).map_err(|e| failed("state")(&e))
    }

    /// Gives the plugin a state.
    ///
    /// # Errors
    /// The plugin refuses it.
    pub fn load_state(&mut self, mut bytes: &[u8]) -> Result<(), HostError> {
        self.load_state_from(&mut bytes)
    }

    /// The same through a stream of the host's own kind.
    ///
    /// # Errors
    /// The plugin has no state extension, or refuses what the stream gives.
    pub fn load_state_from(&mut self, stream: &mut impl Read) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let state: PluginState = extension(&plugin, "state")?;
        state.load(&plugin, stream).map_err(|e| failed("state")(&e))
    }

    /// Saves the state and reads the measurement in it.
    ///
    /// # Errors
    /// See [`Host::save_state`] and [`MeasurementError`].
    pub fn measurement(&mut self) -> Result<Measurement, HostError> {
        let state = self.save_state()?;
        Measurement::from_state(&state).map_err(|e| failed("measurement")(&e))
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.deactivate();
    }
}

fn extension<E>(plugin: &PluginMainThreadHandle<'_>, name: &str) -> Result<E, HostError>
where
    E: clack_host::extensions::Extension<
            ExtensionSide = clack_host::extensions::PluginExtensionSide,
        >,
{
    plugin.get_extension().ok_or_else(|| HostError(format!("the plugin has no {name} extension")))
}
