//! `plimsoll check`: the same meters on a file that leaves the machine, without plugin and host.
//!
//! ```text
//! file ─> reader ─┬─> FileMeter ─> Analysis ─┬─> targets, sections, release ─> CheckReport
//!                 ├─> delivery (facts) ──────┤                                 ├─> text
//!                 ├─> second reading ────────┤                                 ├─> JSON, CSV
//!                 └─> after_encode ──────────┘                                 └─> HTML
//! ```
//!
//! Only built with the feature `headless`; nothing of the plugin uses it.

mod after_encode;
pub mod cli;
mod csv;
mod delivery;
mod error;
mod facts;
mod folder;
mod html;
mod json;
mod measure;
mod options;
mod outputs;
mod page;
mod progress;
mod release;
mod report;
mod second_reading;
mod sections;
mod style;
mod targets;
mod text;

pub use after_encode::{AfterEncode, Ceiling, Encoded};
pub use delivery::{
    BitDepth, ChannelFacts, Clipping, Delivery, DeliveryScan, Dither, Edges, NoiseFloor, Run,
    Silence, Stretch, Twins,
};
pub use error::CheckError;
pub use measure::measure_track;
pub use options::Options;
pub use release::Release;
pub use report::{CheckReport, Status, TargetVerdict, Track, TrackOutcome, check};
pub use second_reading::{Difference, SecondMeter, SecondReading};
pub use targets::{TargetFileError, find_target, read_targets};

pub use csv::to_csv;
pub use html::to_html;
pub use json::to_json;
pub use text::to_text;
