//! The editor, from plain data: what it looks like, and what it asks for when it is used.
//!
//! Pictures are drawn on the CPU and compared with those in `tests/images/`. After a wanted
//! change, run with `UPDATE_IMAGES=1` and look at every new picture before it is kept. A picture
//! that differs is left beside the build's temporary files for a look.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "test code: a panic here is a failed test"
)]

#[path = "editor/asking.rs"]
mod asking;
#[path = "editor/destinations.rs"]
mod destinations;
#[path = "editor/interaction.rs"]
mod interaction;
#[path = "editor/keyboard.rs"]
mod keyboard;
#[path = "editor/pictures.rs"]
mod pictures;
#[path = "editor/references.rs"]
mod references;
#[path = "editor/reflow.rs"]
mod reflow;
#[path = "editor/scenes.rs"]
mod scenes;
#[path = "editor/sections.rs"]
mod sections;
#[path = "editor/words.rs"]
mod words;
