//! What the plugin says about itself.

use super::case;
use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::gui::PluginGui;
use plimsoll_tests::host::Port;

const CHANNELS: [u32; 4] = [2, 1, 6, 8];

#[test]
fn every_layout_has_a_name_and_a_pair_of_main_ports_that_may_share_memory() {
    let name =
        "description::every_layout_has_a_name_and_a_pair_of_main_ports_that_may_share_memory";
    case(name, |host| {
        let layouts = host.layouts().unwrap();
        let channels: Vec<u32> = layouts.iter().map(|(_, channels)| *channels).collect();
        let (last, others) = channels.split_last().unwrap();
        assert_eq!(others, CHANNELS, "the first one is what a host takes that does not choose");
        // With a second input: `second_input`.
        assert_eq!(*last, 2);
        let mut names: Vec<&str> = layouts.iter().map(|(name, _)| name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), layouts.len());
        assert!(names.iter().all(|name| !name.is_empty()));
        for channels in CHANNELS {
            host.select_layout(channels).unwrap();
            let [input, output] = [true, false].map(|is_input| host.ports(is_input).unwrap());
            let main = |ports: &[Port]| ports.iter().filter(|port| port.is_main).count();
            assert_eq!((main(&input), main(&output)), (1, 1));
            // CLAP: the main port stands first.
            assert!(input[0].is_main && output[0].is_main);
            assert_eq!((input[0].channels, output[0].channels), (channels, channels));
            assert_eq!(input[0].in_place_pair, Some(output[0].id));
            assert_eq!(output[0].in_place_pair, Some(input[0].id));
            assert!(input.iter().chain(&output).all(|port| !port.name.is_empty()));
        }
        assert!(host.select_layout(3).is_err());
    });
}

#[test]
fn a_port_that_is_not_there_is_not_described() {
    case("description::a_port_that_is_not_there_is_not_described", |host| {
        let plugin = host.instance().plugin_handle();
        let ports: PluginAudioPorts = plugin.get_extension().unwrap();
        let mut buffer = AudioPortInfoBuffer::new();
        for is_input in [true, false] {
            for index in [ports.count(&plugin, is_input), 1_000, u32::MAX] {
                assert!(ports.get(&plugin, index, is_input, &mut buffer).is_none());
            }
        }
    });
}

#[test]
fn latency_is_zero_before_while_and_after_it_is_active() {
    case("description::latency_is_zero_before_while_and_after_it_is_active", |host| {
        assert_eq!(host.latency_frames().unwrap(), 0);
        host.activate(44_100, 64).unwrap();
        assert_eq!(host.latency_frames().unwrap(), 0);
        host.deactivate();
        assert_eq!(host.latency_frames().unwrap(), 0);
        assert_eq!(host.calls().latency_changed, 0);
    });
}

#[test]
fn there_is_an_editor() {
    case("description::there_is_an_editor", |host| {
        let plugin = host.instance().plugin_handle();
        assert!(plugin.get_extension::<PluginGui>().is_some());
    });
}
