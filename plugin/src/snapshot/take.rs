//! Taking a snapshot.

use super::{About, Comparison, Series, Snapshot, SnapshotSection, Source, TargetResult, UtcTime};
use crate::loudness::Analysis;
use crate::reference::{self, Reference};
use crate::section::{BarGrid, LogEntry, PeakLedger, Playthroughs, SectionLog, Sections, measure};
use crate::target::{Distance, Target};
use crate::units::{Db, Dbtp, SampleRate};

/// The ledger of a snapshot lists peaks at least this far down from the highest one, dB. The
/// project's own choice, no source.
const LEDGER_DEPTH_DB: f64 = 6.0;

/// The ledger goes no further down than this, dB, however far the gain to the target would lift
/// the song. The project's own choice, no source.
const LEDGER_DEEPEST_DB: f64 = 24.0;

/// What a snapshot is taken of.
pub struct Moment<'a> {
    /// The record's analysis; it is brought up to date.
    pub analysis: &'a mut Analysis,
    /// Which record that is.
    pub source: Source,
    /// Sample rate; `None` before the first activation.
    pub rate: Option<SampleRate>,
    /// The sections.
    pub sections: &'a Sections,
    /// The bars of the song, if known.
    pub bars: Option<&'a BarGrid>,
    /// The playthroughs that are kept.
    pub playthroughs: &'a Playthroughs,
    /// Reference songs.
    pub references: &'a [Reference],
    /// Every target.
    pub targets: &'a [Target],
    /// Place of the chosen one in `targets`.
    pub chosen: Option<usize>,
    /// The name that the user gave the song; may be empty.
    pub song: &'a str,
    /// The name of the host's track, if it gave one.
    pub track: Option<&'a str>,
    /// Now.
    pub taken: UtcTime,
}

impl Snapshot {
    /// Copies everything that is measured now. Sections and peaks are measured in one go with the
    /// song, so that all figures stand on the same hops.
    #[must_use]
    pub fn take(moment: Moment<'_>) -> Self {
        let Moment { analysis, sections, targets, .. } = moment;
        let fingerprint = bring_up_to_date(analysis);
        let range = analysis.song_range();

        let whole = match range.clone() {
            Some(range) => {
                let mut whole = measure(analysis, range);
                whole.figures = analysis.song_figures();
                whole
            }
            None => crate::section::Measured::default(),
        };
        let targets: Vec<TargetResult> = targets
            .iter()
            .map(|target| TargetResult {
                target: target.clone(),
                distance: Distance::new(&whole.figures, target),
            })
            .collect();
        let chosen = moment.chosen.filter(|&index| index < targets.len());

        let mut log = SectionLog::default();
        log.update(sections.as_slice(), analysis);
        let highest = whole.figures.max_true_peak;
        let floor = ledger_floor(highest, chosen.and_then(|index| targets.get(index)));
        let peaks =
            PeakLedger::new(analysis, range.clone().unwrap_or_default(), floor, log.entries());

        let reference = reference::Comparison::new(&whole, log.entries(), moment.references);
        Self {
            reference,
            about: About {
                song: moment.song.to_owned(),
                track: moment.track.map(str::to_owned),
                taken: moment.taken,
                plugin_version: env!("CARGO_PKG_VERSION"),
                source: moment.source,
                rate: moment.rate,
                layout: analysis.record().layout(),
                fingerprint,
            },
            extent: analysis.extent(),
            whole,
            targets,
            chosen,
            sections: joined(sections, log.entries()),
            peaks,
            bars: moment.bars.cloned(),
            comparison: Comparison::of(moment.playthroughs),
            series: range.map_or_else(Series::default, |range| Series::new(analysis, range)),
        }
    }
}

/// Takes over what changed in the record; gives the record's fingerprint if it stood still.
fn bring_up_to_date(analysis: &mut Analysis) -> Option<u64> {
    // An analysis of a file has no record to be up to date with.
    if analysis.record().chunk_count() == 0 {
        return None;
    }
    let before = analysis.record().revision();
    analysis.update();
    let fingerprint = analysis.record().fingerprint();
    (analysis.record().revision() == before).then_some(fingerprint)
}

/// Far enough down that every peak is listed that the gain to the target lifts over the ceiling.
fn ledger_floor(highest: Option<Dbtp>, chosen: Option<&TargetResult>) -> Dbtp {
    let Some(highest) = highest.filter(|highest| highest.0.is_finite()) else {
        return Dbtp(0.0);
    };
    let over_at_target = chosen.and_then(|chosen| {
        let gain = chosen.distance.gain_to_target.unwrap_or(Db(0.0));
        Some(chosen.target.ceiling()?.0 - gain.0.max(0.0))
    });
    let floor = (highest.0 - LEDGER_DEPTH_DB).min(over_at_target.unwrap_or(f64::INFINITY));
    Dbtp(floor.max(highest.0 - LEDGER_DEEPEST_DB))
}

fn joined(sections: &Sections, log: &[LogEntry]) -> Vec<SnapshotSection> {
    let pairs = sections.as_slice().iter().zip(log);
    pairs
        .map(|(section, entry)| SnapshotSection { section: section.clone(), entry: entry.clone() })
        .collect()
}
