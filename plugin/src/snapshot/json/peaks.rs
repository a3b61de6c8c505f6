//! The peak ledger.

use super::super::Snapshot;
use crate::section::{PeakLedger, Taming};
use crate::units::{Db, Dbtp};
use serde::{Deserialize, Serialize};

/// The peaks that cost headroom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PeaksDocument {
    /// The ceiling that they are held against, dBTP: the chosen target's; `None` without one.
    pub ceiling_dbtp: Option<f64>,
    /// Places over the ceiling as the song is; `None` without a ceiling.
    pub over_ceiling: Option<usize>,
    /// Places over the ceiling once the gain to the target is applied; `None` without one.
    pub over_ceiling_at_target: Option<usize>,
    /// What brings every peak down to the ceiling as the song is; `None` if nothing has to.
    pub taming_to_ceiling: Option<TamingDocument>,
    /// What brings every peak under the ceiling once the gain to the target is applied; `None` if
    /// nothing has to, or if peaks below those listed would have to be tamed too.
    pub taming_to_ceiling_at_target: Option<TamingDocument>,
    /// The highest peaks, highest first, at least 200 ms apart, down to 6 dB below the highest or
    /// as far as the gain to the target lifts peaks over the ceiling.
    pub events: Vec<PeakDocument>,
}

/// What taming the highest peaks frees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TamingDocument {
    /// How many places.
    pub events: usize,
    /// The level that they are brought down to, dBTP.
    pub to_dbtp: f64,
    /// By how much the highest true peak falls, dB.
    pub frees_db: f64,
    /// Mean height of those places above that level, dB.
    pub mean_reduction_db: Option<f64>,
}

/// One place where headroom is lost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PeakDocument {
    /// Song time, seconds, to 10 ms.
    pub at_s: f64,
    /// The same in bars after the first bar line; `None` if not known.
    pub at_bars: Option<f64>,
    /// True peak, dBTP.
    pub true_peak_dbtp: f64,
    /// The section it stands in, by its id; `None` outside of all.
    pub section_id: Option<u32>,
    /// The section's name.
    pub section: Option<String>,
    /// How far it stands above the section's integrated loudness, LU; `None` outside of the
    /// sections or where that is not measured.
    pub above_section_lu: Option<f64>,
    /// What taming this and all higher ones down to the next frees, dB; `None` for the last where
    /// nothing is left.
    pub frees_db: Option<f64>,
}

impl From<&Snapshot> for PeaksDocument {
    fn from(snapshot: &Snapshot) -> Self {
        let ledger = &snapshot.peaks;
        let chosen = snapshot.chosen_target();
        let ceiling = chosen.and_then(|chosen| chosen.target.ceiling());
        let gain = chosen.and_then(|chosen| chosen.distance.gain_to_target);
        let at_target = ceiling.zip(gain).map(|(ceiling, gain)| Dbtp(ceiling.0 - gain.0));
        let over = |ceiling: Dbtp| ledger.over_ceiling(ceiling, Db(0.0)).places.len();
        let taming = |ceiling: Dbtp| Some(tamed(ledger, &ledger.taming_to(ceiling)?));
        let curve: Vec<Taming> = ledger.curve().collect();
        Self {
            ceiling_dbtp: ceiling.map(|ceiling| ceiling.0),
            over_ceiling: ceiling.map(over),
            over_ceiling_at_target: at_target.map(over),
            taming_to_ceiling: ceiling.and_then(taming),
            taming_to_ceiling_at_target: at_target.and_then(taming),
            events: ledger
                .events()
                .iter()
                .enumerate()
                .map(|(index, event)| PeakDocument {
                    at_s: event.at_s(),
                    at_bars: snapshot.bars.as_ref().and_then(|bars| event.bar(bars)),
                    true_peak_dbtp: event.peak.0,
                    section_id: event.section,
                    section: event
                        .section
                        .and_then(|id| snapshot.section_name(id))
                        .map(str::to_owned),
                    above_section_lu: event.above_section.map(|above| above.0),
                    frees_db: curve.get(index).map(|taming| taming.frees.0),
                })
                .collect(),
        }
    }
}

fn tamed(ledger: &PeakLedger, taming: &Taming) -> TamingDocument {
    TamingDocument {
        events: taming.events,
        to_dbtp: taming.to.0,
        frees_db: taming.frees.0,
        mean_reduction_db: ledger.mean_reduction(taming).map(|mean| mean.0),
    }
}
