//! `cargo xtask pictures`: the pictures of README and manual, as the demo draws them.

use std::fs;

use crate::cargo;
use crate::demo::{self, DemoOptions};
use crate::failure::Failure;

/// What the demo calls them, and what they are called in `plugin/images`.
const PICTURES: [(&str, &str); 5] = [
    ("plimsoll-editor.png", "editor-day.png"),
    ("plimsoll-editor-night.png", "editor-night.png"),
    ("plimsoll-section-log.png", "section-log.png"),
    ("plimsoll-peak-ledger.png", "peak-ledger.png"),
    ("plimsoll-tone.png", "tone.png"),
];

/// Runs the demo and takes its pictures.
pub(crate) fn run() -> Result<(), Failure> {
    let drawn = cargo::target_directory()?.join("pictures");
    let out = Some(drawn.clone());
    demo::run(&DemoOptions { file: None, json: None, out, target: None })?;
    let images = cargo::workspace_root()?.join("plugin/images");
    for (from, to) in PICTURES {
        let (from, to) = (drawn.join(from), images.join(to));
        fs::copy(from, &to).map_err(|source| {
            let (action, path) = ("copy to", to.clone());
            Failure::Io { action, path, source }
        })?;
        println!("{}", to.display());
    }
    Ok(())
}
