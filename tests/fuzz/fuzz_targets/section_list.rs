//! Whatever somebody calls a list of sections.
#![no_main]

#[path = "../../src/file_input.rs"]
mod file_input;

libfuzzer_sys::fuzz_target!(|data: &[u8]| file_input::section_list(data));
