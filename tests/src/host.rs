//! A CLAP host in this process: loads the built bundle or an entry linked into the binary, feeds
//! it audio with a scripted transport, reads back what it measured.
//!
//! One thread plays both the main and the audio thread, and says which it is at the moment. All
//! calls obey CLAP's order, because clack-host's types do not let them be made otherwise.

mod handlers;
mod measurement;
mod process;

pub use handlers::Calls;
pub use measurement::{Figures, Measurement, MeasurementError, field};
pub use process::{Buffers, Run};

use clack_extensions::audio_ports::{AudioPortFlags, AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::latency::PluginLatency;
use clack_extensions::log::LogSeverity;
use clack_extensions::params::{ParamInfoBuffer, ParamInfoFlags, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_host::entry::EntryDescriptor;
use clack_host::prelude::*;
use handlers::{Handlers, MainThread, Shared};
use std::ffi::CString;
use std::fmt;
use std::path::{Path, PathBuf};

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

/// A loaded plugin library, from which any number of instances can be made.
#[derive(Clone)]
pub struct Library {
    entry: PluginEntry,
}

/// What the library says about a plugin before an instance exists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Descriptor {
    /// The plugin's identifier.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// CLAP features.
    pub features: Vec<String>,
}

/// One audio port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// CLAP's number for the port.
    pub id: u32,
    /// Shown to the user.
    pub name: String,
    /// Channels.
    pub channels: u32,
    /// The port for the signal as such.
    pub is_main: bool,
    /// The port of the other direction that may share its memory.
    pub in_place_pair: Option<u32>,
}

/// One parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct Param {
    /// CLAP's number for the parameter.
    pub id: u32,
    /// Shown to the user.
    pub name: String,
    /// What the host may do with it.
    pub flags: ParamInfoFlags,
    /// Lowest plain value.
    pub min: f64,
    /// Highest plain value.
    pub max: f64,
    /// Plain value before anyone changes it.
    pub default: f64,
    /// Plain value now.
    pub value: f64,
}

impl Library {
    /// Loads a built `.clap`.
    ///
    /// # Errors
    /// It cannot be loaded.
    #[allow(unsafe_code, reason = "loading a library runs its code")]
    pub fn load(path: &Path) -> Result<Self, HostError> {
        // A path without a slash would be searched for in the system's folders.
        let path = std::path::absolute(path).map_err(|e| failed("the path")(&e))?;
        // SAFETY: the file is the bundle that this workspace builds; its start-up code is the
        // framework's, and its entry is a valid CLAP entry.
        let entry = unsafe { PluginEntry::load(&path) }
            .map_err(|e| HostError(format!("{}: {e}", path.display())))?;
        Ok(Self { entry })
    }

    /// Uses an entry that is linked into this binary.
    ///
    /// # Errors
    /// It does not initialise.
    #[allow(unsafe_code, reason = "calls through the entry's function pointers")]
    pub fn linked(entry: &'static EntryDescriptor) -> Result<Self, HostError> {
        // SAFETY: the entry is a static of the plugin crate made by the framework's export macro:
        // a valid CLAP entry for as long as the program runs.
        let entry = unsafe { PluginEntry::load_from_raw(entry, c"/linked/into/the/binary") }
            .map_err(|e| failed("the linked entry")(&e))?;
        Ok(Self { entry })
    }

    /// What the plugins in the library are.
    #[must_use]
    pub fn descriptors(&self) -> Vec<Descriptor> {
        let text =
            |c: Option<&std::ffi::CStr>| c.unwrap_or_default().to_string_lossy().into_owned();
        let Some(factory) = self.entry.get_plugin_factory() else {
            return Vec::new();
        };
        factory
            .plugin_descriptors()
            .map(|descriptor| Descriptor {
                id: text(descriptor.id()),
                name: text(descriptor.name()),
                version: text(descriptor.version()),
                features: descriptor.features().map(|f| text(Some(f))).collect(),
            })
            .collect()
    }
}

/// The bundle that `cargo xtask test` built: `PLIMSOLL_CLAP`, else where `cargo xtask bundle`
/// puts it.
///
/// # Panics
/// If there is none: the test that asks for it cannot be made without.
#[must_use]
pub fn built_bundle() -> PathBuf {
    let path = std::env::var_os("PLIMSOLL_CLAP").map_or_else(
        || crate::music::target_folder().join("bundled/Plimsoll.clap"),
        PathBuf::from,
    );
    assert!(
        path.exists(),
        "{}: no such bundle: build it with `cargo xtask bundle plimsoll --release`, or run the \
         tests with `cargo xtask test`",
        path.display()
    );
    path
}

/// One instance of a plugin in this host.
pub struct Host {
    instance: PluginInstance<Handlers>,
    processor: Option<PluginAudioProcessor<Handlers>>,
    scratch: process::Scratch,
    rate_hz: u32,
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
        let info = HostInfo::new(
            "Headless harness",
            "Plimsoll",
            "",
            env!("CARGO_PKG_VERSION"),
        )
        .map_err(|e| failed("the host's name")(&e))?;
        let instance = PluginInstance::new(
            |()| Shared::default(),
            |shared| MainThread { shared },
            &library.entry,
            &id,
            &info,
        )
        .map_err(|e| failed("the instance")(&e))?;
        Ok(Self {
            instance,
            processor: None,
            scratch: process::Scratch::default(),
            rate_hz: 0,
        })
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
        self.rate_hz
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
        let stopped = self
            .instance
            .activate(|_, _| (), configuration)
            .map_err(|e| failed("activate")(&e))?;
        self.rate_hz = rate_hz;
        self.processor = Some(stopped.into());
        self.start_processing()
    }

    /// Lets the plugin process, if it does not.
    ///
    /// # Errors
    /// The plugin refuses, or is not active.
    pub fn start_processing(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(|processor| {
            processor
                .ensure_processing_started()
                .map(|_| ())
                .map_err(|e| failed("start")(&e))
        })?
    }

    /// Lets the plugin rest.
    ///
    /// # Errors
    /// It is not active.
    pub fn stop_processing(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(|processor| {
            processor.ensure_processing_stopped();
        })
    }

    /// Calls the plugin's `reset`.
    ///
    /// # Errors
    /// It is not active.
    pub fn reset(&mut self) -> Result<(), HostError> {
        self.on_audio_thread(PluginAudioProcessor::reset)
    }

    /// Deactivates, if it is active.
    pub fn deactivate(&mut self) {
        if let Some(mut processor) = self.processor.take() {
            self.instance
                .access_shared_handler(|shared| shared.enter_audio_thread(true));
            processor.ensure_processing_stopped();
            self.instance
                .access_shared_handler(|shared| shared.enter_audio_thread(false));
            self.instance.deactivate(processor.into_stopped());
        }
    }

    fn on_audio_thread<T>(
        &mut self,
        work: impl FnOnce(&mut PluginAudioProcessor<Handlers>) -> T,
    ) -> Result<T, HostError> {
        let processor = self
            .processor
            .as_mut()
            .ok_or_else(|| HostError("the plugin is not active".to_owned()))?;
        self.instance
            .access_shared_handler(|shared| shared.enter_audio_thread(true));
        let result = work(processor);
        self.instance
            .access_shared_handler(|shared| shared.enter_audio_thread(false));
        Ok(result)
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
        if self
            .instance
            .access_shared_handler(Shared::take_callback_request)
        {
            self.instance.call_on_main_thread_callback();
        }
    }

    /// The plugin's state, as a host would put it into its project.
    ///
    /// # Errors
    /// The plugin has no state extension or does not save.
    pub fn save_state(&mut self) -> Result<Vec<u8>, HostError> {
        let plugin = self.instance.plugin_handle();
        let state: PluginState = extension(&plugin, "state")?;
        let mut bytes = Vec::new();
        state
            .save(&plugin, &mut bytes)
            .map_err(|e| failed("state")(&e))?;
        Ok(bytes)
    }

    /// Gives the plugin a state.
    ///
    /// # Errors
    /// The plugin refuses it.
    pub fn load_state(&mut self, mut bytes: &[u8]) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let state: PluginState = extension(&plugin, "state")?;
        state
            .load(&plugin, &mut bytes)
            .map_err(|e| failed("state")(&e))
    }

    /// Saves the state and reads the measurement in it.
    ///
    /// # Errors
    /// See [`Host::save_state`] and [`MeasurementError`].
    pub fn measurement(&mut self) -> Result<Measurement, HostError> {
        let state = self.save_state()?;
        Measurement::from_state(&state).map_err(|e| failed("measurement")(&e))
    }

    /// The audio ports of one direction.
    ///
    /// # Errors
    /// The plugin has no audio-ports extension.
    pub fn ports(&mut self, is_input: bool) -> Result<Vec<Port>, HostError> {
        let plugin = self.instance.plugin_handle();
        let ports: PluginAudioPorts = extension(&plugin, "audio-ports")?;
        let mut buffer = AudioPortInfoBuffer::new();
        Ok((0..ports.count(&plugin, is_input))
            .filter_map(|index| {
                let port = ports.get(&plugin, index, is_input, &mut buffer)?;
                Some(Port {
                    id: port.id.get(),
                    name: String::from_utf8_lossy(port.name).into_owned(),
                    channels: port.channel_count,
                    is_main: port.flags.contains(AudioPortFlags::IS_MAIN),
                    in_place_pair: port.in_place_pair.map(ClapId::get),
                })
            })
            .collect())
    }

    /// Chooses the layout whose main input has `channels` channels; while not active.
    ///
    /// # Errors
    /// The plugin offers no such layout.
    pub fn select_layout(&mut self, channels: u32) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let configs: PluginAudioPortsConfig = extension(&plugin, "audio-ports-config")?;
        let mut buffer = AudioPortsConfigBuffer::new();
        for index in 0..configs.count(&plugin) {
            let Some(config) = configs.get(&plugin, index, &mut buffer) else {
                continue;
            };
            if config
                .main_input
                .is_some_and(|main| main.channel_count == channels)
            {
                let id = config.id;
                return configs
                    .select(&plugin, id)
                    .map_err(|e| failed("layout")(&e));
            }
        }
        Err(HostError(format!(
            "no layout whose main input has {channels} channels"
        )))
    }

    /// The parameters.
    ///
    /// # Errors
    /// The plugin has no params extension.
    pub fn params(&mut self) -> Result<Vec<Param>, HostError> {
        let plugin = self.instance.plugin_handle();
        let params: PluginParams = extension(&plugin, "params")?;
        let mut buffer = ParamInfoBuffer::new();
        Ok((0..params.count(&plugin))
            .filter_map(|index| {
                let info = params.get_info(&plugin, index, &mut buffer)?;
                Some(Param {
                    id: info.id.get(),
                    name: String::from_utf8_lossy(info.name).into_owned(),
                    flags: info.flags,
                    min: info.min_value,
                    max: info.max_value,
                    default: info.default_value,
                    value: params.get_value(&plugin, info.id)?,
                })
            })
            .collect())
    }

    /// The latency that the plugin states, in frames.
    ///
    /// # Errors
    /// The plugin has no latency extension.
    pub fn latency_frames(&mut self) -> Result<u32, HostError> {
        let plugin = self.instance.plugin_handle();
        let latency: PluginLatency = extension(&plugin, "latency")?;
        Ok(latency.get(&plugin))
    }

    /// Tells the plugin that it renders offline, or that it does not.
    ///
    /// # Errors
    /// The plugin has no render extension or refuses.
    pub fn render_offline(&mut self, offline: bool) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let render: PluginRender = extension(&plugin, "render")?;
        let mode = if offline {
            RenderMode::Offline
        } else {
            RenderMode::Realtime
        };
        render
            .set(&plugin, mode)
            .map_err(|e| failed("render mode")(&e))
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
    plugin
        .get_extension()
        .ok_or_else(|| HostError(format!("the plugin has no {name} extension")))
}
