//! Parameters: text, flush, what comes out.

use super::{RATE_HZ, case, play};
use clack_extensions::params::{ParamInfoFlags, PluginParams};
use clack_host::events::Pckn;
use clack_host::events::event_types::ParamValueEvent;
use clack_host::prelude::*;
use plimsoll_tests::host::{Host, Param};
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::Step;
use std::ffi::CString;

fn bypass(host: &mut Host) -> Param {
    let params = host.params().unwrap();
    let is_bypass = |param: &Param| param.flags.contains(ParamInfoFlags::IS_BYPASS);
    params.into_iter().find(is_bypass).expect("no bypass parameter")
}

#[test]
fn every_value_becomes_text_and_the_text_becomes_the_value() {
    case("parameters::every_value_becomes_text_and_the_text_becomes_the_value", |host| {
        for param in host.params().unwrap() {
            assert!(!param.name.is_empty());
            assert!((param.min..=param.max).contains(&param.default), "{param:?}");
            assert_eq!(param.value, param.default, "{param:?}");
            let plugin = host.instance().plugin_handle();
            let params: PluginParams = plugin.get_extension().unwrap();
            let id = ClapId::new(param.id);
            let stepped = param.flags.contains(ParamInfoFlags::IS_STEPPED);
            for share in 0..=100 {
                let value = param.min + (param.max - param.min) * f64::from(share) / 100.0;
                let value = if stepped { value.round() } else { value };
                let mut buffer = [1_u8; 64];
                let text = params.value_to_text(&plugin, id, value, &mut buffer).unwrap();
                let text = CString::new(&*text).unwrap();
                assert!(!text.is_empty());
                let back = params.text_to_value(&plugin, id, &text);
                // The framework keeps a value as 32-bit float between 0 and 1.
                let allowed = (param.max - param.min) * f64::from(f32::EPSILON);
                assert!(
                    back.is_some_and(|back| (back - value).abs() <= allowed),
                    "{}: {value} is {text:?} is {back:?}",
                    param.name
                );
            }
            // Text that is none, and a buffer of one byte.
            assert_eq!(params.text_to_value(&plugin, id, c"no such value"), None);
            let mut short = [1_u8; 1];
            let _ = params.value_to_text(&plugin, id, param.max, &mut short);
            assert_eq!(short, [0], "text has to end within its buffer");
        }
        let plugin = host.instance().plugin_handle();
        let params: PluginParams = plugin.get_extension().unwrap();
        let unknown = ClapId::new(12_345);
        assert_eq!(params.get_value(&plugin, unknown), None);
        assert_eq!(params.text_to_value(&plugin, unknown, c"1"), None);
        assert!(params.value_to_text(&plugin, unknown, 0.0, &mut [0; 9]).is_err());
    });
}

/// Sends values by `flush` to a plugin that is not active; gives the events that came out.
fn flush(host: &mut Host, values: &[(u32, f64)]) -> u32 {
    let value = |&(id, value): &(u32, f64)| {
        ParamValueEvent::new(0, ClapId::new(id), Pckn::match_all(), value)
    };
    let events: Vec<ParamValueEvent> = values.iter().map(value).collect();
    let mut sent = EventBuffer::new();
    let mut plugin = host.instance().inactive_plugin_handle().unwrap();
    let params: PluginParams = plugin.get_extension().unwrap();
    params.flush(
        &mut plugin,
        &InputEvents::from_buffer(&events),
        &mut OutputEvents::from_buffer(&mut sent),
    );
    sent.len()
}

#[test]
fn a_flush_without_processing_is_taken_and_answered_with_nothing() {
    case("parameters::a_flush_without_processing_is_taken_and_answered_with_nothing", |host| {
        let param = bypass(host);
        assert!(param.flags.contains(ParamInfoFlags::IS_AUTOMATABLE), "{param:?}");
        assert_eq!(flush(host, &[]), 0);
        assert_eq!(flush(host, &[(param.id, 1.0)]), 0);
        assert_eq!(bypass(host).value, 1.0);
        // Values out of range and parameters that do not exist are a host's mistake.
        for (id, value) in [(param.id, 7.0), (param.id, -3.0), (param.id, f64::NAN), (999, 1.0)] {
            assert_eq!(flush(host, &[(id, value)]), 0);
            assert!((param.min..=param.max).contains(&bypass(host).value), "{id}: {value}");
        }
        assert_eq!(flush(host, &[(param.id, 1.0), (param.id, 0.0)]), 0);
        assert_eq!(bypass(host).value, 0.0, "the last one counts");
        assert_eq!(host.calls().rescan, 0, "a host knows what it sent");
    });
}

#[test]
fn bypass_passes_audio_and_nothing_comes_out() {
    case("parameters::bypass_passes_audio_and_nothing_comes_out", |host| {
        let song = song_like(111, RATE_HZ, 4.0);
        let param = bypass(host);
        host.activate(RATE_HZ, 512).unwrap();
        for value in [1.0, 0.0, 1.0, 1.0] {
            host.set_param(param.id, value);
            play(host, &song, &[Step::Locate { frame: 0 }, Step::Play { len_frames: 96_000 }]);
            assert_eq!(bypass(host).value, value);
        }
        // One second round is measured in all.
        assert_eq!(host.measurement().unwrap().figures.measured_hops, Some(200.0));
    });
}
