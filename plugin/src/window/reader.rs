//! Reads the records into the editor's model, and only when something changed.

use crate::audio::Transport;
use crate::editor::model::{Asked, Model, Notice, Source, StripData, StripPoint, TransportState};
use crate::loudness::{Analysis, Figures, HopRange, Now};
use crate::section;
use crate::shared::Shared;
use crate::state::Settings;
use crate::target::Distance;
use crate::units::Dbtp;
use std::sync::Arc;

mod listening;
mod reference;
mod song;

use reference::ReferenceReader;
use song::SongReader;

/// Hops per point of the strip: 100 ms, and a multiple of it in long songs.
const STRIP_STEP_HOPS: i32 = 10;

/// Most points of the strip: more than a screen is wide, few enough to draw 30 times a second.
const MAX_STRIP_POINTS: i32 = 8_000;

/// Keeps the model of one editor up to date.
pub struct ModelReader {
    shared: Arc<Shared>,
    generation: u64,
    /// Song and live record, once there are any.
    analyses: Option<[Analysis; 2]>,
    settings: Settings,
    song: SongReader,
    reference: ReferenceReader,
    model: Model,
    /// Whether all that is on screen came with the project.
    from_last_session: bool,
}

impl ModelReader {
    /// A reader of what `shared` holds.
    #[must_use]
    pub fn new(shared: Arc<Shared>) -> Self {
        let settings = shared.settings();
        let mut model = Model::empty();
        take_settings(&mut model, &settings);
        Self {
            song: SongReader::default(),
            reference: ReferenceReader::default(),
            shared,
            generation: 0,
            analyses: None,
            settings,
            model,
            from_last_session: false,
        }
    }

    /// Which record is on screen.
    #[must_use]
    pub const fn source(&self) -> Source {
        self.model.source
    }

    /// Whether the last reset can be undone.
    pub const fn set_can_undo_reset(&mut self, can: bool) {
        self.model.can_undo_reset = can;
    }

    /// Brings the model up to date. What did not change is not computed again.
    pub fn refresh(&mut self, asked: &Asked) -> &Model {
        let generation = self.shared.sources_generation();
        if self.generation != generation {
            self.generation = generation;
            self.analyses = self
                .shared
                .sources()
                .map(|sources| [Analysis::new(sources.song), Analysis::new(sources.live)]);
            self.model.figures = Figures::default();
            self.model.strip = StripData::default();
            self.song = SongReader::default();
        }
        let status = &self.shared.status;
        self.model.transport = match status.transport() {
            Transport::Unknown => TransportState::Unknown,
            Transport::Stopped => TransportState::Stopped,
            Transport::Playing => TransportState::Playing,
        };
        self.model.running = status.is_running();
        self.model.playhead_hop = status.playhead_hop();
        self.model.song.loop_range_s = status.loop_range_s();
        if let Some(bar) = status.bar() {
            self.model.beats_per_bar = bar.beats;
        }
        let changed = self.read_records();
        self.read_settings();

        self.model.last_session = match self.model.figures.frames {
            0 => self.shared.last_session().map(|session| session.figures()),
            _ => self.from_last_session.then_some(self.model.figures),
        };
        let chosen = self.model.targets.get(self.model.chosen_target);
        self.model.distance = chosen.map(|target| Distance::new(&self.model.figures, target));
        let analysis = self.analyses.as_mut().map(|[song, _]| song);
        let now = std::time::Instant::now();
        self.song.read(&self.shared, analysis, changed, asked, &mut self.model, now);
        self.reference.read(&self.shared, asked, &mut self.model, now);
        self.model.export = self.shared.export.shown();
        self.model.matched = self.shared.listening.matched();
        self.collect_notices();
        &self.model
    }

    /// Gives whether the song record changed.
    fn read_records(&mut self) -> bool {
        let Some(sources) = self.shared.sources() else { return false };
        let Some([song, live]) = self.analyses.as_mut() else { return false };
        let layout = sources.song.layout();
        self.model.channel_names = layout.channel_names();
        self.model.now = Now::read(&sources.recent, layout.channel_count());

        let live_changed = live.update();
        let song_changed = song.update();
        // The live record counts where the host tells no position, and as long as there is
        // nothing of the song.
        let is_live = live.extent().is_some()
            && (self.model.transport == TransportState::Unknown || song.extent().is_none());
        let source = if is_live { Source::Live } else { Source::Song };
        let (analysis, changed) = match source {
            Source::Song => (song, song_changed),
            Source::Live => (live, live_changed),
        };
        if changed || source != self.model.source {
            self.model.figures = analysis.song_figures();
            if source == self.model.source {
                update_strip(analysis, &mut self.model.strip);
            } else {
                read_strip(analysis, &mut self.model.strip);
            }
            self.model.source = source;
            self.from_last_session = is_from_last_session(analysis);
        }
        song_changed
    }

    /// Proposes sections for the song as it is measured now.
    pub fn propose(&mut self) {
        let grid = self.model.bars.as_ref();
        let analysis = self.analyses.as_ref().map(|[song, _]| song);
        self.model.song.proposal = analysis.map(|song| section::propose(song, grid));
    }

    /// The proposal on screen.
    #[must_use]
    pub const fn proposal(&self) -> Option<&section::Proposal> {
        self.model.song.proposal.as_ref()
    }

    /// Takes the proposal off the screen.
    pub fn drop_proposal(&mut self) {
        self.model.song.proposal = None;
    }

    /// Says why an edit was refused, or takes that off the screen.
    pub fn set_refusal(&mut self, refusal: Option<String>) {
        self.model.song.refusal = refusal;
    }

    fn read_settings(&mut self) {
        let settings = self.shared.settings();
        if settings != self.settings {
            take_settings(&mut self.model, &settings);
            self.settings = settings;
        }
    }

    fn collect_notices(&mut self) {
        let status = &self.shared.status;
        let notices = &mut self.model.notices;
        notices.clear();
        if !status.is_supported() {
            notices.push(Notice::Unsupported);
        }
        if status.is_bypassed() {
            notices.push(Notice::Bypassed);
        }
        if let Some([song, live]) = &self.analyses {
            let shown = if self.model.source == Source::Song { song } else { live };
            if shown.record().overrun() {
                notices.push(Notice::RecordFull);
            }
        }
        if let Some(layout) = self.shared.left_aside_record() {
            notices.push(Notice::OtherChannels { saved: layout.channel_count() });
        }
        if self.model.source == Source::Live {
            notices.push(Notice::NoSongPosition);
        }
        let count = self.model.figures.scrubbed_samples;
        if count > 0 {
            notices.push(Notice::ScrubbedSamples { count });
        }
        let frames =
            status.lost_tone_frames() + self.shared.input.status.recorder.lost_tone_frames();
        if frames > 0 {
            notices.push(Notice::ToneLost { frames });
        }
    }
}

fn take_settings(model: &mut Model, settings: &Settings) {
    model.targets.clear();
    model.targets.extend(settings.targets().cloned());
    model.built_in_count = settings.built_in_count();
    model.chosen_target = settings.chosen();
    settings.beside().clone_into(&mut model.beside);
}

/// Whether the record holds hops, and none that was measured since the project was opened.
fn is_from_last_session(analysis: &Analysis) -> bool {
    let first_new = analysis.record().first_new_playthrough();
    let measured = |range| analysis.hops(range).filter(|(_, kept)| kept.frames() > 0);
    analysis
        .song_range()
        .is_some_and(|range| measured(range).all(|(_, kept)| kept.playthrough < first_new))
}

/// Fills the strip from the record, in steps on the song's 100 ms grid.
pub fn read_strip(analysis: &Analysis, strip: &mut StripData) {
    strip.points.clear();
    update_strip(analysis, strip);
}

/// The same where the strip was read from this analysis before its last update: what that did not
/// change is not read again.
fn update_strip(analysis: &Analysis, strip: &mut StripData) {
    let record = analysis.record();
    // What came with the project is older, also before anything was measured.
    strip.newest_playthrough = record.newest_playthrough().max(record.first_new_playthrough());
    let Some(range) = analysis.song_range() else {
        (strip.first_hop, strip.step_hops) = (0, 0);
        strip.points.clear();
        return;
    };
    let hops_shown = range.end - range.start;
    let step_hops = STRIP_STEP_HOPS * (1 + hops_shown / (STRIP_STEP_HOPS * MAX_STRIP_POINTS));
    if (strip.first_hop, strip.step_hops) != (range.start, step_hops) {
        (strip.first_hop, strip.step_hops) = (range.start, step_hops);
        strip.points.clear();
    }
    let points_before = |hop: i32| {
        let hops = hop.clamp(range.start, range.end) - range.start;
        usize::try_from((hops + step_hops - 1) / step_hops).unwrap_or(0)
    };
    let changed = analysis.changed();
    let changed = if strip.points.is_empty() { range.clone() } else { changed };
    let from = points_before(changed.start.saturating_add(1)).saturating_sub(1);
    let to = points_before(changed.end);
    strip.points.resize(points_before(range.end), None);
    let starts = range.clone().step_by(usize::try_from(step_hops).unwrap_or(1));
    for (point, start) in strip.points.iter_mut().zip(starts).take(to).skip(from) {
        *point = read_point(analysis, start..(start + step_hops).min(range.end));
    }
}

/// What the strip shows of `hops`; `None` if nothing was measured there.
fn read_point(analysis: &Analysis, hops: HopRange) -> Option<StripPoint> {
    let mut point: Option<StripPoint> = None;
    for hop in hops {
        let Some(kept) = analysis.hop(hop) else { continue };
        let playthrough = kept.playthrough;
        let peak = Dbtp::from_amplitude(kept.true_peak);
        let momentary = analysis.momentary(hop);
        let point = point.get_or_insert(StripPoint {
            short_term: None,
            momentary: None,
            true_peak: None,
            playthrough,
        });
        point.playthrough = point.playthrough.max(playthrough);
        point.short_term = analysis.short_term(hop).or(point.short_term);
        point.momentary = highest(point.momentary, momentary, |loudness| loudness.0);
        point.true_peak = highest(point.true_peak, Some(peak), |peak| peak.0);
    }
    point
}

fn highest<T>(a: Option<T>, b: Option<T>, value: impl Fn(&T) -> f64) -> Option<T> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if value(&b) > value(&a) { b } else { a }),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meters::layout::Layout;
    use crate::record::{Hop, record};

    /// Hops of random places, levels and playthroughs, read after each: the strip that is kept up to
    /// date is the one that is read anew.
    #[test]
    fn a_strip_kept_up_to_date_is_the_one_read_anew() {
        let (mut writer, reader) = record(Layout::Stereo, false);
        let mut analysis = Analysis::new(reader.clone());
        let mut kept = StripData::default();
        let mut state = 1_u64;
        let mut next = |below: i32| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            i32::try_from(state >> 40).unwrap() % below
        };
        let mut forgotten = None;
        for round in 0..300 {
            let playthrough = writer.begin_playthrough();
            // Longer and longer: the strip gets coarser at 800 s.
            let (start, len) = (next(1_000 + round * 400) - 500, next(700) + 1);
            for hop in start..start + len {
                let mut measured = Hop { frames: 480, full: true, playthrough, ..Hop::default() };
                measured.energy = 1.0 / (1.0 + f32::from(u16::try_from(next(10_000)).unwrap()));
                measured.true_peaks[0] = measured.energy;
                writer.write(hop, &measured);
            }
            match round % 50 {
                20 => forgotten = Some(reader.reset()),
                22 => reader.undo_reset(forgotten.take().unwrap()),
                _ => {}
            }
            assert!(analysis.update());
            update_strip(&analysis, &mut kept);
            let mut anew = StripData::default();
            read_strip(&Analysis::of(&reader), &mut anew);
            assert_eq!(kept, anew, "round {round}");
        }
        assert!(kept.step_hops > STRIP_STEP_HOPS);
    }
}
