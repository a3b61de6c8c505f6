//! What must hold for any song and any transport: gain, channels, polarity, seams, and a thousand
//! random scripts. Everything is seeded: a failure prints its seed and comes again with it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

#[path = "properties/channels.rs"]
mod channels;
#[path = "properties/gain.rs"]
mod gain;
#[path = "properties/memory.rs"]
mod memory;
#[path = "properties/model.rs"]
mod model;
#[path = "properties/script.rs"]
mod script;
#[path = "properties/scripts.rs"]
mod scripts;
#[path = "properties/seams.rs"]
mod seams;
