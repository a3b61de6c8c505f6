//! Reference songs: what is kept of their measurement, never their sound, and how a song compares
//! with one or several of them at equal loudness.
//!
//! - [`Reference`]: a song that was measured, as a whole and section by section: a file, or what comes
//!   over the reference input beside our song.
//! - [`Pool`]: one or several stretches of songs as one, with every level taken relative to the
//!   integrated loudness of its own stretch, so that louder does not pass for more.
//! - [`Comparison`]: the whole song, and each section against the one that it answers to.
//! - [`Observation`]: a difference that is large enough to tell, in words. It says what is, never
//!   what to do.
//!
//! Pure but for [`measure_file`], which reads a file.

mod comparison;
mod file;
mod observation;
mod pool;
mod roles;
mod song;

#[cfg(test)]
pub(crate) mod testing;

pub use comparison::{Comparison, Stretch};
pub use file::{FileError, measure_file};
pub use observation::{
    BANDS_FROM_DB, Observation, QUIET_BANDS_DB, RATIO_FROM_LU, Subject, WIDTH_FROM_DB,
};
pub use pool::{Difference, Pool, Span};
pub use song::{
    MAX_REFERENCE_SECTIONS, MAX_REFERENCES, Profile, Reference, ReferenceError, ReferenceSection,
    check_list,
};
pub(crate) use song::{add, find, put_input};
