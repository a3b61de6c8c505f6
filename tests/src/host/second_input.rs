//! What a host gives for an input port beside the main one.

use super::{Host, HostError, extension, failed};
use crate::audio_file::Audio;
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use std::sync::Arc;

/// What stands behind the port, from the next block on.
#[derive(Debug, Clone, Default)]
pub enum SecondInput {
    /// No memory: nothing is connected.
    #[default]
    Unconnected,
    /// This value in every sample, flagged as constant.
    Constant(f32),
    /// A song, at the same song time as that of the main port.
    Song(Arc<Audio>),
    /// The host counts one port only, though CLAP asks for as many as the plugin has. In memory a port
    /// stands behind it all the same, without memory of its own.
    Missing,
    /// The same, and the port behind the last one has a song on it.
    Uncounted(Arc<Audio>),
}

impl SecondInput {
    /// Whether the host counts the port.
    pub(super) const fn is_counted(&self) -> bool {
        !matches!(self, Self::Missing | Self::Uncounted(_))
    }

    /// The song on the port.
    pub(super) fn song(&self) -> Option<Arc<Audio>> {
        match self {
            Self::Song(song) | Self::Uncounted(song) => Some(Arc::clone(song)),
            Self::Unconnected | Self::Constant(_) | Self::Missing => None,
        }
    }
}

impl Host {
    /// What the port beside the main input gets from the next block on.
    pub fn set_second_input(&mut self, second: SecondInput) {
        self.audio.set_second_input(second);
    }

    /// Chooses the layout with this name; while not active.
    ///
    /// # Errors
    /// The plugin offers no such layout.
    pub fn select_layout_named(&mut self, name: &str) -> Result<(), HostError> {
        let plugin = self.instance.plugin_handle();
        let configs: PluginAudioPortsConfig = extension(&plugin, "audio-ports-config")?;
        let mut buffer = AudioPortsConfigBuffer::new();
        for index in 0..configs.count(&plugin) {
            let config = configs.get(&plugin, index, &mut buffer);
            if let Some(config) = config.filter(|config| config.name == name.as_bytes()) {
                let id = config.id;
                return configs.select(&plugin, id).map_err(|e| failed("layout")(&e));
            }
        }
        Err(HostError(format!("no layout named {name}")))
    }
}
