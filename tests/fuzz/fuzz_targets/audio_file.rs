//! Whatever somebody calls an audio file: read, with its markers, and measured.
#![no_main]

#[path = "../../src/file_input.rs"]
mod file_input;

use plimsoll::check::{Options, measure_track};

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let path = std::env::temp_dir().join(format!("plimsoll-fuzz-{}", std::process::id()));
    std::fs::write(&path, data).unwrap();
    file_input::audio_file(&path);
    if let Err(error) = measure_track(&path, &Options::default(), false, &|_| ()) {
        assert!(!error.to_string().contains('\n'), "{error}");
    }
});
