//! Tone and width by frequency, read from the seconds of a record.
//!
//! - [`ToneSeries`]: a reader's own copy of the seconds.
//! - [`Tone`]: what a range of song time reads.
//!
//! A second counts if at least half of it was measured and it sounds: its K-weighted loudness lies
//! above the absolute gate of BS.1770, −70 LUFS, taken over by the project's own choice, no source,
//! so that a pause does not pull percentiles down. All that count weigh the same; averages are of
//! power. A second belongs to the range that holds its middle.

mod reading;
mod series;

pub use reading::{BandLevels, Tone, ToneChange, WIDTH_BORDERS_HZ};
pub use series::ToneSeries;
