//! The section log: the figures of every section, kept up to date.

use super::changes::{Changes, with_lead};
use super::{Measured, Section, measure};
use crate::loudness::{Analysis, HopRange};
use crate::tone::ToneChange;
use crate::units::{Db, Lu};

/// One section of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct LogEntry {
    /// The section's id.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// The hops that were measured.
    pub range: HopRange,
    /// What it measures.
    pub measured: Measured,
    /// How much louder it is than the section before it in the list, LU; `None` for the first,
    /// and where one of the two is not measured or silent.
    pub louder_by: Option<Lu>,
    /// How much wider it is than the section before it in the list, dB of side to mid.
    pub wider_by: Option<Db>,
    /// How its tone differs from that of the section before it in the list.
    pub tone_change: Option<ToneChange>,
}

/// The figures of every section. [`Self::update`] measures only what changed.
#[derive(Debug, Default)]
pub struct SectionLog {
    entries: Vec<LogEntry>,
    changes: Changes,
}

impl SectionLog {
    /// The sections in song order, as of the last update.
    #[must_use]
    pub fn entries(&self) -> &[LogEntry] {
        &self.entries
    }

    /// Brings the log up to date with the sections and with an analysis that is up to date.
    /// A section is measured anew if its range is new or a hop changed that its figures stand on.
    /// Gives how many were.
    pub fn update(&mut self, sections: &[Section], analysis: &mut Analysis) -> usize {
        let (Some(first), Some(last)) = (sections.first(), sections.last()) else {
            self.entries.clear();
            self.changes = Changes::default();
            return 0;
        };
        let span = with_lead(&(first.hops().start..last.hops().end));
        let changed = self.changes.take(analysis, &span);

        let mut before = std::mem::take(&mut self.entries);
        let mut measured_count = 0;
        for section in sections {
            let range = section.hops();
            let touched = with_lead(&range);
            let old = before
                .binary_search_by_key(&range.start, |entry| entry.range.start)
                .ok()
                .and_then(|index| before.get_mut(index))
                .filter(|old| old.range == range)
                .filter(|_| !changed.iter().any(|run| overlap(run, &touched)));
            let measured = if let Some(old) = old {
                std::mem::take(&mut old.measured)
            } else {
                measured_count += 1;
                measure(analysis, range.clone())
            };
            let previous = self.entries.last().map(|entry| &entry.measured);
            self.entries.push(LogEntry {
                id: section.id,
                name: section.name.clone(),
                range,
                louder_by: previous.and_then(|previous| measured.louder_than(previous)),
                wider_by: previous.and_then(|previous| measured.wider_than(previous)),
                tone_change: previous.and_then(|previous| measured.tone_change_from(previous)),
                measured,
            });
        }
        measured_count
    }
}

const fn overlap(a: &HopRange, b: &HopRange) -> bool {
    a.start < b.end && b.start < a.end
}

#[cfg(test)]
mod tests;
