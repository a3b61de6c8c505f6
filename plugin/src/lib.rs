//! Plimsoll measures loudness and true peak on the master bus, holds them against song time, and
//! shows how far a song is from its delivery target.
//!
//! Data flows one way, and the modules are listed in that order:
//!
//! ```text
//! host audio ─> meters ─> audio ─> record ─> loudness ─> target, section ─> snapshot, state ─> editor
//!               (pure)   (hops of  (thread   (figures    (distance)           (copy for files)
//!                        song time) boundary) of any range)
//! ```

pub mod units;

pub mod palette;

pub mod meters;

pub mod record;

pub mod audio;

pub mod tone;

pub mod loudness;

pub mod target;

pub mod listening;

pub mod section;

pub mod reference;

pub mod snapshot;

pub mod state;

#[cfg(feature = "headless")]
pub mod check;

pub mod shared;

pub mod worker;

pub mod editor;

pub mod params;

pub mod window;

pub mod plugin;

nice_plug::nice_export_clap!(plugin::Plimsoll);
nice_plug::nice_export_vst3!(plugin::Plimsoll);
