//! Which hops of an analysis changed since the last look: by comparing values, hop by hop, so
//! that it is exact whatever happened to the record in between (another one, a reset, its undo).

use crate::loudness::{Analysis, HopRange, Kept};
use crate::record::{CHUNK_HOPS, HOPS_PER_SECOND, ToneSecond};

/// Changes closer than this are one, hops: keeps the list of changes short.
const JOIN_HOPS: i32 = 64;

/// A copy of the hops that were looked at last.
#[derive(Debug, Default)]
pub(super) struct Changes {
    start: i32,
    hops: Vec<Kept>,
    /// The seconds of the span.
    tone: Vec<Option<ToneSecond>>,
}

impl Changes {
    /// The ranges inside of `span` that differ from the last look, in song order, and takes the
    /// present values over. Hops that were not looked at before count as not measured before.
    pub fn take(&mut self, analysis: &Analysis, span: &HopRange) -> Vec<HopRange> {
        if span.start != self.start || span.len() < self.hops.len() {
            self.move_to(span);
        }
        self.hops.resize(span.len(), Kept::default());
        let mut changed: Vec<HopRange> = Vec::new();
        let present = analysis.hops(span.clone()).map(|(_, kept)| kept);
        let present = present.chain(std::iter::repeat(Kept::default()));
        for ((hop, seen), present) in span.clone().zip(&mut self.hops).zip(present) {
            if *seen == present {
                continue;
            }
            *seen = present;
            match changed.last_mut() {
                Some(run) if hop - run.end < JOIN_HOPS => run.end = hop + 1,
                _ => changed.push(hop..hop + 1),
            }
        }
        changed.extend(self.take_tone(analysis, span));
        changed
    }

    /// The hops in the middles of seconds whose tone differs from the last look: they tell the
    /// range that a second belongs to.
    fn take_tone(&mut self, analysis: &Analysis, span: &HopRange) -> Vec<HopRange> {
        let present: Vec<_> = analysis.tone_seconds(span).collect();
        // After a move of the span all counts as changed.
        self.tone.resize(present.len(), None);
        let differs = present.iter().zip(&mut self.tone).filter_map(|((second, tone), seen)| {
            let middle = second * HOPS_PER_SECOND + HOPS_PER_SECOND / 2;
            let tone = tone.copied();
            (std::mem::replace(seen, tone) != tone).then_some(middle..middle + 1)
        });
        differs.collect()
    }

    /// Moves the copy to another span; what it did not hold is not measured.
    fn move_to(&mut self, span: &HopRange) {
        let old = std::mem::take(&mut self.hops);
        let old_at = |hop: i32| {
            let offset = usize::try_from(hop.checked_sub(self.start)?).ok()?;
            old.get(offset).copied()
        };
        self.hops = span.clone().map(|hop| old_at(hop).unwrap_or_default()).collect();
        self.start = span.start;
    }
}

/// How far before a range its figures may still depend on the hops, in the last bits: sums of
/// windows slide from the chunk border before.
pub(super) fn with_lead(range: &HopRange) -> HopRange {
    let lead = i32::try_from(CHUNK_HOPS).unwrap_or(i32::MAX);
    (range.start - lead).max(crate::record::FIRST_HOP)..range.end
}
