//! The peak ledger: the places that cost headroom, highest first, and what taming them frees.

use super::{BarGrid, LogEntry, float};
use crate::loudness::{Analysis, HopRange};
use crate::record::hop_seconds;
use crate::units::{Db, Dbtp, Lu, db_to_amplitude};

/// Peaks this close are one event, hops: 200 ms. The project's own choice, no source.
const EVENT_HOPS: usize = 20;

/// One place where headroom is lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakEvent {
    /// The hop of its highest peak.
    pub hop: i32,
    /// Highest true peak of all channels, dBTP.
    pub peak: Dbtp,
    /// The section that it stands in.
    pub section: Option<u32>,
    /// How far the peak stands above that section's integrated loudness, LU; `None` outside of
    /// the sections or where that is not measured.
    pub above_section: Option<Lu>,
}

impl PeakEvent {
    /// Song time of its highest peak, seconds, to 10 ms.
    #[must_use]
    pub fn at_s(&self) -> f64 {
        hop_seconds(self.hop)
    }

    /// Its place in bars, 0.0 = the first bar line.
    #[must_use]
    pub fn bar(&self, grid: &BarGrid) -> Option<f64> {
        grid.bar_at(self.at_s())
    }
}

/// What taming the highest events frees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taming {
    /// How many events are tamed, the highest first.
    pub events: usize,
    /// The level that all peaks of those events are brought down to, dBTP.
    pub to: Dbtp,
    /// By how much the highest true peak of the range falls, dB.
    pub frees: Db,
}

/// The places over a ceiling.
#[derive(Debug, Clone, PartialEq)]
pub struct OverCeiling {
    /// The events, highest first, each with how far it is over, dB, above zero.
    pub places: Vec<(PeakEvent, Db)>,
    /// Whether these are all: `false` if the ledger's floor lies above the ceiling.
    pub complete: bool,
}

/// The peak events of a range of song time.
///
/// The highest peak is an event and takes all within 200 ms of it with it; so does the highest of
/// what is left, and so on down to the floor. So the events are in falling order, each stands at
/// least 200 ms from the next, and taming the first n leaves the peak of number n + 1.
#[derive(Debug, Clone, PartialEq)]
pub struct PeakLedger {
    events: Vec<PeakEvent>,
    /// Highest true peak that belongs to no event, linear; 0.0 if there is none.
    rest: f32,
}

impl PeakLedger {
    /// The ledger of `range`, of peaks from `floor` upwards. `log` gives the sections.
    ///
    /// For [`Self::over_ceiling`] to be complete the floor must not lie above ceiling − gain.
    #[must_use]
    pub fn new(analysis: &Analysis, range: HopRange, floor: Dbtp, log: &[LogEntry]) -> Self {
        let floor_amplitude = db_to_amplitude(floor.0);
        let hops = analysis.hops(range).filter(|(_, kept)| kept.frames() > 0);
        let Some((first, last)) = hops.clone().next().zip(hops.clone().last()) else {
            return Self { events: Vec::new(), rest: 0.0 };
        };
        let mut above: Vec<(f32, i32)> = hops
            .clone()
            .filter(|(_, kept)| kept.true_peak > 0.0)
            .filter(|(_, kept)| f64::from(kept.true_peak) >= floor_amplitude)
            .map(|(hop, kept)| (kept.true_peak, hop))
            .collect();
        // Of equal peaks the first in song order.
        above.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));

        let offset = |hop: i32| usize::try_from(hop - first.0).unwrap_or(0);
        let mut taken = vec![false; offset(last.0) + 1];
        let mut events = Vec::new();
        for (peak, hop) in above {
            let at = offset(hop);
            if taken.get(at).copied().unwrap_or(true) {
                continue;
            }
            let around = at.saturating_sub(EVENT_HOPS)..(at + EVENT_HOPS + 1).min(taken.len());
            taken.get_mut(around).unwrap_or_default().fill(true);
            events.push(event(Dbtp::from_amplitude(peak), hop, log));
        }
        let rest = hops
            .filter(|&(hop, _)| !taken.get(offset(hop)).copied().unwrap_or(true))
            .map(|(_, kept)| kept.true_peak)
            .fold(0.0, f32::max);
        Self { events, rest }
    }

    /// The events, highest first.
    #[must_use]
    pub fn events(&self) -> &[PeakEvent] {
        &self.events
    }

    /// Highest true peak of what is left when the first `events` are tamed, dBTP.
    fn left_after(&self, events: usize) -> Dbtp {
        self.events.get(events).map_or_else(|| Dbtp::from_amplitude(self.rest), |event| event.peak)
    }

    /// What taming the highest `events` events down to `to` frees: the highest peak is then `to`
    /// or that of the next event, whichever is higher. `None` with no event, or if `to` is not
    /// below the lowest of those events.
    #[must_use]
    pub fn taming(&self, events: usize, to: Dbtp) -> Option<Taming> {
        let highest = self.events.first()?.peak;
        let lowest = self.events.get(events.checked_sub(1)?)?.peak;
        let left = Dbtp(self.left_after(events).0.max(to.0));
        (to.0 < lowest.0).then_some(Taming { events, to, frees: highest - left })
    }

    /// The curve: for each number of events how much taming that many can free at most, which is
    /// when they are brought down to the next one. Events of the same height free nothing until
    /// the last of them is tamed.
    pub fn curve(&self) -> impl Iterator<Item = Taming> {
        let highest = self.events.first().map(|event| event.peak);
        (1..=self.events.len()).filter_map(move |events| {
            let to = self.left_after(events);
            let frees = highest? - to;
            frees.0.is_finite().then_some(Taming { events, to, frees })
        })
    }

    /// What it takes to bring the highest true peak down to `to`: how many events. `None` if it
    /// is not above `to` as it is, or if `to` lies below what the ledger lists.
    #[must_use]
    pub fn taming_to(&self, to: Dbtp) -> Option<Taming> {
        let events = self.events.partition_point(|event| event.peak.0 > to.0);
        let listed = self.left_after(events).0 <= to.0;
        listed.then(|| self.taming(events, to)).flatten()
    }

    /// The places that are over `ceiling` when `gain` is applied, compared unrounded; with 0 dB
    /// at the present gain.
    #[must_use]
    pub fn over_ceiling(&self, ceiling: Dbtp, gain: Db) -> OverCeiling {
        let over = |peak: Dbtp| peak + gain - ceiling;
        OverCeiling {
            places: self
                .events
                .iter()
                .map(|event| (*event, over(event.peak)))
                .take_while(|(_, over)| over.0 > 0.0)
                .collect(),
            complete: over(Dbtp::from_amplitude(self.rest)).0 <= 0.0,
        }
    }

    /// Mean height of the highest `events` events above what is left after them, dB: how much
    /// work the taming is. `None` with fewer events.
    #[must_use]
    pub fn mean_reduction(&self, taming: &Taming) -> Option<Db> {
        let events = self.events.get(..taming.events).filter(|events| !events.is_empty())?;
        let sum: f64 = events.iter().map(|event| (event.peak - taming.to).0).sum();
        Some(Db(sum / float(events.len())))
    }
}

fn event(peak: Dbtp, hop: i32, log: &[LogEntry]) -> PeakEvent {
    let after = log.partition_point(|entry| entry.range.start <= hop);
    let entry = after.checked_sub(1).and_then(|index| log.get(index));
    let entry = entry.filter(|entry| entry.range.contains(&hop));
    let above = entry.and_then(|entry| Some(peak.0 - entry.measured.figures.integrated?.0));
    PeakEvent {
        hop,
        peak,
        section: entry.map(|entry| entry.id),
        above_section: above.filter(|above| above.is_finite()).map(Lu),
    }
}

#[cfg(test)]
mod tests;
