//! Follows the playthroughs of a record while they are played, so that each is logged as a whole:
//! a loop that wraps replaces the start of what it played before.

use super::Section;
use super::playthroughs::Playthrough;
use crate::loudness::{Analysis, Kept, SHORT_TERM_HOPS};
use crate::record::{RecordReader, chunk_hops};

/// Shortest playthrough that is logged, measured hops: one short-term window. The project's own
/// choice, no source: what is shorter was a click on the transport.
pub const SHORTEST_PLAYTHROUGH_HOPS: usize = SHORT_TERM_HOPS;

/// The playthrough that is being played, copied out of the record as it grows.
///
/// Call [`Self::poll`] often enough that no place of the song is played twice in between.
pub struct RunFollower {
    record: RecordReader,
    seen_chunks: Vec<u32>,
    seen_revision: u64,
    /// Number of the playthrough that is followed.
    number: u32,
    run: Analysis,
    measured_hops: usize,
    /// Whether the log has not all of it.
    news: bool,
    /// Whether the log has a part of it.
    logged: bool,
}

/// A playthrough for the log.
#[derive(Debug, Clone, PartialEq)]
pub struct Finished {
    /// What it measured.
    pub playthrough: Playthrough,
    /// Whether the one that was given last was an earlier part of the same playthrough.
    pub goes_on: bool,
}

impl RunFollower {
    /// Follows what is played from now on.
    #[must_use]
    pub fn new(record: RecordReader) -> Self {
        Self {
            // What was played before is not to be logged again.
            seen_chunks: (0..record.chunk_count()).map(|at| record.chunk_revision(at)).collect(),
            seen_revision: record.revision(),
            number: record.newest_playthrough(),
            run: Analysis::of_file(record.layout()),
            record,
            measured_hops: 0,
            news: false,
            logged: false,
        }
    }

    /// Copies what is new. Gives the playthrough if another one began, or if it is `playing` no
    /// more (ask again then: that other one may be over too); nothing if it was shorter than [`SHORTEST_PLAYTHROUGH_HOPS`] or was forgotten by a
    /// reset.
    pub fn poll(&mut self, playing: bool, sections: &[Section]) -> Option<Finished> {
        // In this order: what was written before the number moved is of the old one.
        let newest = self.record.newest_playthrough();
        let revision = self.record.revision();
        let is_new = revision != self.seen_revision;
        self.seen_revision = revision;
        if self.record.was_reset_since(self.number) {
            self.begin(newest);
        }
        if is_new {
            self.copy();
        }
        if newest != self.number {
            let finished = self.give(sections);
            self.begin(newest);
            self.copy();
            if finished.is_some() {
                return finished;
            }
        }
        // What comes after all gives the whole again, in place of this.
        if playing { None } else { self.give(sections) }
    }

    /// The last hop of the record that was measured.
    #[must_use]
    pub fn last_hop(&self) -> Option<i32> {
        let chunks = (0..self.record.chunk_count()).rev();
        let written = chunks.filter(|&chunk| self.record.chunk_revision(chunk) != 0);
        written
            .flat_map(|chunk| chunk_hops(chunk).rev())
            .find(|&index| self.record.hop(index).is_some())
    }

    fn begin(&mut self, number: u32) {
        self.number = number;
        self.run = Analysis::of_file(self.record.layout());
        self.measured_hops = 0;
        self.news = false;
        self.logged = false;
        self.seen_chunks.fill(0);
    }

    fn copy(&mut self) {
        for (chunk, seen) in self.seen_chunks.iter_mut().enumerate() {
            let revision = self.record.chunk_revision(chunk);
            if *seen == revision {
                continue;
            }
            *seen = revision;
            for index in chunk_hops(chunk) {
                let hop = self.record.hop(index).filter(|hop| hop.playthrough == self.number);
                if let Some(hop) = hop {
                    let is_new = self.run.hop(index).is_none();
                    self.measured_hops += usize::from(is_new);
                    self.news |= is_new;
                    self.run.add(index, Kept::from(hop));
                }
            }
        }
    }

    /// Where the record kept a better hop of before in place of the first or the last one of the
    /// run ([`Hop::may_replace`](crate::record::Hop::may_replace)), the log takes that one: 10 ms of
    /// another playthrough are a smaller error than the gating blocks that a gap would cost.
    fn close_seams(&mut self) {
        let Some(extent) = self.run.extent() else { return };
        for (own, beside) in [(extent.start, extent.start - 1), (extent.end - 1, extent.end)] {
            let stands_inside = self.record.hop(own).is_some_and(|hop| !hop.edge);
            if let Some(hop) = self.record.hop(beside).filter(|_| stands_inside) {
                self.run.add(beside, Kept::from(hop));
            }
        }
    }

    fn give(&mut self, sections: &[Section]) -> Option<Finished> {
        // What came with the project was logged when it was played.
        let is_old = self.number < self.record.first_new_playthrough();
        if is_old || !self.news || self.measured_hops < SHORTEST_PLAYTHROUGH_HOPS {
            return None;
        }
        self.news = false;
        let goes_on = std::mem::replace(&mut self.logged, true);
        self.close_seams();
        let playthrough = Playthrough::of_analysis(&mut self.run, self.number, sections)?;
        Some(Finished { playthrough, goes_on })
    }
}

#[cfg(test)]
mod tests;
