//! One file from its bytes to its figures, in one pass.

use super::after_encode::after_encode;
use super::delivery::DeliveryScan;
use super::facts::name_of;
use super::second_reading::{SecondMeter, SecondReading};
use super::sections;
use super::{CheckError, Options, TargetVerdict, Track};
use crate::loudness::{Analysis, Figures, FileMeter, HopRange};
use crate::meters::layout::Layout;
use crate::section::{self, PeakLedger, Playthroughs};
use crate::snapshot::{Moment, Snapshot, Source, UtcTime};
use crate::target::Distance;
use crate::units::{Dbtp, SampleRate};
use plimsoll_reader::{Block, ReadError, Reader};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;
use std::time::SystemTime;

/// Longest sound that is measured, hours: a small file can claim to be far longer, and what is
/// kept of it takes 13 MB an hour. The project's own choice, no source.
const MAX_HOURS: u64 = 10;

/// Blocks on their way to the second reading.
const BLOCKS_AHEAD: usize = 16;

/// Told how much of a file is done, 0 to 1.
pub type Tell<'a> = &'a (dyn Fn(f64) + Sync);

/// Measures the file at `path`. With `two_threads` the second reading runs beside the first.
///
/// # Errors
/// See [`CheckError`].
pub fn measure_track(
    path: &Path,
    options: &Options,
    two_threads: bool,
    tell: Tell<'_>,
) -> Result<Track, CheckError> {
    let reader = Reader::open(path)?;
    let facts = reader.facts().clone();
    let rate = SampleRate::new(facts.rate_hz)?;
    let channels = facts.channels;
    let layout = Layout::from_channel_count(channels).ok_or(CheckError::Channels { channels })?;
    // The pass over the file and every encode are a part each.
    let (ended, parts) = (AtomicUsize::new(0), 1 + options.encodings.len());
    #[expect(clippy::cast_precision_loss, reason = "a share for a bar")]
    let tell_all = |share: f64| {
        tell((share + ended.load(Ordering::Relaxed) as f64) / parts as f64);
    };
    let second = if options.one_reading { None } else { SecondMeter::new(rate, layout) };

    let mut pass = Pass {
        reader,
        meter: FileMeter::with_tone(rate, layout),
        scan: DeliveryScan::new(rate, layout, facts.coding),
        len_frames: 0,
        max_frames: max_frames(rate.hz()),
        warnings: Vec::new(),
    };
    let second = match second {
        Some(second) if two_threads => beside(second, &mut pass, &tell_all)?,
        Some(mut second) => {
            pass.run(&tell_all, |block| second.push(block.planes()))?;
            Some(second)
        }
        None => {
            pass.run(&tell_all, |_| ())?;
            None
        }
    };
    let Pass { reader, meter, scan, len_frames, mut warnings, .. } = pass;
    warnings.extend_from_slice(reader.warnings());

    let mut analysis = meter.finish();
    let range = analysis.extent().ok_or(ReadError::ZeroFrames)?;
    let measured = section::measure(&mut analysis, range.clone());
    #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
    let length_s = len_frames as f64 / f64::from(rate.hz());
    let markers = match &options.sections {
        Some(markers) => markers.clone(),
        None => sections::own_markers(path, &mut warnings),
    };
    let named = sections::begin_at(&markers, length_s, &mut warnings)?;
    let sections = sections::log(&named, &mut analysis);
    let snapshot = options.with_snapshot.then(|| {
        Box::new(Snapshot::take(Moment {
            analysis: &mut analysis,
            source: Source::File,
            rate: Some(rate),
            sections: &named,
            bars: None,
            playthroughs: &Playthroughs::default(),
            references: &[],
            targets: &options.targets,
            chosen: Some(0),
            song: &name_of(path),
            track: None,
            taken: UtcTime::from_system(SystemTime::now()),
        }))
    });
    let ledger = PeakLedger::new(&analysis, range.clone(), Dbtp(0.0), &sections);
    let overs = ledger.events().iter().filter(|event| event.peak.0 > 0.0).copied().collect();
    let verdicts = options.targets.iter().map(|target| TargetVerdict {
        distance: Distance::new(&measured.figures, target),
        target: target.clone(),
    });
    let is_encoded = channels <= plimsoll_encoder::MAX_CHANNELS;
    if !is_encoded && !options.encodings.is_empty() {
        warnings.push(format!("not encoded: {channels} channels; mono and stereo are"));
    }
    let after_encode = if is_encoded {
        let done = || {
            ended.fetch_add(1, Ordering::Relaxed);
            tell_all(1.0);
        };
        after_encode(path, options, &measured.figures, two_threads, &done)
    } else {
        Vec::new()
    };
    Ok(Track {
        after_encode,
        snapshot,
        verdicts: verdicts.collect(),
        second: reading(second, &measured.figures, options, &mut warnings),
        delivery: scan.finish(&analysis, measured.correlation),
        block_energies: analysis.block_energies(&range),
        file: facts,
        rate,
        layout,
        len_frames,
        length_s,
        measured,
        sections,
        overs,
        over_hops: over_hops(&analysis, range),
        warnings,
    })
}

/// Most frames that are measured of a file of this rate.
pub(super) const fn max_frames(rate_hz: u32) -> u64 {
    MAX_HOURS * 3_600 * rate_hz as u64
}

/// Hops whose true peak is over full scale.
fn over_hops(analysis: &Analysis, range: HopRange) -> usize {
    analysis.hops(range).filter(|(_, kept)| kept.true_peak > 1.0).count()
}

fn reading(
    second: Option<SecondMeter>,
    ours: &Figures,
    options: &Options,
    warnings: &mut Vec<String>,
) -> Option<SecondReading> {
    let reading = second.and_then(|second| second.finish(ours));
    if reading.is_none() && !options.one_reading {
        warnings.push("there is no second reading: its library does not take this file".to_owned());
    }
    reading
}

/// One pass over a file.
struct Pass {
    reader: Reader,
    meter: FileMeter,
    scan: DeliveryScan,
    len_frames: u64,
    max_frames: u64,
    warnings: Vec<String>,
}

impl Pass {
    /// Reads to the end; every block also goes to `also`.
    fn run(&mut self, tell: Tell<'_>, mut also: impl FnMut(&Block)) -> Result<(), CheckError> {
        let mut block = Block::default();
        let stated = self.reader.facts().len_frames;
        let mut told_frames = 0;
        loop {
            self.reader.read(&mut block)?;
            let frames = block.len_frames() as u64;
            if frames == 0 {
                return Ok(());
            }
            let planes: Vec<&[f32]> = block.planes().iter().map(Vec::as_slice).collect();
            self.meter.push(&planes);
            self.scan.push(&block);
            also(&block);
            self.len_frames += frames;
            if self.len_frames >= self.max_frames {
                self.warnings.push(format!("longer than {MAX_HOURS} h: the rest is left out"));
                return Ok(());
            }
            if let Some(stated) = stated
                && self.len_frames - told_frames > stated / 100
            {
                told_frames = self.len_frames;
                #[expect(clippy::cast_precision_loss, reason = "a share for a bar")]
                tell((self.len_frames as f64 / stated as f64).min(1.0));
            }
        }
    }
}

/// The pass with the second reading on a thread of its own.
fn beside(
    mut second: SecondMeter,
    pass: &mut Pass,
    tell: Tell<'_>,
) -> Result<Option<SecondMeter>, CheckError> {
    thread::scope(|scope| {
        let (send, receive): (SyncSender<Vec<Vec<f32>>>, _) = sync_channel(BLOCKS_AHEAD);
        let reading = scope.spawn(move || {
            while let Ok(planes) = receive.recv() {
                second.push(&planes);
            }
            second
        });
        // Where the other side ended early its panic is told when it is joined.
        let passed = pass.run(tell, |block| drop(send.send(block.planes().to_vec())));
        drop(send);
        let second = reading.join().map_err(|_| CheckError::Panic)?;
        passed.map(|()| Some(second))
    })
}
