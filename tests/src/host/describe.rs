//! What a plugin says about itself: ports, parameters, latency.

use super::{Host, HostError, extension, failed};
use clack_extensions::audio_ports::{AudioPortFlags, AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::latency::PluginLatency;
use clack_extensions::params::{ParamInfoBuffer, ParamInfoFlags, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_host::prelude::*;

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

impl Host {
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

    /// Name and channels of the main input of every layout that a user may choose from.
    ///
    /// # Errors
    /// The plugin has no audio-ports-config extension.
    pub fn layouts(&mut self) -> Result<Vec<(String, u32)>, HostError> {
        let plugin = self.instance.plugin_handle();
        let configs: PluginAudioPortsConfig = extension(&plugin, "audio-ports-config")?;
        let mut buffer = AudioPortsConfigBuffer::new();
        Ok((0..configs.count(&plugin))
            .filter_map(|index| {
                let config = configs.get(&plugin, index, &mut buffer)?;
                let channels = config.main_input.map_or(0, |main| main.channel_count);
                Some((String::from_utf8_lossy(config.name).into_owned(), channels))
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
            if config.main_input.is_some_and(|main| main.channel_count == channels) {
                let id = config.id;
                return configs.select(&plugin, id).map_err(|e| failed("layout")(&e));
            }
        }
        Err(HostError(format!("no layout whose main input has {channels} channels")))
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
        let mode = if offline { RenderMode::Offline } else { RenderMode::Realtime };
        render.set(&plugin, mode).map_err(|e| failed("render mode")(&e))
    }
}
