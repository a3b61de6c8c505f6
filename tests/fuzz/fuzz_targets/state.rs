//! Whatever a host hands over as a saved state: settings, measurement, record, view.
#![no_main]

#[path = "../../src/state_input.rs"]
mod state_input;

libfuzzer_sys::fuzz_target!(|data: &[u8]| state_input::exercise(data));
