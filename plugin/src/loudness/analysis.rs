//! A reader's own copy of the record with the M and S series on it, brought up to date chunk by
//! chunk, and the figures of any range.

use super::chunk::{Chunk, Tally, entries, higher, split};
use super::gating::{integrated_energy, loudness_range};
use super::hops::Hops;
use super::windows::{GAP, Windows, highest, highest_between, slide, step};
use super::{BLOCK_STEP_HOPS, Figures, MOMENTARY_HOPS, SHORT_TERM_HOPS};
use crate::meters::layout::Layout;
use crate::record::{CHUNK_HOPS, FIRST_HOP, Hop, RecordReader, ToneSecond};
use crate::tone::{Tone, ToneSeries};
use crate::units::Lufs;
use std::ops::Range;

/// A range of song time in hops, end exclusive.
pub type HopRange = Range<i32>;

/// What a reader keeps of a hop.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Kept {
    /// Channel-weighted mean square, K-weighted (see [`Hop::energy`]).
    pub energy: f32,
    /// Highest sample magnitude of all channels, linear.
    pub sample_peak: f32,
    /// Highest true peak of all channels, linear.
    pub true_peak: f32,
    /// Mean squares of left and right and their mean product, unweighted.
    pub left_right: [f32; 3],
    /// See [`Hop::momentary_rise`].
    pub momentary_rise: u16,
    /// The playthrough it came from; higher is newer.
    pub playthrough: u32,
    pub(super) frames: u16,
    pub(super) full: bool,
    /// Samples at or beyond full scale.
    pub clipped: u16,
    /// Samples that were no number or no audio level.
    pub scrubbed: u16,
}

impl Kept {
    /// Frames covered; 0 where nothing was measured.
    #[must_use]
    pub const fn frames(&self) -> u16 {
        self.frames
    }

    /// Whether every frame of the hop was covered.
    #[must_use]
    pub const fn is_full(&self) -> bool {
        self.full
    }
}

impl From<Hop> for Kept {
    fn from(hop: Hop) -> Self {
        let highest = |peaks: &[f32]| peaks.iter().copied().fold(0.0, f32::max);
        Self {
            energy: hop.energy,
            sample_peak: highest(&hop.sample_peaks),
            true_peak: highest(&hop.true_peaks),
            left_right: [hop.left_mean_square, hop.right_mean_square, hop.left_right_mean],
            momentary_rise: hop.momentary_rise,
            playthrough: hop.playthrough,
            frames: hop.frames,
            full: hop.full,
            clipped: hop.clipped,
            scrubbed: hop.scrubbed,
        }
    }
}

/// A copy of one record with its series. Reading is incremental: [`Self::update`] copies the
/// chunks that changed and recomputes the windows that they touch.
pub struct Analysis {
    record: RecordReader,
    seen_revision: Option<u64>,
    seen_forgotten: u32,
    seen_chunks: Vec<u32>,
    /// One entry per hop from [`FIRST_HOP`], as far as was measured.
    hops: Hops,
    /// Whether the two series are kept: for what is asked again and again while it changes. They
    /// are left out for files, which are asked once, and computed anew then, to the same bits.
    keeps_series: bool,
    /// Mean energy of the 400 ms that end with each hop; NaN where one of them is missing.
    momentary: Vec<f64>,
    /// Mean energy of the 3 s that end with each hop; NaN where one of them is missing.
    short_term: Vec<f64>,
    /// What each chunk adds up to; empty where no series are kept.
    chunks: Vec<Chunk>,
    tone: ToneSeries,
    work: Vec<f64>,
    /// See [`Self::changed`].
    changed: Range<usize>,
}

impl Analysis {
    /// An analysis of `record`, still empty: call [`Self::update`].
    #[must_use]
    pub fn new(record: RecordReader) -> Self {
        Self {
            seen_chunks: vec![0; record.chunk_count()],
            seen_revision: None,
            seen_forgotten: 0,
            record,
            hops: Hops::default(),
            keeps_series: true,
            momentary: Vec::new(),
            short_term: Vec::new(),
            chunks: Vec::new(),
            tone: ToneSeries::default(),
            work: Vec::new(),
            changed: 0..0,
        }
    }

    /// An analysis of `record`, up to date.
    #[must_use]
    pub fn of(record: &RecordReader) -> Self {
        let mut analysis = Self::new(record.clone());
        analysis.update();
        analysis
    }

    /// An analysis without a record, still empty: what [`Self::add`] is given.
    #[must_use]
    pub fn of_file(layout: Layout) -> Self {
        Self { keeps_series: false, ..Self::new(RecordReader::without_room(layout)) }
    }

    /// Takes in a hop of a file; those before the start of a record are left out, and there is no
    /// end. Only after [`Self::of_file`].
    pub fn add(&mut self, index: i32, kept: Kept) {
        let Some(offset) = offset_of(index) else {
            return;
        };
        self.hops.grow(offset + 1);
        self.hops.set(offset, &kept);
    }

    /// Takes in hops of a file that follow those it has, from `first` on, which is 0 or later. Only
    /// after [`Self::of_file`].
    pub(super) fn append(&mut self, first: i32, hops: &Hops) {
        if let Some(offset) = offset_of(first) {
            self.hops.grow(offset);
            self.hops.append(hops);
        }
    }

    /// Takes in the tone of a file. Only after [`Self::of_file`].
    pub fn set_tone(&mut self, tone: ToneSeries) {
        self.tone = tone;
    }

    /// Tone and width of `range`; `None` if no second of it counts.
    #[must_use]
    pub fn tone(&self, range: &HopRange) -> Option<Tone> {
        self.tone.read(range)
    }

    /// The seconds of `range` (see [`ToneSeries::of_hops`]).
    pub fn tone_seconds(
        &self,
        range: &HopRange,
    ) -> impl Iterator<Item = (i32, Option<&ToneSecond>)> {
        self.tone.of_hops(range)
    }

    /// The record that this is an analysis of; one without room after [`Self::of_file`].
    #[must_use]
    pub const fn record(&self) -> &RecordReader {
        &self.record
    }

    /// Takes over what changed in the record. Returns whether anything did.
    pub fn update(&mut self) -> bool {
        self.changed = 0..0;
        let revision = self.record.revision();
        if self.seen_revision == Some(revision) {
            return false;
        }
        self.seen_revision = Some(revision);
        let forgotten = self.record.forgotten_revision();
        let is_anew = forgotten != self.seen_forgotten;
        if is_anew {
            self.seen_forgotten = forgotten;
            self.seen_chunks.fill(0);
            self.hops.clear();
            self.momentary.clear();
            self.short_term.clear();
            self.chunks.clear();
        }
        self.tone.update(&self.record);
        let mut changed: Option<Range<usize>> = None;
        for chunk in 0..self.seen_chunks.len() {
            let revision = self.record.chunk_revision(chunk);
            let seen = self.seen_chunks.get_mut(chunk);
            if let Some(seen) = seen.filter(|seen| **seen != revision) {
                *seen = revision;
                self.copy_chunk(chunk);
                let here = entries(chunk);
                changed = match changed.take() {
                    // A run of adjacent chunks is recomputed in one go.
                    Some(run) if run.end == here.start => Some(run.start..here.end),
                    Some(run) => {
                        self.recompute(run);
                        Some(here)
                    }
                    None => Some(here),
                };
            }
        }
        if let Some(run) = changed {
            self.recompute(run);
        }
        if is_anew {
            self.changed = 0..self.hops.len();
        }
        true
    }

    /// From the first to one past the last hop that the last [`Self::update`] changed, itself or a
    /// window that ends with it; empty if it changed none.
    #[must_use]
    pub fn changed(&self) -> HopRange {
        hop_at(self.changed.start)..hop_at(self.changed.end)
    }

    fn copy_chunk(&mut self, chunk: usize) {
        let end = entries(chunk).end;
        if self.hops.len() < end {
            self.hops.grow(end);
            self.momentary.resize(end, GAP);
            self.short_term.resize(end, GAP);
            self.chunks.resize(chunk + 1, Chunk::default());
        }
        for (offset, index) in entries(chunk).zip(crate::record::chunk_hops(chunk)) {
            let kept = self.record.hop(index).map_or_else(Kept::default, Kept::from);
            self.hops.set(offset, &kept);
        }
    }

    /// Recomputes the windows that end in or reach back into `changed`.
    fn recompute(&mut self, changed: Range<usize>) {
        // Sums begin anew at chunk borders, so the rest of the last chunk has seen the change too.
        let reach = |window: usize, len: usize| {
            changed.start..(changed.end + window - 1).next_multiple_of(CHUNK_HOPS).min(len)
        };
        let len = self.hops.len();
        let momentary = reach(MOMENTARY_HOPS, len);
        slide(&self.hops, MOMENTARY_HOPS, momentary, &mut self.momentary);
        let short_term = reach(SHORT_TERM_HOPS, len);
        let start = if self.changed.is_empty() { changed.start } else { self.changed.start };
        self.changed = start..short_term.end;
        let chunks = changed.start / CHUNK_HOPS..short_term.end / CHUNK_HOPS;
        slide(&self.hops, SHORT_TERM_HOPS, short_term, &mut self.short_term);
        for chunk in chunks {
            let ends = entries(chunk);
            let added = Chunk {
                tally: self.add_up(ends.clone()),
                momentary: self.highest_momentary(ends.clone(), 0),
                short_term: highest(self.short_term.get(ends).unwrap_or_default().iter().copied()),
            };
            if let Some(chunk) = self.chunks.get_mut(chunk) {
                *chunk = added;
            }
        }
    }

    /// From the first to one past the last measured hop; `None` if nothing was measured.
    #[must_use]
    pub fn extent(&self) -> Option<HopRange> {
        // Where chunks are kept, one look finds the first and the last with anything in it.
        let is_any = |chunk: &Chunk| chunk.tally.is_any();
        let within = if self.keeps_series {
            let first = self.chunks.iter().position(is_any)?;
            let last = self.chunks.iter().rposition(is_any)?;
            entries(first).start..entries(last).end
        } else {
            0..self.hops.len()
        };
        let mut hops = self.hops.iter(within.clone());
        let measured = |kept: Kept| kept.frames() > 0;
        let first = within.start + hops.clone().position(measured)?;
        let last = within.start + hops.rposition(measured)?;
        Some(hop_at(first)..hop_at(last + 1))
    }

    /// The range whose gating blocks lie on the song's own 100 ms grid: the extent with its start
    /// moved down to that grid.
    #[must_use]
    pub fn song_range(&self) -> Option<HopRange> {
        let extent = self.extent()?;
        let step = i32::try_from(BLOCK_STEP_HOPS).unwrap_or(1);
        Some(extent.start - extent.start.rem_euclid(step)..extent.end)
    }

    /// The figures of the whole song.
    #[must_use]
    pub fn song_figures(&mut self) -> Figures {
        let Some(range) = self.song_range() else {
            return Figures::default();
        };
        let mut figures = self.figures(range);
        // The song begins where it was first measured, not at the grid line before.
        if let Some(extent) = self.extent() {
            figures.coverage.span_hops = extent.len();
        }
        figures
    }

    /// The figures of `range`: the same as of that stretch cut out as a file of its own, but for
    /// the filter's memory of what stood before it. Gating blocks start at the range's start.
    #[must_use]
    pub fn figures(&mut self, range: HopRange) -> Figures {
        let offsets = self.offsets(&range);
        let mut figures = self.tally(&offsets).figures(hop_at);
        figures.coverage.span_hops = range.len();

        let mut work = std::mem::take(&mut self.work);
        self.step(&self.momentary, &offsets, MOMENTARY_HOPS, &mut work);
        figures.integrated = integrated_energy(work.iter().copied()).map(Lufs::from_energy);
        self.step(&self.short_term, &offsets, SHORT_TERM_HOPS, &mut work);
        figures.loudness_range = loudness_range(&mut work);
        self.work = work;

        // The first momentary windows of a range do not look back before it.
        let (before, chunks, behind) = self.split(&offsets, MOMENTARY_HOPS + 1);
        let highest = [before, behind].map(|ends| self.highest_momentary(ends, offsets.start));
        let highest = highest.into_iter().chain(chunks.iter().map(|chunk| chunk.momentary));
        figures.max_momentary = highest.fold(None, higher).map(Lufs::from_energy);

        let (before, chunks, behind) = self.split(&offsets, SHORT_TERM_HOPS - 1);
        let highest = [before, behind].map(|ends| self.highest_short_term(ends, offsets.start));
        let highest = highest.into_iter().chain(chunks.iter().map(|chunk| chunk.short_term));
        figures.max_short_term = highest.fold(None, higher).map(Lufs::from_energy);
        figures
    }

    /// `offsets` in three: the whole chunks that begin at least `lead` hops behind its start, and
    /// what stands before and behind them.
    fn split(&self, offsets: &Range<usize>, lead: usize) -> (Range<usize>, &[Chunk], Range<usize>) {
        if !self.keeps_series {
            return (offsets.clone(), &[], offsets.end..offsets.end);
        }
        let (before, chunks, behind) = split(offsets, offsets.start + lead);
        (before, self.chunks.get(chunks).unwrap_or_default(), behind)
    }

    /// Leaves every tenth of the measured windows of `window` hops that lie inside `offsets`, from
    /// the first on, in `stepped`. `series` is that of the window where series are kept.
    fn step(&self, series: &[f64], offsets: &Range<usize>, window: usize, stepped: &mut Vec<f64>) {
        stepped.clear();
        let ends = offsets.start + window - 1..offsets.end;
        if self.keeps_series {
            let values = series.get(ends).unwrap_or_default();
            step(values.iter().copied(), stepped);
        } else {
            step(Windows::new(&self.hops, window, ends), stepped);
        }
    }

    /// The highest energy of the momentary windows that end within `ends`, between hops too, and
    /// begin at `start` or later.
    fn highest_momentary(&self, ends: Range<usize>, start: usize) -> Option<f64> {
        // A rise is one over the window before, too.
        let ends = ends.start.saturating_sub(1).max(start + MOMENTARY_HOPS - 1)..ends.end;
        let first = ends.start.saturating_sub(MOMENTARY_HOPS).max(start);
        let hops = self.hops.iter(first..ends.end);
        let lead = ends.start - first;
        if self.keeps_series {
            let values = self.momentary.get(ends).unwrap_or_default();
            highest_between(values.iter().copied(), hops, lead)
        } else {
            highest_between(Windows::new(&self.hops, MOMENTARY_HOPS, ends), hops, lead)
        }
    }

    /// The same of the short-term windows, which end with hops.
    fn highest_short_term(&self, ends: Range<usize>, start: usize) -> Option<f64> {
        let ends = ends.start.max(start + SHORT_TERM_HOPS - 1)..ends.end;
        if self.keeps_series {
            highest(self.short_term.get(ends).unwrap_or_default().iter().copied())
        } else {
            highest(Windows::new(&self.hops, SHORT_TERM_HOPS, ends))
        }
    }

    /// The energies of the gating blocks of `range`, as [`Self::figures`] gates them: to gate over
    /// several songs at once with [`integrated_energy`].
    #[must_use]
    pub fn block_energies(&self, range: &HopRange) -> Vec<f64> {
        let mut blocks = Vec::new();
        self.step(&self.momentary, &self.offsets(range), MOMENTARY_HOPS, &mut blocks);
        blocks
    }

    /// What the hops of a range add up to.
    fn tally(&self, offsets: &Range<usize>) -> Tally {
        let (before, chunks, behind) = self.split(offsets, 0);
        let mut tally = self.add_up(before);
        chunks.iter().for_each(|chunk| tally.append(&chunk.tally));
        tally.append(&self.add_up(behind));
        tally
    }

    /// The same, hop by hop.
    fn add_up(&self, offsets: Range<usize>) -> Tally {
        let mut tally = Tally::default();
        for (offset, kept) in offsets.clone().zip(self.hops.iter(offsets)) {
            tally.add(offset, &kept);
        }
        tally
    }

    /// Momentary loudness of the 400 ms that end with hop `index`.
    #[must_use]
    pub fn momentary(&self, index: i32) -> Option<Lufs> {
        self.window_at(&self.momentary, MOMENTARY_HOPS, index)
    }

    /// Short-term loudness of the 3 s that end with hop `index`.
    #[must_use]
    pub fn short_term(&self, index: i32) -> Option<Lufs> {
        self.window_at(&self.short_term, SHORT_TERM_HOPS, index)
    }

    /// [`Self::short_term`] of hop after hop, from `first` on to the end, in less time than one by
    /// one.
    pub fn short_terms(&self, first: i32) -> impl Iterator<Item = Option<Lufs>> + '_ {
        let first = offset_of(first).unwrap_or(self.hops.len());
        let kept = self.keeps_series.then(|| self.short_term.get(first..).unwrap_or_default());
        let slid = (!self.keeps_series)
            .then(|| Windows::new(&self.hops, SHORT_TERM_HOPS, first..self.hops.len()));
        let energies = kept.into_iter().flatten().copied().chain(slid.into_iter().flatten());
        energies.map(|energy| (!energy.is_nan()).then(|| Lufs::from_energy(energy)))
    }

    fn window_at(&self, series: &[f64], window: usize, index: i32) -> Option<Lufs> {
        let end = offset_of(index)?;
        let energy = if self.keeps_series {
            *series.get(end)?
        } else {
            Windows::new(&self.hops, window, end..self.hops.len()).next()?
        };
        (!energy.is_nan()).then(|| Lufs::from_energy(energy))
    }

    /// What was measured of hop `index`; `None` if nothing was.
    #[must_use]
    pub fn hop(&self, index: i32) -> Option<Kept> {
        self.hops.get(offset_of(index)?).filter(|kept| kept.frames() > 0)
    }

    /// The hops of a range as far as the analysis reaches, with their song times; those with no
    /// frames were not measured.
    pub fn hops(&self, range: HopRange) -> impl Iterator<Item = (i32, Kept)> + Clone {
        let offsets = self.offsets(&range);
        offsets.clone().map(hop_at).zip(self.hops.iter(offsets))
    }

    fn offsets(&self, range: &HopRange) -> Range<usize> {
        let offset = |hop: i32| offset_of(hop).unwrap_or(0).min(self.hops.len());
        let start = offset(range.start);
        start..offset(range.end).max(start)
    }
}

/// The song time of an entry.
fn hop_at(offset: usize) -> i32 {
    i32::try_from(offset).map_or(i32::MAX, |offset| FIRST_HOP + offset)
}

/// The entry of a song time; `None` before the start of the record.
fn offset_of(hop: i32) -> Option<usize> {
    usize::try_from(hop.saturating_sub(FIRST_HOP)).ok()
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small numbers of test signals"
)]
mod tests;
