//! `plimsoll compare`: two versions of a file, OLD and NEW, aligned in time by correlation and
//! matched in loudness: what changed, and what is left of NEW less OLD.
//!
//! ```text
//! files ─> sound (one rate, one count of channels)
//!            ├─> envelope ─> likely lags ─> anchors ─> Alignment
//!            └─> null, on that alignment: gain, what is left, where
//! files ─> measured: the meters of a check, on OLD's song time ─> Pair (the song, each section)
//! all of it ─> findings: what happened, in words
//! ```
//!
//! Files are read in a stream, some times over: what is kept grows by some 0.7 MB a minute.

mod anchors;
mod delay;
mod envelope;
mod findings;
mod measured;
mod null;
mod sound;

pub use anchors::{Alignment, Moved};
pub use findings::Finding;
pub(super) use findings::{TONE_COUNTS_DB, changed_bands, signed};
pub use measured::{Pair, Row, Through};
pub use null::{Loudest, Null, Stretch};

use super::{CheckError, sections};
use crate::section::Marker;
use envelope::Envelope;
use null::Cells;
use plimsoll_reader::Reader;
use sound::{Form, Sound};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::thread;

/// Shorter files are not compared, seconds: it takes a second to find out where one lies on the
/// other. The project's own choice, no source.
pub const SHORTEST_S: f64 = 1.0;

/// Two versions of a file.
pub struct Comparison {
    /// OLD and NEW.
    pub paths: [PathBuf; 2],
    /// Both through the meters.
    pub files: [Through; 2],
    /// The rate that lags and null are told in, frames per second; `None` if the channels of the
    /// files have nothing to do with each other, and figures alone are compared.
    pub rate_hz: Option<u32>,
    /// Which of them are silent.
    pub silent: [bool; 2],
    /// How NEW lies on OLD; `None` if it is not the same recording.
    pub alignment: Option<Alignment>,
    /// Where each begins and ends.
    pub ends: Option<Ends>,
    /// What is left of NEW less OLD.
    pub null: Option<Null>,
    /// What both measure: the whole of what both have, then each section. Each as a whole where
    /// they are not the same recording.
    pub pairs: Vec<Pair>,
    /// What kept something from being compared, a line each.
    pub warnings: Vec<String>,
}

/// What one file has and the other has not, at either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ends {
    /// Frames that NEW has before OLD begins; below zero: frames of OLD before NEW begins.
    pub head_frames: i64,
    /// Whether they sound.
    pub head_sounds: bool,
    /// Frames that NEW has after OLD ended; below zero: frames of OLD after NEW ended.
    pub tail_frames: i64,
    /// Whether they sound.
    pub tail_sounds: bool,
}

/// Why two files are not compared.
#[derive(Debug)]
pub struct NotCompared {
    /// The file that it lies with.
    pub path: PathBuf,
    /// Why.
    pub error: Box<CheckError>,
}

/// Compares the file at `new` with that at `old`. Sections begin at `markers`, in the song time of
/// OLD; without, at OLD's own. `tell` is told how much is done, 0 to 1.
///
/// # Errors
/// A file that cannot be read or measured, or is shorter than [`SHORTEST_S`].
pub fn compare(
    [old, new]: [&Path; 2],
    markers: Option<&[Marker]>,
    tell: &(dyn Fn(f64) + Sync),
) -> Result<Comparison, NotCompared> {
    let run = || compare_files([old, new], markers, tell);
    // A fault of ours is told in one line, like one of the file.
    let panicked =
        |_| Err(NotCompared { path: new.to_owned(), error: Box::new(CheckError::Panic) });
    catch_unwind(AssertUnwindSafe(run)).unwrap_or_else(panicked)
}

fn compare_files(
    paths: [&Path; 2],
    markers: Option<&[Marker]>,
    tell: &(dyn Fn(f64) + Sync),
) -> Result<Comparison, NotCompared> {
    let [old, new] = paths;
    let at = |path: &Path| {
        let path = path.to_owned();
        move |error: CheckError| NotCompared { path, error: Box::new(error) }
    };
    let facts = |path: &Path| {
        let opened = Reader::open(path).map(|reader| reader.facts().clone());
        opened.map_err(CheckError::from).map_err(at(path))
    };
    let [old_facts, new_facts] = [facts(old)?, facts(new)?];
    let form = Form::of(&old_facts, &new_facts);

    let mut lies = None;
    let mut silent = [false; 2];
    if let Some(form) = form {
        let envelope = |path| Sound::open(path, form).and_then(Envelope::read).map_err(at(path));
        let (old_envelope, new_envelope) = both(|| envelope(old), || envelope(new));
        let envelopes = [old_envelope?, new_envelope?];
        for (envelope, path) in envelopes.iter().zip(paths) {
            let length_s = seconds(envelope.len_frames(), form.rate_hz);
            if length_s < SHORTEST_S {
                return Err(at(path)(CheckError::TooShort { length_s, needs_s: SHORTEST_S }));
            }
        }
        silent = [envelopes[0].is_silent(), envelopes[1].is_silent()];
        if silent == [true, true] {
            return Err(at(new)(CheckError::Silent));
        }
        tell(0.2);
        let found = anchors::align(paths, form, [&envelopes[0], &envelopes[1]]);
        lies = found.map_err(at(new))?.map(|alignment| (form, alignment, envelopes));
    }
    tell(0.4);

    // NEW is measured where it lies on OLD, to a frame of its own.
    let first = lies.as_ref().map_or(0, |(form, alignment, _)| {
        let later_s = seconds(alignment.lag_frames, form.rate_hz)
            + alignment.part_frame / f64::from(form.rate_hz);
        #[expect(clippy::cast_possible_truncation, reason = "frames of ten hours at most")]
        let first = (later_s * f64::from(new_facts.rate_hz)).round() as i64;
        first
    });
    let measure = |path, first| Through::read(path, first).map_err(at(path));
    let (old_file, new_file) = both(|| measure(old, 0), || measure(new, first));
    let files = [old_file?, new_file?];
    tell(0.8);

    let null = lies.as_ref().map(|(form, alignment, envelopes)| {
        let lens = [envelopes[0].len_frames(), envelopes[1].len_frames()];
        let cells = Cells::read(paths, *form, lens, alignment).map_err(at(new))?;
        Ok(Null::of(&cells, files[0].lsb().max(files[1].lsb())))
    });
    let null = null.transpose()?;
    tell(1.0);

    let mut warnings = Vec::new();
    let own = || sections::own_markers(old, &mut Vec::new());
    let markers = markers.map_or_else(own, <[Marker]>::to_vec);
    let common_s = match &null {
        Some(null) => {
            let rate_hz = form.map_or(1, |form| form.rate_hz);
            [seconds(null.frames.start, rate_hz), seconds(null.frames.end, rate_hz)]
        }
        None => [0.0, files[0].length_s().max(files[1].length_s())],
    };
    // Sections of OLD have no place in another recording.
    let markers = if null.is_some() { markers } else { Vec::new() };
    let (pairs, files) =
        measured::pairs(files, common_s, &markers, &mut warnings).map_err(at(old))?;
    let ends = lies.as_ref().map(|(_, alignment, envelopes)| ends(alignment, envelopes));
    Ok(Comparison {
        paths: paths.map(Path::to_owned),
        rate_hz: form.map(|form| form.rate_hz),
        alignment: lies.map(|(_, alignment, _)| alignment),
        files,
        silent,
        ends,
        null,
        pairs,
        warnings,
    })
}

impl Comparison {
    /// What happened, in words; nothing where both are the same within the limits that the manual
    /// states.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        findings::findings(self)
    }
}

fn ends(alignment: &Alignment, envelopes: &[Envelope; 2]) -> Ends {
    let [old, new] = envelopes;
    let lag = alignment.lag_frames;
    // After an edit the end lies where the last part does.
    let moved = alignment.moved.last().filter(|moved| {
        let last = old.loud_seconds().last().map_or(0, |at| at + 1);
        moved.frames.end >= last
    });
    let end_lag = lag + moved.map_or(0, |moved| moved.by_frames);
    let old_end = old.len_frames() + end_lag;
    let tail_frames = new.len_frames() - old_end;
    let sounds = |envelope: &Envelope, from: i64, to: i64| envelope.sounds(from..to);
    Ends {
        head_frames: lag,
        head_sounds: if lag > 0 { sounds(new, 0, lag) } else { sounds(old, 0, -lag) },
        tail_frames,
        tail_sounds: if tail_frames > 0 {
            sounds(new, old_end, new.len_frames())
        } else {
            sounds(old, new.len_frames() - end_lag, old.len_frames())
        },
    }
}

/// Runs both at once.
fn both<T: Send>(one: impl FnOnce() -> T + Send, other: impl FnOnce() -> T) -> (T, T) {
    thread::scope(|scope| {
        let one = scope.spawn(one);
        let other = other();
        match one.join() {
            Ok(one) => (one, other),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// Frames as seconds.
#[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
pub(super) fn seconds(frames: i64, rate_hz: u32) -> f64 {
    frames as f64 / f64::from(rate_hz)
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
