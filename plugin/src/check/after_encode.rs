//! `--after-encode`: the file is encoded with loss, decoded and measured again, because overs come
//! back: a lossy code keeps what is heard and not the waveform, whose peaks then reach elsewhere.
//!
//! ```text
//! file ─> reader ─> resampler (where the code wants another rate) ─> encoder ─> file without a name
//!         what arrives <─ Analysis <─ FileMeter <─ reader <──────────────────────────────┘
//! ```
//!
//! Encoder and decoder state their delay in the file and the reader takes it off, so that the same
//! stretch is measured. A recipient's own encoder may differ: it is another one, at another rate.

use super::{CheckError, Options};
use crate::loudness::{Figures, FileMeter};
use crate::meters::layout::Layout;
use crate::section;
use crate::target::Target;
use crate::units::{Db, Dbtp, Lu, SampleRate};
use plimsoll_encoder::{Encoder, Encoding, Resampler};
use plimsoll_reader::{Block, FileFacts, ReadError, Reader};
use std::path::Path;
use std::thread;

/// What arrives after one encode.
#[derive(Debug, Clone, PartialEq)]
pub struct Encoded {
    /// The rate that was encoded, Hz.
    pub rate_hz: u32,
    /// The bit rate that came of it, kbit/s.
    pub kbps: f64,
    /// All that was measured of what was decoded.
    pub figures: Figures,
    /// Integrated loudness less that of the file, LU.
    pub integrated_change: Option<Lu>,
    /// Highest true peak less that of the file, dB.
    pub true_peak_change: Option<Db>,
    /// Highest true peak of what was encoded, dBTP, where the rate had to be changed for it: what
    /// lies between it and the file's is the resampler's work.
    pub resampled_true_peak: Option<Dbtp>,
    /// Samples over full scale that were clipped first.
    pub clipped_samples: u64,
    /// One entry for each target that has a ceiling.
    pub ceilings: Vec<Ceiling>,
}

/// What became of a target's ceiling.
#[derive(Debug, Clone, PartialEq)]
pub struct Ceiling {
    /// The target's name.
    pub target: String,
    /// Its ceiling, dBTP.
    pub ceiling: Dbtp,
    /// How far the highest true peak lies over it, dB; below zero: how much room is left.
    pub over: Db,
}

impl Ceiling {
    /// Whether it still holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.over.0 <= 0.0
    }
}

/// One encode of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterEncode {
    /// The code and the bit rate that were asked for.
    pub encoding: Encoding,
    /// What arrives, or why nothing does, in one line.
    pub outcome: Result<Encoded, String>,
}

/// All encodes that `options` ask for, of the file at `path`, which measures `before`. With
/// `side_by_side` they run at once; `done` is told of each that ends.
pub fn after_encode(
    path: &Path,
    options: &Options,
    before: &Figures,
    side_by_side: bool,
    done: &(dyn Fn() + Sync),
) -> Vec<AfterEncode> {
    let one = |encoding: Encoding| {
        let outcome = encode(path, encoding, before, &options.targets);
        done();
        AfterEncode { encoding, outcome: outcome.map_err(|error| error.to_string()) }
    };
    if !side_by_side {
        return options.encodings.iter().copied().map(one).collect();
    }
    thread::scope(|scope| {
        let running: Vec<_> = options
            .encodings
            .iter()
            .map(|&encoding| (encoding, scope.spawn(move || one(encoding))))
            .collect();
        let ended = running.into_iter().map(|(encoding, thread)| {
            thread.join().unwrap_or_else(|_| AfterEncode {
                encoding,
                outcome: Err(CheckError::Panic.to_string()),
            })
        });
        ended.collect()
    })
}

fn encode(
    path: &Path,
    encoding: Encoding,
    before: &Figures,
    targets: &[Target],
) -> Result<Encoded, CheckError> {
    let mut reader = Reader::open(path)?;
    let FileFacts { rate_hz: from_hz, channels, .. } = *reader.facts();
    let rate_hz = encoding.format.rate_hz(from_hz);
    let rate = SampleRate::new(rate_hz)?;
    let layout = Layout::from_channel_count(channels).ok_or(CheckError::Channels { channels })?;
    let mut encoder = Encoder::new(encoding, rate_hz, channels)?;
    let mut resampled = FileMeter::new(rate, layout);
    let mut resampler =
        if rate_hz == from_hz { None } else { Some(Resampler::new(from_hz, rate_hz, channels)?) };
    let (mut frames, max_frames) = (0, super::measure::max_frames(from_hz));
    let mut block = Block::default();
    while frames < max_frames {
        reader.read(&mut block)?;
        if block.len_frames() == 0 {
            break;
        }
        frames += block.len_frames() as u64;
        match &mut resampler {
            None => encoder.push(block.planes())?,
            Some(resampler) => resampler.push(block.planes(), |planes| {
                resampled.push(planes);
                encoder.push(planes)
            })?,
        }
    }
    let is_resampled = resampler.is_some();
    if let Some(resampler) = resampler {
        resampler.finish(|planes| {
            resampled.push(planes);
            encoder.push(planes)
        })?;
    }
    let clipped_samples = encoder.clipped_samples();
    let file = encoder.finish()?;
    let len_bytes = file.metadata().map_err(CheckError::Io)?.len();
    let resampled = is_resampled.then(|| figures(resampled)).transpose()?;

    let name = Path::new("encoded").with_extension(encoding.format.key());
    let mut reader = Reader::of(file, &name)?;
    let mut meter = FileMeter::new(rate, layout);
    let mut frames = 0;
    loop {
        reader.read(&mut block)?;
        if block.len_frames() == 0 {
            break;
        }
        frames += block.len_frames() as u64;
        let planes: Vec<&[f32]> = block.planes().iter().map(Vec::as_slice).collect();
        meter.push(&planes);
    }
    let figures = figures(meter)?;
    #[expect(clippy::cast_precision_loss, reason = "bytes and frames stay far below 2^52")]
    let kbps = len_bytes as f64 * 8e-3 * f64::from(rate_hz) / frames.max(1) as f64;
    let change = |before: f64, after: f64| (after - before).is_finite().then_some(after - before);
    let ceilings = targets.iter().filter_map(|target| {
        let (ceiling, peak) = (target.true_peak_ceiling?, figures.max_true_peak?);
        Some(Ceiling { target: target.name.clone(), ceiling, over: Db((peak - ceiling).0) })
    });
    Ok(Encoded {
        rate_hz,
        kbps,
        integrated_change: before
            .integrated
            .zip(figures.integrated)
            .and_then(|(before, after)| change(before.0, after.0).map(Lu)),
        true_peak_change: before
            .max_true_peak
            .zip(figures.max_true_peak)
            .and_then(|(before, after)| change(before.0, after.0).map(Db)),
        resampled_true_peak: resampled.and_then(|resampled| resampled.max_true_peak),
        clipped_samples,
        ceilings: ceilings.collect(),
        figures,
    })
}

fn figures(meter: FileMeter) -> Result<Figures, CheckError> {
    let mut analysis = meter.finish();
    let range = analysis.extent().ok_or(ReadError::ZeroFrames)?;
    Ok(section::measure(&mut analysis, range).figures)
}
