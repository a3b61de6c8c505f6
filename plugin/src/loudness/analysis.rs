//! A reader's own copy of the record with the M and S series on it, brought up to date chunk by
//! chunk, and the figures of any range.

use super::gating::{integrated_energy, loudness_range};
use super::{BLOCK_STEP_HOPS, Coverage, Figures, MOMENTARY_HOPS, SHORT_TERM_HOPS};
use crate::record::{CHUNK_HOPS, FIRST_HOP, Hop, RecordReader};
use crate::units::{Dbfs, Dbtp, Lufs};
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
    /// The playthrough it came from; higher is newer.
    pub playthrough: u32,
    /// Frames covered; 0 where nothing was measured.
    pub frames: u16,
    /// Samples at or beyond full scale.
    pub clipped: u16,
    /// Samples that were no number or no audio level.
    pub scrubbed: u16,
    /// Whether every frame of the hop was covered.
    pub full: bool,
}

impl From<Hop> for Kept {
    fn from(hop: Hop) -> Self {
        let highest = |peaks: &[f32]| peaks.iter().copied().fold(0.0, f32::max);
        Self {
            energy: hop.energy,
            sample_peak: highest(&hop.sample_peaks),
            true_peak: highest(&hop.true_peaks),
            left_right: [hop.left_mean_square, hop.right_mean_square, hop.left_right_mean],
            playthrough: hop.playthrough,
            frames: hop.frames,
            clipped: hop.clipped,
            scrubbed: hop.scrubbed,
            full: hop.full,
        }
    }
}

/// Not measured, in a series of energies.
const GAP: f64 = f64::NAN;

/// A copy of one record with its series. Reading is incremental: [`Self::update`] copies the
/// chunks that changed and recomputes the windows that they touch.
pub struct Analysis {
    record: RecordReader,
    seen_revision: Option<u64>,
    seen_first_playthrough: u32,
    seen_chunks: Vec<u32>,
    /// One entry per hop from [`FIRST_HOP`], as far as was measured.
    hops: Vec<Kept>,
    /// Mean energy of the 400 ms that end with each hop; NaN where one of them is missing.
    momentary: Vec<f64>,
    /// Mean energy of the 3 s that end with each hop; NaN where one of them is missing.
    short_term: Vec<f64>,
    work: Vec<f64>,
}

impl Analysis {
    /// An analysis of `record`, still empty: call [`Self::update`].
    #[must_use]
    pub fn new(record: RecordReader) -> Self {
        Self {
            seen_chunks: vec![0; record.chunk_count()],
            seen_revision: None,
            seen_first_playthrough: 0,
            record,
            hops: Vec::new(),
            momentary: Vec::new(),
            short_term: Vec::new(),
            work: Vec::new(),
        }
    }

    /// An analysis of `record`, up to date.
    #[must_use]
    pub fn of(record: &RecordReader) -> Self {
        let mut analysis = Self::new(record.clone());
        analysis.update();
        analysis
    }

    /// The record that this is an analysis of.
    #[must_use]
    pub const fn record(&self) -> &RecordReader {
        &self.record
    }

    /// Takes over what changed in the record. Returns whether anything did.
    pub fn update(&mut self) -> bool {
        let revision = self.record.revision();
        if self.seen_revision == Some(revision) {
            return false;
        }
        self.seen_revision = Some(revision);
        let first_playthrough = self.record.first_playthrough();
        if first_playthrough != self.seen_first_playthrough {
            self.seen_first_playthrough = first_playthrough;
            self.seen_chunks.fill(0);
            self.hops.clear();
            self.momentary.clear();
            self.short_term.clear();
        }
        let mut changed: Option<Range<usize>> = None;
        for chunk in 0..self.seen_chunks.len() {
            let revision = self.record.chunk_revision(chunk);
            let seen = self.seen_chunks.get_mut(chunk);
            if let Some(seen) = seen.filter(|seen| **seen != revision) {
                *seen = revision;
                self.copy_chunk(chunk);
                let here = chunk * CHUNK_HOPS..(chunk + 1) * CHUNK_HOPS;
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
        true
    }

    fn copy_chunk(&mut self, chunk: usize) {
        let end = (chunk + 1) * CHUNK_HOPS;
        if self.hops.len() < end {
            self.hops.resize(end, Kept::default());
            self.momentary.resize(end, GAP);
            self.short_term.resize(end, GAP);
        }
        let range = crate::record::chunk_hops(chunk);
        let start = chunk * CHUNK_HOPS;
        let Some(kept) = self.hops.get_mut(start..end) else {
            return;
        };
        for (kept, index) in kept.iter_mut().zip(range) {
            *kept = self.record.hop(index).map_or_else(Kept::default, Kept::from);
        }
    }

    /// Recomputes the windows that end in or reach back into `changed`.
    fn recompute(&mut self, changed: Range<usize>) {
        let reach = |window: usize, len: usize| {
            changed.start..(changed.end + window - 1).min(len)
        };
        let len = self.hops.len();
        let momentary = reach(MOMENTARY_HOPS, len);
        slide(&self.hops, MOMENTARY_HOPS, momentary, &mut self.momentary);
        let short_term = reach(SHORT_TERM_HOPS, len);
        slide(&self.hops, SHORT_TERM_HOPS, short_term, &mut self.short_term);
    }

    /// From the first to one past the last measured hop; `None` if nothing was measured.
    #[must_use]
    pub fn extent(&self) -> Option<HopRange> {
        let measured = |kept: &Kept| kept.frames > 0;
        let first = self.hops.iter().position(measured)?;
        let last = self.hops.iter().rposition(measured)?;
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
        let mut figures = self.tally(&offsets);
        figures.coverage.span_hops = range.len();

        let blocks = || window_values(&self.momentary, &offsets, MOMENTARY_HOPS, BLOCK_STEP_HOPS);
        figures.integrated = integrated_energy(blocks()).map(Lufs::from_energy);
        let highest = |series, window| {
            window_values(series, &offsets, window, 1)
                .reduce(f64::max)
                .map(Lufs::from_energy)
        };
        figures.max_momentary = highest(&self.momentary, MOMENTARY_HOPS);
        figures.max_short_term = highest(&self.short_term, SHORT_TERM_HOPS);

        self.work.clear();
        self.work.extend(window_values(
            &self.short_term,
            &offsets,
            SHORT_TERM_HOPS,
            BLOCK_STEP_HOPS,
        ));
        figures.loudness_range = loudness_range(&mut self.work);
        figures
    }

    /// Peaks, counts and coverage of a range; the span is the caller's.
    fn tally(&self, offsets: &Range<usize>) -> Figures {
        let mut figures = Figures::default();
        let (mut true_peak, mut sample_peak) = (0.0_f32, 0.0_f32);
        let mut any = false;
        let mut in_gap = false;
        let mut coverage = Coverage::default();
        for (kept, offset) in self.hops.get(offsets.clone()).unwrap_or_default().iter().zip(offsets.clone()) {
            if kept.full {
                coverage.measured_hops += 1;
                coverage.gaps += usize::from(in_gap);
                in_gap = false;
            } else if coverage.measured_hops > 0 {
                in_gap = true;
            }
            if kept.frames == 0 {
                continue;
            }
            if !any || kept.true_peak > true_peak {
                true_peak = kept.true_peak;
                figures.max_true_peak_hop = Some(hop_at(offset));
            }
            any = true;
            sample_peak = sample_peak.max(kept.sample_peak);
            figures.clipped_samples += u64::from(kept.clipped);
            figures.scrubbed_samples += u64::from(kept.scrubbed);
            figures.frames += u64::from(kept.frames);
        }
        if any {
            figures.max_true_peak = Some(Dbtp::from_amplitude(true_peak));
            figures.sample_peak = Some(Dbfs::from_amplitude(sample_peak));
        }
        figures.coverage = coverage;
        figures
    }

    /// Momentary loudness of the 400 ms that end with hop `index`.
    #[must_use]
    pub fn momentary(&self, index: i32) -> Option<Lufs> {
        series_value(&self.momentary, index)
    }

    /// Short-term loudness of the 3 s that end with hop `index`.
    #[must_use]
    pub fn short_term(&self, index: i32) -> Option<Lufs> {
        series_value(&self.short_term, index)
    }

    /// What was measured of hop `index`; `None` if nothing was.
    #[must_use]
    pub fn hop(&self, index: i32) -> Option<&Kept> {
        self.hops.get(offset_of(index)?).filter(|kept| kept.frames > 0)
    }

    /// The hops of a range as far as the analysis reaches, with their song times; those with no
    /// frames were not measured.
    pub fn hops(&self, range: HopRange) -> impl Iterator<Item = (i32, &Kept)> + Clone {
        let offsets = self.offsets(&range);
        let kept = self.hops.get(offsets.clone()).unwrap_or_default();
        offsets.map(hop_at).zip(kept)
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
    usize::try_from(hop.checked_sub(FIRST_HOP)?).ok()
}

fn series_value(series: &[f64], index: i32) -> Option<Lufs> {
    let energy = *series.get(offset_of(index)?)?;
    (!energy.is_nan()).then(|| Lufs::from_energy(energy))
}

/// The measured values of the windows that lie inside `offsets`, from its start in steps of
/// `step` hops.
fn window_values(
    series: &[f64],
    offsets: &Range<usize>,
    window: usize,
    step: usize,
) -> impl Iterator<Item = f64> + Clone {
    let first_end = offsets.start + window - 1;
    series
        .get(first_end..offsets.end)
        .unwrap_or_default()
        .iter()
        .step_by(step)
        .copied()
        .filter(|energy| !energy.is_nan())
}

/// Mean energy of the `window` hops ending at each of `ends`. Sums anew at every chunk border and
/// slides between, so that a value depends on the hops alone and not on the order of updates,
/// and rounding cannot build up.
fn slide(hops: &[Kept], window: usize, ends: Range<usize>, series: &mut [f64]) {
    #[expect(clippy::cast_precision_loss, reason = "windows have at most 300 hops")]
    let per_hop = 1.0 / window as f64;
    let mut sum = 0.0;
    let mut missing = 0_usize;
    for end in ends.clone() {
        if end == ends.start || end % CHUNK_HOPS == 0 {
            // Hops before the record's start are missing.
            let start = (end + 1).saturating_sub(window);
            let seen = hops.get(start..=end).unwrap_or_default();
            sum = seen.iter().filter(|hop| hop.full).map(|hop| f64::from(hop.energy)).sum();
            missing = window - seen.iter().filter(|hop| hop.full).count();
        } else {
            if let Some(hop) = hops.get(end) {
                sum += if hop.full { f64::from(hop.energy) } else { 0.0 };
                missing += usize::from(!hop.full);
            }
            match end.checked_sub(window).and_then(|left| hops.get(left)) {
                Some(left) if left.full => sum -= f64::from(left.energy),
                _ => missing = missing.saturating_sub(1),
            }
        }
        if let Some(value) = series.get_mut(end) {
            *value = if missing == 0 { sum.max(0.0) * per_hop } else { GAP };
        }
    }
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small numbers of test signals"
)]
mod tests {
    use super::*;
    use crate::meters::layout::Layout;
    use crate::record::{RecordWriter, record};

    fn hop(energy: f32, playthrough: u32) -> Hop {
        Hop { energy, frames: 480, full: true, playthrough, ..Hop::default() }
    }

    fn filled(energies: &[(i32, f32)]) -> (RecordWriter, Analysis) {
        let (mut writer, reader) = record(Layout::Stereo, false);
        let playthrough = writer.begin_playthrough();
        for &(index, energy) in energies {
            writer.write(index, &hop(energy, playthrough));
        }
        (writer, Analysis::of(&reader))
    }

    fn steady(range: Range<i32>, energy: f32) -> Vec<(i32, f32)> {
        range.map(|index| (index, energy)).collect()
    }

    /// Full-scale 997 Hz in one front channel has a mean square of 0.5 before K-weighting.
    const HALF: f32 = 0.5;

    #[test]
    fn nothing_measured_is_not_silence() {
        let (_, mut analysis) = filled(&[]);
        assert_eq!(analysis.song_figures(), Figures::default());
        assert_eq!(analysis.extent(), None);
        let (_, mut analysis) = filled(&steady(0..400, 0.0));
        let figures = analysis.song_figures();
        assert_eq!(figures.integrated, Some(Lufs(f64::NEG_INFINITY)));
        assert_eq!(figures.loudness_range, None);
    }

    #[test]
    fn figures_need_their_windows() {
        let (_, mut analysis) = filled(&steady(0..39, HALF));
        assert_eq!(analysis.song_figures().integrated, None);
        assert_eq!(analysis.song_figures().max_momentary, None);
        let (_, mut analysis) = filled(&steady(0..40, HALF));
        let figures = analysis.song_figures();
        let expected = -0.691 + 10.0 * 0.5_f64.log10();
        assert!((figures.integrated.unwrap().0 - expected).abs() < 1e-12);
        assert_eq!(figures.max_short_term, None);
        let (_, mut analysis) = filled(&steady(0..300, HALF));
        assert!((analysis.song_figures().max_short_term.unwrap().0 - expected).abs() < 1e-12);
    }

    #[test]
    fn a_gap_breaks_windows_and_is_counted() {
        let mut energies = steady(0..1_000, HALF);
        energies.retain(|&(index, _)| index != 500);
        let (_, mut analysis) = filled(&energies);
        assert!(analysis.short_term(499).is_some());
        assert_eq!(analysis.short_term(500), None);
        assert_eq!(analysis.short_term(799), None);
        assert_eq!(analysis.short_term(800), Some(Lufs::from_energy(0.5)));
        assert_eq!(analysis.momentary(539), None);
        assert!(analysis.momentary(540).is_some());
        let coverage = analysis.song_figures().coverage;
        assert_eq!(coverage, Coverage { measured_hops: 999, span_hops: 1_000, gaps: 1 });
    }

    #[test]
    fn updating_in_steps_gives_the_same_bits_as_reading_at_once() {
        let energy = |index: i32| (index.rem_euclid(977) + 1) as f32 * 1e-4;
        let (mut writer, reader) = record(Layout::Stereo, false);
        let playthrough = writer.begin_playthrough();
        let mut steps = Analysis::new(reader.clone());
        // Forwards with odd steps, then parts again with other values.
        for index in -300..3_000 {
            writer.write(index, &hop(energy(index), playthrough));
            if index % 37 == 0 {
                steps.update();
            }
        }
        for index in (1_000..1_400).chain(-20..60) {
            writer.write(index, &hop(2.0 * energy(index), playthrough));
            if index % 11 == 0 {
                steps.update();
            }
        }
        steps.update();
        assert!(!steps.update());
        let mut once = Analysis::of(&reader);
        assert_eq!(steps.song_figures(), once.song_figures());
        let bits = |series: &[f64]| series.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&steps.momentary), bits(&once.momentary));
        assert_eq!(bits(&steps.short_term), bits(&once.short_term));
    }

    #[test]
    fn windows_agree_with_plain_sums() {
        let energy = |index: i32| ((index * 7_919).rem_euclid(1_013) + 1) as f32 * 1e-5;
        let energies: Vec<_> = (-100..2_000).map(|index| (index, energy(index))).collect();
        let (_, analysis) = filled(&energies);
        for end in [-61, 0, 155, 156, 411, 412, 1_999] {
            let plain: f64 = (end - 39..=end).map(|i| f64::from(energy(i))).sum::<f64>() / 40.0;
            let read = analysis.momentary(end).unwrap().to_energy();
            assert!((read / plain - 1.0).abs() < 1e-12, "{end}: {read} {plain}");
        }
    }

    #[test]
    fn a_loud_past_does_not_colour_a_quiet_present() {
        let mut energies = steady(0..1_000, 1.0e6);
        energies.extend(steady(1_000..3_000, 1.0e-7));
        let (_, analysis) = filled(&energies);
        let quiet = analysis.short_term(2_999).unwrap().to_energy();
        assert!((quiet / f64::from(1.0e-7_f32) - 1.0).abs() < 1e-9, "{quiet}");
    }

    #[test]
    fn after_a_reset_only_the_new_counts_and_after_its_undo_all() {
        let (mut writer, mut analysis) = filled(&steady(0..400, HALF));
        let before = analysis.song_figures();
        let undo = analysis.record().reset();
        assert!(analysis.update());
        assert_eq!(analysis.song_figures(), Figures::default());
        let playthrough = writer.begin_playthrough();
        writer.write(10, &hop(HALF, playthrough));
        analysis.update();
        assert_eq!(analysis.extent(), Some(10..11));
        analysis.record().undo_reset(undo);
        analysis.update();
        assert_eq!(analysis.song_figures(), before);
    }

    #[test]
    fn a_range_is_measured_as_if_it_were_cut_out() {
        let mut energies = steady(0..500, 0.01);
        energies.extend(steady(500..1_003, HALF));
        let (_, mut analysis) = filled(&energies);
        let loud = analysis.figures(500..1_003);
        assert!((loud.integrated.unwrap().0 - Lufs::from_energy(0.5).0).abs() < 1e-12);
        assert_eq!(loud.coverage.measured_hops, 503);
        assert_eq!(analysis.figures(0..500).frames, 500 * 480);
    }
}
