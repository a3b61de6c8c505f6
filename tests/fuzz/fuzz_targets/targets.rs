//! Whatever somebody calls a file of targets.
#![no_main]

use plimsoll::check::read_targets;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let path = std::env::temp_dir().join(format!("plimsoll-fuzz-{}.json", std::process::id()));
    std::fs::write(&path, data).unwrap();
    match read_targets(&path) {
        Ok(targets) => assert!(targets.iter().all(|target| target.validate().is_ok())),
        Err(error) => assert!(!error.to_string().contains('\n'), "{error}"),
    }
});
