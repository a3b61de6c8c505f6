//! A second reading with the `ebur128` crate, and where the two differ by more than its known
//! flaws explain.
//!
//! The flaws are those that were measured for this project (STANDARDS, named below):
//! - §1.1, §6.1: its K-weighting keeps b0 = 1 at every rate, so that its gain drifts with the rate.
//! - §6.1, §5.3: it is asked for M and S ten times a second, so that its maxima are low.
//! - §5.3, §6.1: it takes LRA from one value a second.
//! - §6.2, §6.3: it oversamples 4 times below 96 kHz, 2 times below 192 kHz, above not at all.

use crate::loudness::Figures;
use crate::meters::layout::Layout;
use crate::units::{Lufs, SampleRate, amplitude_to_db};
use ebur128::{Channel, EbuR128, Mode};
use std::collections::VecDeque;

/// Values beyond this are measured as zero, as in our meters.
const NOT_AUDIO: f32 = 4096.0;

/// What remains of the K response after the rate's flaw, dB (STANDARDS §1.1, last paragraph).
const RESPONSE_DB: f64 = 0.006;

/// A block that lies right at the relative gate in one reading and not in the other moves the
/// integrated loudness by about this, LU. The project's own choice, no source.
const GATE_LU: f64 = 0.01;

/// What momentary maxima read at 10 Hz miss, LU (STANDARDS §6.1: "err down to −0.458").
const MOMENTARY_MISS_LU: f64 = 0.46;

/// What short-term maxima read at 10 Hz miss, LU (STANDARDS §5.3: up to 0.09 on music, §6.1: 0.073).
const SHORT_TERM_MISS_LU: f64 = 0.09;

/// What LRA from one value a second is off, LU (STANDARDS §5.3: "up to 0.75 LU from exact").
const RANGE_LU: f64 = 0.75;

/// A tenth of a second, ms.
const TENTH_MS: u32 = 100;

/// Tenths of a second that are looked at together: those of the momentary and of the short-term
/// window (EBU Tech 3341 §2.2).
const MOMENTARY_TENTHS: usize = 4;
const SHORT_TERM_TENTHS: usize = 30;

/// Below this length LRA is not compared, seconds (STANDARDS §2.3: misleading on short programmes,
/// and one value a second is too few).
const SHORTEST_RANGE_S: f64 = 60.0;

/// Its over-read, dB (STANDARDS §6.3, "lib 48k steady": +0.104) and our tolerance beside it.
const PEAK_OVER_DB: f64 = 0.104 + 0.02;

/// Poles of the high-pass of ITU-R BS.1770-5, Annex 1, Table 2, as every reference rebuilds it:
/// frequency, Hz, and quality (STANDARDS §1.1, source code).
const HIGH_PASS_HZ: f64 = 38.135_470_876_024_44;
const HIGH_PASS_QUALITY: f64 = 0.500_327_037_323_877_3;

/// The two readings of one figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Key of the figure, as in JSON.
    pub key: &'static str,
    /// Ours.
    pub ours: Option<f64>,
    /// The second reading.
    pub theirs: Option<f64>,
    /// Ours minus theirs, LU or dB; `None` unless both are measured and not silent.
    pub difference: Option<f64>,
    /// From where to where the difference may lie; `None` where it is not judged.
    pub explained: Option<(f64, f64)>,
    /// The flaw that explains it, in words.
    pub flaw: &'static str,
}

impl Difference {
    /// Whether the difference is more than the flaw explains.
    #[must_use]
    pub fn is_unexplained(&self) -> bool {
        match (self.difference, self.explained) {
            (Some(difference), Some((from, to))) => !(from..=to).contains(&difference),
            _ => false,
        }
    }
}

/// What the crate measured.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondReading {
    /// One entry for each figure that both have.
    pub figures: Vec<Difference>,
}

impl SecondReading {
    /// The figures that differ by more than a known flaw explains.
    pub fn unexplained(&self) -> impl Iterator<Item = &Difference> {
        self.figures.iter().filter(|figure| figure.is_unexplained())
    }
}

/// Measures a file with the crate, block by block.
pub struct SecondMeter {
    meter: EbuR128,
    rate: SampleRate,
    layout: Layout,
    /// Frames until the next look at M and S.
    left_frames: usize,
    /// Mean energies of the last tenths of a second, the newest first. Asked for M and S itself,
    /// the crate would sum all 400 ms and 3 s anew each time, which takes longer than all the rest.
    tenths: VecDeque<f64>,
    max_momentary: f64,
    max_short_term: f64,
    frames: u64,
    failed: bool,
    scrubbed: Vec<Vec<f32>>,
}

impl SecondMeter {
    /// For a file at `rate` whose channels are `layout`; `None` if the crate does not take it.
    #[must_use]
    pub fn new(rate: SampleRate, layout: Layout) -> Option<Self> {
        let channels = u32::try_from(layout.channel_count()).ok()?;
        let mode = Mode::I | Mode::LRA | Mode::SAMPLE_PEAK | Mode::TRUE_PEAK;
        let mut meter = EbuR128::new(channels, rate.hz(), mode).ok()?;
        meter.set_channel_map(channel_map(layout)).ok()?;
        Some(Self {
            meter,
            rate,
            layout,
            left_frames: tenth_of_a_second(rate),
            tenths: VecDeque::with_capacity(SHORT_TERM_TENTHS),
            max_momentary: f64::NEG_INFINITY,
            max_short_term: f64::NEG_INFINITY,
            frames: 0,
            failed: false,
            scrubbed: vec![Vec::new(); layout.channel_count()],
        })
    }

    /// Measures the next block.
    pub fn push(&mut self, planes: &[Vec<f32>]) {
        for (scrubbed, plane) in self.scrubbed.iter_mut().zip(planes) {
            scrubbed.clear();
            let kept = |&sample: &f32| if sample.abs() <= NOT_AUDIO { sample } else { 0.0 };
            scrubbed.extend(plane.iter().map(kept));
        }
        let len_frames = self.scrubbed.first().map_or(0, Vec::len);
        let mut at = 0;
        while at < len_frames {
            let len = self.left_frames.min(len_frames - at);
            let planes: Vec<&[f32]> = self
                .scrubbed
                .iter()
                .map(|plane| plane.get(at..at + len).unwrap_or_default())
                .collect();
            self.failed |= self.meter.add_frames_planar_f32(&planes).is_err();
            at += len;
            self.frames += len as u64;
            self.left_frames -= len;
            if self.left_frames == 0 {
                self.left_frames = tenth_of_a_second(self.rate);
                self.look();
            }
        }
    }

    fn look(&mut self) {
        let tenth = self.meter.loudness_window(TENTH_MS).unwrap_or(f64::NEG_INFINITY);
        self.tenths.truncate(SHORT_TERM_TENTHS - 1);
        self.tenths.push_front(Lufs(tenth).to_energy());
        for (window, highest) in [
            (MOMENTARY_TENTHS, &mut self.max_momentary),
            (SHORT_TERM_TENTHS, &mut self.max_short_term),
        ] {
            if self.tenths.len() >= window {
                #[expect(clippy::cast_precision_loss, reason = "at most 30")]
                let mean = self.tenths.iter().take(window).sum::<f64>() / window as f64;
                *highest = highest.max(Lufs::from_energy(mean).0);
            }
        }
    }

    /// The file ends; `ours` are the figures of the same file.
    #[must_use]
    pub fn finish(self, ours: &Figures) -> Option<SecondReading> {
        if self.failed {
            return None;
        }
        let channels = 0..u32::try_from(self.layout.channel_count()).ok()?;
        let highest = |peak: &dyn Fn(u32) -> Option<f64>| {
            channels.clone().filter_map(peak).fold(0.0_f64, f64::max)
        };
        let true_peak = highest(&|channel| self.meter.true_peak(channel).ok());
        let sample_peak = highest(&|channel| self.meter.sample_peak(channel).ok());
        let gain = gain_flaw_db(self.rate);
        let (near, far) =
            (gain.min(0.0) - RESPONSE_DB - GATE_LU, gain.max(0.0) + RESPONSE_DB + GATE_LU);
        #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
        let length_s = self.frames as f64 / f64::from(self.rate.hz());
        let range = (length_s >= SHORTEST_RANGE_S).then_some((-RANGE_LU, RANGE_LU));
        let figure = |key, ours: Option<f64>, theirs: f64, explained, flaw| {
            let both = ours.filter(|ours| ours.is_finite() && theirs.is_finite());
            let difference = both.map(|ours| ours - theirs);
            Difference { key, ours, theirs: Some(theirs), difference, explained, flaw }
        };
        Some(SecondReading {
            figures: vec![
                figure(
                    "integrated_lufs",
                    ours.integrated.map(|v| v.0),
                    self.meter.loudness_global().ok()?,
                    Some((near, far)),
                    "its filter's gain drifts with the sample rate",
                ),
                figure(
                    "loudness_range_lu",
                    ours.loudness_range.map(|v| v.0),
                    self.meter.loudness_range().ok()?,
                    range,
                    "it takes one value a second",
                ),
                figure(
                    "max_short_term_lufs",
                    ours.max_short_term.map(|v| v.0),
                    self.max_short_term,
                    Some((near, far + SHORT_TERM_MISS_LU)),
                    "it is read ten times a second",
                ),
                figure(
                    "max_momentary_lufs",
                    ours.max_momentary.map(|v| v.0),
                    self.max_momentary,
                    Some((near, far + MOMENTARY_MISS_LU)),
                    "it is read ten times a second",
                ),
                figure(
                    "max_true_peak_dbtp",
                    ours.max_true_peak.map(|v| v.0),
                    amplitude_to_db(true_peak),
                    Some((-PEAK_OVER_DB, peak_miss_db(self.rate))),
                    "it looks at four points a sample, at fewer from 96 kHz on",
                ),
                figure(
                    "sample_peak_dbfs",
                    ours.sample_peak.map(|v| v.0),
                    amplitude_to_db(sample_peak),
                    // Both take the largest sample; we keep it in single precision.
                    Some((-1e-6, 1e-6)),
                    "",
                ),
            ],
        })
    }
}

const fn channel_map(layout: Layout) -> &'static [Channel] {
    use Channel::{
        Center, Left, LeftSurround, Mm090, Mm135, Mp090, Mp135, Right, RightSurround, Unused,
    };
    match layout {
        Layout::Mono => &[Center],
        Layout::Stereo => &[Left, Right],
        Layout::Surround51 => &[Left, Right, Center, Unused, LeftSurround, RightSurround],
        Layout::Surround71 => &[Left, Right, Center, Unused, Mp090, Mm090, Mp135, Mm135],
    }
}

fn tenth_of_a_second(rate: SampleRate) -> usize {
    usize::try_from(rate.hz() / 10).unwrap_or(1).max(1)
}

/// How much more our filter passes than one with b0 = 1 at this rate, dB: d(48 kHz)/d(fs), with
/// d(fs) = 1 + K/Q + K² (STANDARDS §1.1, "the flaw to beat").
fn gain_flaw_db(rate: SampleRate) -> f64 {
    let d = |rate_hz: f64| {
        let k = (std::f64::consts::PI * HIGH_PASS_HZ / rate_hz).tan();
        1.0 + k / HIGH_PASS_QUALITY + k * k
    };
    amplitude_to_db(d(48_000.0) / d(f64::from(rate.hz())))
}

/// What its true peak misses at worst, dB (STANDARDS §6.3, columns "lib 48k", "96k", "192k burst"),
/// and our tolerance beside it.
fn peak_miss_db(rate: SampleRate) -> f64 {
    let miss = match rate.hz() {
        ..96_000 => 0.636,
        96_000..192_000 => 1.04,
        _ => 3.03,
    };
    miss + 0.02
}

#[cfg(test)]
mod tests;
