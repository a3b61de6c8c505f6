//! The headless harness: everything the tests and the demo need around the plugin.
//!
//! ```text
//! noise, signals (test material)  ─┐
//! audio_file, music (real songs)  ─┼─> transport (script: where the song plays) ─> host ─> plugin
//!                                  │       └─> direct ─> the plugin's recorder without a host
//!                                  └─> oracle (literal BS.1770-5, what must come out)
//! ```
//!
//! The oracle shares no line with the plugin: what judges the meters stays independent of them.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "test code: a panic here is a failed test, and frame counts stay far below 2^52"
)]

pub mod alloc_guard;
pub mod audio_file;
pub mod child;
pub mod damage;
#[cfg(target_os = "linux")]
pub mod desktop;
pub mod direct;
#[cfg(target_os = "linux")]
pub mod display;
pub mod file_input;
pub mod host;
pub mod music;
pub mod noise;
pub mod oracle;
pub mod raster;
#[cfg(target_os = "linux")]
pub mod real_host;
pub mod signals;
pub mod song;
pub mod state_input;
pub mod transport;
