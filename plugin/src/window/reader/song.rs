//! Sections, log, peaks and playthroughs for the model, computed again only where something changed.

use crate::editor::model::{Asked, Model, Source};
use crate::loudness::{Analysis, HopRange};
use crate::section::{
    LogEntry, LoggedFigures, LoggedSection, PeakLedger, Playthrough, SectionLog, compare, measure,
};
use crate::shared::Shared;
use crate::units::{Db, Dbtp};
use std::time::{Duration, Instant};

/// The ledger reaches at least so far below the highest peak, dB. The project's own choice, no
/// source: as deep as peak control goes in practice.
const LEDGER_DEPTH: Db = Db(6.0);

/// Figures of sections, peaks and ranges change at most ten times a second, so that they can be read.
const FIGURE_PERIOD: Duration = Duration::from_millis(100);

/// Keeps the sections of a model up to date.
#[derive(Default)]
pub struct SongReader {
    log: SectionLog,
    seen_song: Option<u64>,
    seen_bars: u64,
    /// The playthrough that was asked for when the changes were computed last.
    seen_compare: Option<u32>,
    /// When figures were computed last because the record changed.
    computed: Option<Instant>,
    /// Whether the model was emptied, because the live record was on screen.
    is_blank: bool,
    /// What the ledger was made for: its floor.
    ledger_floor: Option<Dbtp>,
}

impl SongReader {
    /// Brings the model up to date at the time `now`; `changed` says whether the record did. Where
    /// that is too soon after the last time, [`SongData::is_behind`] says so.
    ///
    /// [`SongData::is_behind`]: crate::editor::model::SongData::is_behind
    pub fn read(
        &mut self,
        shared: &Shared,
        analysis: Option<&mut Analysis>,
        changed: bool,
        asked: &Asked,
        model: &mut Model,
        now: Instant,
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
            model.song.compared_with = None;
            self.is_blank = true;
            model.song.is_behind = false;
            (model.song.ledger, model.song.range, model.song.whole) = (None, None, None);
            return;
        };
        let is_due = self.computed.is_none_or(|last| now - last >= FIGURE_PERIOD);
        let waits = changed || model.song.is_behind;
        let changed = waits && is_due;
        model.song.is_behind = waits && !is_due;
        if changed {
            self.computed = Some(now);
        }
        let log_changed =
            changed || song_changed || model.song.log.len() != model.song.sections.len();
        if log_changed {
            self.log.update(&model.song.sections, analysis);
            self.log.entries().clone_into(&mut model.song.log);
        }
        if !asked.whole {
            model.song.whole = None;
        } else if changed || model.song.whole.is_none() {
            model.song.whole = analysis.song_range().map(|range| measure(analysis, range));
        }
        if log_changed || self.seen_compare != asked.compare_with || self.is_blank {
            self.is_blank = false;
            self.seen_compare = asked.compare_with;
            read_changes(asked.compare_with, model);
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meters::layout::Layout;
    use crate::record::{Hop, record};
    use crate::section::Place;

    #[test]
    fn changes_are_computed_again_only_when_something_changed() {
        let shared = Shared::default();
        let (mut writer, reader) = record(Layout::Stereo, false);
        let playthrough = writer.begin_playthrough();
        for hop in 0..200 {
            writer.write(hop, &Hop { frames: 480, full: true, playthrough, ..Hop::default() });
        }
        let mut analysis = Analysis::of(&reader);
        let ids = shared.edit_song(|song| {
            let (start, end) = (Place::at(0.0), Place::at(2.0));
            song.sections.add_range(start, end, Some("Verse")).unwrap();
            let sections = song.sections.as_slice().to_vec();
            let played = Playthrough::of(&reader, playthrough, &sections).unwrap();
            [0, 1].map(|_| song.playthroughs.add(played.clone()))
        });
        let mut song = SongReader::default();
        let mut model = Model::empty();
        // What was computed before is taken away: it is there again only if it was computed.
        let mut now = Instant::now();
        let mut is_computed = |changed: bool, asked: &Asked, source: Source| {
            now += FIGURE_PERIOD;
            model.source = source;
            model.song.changes.clear();
            song.read(&shared, Some(&mut analysis), changed, asked, &mut model, now);
            !model.song.changes.is_empty()
        };
        let asked = Asked::default();
        assert!(is_computed(true, &asked, Source::Song), "first of all");
        assert!(!is_computed(false, &asked, Source::Song), "nothing changed");
        assert!(is_computed(true, &asked, Source::Song), "the record changed");
        let other = Asked { compare_with: Some(ids[1]), ..Asked::default() };
        assert!(is_computed(false, &other, Source::Song), "another playthrough was asked for");
        assert!(!is_computed(false, &other, Source::Song), "and stays asked for");
        shared.edit_song(|_| ());
        assert!(is_computed(false, &other, Source::Song), "the song changed");
        assert!(!is_computed(false, &other, Source::Live), "no song on screen");
        assert!(is_computed(false, &other, Source::Song), "and back");
    }

    #[test]
    fn figures_of_a_record_that_grows_change_ten_times_a_second() {
        let shared = Shared::default();
        let (_, reader) = record(Layout::Stereo, false);
        let mut analysis = Analysis::of(&reader);
        let mut song = SongReader::default();
        let mut model = Model::empty();
        let asked = Asked { range: Some(0..100), ..Asked::default() };
        let start = Instant::now();
        let mut computed = 0;
        // Two seconds at 30 frames a second, then one frame more once the transport stands.
        for frame in 0..60 {
            model.song.range = Some((
                0..100,
                crate::section::Measured {
                    // No measurement gives this.
                    min_psr_hop: Some(-1),
                    ..Default::default()
                },
            ));
            let now = start + Duration::from_secs(frame) / 30;
            song.read(&shared, Some(&mut analysis), true, &asked, &mut model, now);
            let is_new = model.song.range.as_ref().is_some_and(|(_, m)| m.min_psr_hop.is_none());
            computed += usize::from(is_new);
            assert_eq!(model.song.is_behind, !is_new, "frame {frame}");
        }
        // Every third frame; 1/30 s comes rounded to a nanosecond, hence every fourth at times.
        assert!((15..=20).contains(&computed), "{computed}");
        let later = start + Duration::from_millis(2_100);
        song.read(&shared, Some(&mut analysis), false, &asked, &mut model, later);
        assert!(!model.song.is_behind, "what waited is computed, and nothing waits any more");
    }
}
