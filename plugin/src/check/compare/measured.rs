//! Both files through the meters of a check, on the song time of OLD.

use crate::check::delivery::{BitDepth, BitDepthScan};
use crate::check::measure::max_frames;
use crate::check::{CheckError, sections};
use crate::loudness::{Analysis, FileMeter, HopRange};
use crate::meters::layout::Layout;
use crate::meters::spectrum::SecondStream;
use crate::meters::spectrum::bands::BAND_COUNT;
use crate::record::{HOPS_PER_SECOND, ToneSecond};
use crate::section::{Marker, Measured, measure};
use crate::tone::{Tone, ToneSeries};
use crate::units::{Db, SampleRate};
use plimsoll_reader::{Block, FileFacts, Reader};
use std::path::Path;

/// A band further below the strongest one, of OLD or NEW, is not compared, dB: what moves there is
/// not heard beside the rest. The project's own choice, no source.
const BAND_FLOOR_DB: f64 = 40.0;

/// Peaks so far below the highest stand at it, as an amplitude ratio: 0.2 dB, what lies between
/// the ceiling of a limiter and the peaks that it lets through. The project's own choice, no source.
const AT_THE_CEILING: f32 = 0.977_24;

/// A file through the meters.
pub struct Through {
    /// What its header says.
    pub facts: FileFacts,
    /// Its channels.
    pub layout: Layout,
    /// Frames that were read.
    pub len_frames: u64,
    /// Bits that its samples use.
    pub bit_depth: BitDepth,
    /// What was wrong with it and did not keep it from being read.
    pub warnings: Vec<String>,
    analysis: Analysis,
}

impl Through {
    /// Measures the file at `path`; its frame `first` stands at song time zero: frames before it
    /// are left out, and what is missing where it is negative is silence.
    ///
    /// # Errors
    /// See [`CheckError`].
    pub fn read(path: &Path, first: i64) -> Result<Self, CheckError> {
        let mut reader = Reader::open(path)?;
        let facts = reader.facts().clone();
        let channels = facts.channels;
        let rate = SampleRate::new(facts.rate_hz)?;
        let layout =
            Layout::from_channel_count(channels).ok_or(CheckError::Channels { channels })?;
        let mut meters = Meters::new(rate, layout);
        meters.silence(channels, first.min(0).unsigned_abs());
        let mut left_out = usize::try_from(first.max(0)).unwrap_or(usize::MAX);
        let mut bits = BitDepthScan::default();
        let mut block = Block::default();
        let mut len_frames = 0;
        loop {
            reader.read(&mut block)?;
            let frames = block.len_frames();
            len_frames += frames as u64;
            if frames == 0 || len_frames > max_frames(facts.rate_hz) {
                break;
            }
            bits.push(&block);
            let from = left_out.min(frames);
            left_out -= from;
            let planes = block.planes().iter().map(|plane| plane.get(from..).unwrap_or_default());
            meters.push(&planes.collect::<Vec<_>>());
        }
        Ok(Self {
            bit_depth: bits.finish(facts.coding),
            warnings: reader.warnings().to_vec(),
            analysis: meters.finish(),
            facts,
            layout,
            len_frames,
        })
    }

    /// Length in seconds.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
    pub fn length_s(&self) -> f64 {
        self.len_frames as f64 / f64::from(self.facts.rate_hz)
    }

    /// The step of its samples that a bit makes, full scale = 1.0: of the bits that are used.
    /// 0 for floats and lossy codes, which have none.
    #[must_use]
    pub fn lsb(&self) -> f64 {
        let bits = self.bit_depth.used_bits.and_then(|bits| i32::try_from(bits).ok());
        bits.map_or(0.0, |bits| 2_f64.powi(1 - bits))
    }

    fn measure(&mut self, range: &HopRange) -> Measured {
        measure(&mut self.analysis, range.clone())
    }

    /// How often the peaks of 10 ms of `range` stand within 0.2 dB of the highest one: by sample
    /// peak or by true peak, whichever is more often.
    fn peaks_at_the_ceiling(&self, range: &HopRange) -> usize {
        let hops = || self.analysis.hops(range.clone()).map(|(_, kept)| kept);
        let count = |peak: fn(&crate::loudness::Kept) -> f32| {
            let highest = hops().map(|kept| peak(&kept)).fold(0.0, f32::max);
            hops().filter(|kept| highest > 0.0 && peak(kept) >= highest * AT_THE_CEILING).count()
        };
        count(|kept| kept.sample_peak).max(count(|kept| kept.true_peak))
    }
}

/// The meters of a file.
struct Meters {
    loudness: FileMeter,
    tone: SecondStream,
    seconds: ToneSeries,
}

impl Meters {
    fn new(rate: SampleRate, layout: Layout) -> Self {
        Self {
            loudness: FileMeter::new(rate, layout),
            tone: SecondStream::new(rate),
            seconds: ToneSeries::default(),
        }
    }

    fn silence(&mut self, channels: usize, frames: u64) {
        const ZEROS: [f32; 4_096] = [0.0; 4_096];
        let mut left = usize::try_from(frames).unwrap_or(0);
        while left > 0 {
            let len = left.min(ZEROS.len());
            self.push(&vec![ZEROS.get(..len).unwrap_or_default(); channels]);
            left -= len;
        }
    }

    fn push(&mut self, planes: &[&[f32]]) {
        self.loudness.push(planes);
        if let Some(left) = planes.first() {
            let right = planes.get(1).unwrap_or(left);
            let seconds = &mut self.seconds;
            self.tone.push(left, right, |one| seconds.put(one.second, ToneSecond::new(one, 1)));
        }
    }

    fn finish(self) -> Analysis {
        let Self { loudness, mut tone, mut seconds } = self;
        tone.finish(|one| seconds.put(one.second, ToneSecond::new(one, 1)));
        let mut analysis = loudness.finish();
        analysis.set_tone(seconds);
        analysis
    }
}

/// What a part of the song measures in both files.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// The section's name; empty for the whole song.
    pub name: String,
    /// Song time of OLD.
    pub range: HopRange,
    /// In OLD.
    pub old: Measured,
    /// In NEW.
    pub new: Measured,
    /// Level of each one-third-octave band, NEW less OLD, both brought to equal loudness, dB;
    /// `None` where a band lies more than 40 dB below the strongest one in both.
    pub bands_by: [Option<Db>; BAND_COUNT],
    /// How often the peaks of 10 ms stand within 0.2 dB of the highest, in OLD and NEW.
    pub peaks_at_the_ceiling: [usize; 2],
}

/// One figure of a [`Pair`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// What it is called.
    pub label: &'static str,
    /// Its key for programs, with its unit.
    pub key: &'static str,
    /// Its unit, and that of a change.
    pub unit: &'static str,
    /// In OLD; `None` is not measured.
    pub old: Option<f64>,
    /// In NEW.
    pub new: Option<f64>,
}

impl Row {
    /// NEW less OLD; `None` unless both are finite.
    #[must_use]
    pub fn by(&self) -> Option<f64> {
        Some(self.new? - self.old?).filter(|by| by.is_finite())
    }
}

impl Pair {
    /// Measures `range` in both.
    pub fn measure(name: String, range: HopRange, files: &mut [Through; 2]) -> Self {
        let [old_file, new_file] = files;
        let (old, new) = (old_file.measure(&range), new_file.measure(&range));
        Self {
            name,
            bands_by: bands_by(&old, &new),
            peaks_at_the_ceiling: [&*old_file, &*new_file]
                .map(|file| file.peaks_at_the_ceiling(&range)),
            range,
            old,
            new,
        }
    }

    /// How much louder NEW is, LU.
    #[must_use]
    pub fn louder_lu(&self) -> Option<f64> {
        self.new.louder_than(&self.old).map(|by| by.0)
    }

    /// How much higher the peaks of NEW stand at equal loudness, dB: the change of PLR.
    #[must_use]
    pub fn peaks_db(&self) -> Option<f64> {
        Some(self.new.plr()?.0 - self.old.plr()?.0)
    }

    /// Level, dynamics, peaks, tone and width. Neither shares of tone nor width hang on the gain.
    #[must_use]
    pub fn rows(&self) -> Vec<Row> {
        type Of = fn(&Measured) -> Option<f64>;
        let tone = |measured: &Measured, of: fn(&Tone) -> Option<f64>| {
            measured.tone.as_deref().and_then(of)
        };
        let row = |label, key, unit, of: Of| Row {
            label,
            key,
            unit,
            old: of(&self.old),
            new: of(&self.new),
        };
        let tone_row = |label, key, unit, of: fn(&Tone) -> Option<f64>| Row {
            label,
            key,
            unit,
            old: tone(&self.old, of),
            new: tone(&self.new, of),
        };
        vec![
            row("Integrated loudness (I)", "integrated_lufs", "LUFS, LU", |m| {
                m.figures.integrated.map(|v| v.0)
            }),
            row("Loudness range (LRA)", "loudness_range_lu", "LU", |m| {
                m.figures.loudness_range.map(|v| v.0)
            }),
            row("Highest short-term (S)", "max_short_term_lufs", "LUFS, LU", |m| {
                m.figures.max_short_term.map(|v| v.0)
            }),
            row("Highest momentary (M)", "max_momentary_lufs", "LUFS, LU", |m| {
                m.figures.max_momentary.map(|v| v.0)
            }),
            row("Highest true peak", "max_true_peak_dbtp", "dBTP, dB", |m| {
                m.figures.max_true_peak.map(|v| v.0)
            }),
            row("Peak to loudness (PLR)", "peak_to_loudness_lu", "LU", |m| m.plr().map(|v| v.0)),
            tone_row("Low end, 20 to 120 Hz", "low_end_db", "dB", |t| Some(t.low_end.0)),
            tone_row("Presence, 2 to 5 kHz", "presence_db", "dB", |t| Some(t.presence.0)),
            tone_row("Air, from 10 kHz", "air_db", "dB", |t| Some(t.air.0)),
            tone_row("Slope", "slope_db_per_octave", "dB/octave", |t| t.slope_db_per_octave),
            row("Side to mid", "side_to_mid_db", "dB", |m| m.side_to_mid.map(|v| v.0)),
            tone_row("  below 120 Hz", "side_to_mid_low_db", "dB", |t| {
                t.side_to_mid[0].map(|v| v.0)
            }),
            tone_row("  to 4 kHz", "side_to_mid_middle_db", "dB", |t| {
                t.side_to_mid[1].map(|v| v.0)
            }),
            tone_row("  above", "side_to_mid_high_db", "dB", |t| t.side_to_mid[2].map(|v| v.0)),
            row("Correlation", "correlation", "", |m| m.correlation),
        ]
    }
}

fn bands_by(old_measured: &Measured, new_measured: &Measured) -> [Option<Db>; BAND_COUNT] {
    let mut bands = [None; BAND_COUNT];
    let (Some(old), Some(new)) = (&old_measured.tone, &new_measured.tone) else {
        return bands;
    };
    let louder_lu = new_measured.louder_than(old_measured).map_or(0.0, |by| by.0);
    let strongest = |levels: &[f64]| levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (old, new) = (&old.both.mean_db, &new.both.mean_db);
    let floors = [old, new].map(|levels| strongest(levels) - BAND_FLOOR_DB);
    for (band, (old, new)) in bands.iter_mut().zip(old.iter().zip(new)) {
        let by = new - old - louder_lu;
        let is_heard = *old > floors[0] || *new > floors[1];
        *band = (is_heard && by.is_finite()).then_some(Db(by));
    }
    bands
}

/// The whole of what both files have, then each section of it. `common_s` is the song time that
/// both have; `markers` are where sections begin.
///
/// # Errors
/// Sections that break a rule.
pub fn pairs(
    mut files: [Through; 2],
    common_s: [f64; 2],
    markers: &[Marker],
    warnings: &mut Vec<String>,
) -> Result<(Vec<Pair>, [Through; 2]), CheckError> {
    let hop = |at_s: f64| at_s * f64::from(HOPS_PER_SECOND);
    #[expect(clippy::cast_possible_truncation, reason = "hops of ten hours at most")]
    let (start, end) =
        ((hop(common_s[0]) - 1e-6).ceil() as i32, (hop(common_s[1]) + 1e-6).floor() as i32);
    let within = |range: &HopRange| range.start.max(start)..range.end.min(end);
    let length_s = files[0].length_s();
    let named = sections::begin_at(markers, length_s, warnings)?;
    let sections = sections::log(&named, &mut files[0].analysis);
    let mut pairs = vec![Pair::measure(String::new(), start..end.max(start), &mut files)];
    for section in sections {
        let range = within(&section.range);
        if range.start < range.end {
            pairs.push(Pair::measure(section.name, range, &mut files));
        }
    }
    Ok((pairs, files))
}
