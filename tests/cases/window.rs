//! The real thing: the editor of the built bundle in a window, as a host embeds it. Needs an X
//! server in memory (Xvfb); where there is none, the tests say that they are skipped.
#![cfg(target_os = "linux")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

#[path = "window/desk.rs"]
mod desk;
#[path = "window/drops.rs"]
mod drops;
#[path = "window/frames.rs"]
mod frames;
#[path = "window/hands.rs"]
mod hands;
#[cfg(target_env = "gnu")]
#[path = "window/leaks.rs"]
mod leaks;
#[path = "window/life.rs"]
mod life;
#[path = "window/listening.rs"]
mod listening;
#[path = "window/session.rs"]
mod session;
#[path = "window/snapshot.rs"]
mod snapshot;
#[path = "window/user.rs"]
mod user;
