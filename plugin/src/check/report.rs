//! What a check found out, as plain data, and the check of several files.

use super::after_encode::AfterEncode;
use super::delivery::Delivery;
use super::measure::measure_track;
use super::{CheckError, Options, Release, SecondReading};
use crate::meters::layout::Layout;
use crate::section::{LogEntry, Measured, PeakEvent};
use crate::snapshot::Snapshot;
use crate::target::{Distance, Target, Verdict};
use crate::units::SampleRate;
use plimsoll_reader::FileFacts;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// A file against one target.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetVerdict {
    /// The target.
    pub target: Target,
    /// How far the file is from it.
    pub distance: Distance,
}

/// What one file measures.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// What its header says.
    pub file: FileFacts,
    /// Its sample rate.
    pub rate: SampleRate,
    /// Its channels.
    pub layout: Layout,
    /// Frames that were read.
    pub len_frames: u64,
    /// The same in seconds.
    pub length_s: f64,
    /// All that the plugin measures.
    pub measured: Measured,
    /// One entry for each target, in the order in which they were asked for.
    pub verdicts: Vec<TargetVerdict>,
    /// The second reading; `None` if it was left out.
    pub second: Option<SecondReading>,
    /// The section log; empty without sections.
    pub sections: Vec<LogEntry>,
    /// Places where the true peak is over full scale, highest first, 200 ms apart at least.
    pub overs: Vec<PeakEvent>,
    /// Hops of 10 ms with a true peak over full scale.
    pub over_hops: usize,
    /// Facts of delivery.
    pub delivery: Delivery,
    /// What arrives after each lossy encode that was asked for.
    pub after_encode: Vec<AfterEncode>,
    /// A snapshot of it, if one was asked for.
    pub snapshot: Option<Box<Snapshot>>,
    /// What was wrong with the file and did not keep it from being measured, a line each.
    pub warnings: Vec<String>,
    /// Energies of its gating blocks.
    pub block_energies: Vec<f64>,
}

/// How a check ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Every file is within every target.
    Within,
    /// A file is not within a target.
    NotWithin,
    /// A file could not be measured, or is too short or too quiet to say.
    NotMeasured,
}

impl Status {
    /// The exit status of the program.
    #[must_use]
    pub const fn exit_code(self) -> u8 {
        match self {
            Self::Within => 0,
            Self::NotWithin => 1,
            Self::NotMeasured => 2,
        }
    }
}

impl Track {
    /// How the file stands: the worst of its targets.
    #[must_use]
    pub fn status(&self) -> Status {
        let statuses = self.verdicts.iter().map(|verdict| match verdict.distance.verdict() {
            Verdict::Within => Status::Within,
            Verdict::NotWithin => Status::NotWithin,
            Verdict::NotYet => Status::NotMeasured,
        });
        statuses.max().unwrap_or(Status::Within)
    }
}

/// One file of a check.
#[derive(Debug)]
pub struct TrackOutcome {
    /// The file.
    pub path: PathBuf,
    /// What it measures, or why it is not measured.
    pub outcome: Result<Track, CheckError>,
}

/// Everything that a check found out.
#[derive(Debug)]
pub struct CheckReport {
    /// The files, in the order in which they were given.
    pub tracks: Vec<TrackOutcome>,
    /// All of them together; `None` for fewer than two.
    pub release: Option<Release>,
}

impl CheckReport {
    /// The worst of all files.
    #[must_use]
    pub fn status(&self) -> Status {
        let statuses = self.tracks.iter().map(|track| match &track.outcome {
            Ok(track) => track.status(),
            Err(_) => Status::NotMeasured,
        });
        statuses.max().unwrap_or(Status::NotMeasured)
    }
}

/// Told of a file, by its index, how much is done, 0 to 1.
pub type TellOf<'a> = &'a (dyn Fn(usize, f64) + Sync);

/// Checks `paths`: several files side by side, a single one with its second reading beside it.
#[must_use]
pub fn check(paths: &[PathBuf], options: &Options, tell: TellOf<'_>) -> CheckReport {
    let cores = thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let workers = cores.min(paths.len()).max(1);
    let two_threads = cores > workers;
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, Result<Track, CheckError>)>> = Mutex::new(Vec::new());
    thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(path) = paths.get(index) else {
                        return;
                    };
                    let tell = |share| tell(index, share);
                    let outcome = measure_caught(path, options, two_threads, &tell);
                    if let Ok(mut done) = done.lock() {
                        done.push((index, outcome));
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_default();
    done.sort_by_key(|(index, _)| *index);
    let measured: Vec<(usize, &Track)> = done
        .iter()
        .filter_map(|(index, outcome)| outcome.as_ref().ok().map(|track| (*index, track)))
        .collect();
    let release = Release::of(&measured);
    let tracks = paths.iter().cloned().zip(done);
    let tracks = tracks.map(|(path, (_, outcome))| TrackOutcome { path, outcome });
    CheckReport { tracks: tracks.collect(), release }
}

/// A fault of ours in one file must not take the others with it.
fn measure_caught(
    path: &Path,
    options: &Options,
    two_threads: bool,
    tell: super::measure::Tell<'_>,
) -> Result<Track, CheckError> {
    catch_unwind(AssertUnwindSafe(|| measure_track(path, options, two_threads, tell)))
        .unwrap_or(Err(CheckError::Panic))
}
