//! Figures of a range of song time, and sections.

use super::super::SnapshotSection;
use super::super::reason::{FigureSet, Reason};
use super::{NullBecause, noted};
use crate::meters::layout::Layout;
use crate::meters::spectrum::bands::{BAND_COUNT, midband_hz};
use crate::section::Measured;
use crate::tone::Tone;
use serde::{Deserialize, Serialize};

/// What a range of song time measures; see [`Measured`] for what each figure is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FiguresDocument {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Loudness range, LU.
    pub loudness_range_lu: Option<f64>,
    /// Whether the loudness range stands on 60 s or more.
    pub loudness_range_stable: bool,
    /// Highest momentary loudness, LUFS.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term loudness, LUFS.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak of all channels, dBTP.
    pub max_true_peak_dbtp: Option<f64>,
    /// Song time of the highest true peak, seconds, to 10 ms.
    pub max_true_peak_s: Option<f64>,
    /// Highest sample peak of all channels, dBFS.
    pub sample_peak_dbfs: Option<f64>,
    /// Peak to loudness ratio, LU.
    pub plr_lu: Option<f64>,
    /// Lowest peak to short-term ratio, LU.
    pub min_psr_lu: Option<f64>,
    /// Correlation of left and right, −1 to 1.
    pub correlation: Option<f64>,
    /// Lowest correlation over 1 s, −1 to 1.
    pub lowest_correlation: Option<f64>,
    /// Side to mid, dB.
    pub side_to_mid_db: Option<f64>,
    /// Right to left, dB: power of R to that of L; above 0 the right channel is the stronger one.
    pub balance_db: Option<f64>,
    /// Share of the power below 20 Hz, a steady offset left out, dB.
    pub subsonic_db: Option<f64>,
    /// Share of the power from 20 to 120 Hz, dB.
    pub low_end_db: Option<f64>,
    /// Share of the power in the bands of 2 to 5 kHz (1.78 to 5.62 kHz), dB.
    pub presence_db: Option<f64>,
    /// Share of the power from 10 kHz to the end of the 20 kHz band, dB.
    pub air_db: Option<f64>,
    /// Slope of the power per Hz from 100 Hz to 10 kHz, dB per octave: white noise 0, pink −3.0.
    pub slope_db_per_octave: Option<f64>,
    /// Side to mid below 120 Hz, dB.
    pub side_to_mid_low_db: Option<f64>,
    /// Side to mid from 120 Hz to 4 kHz, dB.
    pub side_to_mid_middle_db: Option<f64>,
    /// Side to mid above 4 kHz, dB.
    pub side_to_mid_high_db: Option<f64>,
    /// Loudness lost when both channels are folded to mono, LU: K-weighted power of mid and side to that of the mid, over the seconds above −70 LUFS, without a relative gate.
    pub fold_down_loss_lu: Option<f64>,
    /// Levels of the one-third-octave bands; `None` if no second counts.
    pub bands: Option<BandsDocument>,
    /// Samples at or beyond full scale, all channels.
    pub clipped_samples: u64,
    /// Samples that were no number or no audio level, all channels.
    pub scrubbed_samples: u64,
    /// Frames measured.
    pub frames: u64,
    /// Hops of 10 ms measured in full.
    pub measured_hops: usize,
    /// Hops of 10 ms of the range.
    pub span_hops: usize,
    /// Stretches inside the range that were not measured.
    pub gaps: usize,
    /// Measured share of the range, 0 to 1.
    pub coverage: f64,
    /// The oldest playthrough that the figures stand on.
    pub oldest_playthrough: Option<u32>,
    /// The newest playthrough that the figures stand on.
    pub newest_playthrough: Option<u32>,
    /// Why figures are `null`, by their keys.
    pub null_because: NullBecause,
}

impl FiguresDocument {
    /// The figures of `measured`, of a record with these channels.
    pub(super) fn new(measured: &Measured, layout: Layout) -> Self {
        let set = FigureSet::new(measured, layout);
        let mut because = NullBecause::new();
        for (key, figure) in set.entries() {
            noted(&mut because, key, figure);
        }
        if measured.tone.is_none()
            && let Err(reason) = set.slope_db_per_octave
        {
            because.insert("bands".to_owned(), reason);
        }
        let figures = &measured.figures;
        Self {
            integrated_lufs: set.integrated_lufs.ok(),
            loudness_range_lu: set.loudness_range_lu.ok(),
            loudness_range_stable: measured.loudness_range_stable,
            max_momentary_lufs: set.max_momentary_lufs.ok(),
            max_short_term_lufs: set.max_short_term_lufs.ok(),
            max_true_peak_dbtp: set.max_true_peak_dbtp.ok(),
            max_true_peak_s: set.max_true_peak_s.ok(),
            sample_peak_dbfs: set.sample_peak_dbfs.ok(),
            plr_lu: set.plr_lu.ok(),
            min_psr_lu: set.min_psr_lu.ok(),
            correlation: set.correlation.ok(),
            lowest_correlation: set.lowest_correlation.ok(),
            side_to_mid_db: set.side_to_mid_db.ok(),
            balance_db: set.balance_db.ok(),
            subsonic_db: set.subsonic_db.ok(),
            low_end_db: set.low_end_db.ok(),
            presence_db: set.presence_db.ok(),
            air_db: set.air_db.ok(),
            slope_db_per_octave: set.slope_db_per_octave.ok(),
            side_to_mid_low_db: set.side_to_mid_low_db.ok(),
            side_to_mid_middle_db: set.side_to_mid_middle_db.ok(),
            side_to_mid_high_db: set.side_to_mid_high_db.ok(),
            fold_down_loss_lu: set.fold_down_loss_lu.ok(),
            bands: measured.tone.as_deref().map(BandsDocument::from),
            clipped_samples: figures.clipped_samples,
            scrubbed_samples: figures.scrubbed_samples,
            frames: figures.frames,
            measured_hops: figures.coverage.measured_hops,
            span_hops: figures.coverage.span_hops,
            gaps: figures.coverage.gaps,
            coverage: figures.coverage.share(),
            oldest_playthrough: measured.oldest_playthrough,
            newest_playthrough: measured.newest_playthrough,
            null_because: because,
        }
    }
}

/// Levels of the one-third-octave bands from 20 Hz to 20 kHz (IEC 61260-1, base ten), dB of mean
/// square; `None` is silence, also beyond half the sample rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BandsDocument {
    /// Exact midband frequencies, Hz.
    pub midband_hz: Vec<f64>,
    /// Average power of mid and side together.
    pub mean_db: Vec<Option<f64>>,
    /// What a tenth of the seconds do not exceed.
    pub p10_db: Vec<Option<f64>>,
    /// What half of the seconds do not exceed.
    pub p50_db: Vec<Option<f64>>,
    /// What nine tenths of the seconds do not exceed.
    pub p90_db: Vec<Option<f64>>,
    /// Average power of the mid.
    pub mid_db: Vec<Option<f64>>,
    /// Average power of the side.
    pub side_db: Vec<Option<f64>>,
    /// Seconds that the levels stand on.
    pub seconds: usize,
}

impl From<&Tone> for BandsDocument {
    fn from(tone: &Tone) -> Self {
        let levels = |levels: &[f64; BAND_COUNT]| {
            levels.iter().map(|level| level.is_finite().then_some(*level)).collect()
        };
        let [p10_db, p50_db, p90_db] = tone.both.percentiles_db.each_ref().map(levels);
        Self {
            midband_hz: (0..BAND_COUNT).map(midband_hz).collect(),
            mean_db: levels(&tone.both.mean_db),
            p10_db,
            p50_db,
            p90_db,
            mid_db: levels(&tone.mid.mean_db),
            side_db: levels(&tone.side.mean_db),
            seconds: tone.seconds,
        }
    }
}

/// A section and what it measures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionDocument {
    /// Number that tells it from all others of the song.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// Where it starts, seconds of song time.
    pub start_s: f64,
    /// Where it ends, seconds of song time, exclusive.
    pub end_s: f64,
    /// Where it starts, in bars after the first bar line; `None` if not known.
    pub start_bars: Option<f64>,
    /// Where it ends, in bars after the first bar line; `None` if not known.
    pub end_bars: Option<f64>,
    /// Whether it ends wherever the song does.
    pub ends_with_song: bool,
    /// How much louder it is than the section before it, LU.
    pub louder_by_lu: Option<f64>,
    /// How much wider it is than the section before it, dB of side to mid.
    pub wider_by_db: Option<f64>,
    /// Its figures.
    #[serde(flatten)]
    pub figures: FiguresDocument,
}

impl SectionDocument {
    /// A section of a record with these channels.
    pub(super) fn new(section: &SnapshotSection, layout: Layout) -> Self {
        let SnapshotSection { section, entry } = section;
        let mut figures = FiguresDocument::new(&entry.measured, layout);
        let because = &mut figures.null_because;
        let louder_by = entry.louder_by.map(|by| by.0).ok_or(Reason::NotInBoth);
        let wider_by = entry.wider_by.map(|by| by.0).ok_or(Reason::NotInBoth);
        Self {
            id: section.id,
            name: section.name.clone(),
            start_s: section.start_s,
            end_s: section.end_s,
            start_bars: section.start_bar,
            end_bars: section.end_bar,
            ends_with_song: section.open,
            louder_by_lu: noted(because, "louder_by_lu", louder_by),
            wider_by_db: noted(because, "wider_by_db", wider_by),
            figures,
        }
    }
}
