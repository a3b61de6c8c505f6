//! Sections of a song, what each of them measures, and what changed from one playthrough to the
//! next. Pure: no framework, no thread, no file; everything is computed from the record's
//! [`Analysis`](crate::loudness::Analysis).
//!
//! - [`Sections`]: the list that the user edits, with undo and redo.
//! - [`read_file_markers`], [`parse_marker_list`], [`propose`]: where sections can come from.
//! - [`SectionLog`]: the figures of every section, kept up to date.
//! - [`Playthroughs`]: what each section measured in one run of the transport, and comparisons.
//! - [`RunFollower`]: copies a playthrough while it is played, so that it is logged as a whole.
//! - [`PeakLedger`]: the places that cost headroom.

mod bar_map;
mod changes;
mod error;
mod file_log;
mod follow;
mod grid;
mod history;
mod list;
mod log;
mod markers;
mod measure;
mod peaks;
mod playthroughs;
mod propose;

#[cfg(test)]
pub(crate) mod testing;

pub use bar_map::BarMap;
pub use error::SectionError;
pub use file_log::{log_markers, log_proposal};
pub use follow::{Finished, RunFollower, SHORTEST_PLAYTHROUGH_HOPS};
pub use grid::{BarAnchor, BarGrid, GridError};
pub use history::{Edit, HISTORY_STEPS};
pub use list::{Delete, MovedEdge, NewSection, Section, Sections, Side};
pub use log::{LogEntry, SectionLog};
pub use markers::{
    LeftOut, MAX_MARKERS, Marker, MarkerError, MarkerImport, WhyLeftOut, parse_marker_list,
    read_aiff_markers, read_file_markers, read_marker_list, read_wav_markers,
};
pub use measure::{Measured, STABLE_RANGE_HOPS, measure};
pub use peaks::{OverCeiling, PeakEvent, PeakLedger, Taming};
pub use playthroughs::{
    FiguresChange, KEPT_PLAYTHROUGHS, LoggedFigures, LoggedSection, MAX_PINS, Playthrough,
    PlaythroughError, Playthroughs, SectionChange, analysis_of_playthrough, compare,
};
pub use propose::{Border, Proposal, propose};

use crate::record::{END_HOP, FIRST_HOP, HOPS_PER_SECOND};

/// Shortest section, seconds: one gating block (ITU-R BS.1770-5, Annex 1), below which there is
/// no loudness to tell.
pub const MIN_SECTION_S: f64 = 0.4;

/// Most sections of one song. The project's own choice, no source.
pub const MAX_SECTIONS: usize = 500;

/// Longest name, characters. The project's own choice, no source.
pub const MAX_NAME_CHARS: usize = 80;

/// Start of the record's range, seconds: [`FIRST_HOP`].
pub const FIRST_S: f64 = -60.0;

/// End of the record's range, seconds: [`END_HOP`].
pub const END_S: f64 = 7_200.0;

/// Times closer than this are the same, seconds: less than a frame at 384 kHz.
const SAME_TIME_S: f64 = 1e-6;

/// A place in song time, with the bar beside it where the host tells bars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Song time, seconds; negative in a count-in.
    pub at_s: f64,
    /// The same place in bars, 0.0 = the first bar line of the song; `None` if not known.
    pub bar: Option<f64>,
}

impl Place {
    /// A place in seconds only.
    #[must_use]
    pub const fn at(at_s: f64) -> Self {
        Self { at_s, bar: None }
    }
}

/// The hop border nearest to `at_s` seconds, inside the record's range.
#[must_use]
pub fn nearest_hop(at_s: f64) -> i32 {
    let hops = (at_s * f64::from(HOPS_PER_SECOND)).round();
    #[expect(clippy::cast_possible_truncation, reason = "clamped to the record's range of i32")]
    let hop = hops.clamp(f64::from(FIRST_HOP), f64::from(END_HOP)) as i32;
    hop
}

/// A count as a float: exact, for there are never 2^32 of anything here.
fn float(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::hop_seconds;

    #[test]
    fn times_lie_in_the_range_of_the_record() {
        assert_eq!(FIRST_S, hop_seconds(FIRST_HOP));
        assert_eq!(END_S, hop_seconds(END_HOP));
        assert_eq!(nearest_hop(-1e9), FIRST_HOP);
        assert_eq!(nearest_hop(f64::INFINITY), END_HOP);
        assert_eq!(nearest_hop(1.004_9), 100);
        assert_eq!(nearest_hop(1.005_1), 101);
        assert_eq!(nearest_hop(-0.014), -1);
    }

    #[test]
    fn the_shortest_section_is_one_gating_block() {
        assert_eq!(
            usize::try_from(nearest_hop(MIN_SECTION_S)),
            Ok(crate::loudness::MOMENTARY_HOPS)
        );
    }
}
