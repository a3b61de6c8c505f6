//! Sections, log, peaks and playthroughs for the model, computed again only where something changed.

use crate::editor::model::{Asked, Model, Source};
use crate::loudness::{Analysis, HopRange};
use crate::section::{
    LogEntry, LoggedFigures, LoggedSection, PeakLedger, Playthrough, SectionLog, compare, measure,
};
use crate::shared::Shared;
use crate::units::{Db, Dbtp};

/// The ledger reaches at least so far below the highest peak, dB. The project's own choice, no
/// source: as deep as peak control goes in practice.
const LEDGER_DEPTH: Db = Db(6.0);

/// Keeps the sections of a model up to date.
#[derive(Default)]
pub struct SongReader {
    log: SectionLog,
    seen_song: Option<u64>,
    seen_bars: u64,
    /// What the ledger was made for: its floor.
    ledger_floor: Option<Dbtp>,
}

impl SongReader {
    /// Brings the model up to date; `changed` says whether the record did.
    pub fn read(
        &mut self,
        shared: &Shared,
        analysis: Option<&mut Analysis>,
        changed: bool,
        asked: &Asked,
        model: &mut Model,
    ) {
        let bars = shared.bars_revision();
        let bars_changed = bars != self.seen_bars;
        if bars_changed {
            self.seen_bars = bars;
            model.bars = shared.bar_grid();
        }
        let revision = shared.song_revision();
        let song_changed = self.seen_song != Some(revision);
        if song_changed {
            self.seen_song = Some(revision);
            shared.with_song(|song| {
                song.sections.as_slice().clone_into(&mut model.song.sections);
                song.playthroughs.as_slice().clone_into(&mut model.song.playthroughs);
                model.song.name.clone_from(&song.name);
                model.song.folder.clone_from(&song.folder);
                model.song.next_undo = song.sections.next_undo();
                model.song.next_redo = song.sections.next_redo();
            });
        }
        if song_changed || bars_changed {
            let moved = |grid| shared.with_song(|song| song.sections.moved_edges(grid).len());
            model.song.moved_edges = model.bars.as_ref().map_or(0, moved);
        }
        let Some(analysis) = analysis.filter(|_| model.source == Source::Song) else {
            model.song.log.clear();
            model.song.changes.clear();
            (model.song.ledger, model.song.range, model.song.whole) = (None, None, None);
            return;
        };
        if changed || song_changed || model.song.log.len() != model.song.sections.len() {
            self.log.update(&model.song.sections, analysis);
            self.log.entries().clone_into(&mut model.song.log);
        }
        if !asked.whole {
            model.song.whole = None;
        } else if changed || model.song.whole.is_none() {
            model.song.whole = analysis.song_range().map(|range| measure(analysis, range));
        }
        read_changes(asked.compare_with, model);
        read_range(asked.range.as_ref(), analysis, changed, model);
        self.read_ledger(asked.ledger, analysis, changed || song_changed, model);
    }

    fn read_ledger(&mut self, wanted: bool, analysis: &Analysis, changed: bool, model: &mut Model) {
        let highest = model.figures.max_true_peak.filter(|peak| peak.0.is_finite());
        let (true, Some(highest)) = (wanted, highest) else {
            (self.ledger_floor, model.song.ledger) = (None, None);
            return;
        };
        // Deep enough for all that is over the ceiling, now or with the gain to target.
        let target = model.targets.get(model.chosen_target);
        let gain = model.distance.and_then(|distance| distance.gain_to_target);
        let gain = gain.map_or(Db(0.0), |gain| Db(gain.0.max(0.0)));
        let over =
            target.and_then(crate::target::Target::ceiling).map(|ceiling| ceiling.0 - gain.0);
        let deep = highest.0 - LEDGER_DEPTH.0;
        let floor = Dbtp(over.map_or(deep, |over| over.min(deep)));
        if changed || self.ledger_floor != Some(floor) {
            self.ledger_floor = Some(floor);
            let song = analysis.extent();
            model.song.ledger =
                song.map(|song| PeakLedger::new(analysis, song, floor, &model.song.log));
        }
    }
}

/// The log against the playthrough that was chosen, else the newest pin, else the last playthrough
/// before the newest.
fn read_changes(chosen: Option<u32>, model: &mut Model) {
    let kept = &model.song.playthroughs;
    let find = |id: u32| kept.iter().find(|playthrough| playthrough.id == id);
    let pinned = || kept.iter().rev().find(|playthrough| playthrough.pinned_as.is_some());
    let before = chosen
        .and_then(find)
        .or_else(pinned)
        .or_else(|| kept.len().checked_sub(2).and_then(|index| kept.get(index)));
    model.song.compared_with = before.map(|before| before.id);
    model.song.changes =
        before.map(|before| compare(before, &present(&model.song.log))).unwrap_or_default();
}

/// The log in the form of a playthrough: what the record holds now.
fn present(log: &[LogEntry]) -> Playthrough {
    let sections = log.iter().map(|entry| {
        let figures = LoggedFigures::from(&entry.measured);
        LoggedSection {
            id: entry.id,
            name: entry.name.clone(),
            start_hop: entry.range.start,
            end_hop: entry.range.end,
            figures: (figures.coverage > 0.0).then_some(figures),
        }
    });
    Playthrough {
        id: 0,
        number: 0,
        pinned_as: None,
        whole: LoggedFigures::default(),
        start_hop: log.first().map_or(0, |entry| entry.range.start),
        end_hop: log.last().map_or(0, |entry| entry.range.end),
        sections: sections.collect(),
    }
}

fn read_range(asked: Option<&HopRange>, analysis: &mut Analysis, changed: bool, model: &mut Model) {
    let Some(asked) = asked else {
        model.song.range = None;
        return;
    };
    let is_there = model.song.range.as_ref().is_some_and(|(range, _)| range == asked);
    if changed || !is_there {
        model.song.range = Some((asked.clone(), measure(analysis, asked.clone())));
    }
}
