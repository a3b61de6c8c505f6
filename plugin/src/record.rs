//! The song record: what was measured, held against song time.
//!
//! The thread boundary of the plugin. One [`RecordWriter`] lives on the audio thread and writes
//! whole hops of 10 ms; any number of [`RecordReader`]s read them. Everything is preallocated and
//! atomic: no lock, no queue that could overflow, no torn hop.
//!
//! A hop that was measured again replaces what was measured before ([`Hop::may_replace`]), so
//! that replaying part of a song brings the whole song up to date. What an earlier session
//! measured lies below ([`BaseHops`]).

mod base;
mod floors;
mod hop;
mod recent;
mod seqlock;
mod slots;
mod tone;
mod words;

pub use base::{BaseHops, OtherLayout};
pub use floors::TrimUndo;
pub use hop::{HOPS_PER_SECOND, Hop, first_frame_of_hop, hop_of_frame, hop_seconds};
pub use recent::{RecentHops, RecentReader, RecentWriter, recent_hops};
pub(crate) use slots::chunk_hops;
pub use slots::{CHUNK_HOPS, RecordReader, RecordWriter, record, record_with_tone};
pub use tone::{END_SECOND, FIRST_SECOND, ToneSecond, ToneWriter};
pub(crate) use words::Fnv1a;

/// First hop that a song record can hold: one minute before song time zero, for count-ins.
pub const FIRST_HOP: i32 = -60 * HOPS_PER_SECOND;

/// One past the last hop that a record can hold: two hours of song time.
pub const END_HOP: i32 = 2 * 60 * 60 * HOPS_PER_SECOND;
