//! Where one file lies on the other, to parts of a sample.
//!
//! Loud stretches of a second out of OLD, spread over the song, are looked for in NEW near every
//! likely lag. It is the same recording if at least half of the stretches go
//! together (correlation of 0.5 and more) at one lag within 1 ms: a tone that two songs share goes
//! together at many lags, but not at the same one throughout. All bounds are the project's own
//! choice, no source.

mod correlate;
mod part;

use super::envelope::{Envelope, likely_lags};
use super::sound::{Form, Sound};
use crate::check::CheckError;
use correlate::{Correlator, Found};
use std::ops::Range;
use std::path::Path;

/// A stretch goes together from this correlation on.
const GOES_TOGETHER: f64 = 0.5;

/// From this on nobody looks elsewhere.
const SURELY: f64 = 0.95;

/// Parts of a second that lags may differ by and be one: 1 ms.
const SAME_LAG_PARTS: i64 = 1_000;

/// A stretch is looked for so far on either side of a likely lag: a tenth of a second.
const MARGIN_PARTS: i64 = 10;

/// How NEW lies on OLD.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// Frames by which NEW is later than OLD: whole ones.
    pub lag_frames: i64,
    /// The part of a frame that it is later than that, −1 to 1; 0 unless it makes a difference.
    pub part_frame: f64,
    /// Whether left of OLD is right of NEW.
    pub swapped: bool,
    /// Mean correlation of the stretches that go together at this lag.
    pub correlation: f64,
    /// How many stretches go together at this lag, and of how many.
    pub stretches: [usize; 2],
    /// Where the song lies at another lag: an edit in between.
    pub moved: Vec<Moved>,
}

/// A part of the song that lies at another lag than the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Frames of OLD that are known to be part of it.
    pub frames: Range<i64>,
    /// Frames by which it is later in NEW than the rest.
    pub by_frames: i64,
}

/// A stretch that goes together at a lag.
#[derive(Debug, Clone, Copy)]
struct Match {
    stretch: usize,
    lag: i64,
    found: Found,
}

/// Finds out how the file at `new` lies on that at `old`; `None` if it is not the same recording.
///
/// # Errors
/// A file cannot be read.
pub fn align(
    [old, new]: [&Path; 2],
    form: Form,
    envelopes: [&Envelope; 2],
) -> Result<Option<Alignment>, CheckError> {
    let second = i64::from(form.rate_hz);
    let margin = second / MARGIN_PARTS;
    let starts = envelopes[0].loud_seconds();
    let stretches: Vec<Range<i64>> = starts.iter().map(|&at| at..at + second).collect();
    let near = |of: &[usize], lag: i64| -> Vec<Range<i64>> {
        let with_margins = |at: &Range<i64>| at.start + lag - margin..at.end + lag + margin;
        of.iter().filter_map(|&stretch| stretches.get(stretch).map(with_margins)).collect()
    };
    let all: Vec<usize> = (0..stretches.len()).collect();
    let old = take(old, form, &near(&all, 0))?;
    let correlator = Correlator::new(second, margin);

    let mut matches: Vec<Match> = Vec::new();
    for lag in likely_lags(envelopes[0], envelopes[1]) {
        let is_sure = |stretch: usize| {
            matches.iter().any(|one| one.stretch == stretch && one.found.correlation > SURELY)
        };
        let open: Vec<usize> = all.iter().copied().filter(|&stretch| !is_sure(stretch)).collect();
        if open.is_empty() {
            break;
        }
        let new = take(new, form, &near(&open, lag))?;
        for (&stretch, new) in open.iter().zip(&new) {
            let found = old.get(stretch).and_then(|old| correlator.find(old, new));
            let found = found.filter(|found| found.correlation >= GOES_TOGETHER);
            matches.extend(found.map(|found| Match { stretch, lag: lag + found.offset, found }));
        }
    }

    let new_frames = envelopes[1].len_frames();
    let Some(group) = best_group(&matches, &stretches, second / SAME_LAG_PARTS, new_frames) else {
        return Ok(None);
    };
    let mut lag_frames = median(&group);
    let same: Vec<usize> = group.iter().map(|one| one.stretch).collect();
    let swapped = group.iter().filter(|one| one.found.swapped).count() * 2 > group.len();
    let part_at = |lag_frames: i64| -> Result<(f64, bool), CheckError> {
        let new = take(new, form, &near(&same, lag_frames))?;
        let pairs = same.iter().filter_map(|&stretch| old.get(stretch)).zip(&new);
        Ok(part::of(&pairs.collect::<Vec<_>>(), margin, swapped))
    };
    let (mut part_frame, mut is_worth_it) = part_at(lag_frames)?;
    // Where sound was made anew, as by a lossy code, the nearest frame may be the next one.
    if part_frame.abs() > 0.5 {
        lag_frames += if part_frame > 0.0 { 1 } else { -1 };
        (part_frame, is_worth_it) = part_at(lag_frames)?;
    }
    let count = u32::try_from(group.len()).map_or(1.0, f64::from);
    Ok(Some(Alignment {
        lag_frames,
        part_frame: if is_worth_it { part_frame } else { 0.0 },
        swapped,
        correlation: group.iter().map(|one| one.found.correlation).sum::<f64>() / count,
        stretches: [group.len(), reachable(&stretches, lag_frames, new_frames)],
        moved: moved(&matches, &same, &stretches, lag_frames, second / SAME_LAG_PARTS),
    }))
}

/// Frames of `wanted` stretches, in rising order, out of the file at `path`; silence where it has
/// none.
fn take(path: &Path, form: Form, wanted: &[Range<i64>]) -> Result<Vec<Vec<Vec<f32>>>, CheckError> {
    const BLOCK_FRAMES: usize = 4_096;
    let mut sound = Sound::open(path, form)?;
    let len = |range: &Range<i64>| usize::try_from(range.end - range.start).unwrap_or(0);
    let mut taken: Vec<Vec<Vec<f32>>> =
        wanted.iter().map(|range| vec![vec![0.0; len(range)]; form.channels.min(2)]).collect();
    let end = wanted.iter().map(|range| range.end).max().unwrap_or(0);
    let mut planes = vec![Vec::new(); form.channels];
    let mut at = 0_i64;
    while at < end {
        let frames = sound.read(BLOCK_FRAMES, &mut planes)?;
        if frames == 0 {
            break;
        }
        let next = at + i64::try_from(frames).unwrap_or(0);
        for (range, taken) in wanted.iter().zip(&mut taken) {
            let (from, to) = (range.start.max(at), range.end.min(next));
            if from >= to {
                continue;
            }
            let within = |start: i64| {
                let place = |frame: i64| usize::try_from(frame - start).unwrap_or(0);
                place(from)..place(to)
            };
            for (taken, plane) in taken.iter_mut().zip(&planes) {
                let places = taken.get_mut(within(range.start)).zip(plane.get(within(at)));
                if let Some((to, from)) = places {
                    to.copy_from_slice(from);
                }
            }
        }
        at = next;
    }
    Ok(taken)
}

/// Stretches of OLD that NEW has at `lag`.
fn reachable(stretches: &[Range<i64>], lag: i64, new_frames: i64) -> usize {
    let is_there = |at: &&Range<i64>| at.start + lag >= 0 && at.end + lag <= new_frames;
    stretches.iter().filter(is_there).count()
}

/// The matches within `width` frames of lag that are the most together, one for each stretch;
/// `None` unless they are half of the stretches that NEW has there.
fn best_group(
    matches: &[Match],
    stretches: &[Range<i64>],
    width: i64,
    new_frames: i64,
) -> Option<Vec<Match>> {
    let groups = matches.iter().map(|first| {
        let mut group: Vec<Match> = Vec::new();
        let near = matches.iter().filter(|one| (first.lag..=first.lag + width).contains(&one.lag));
        for one in near {
            match group.iter_mut().find(|known| known.stretch == one.stretch) {
                Some(known) if known.found.correlation < one.found.correlation => *known = *one,
                Some(_) => {}
                None => group.push(*one),
            }
        }
        group
    });
    let together = |group: &[Match]| group.iter().map(|one| one.found.correlation).sum::<f64>();
    let mut best = groups.max_by(|one, other| together(one).total_cmp(&together(other)))?;
    best.sort_by_key(|one| one.stretch);
    let there = reachable(stretches, median(&best), new_frames);
    (best.len() * 2 >= there).then_some(best)
}

/// The middle lag of a group that is not empty.
fn median(group: &[Match]) -> i64 {
    let mut lags: Vec<i64> = group.iter().map(|one| one.lag).collect();
    lags.sort_unstable();
    lags.get(lags.len() / 2).copied().unwrap_or(0)
}

/// Runs of two and more stretches beside the group, next to each other, at one other lag.
fn moved(
    matches: &[Match],
    same: &[usize],
    stretches: &[Range<i64>],
    lag: i64,
    width: i64,
) -> Vec<Moved> {
    let mut runs: Vec<Moved> = Vec::new();
    let mut last: Option<(usize, i64, usize)> = None;
    for (stretch, at) in stretches.iter().enumerate().filter(|(at, _)| !same.contains(at)) {
        let here = matches.iter().filter(|one| one.stretch == stretch);
        let best = here.max_by(|a, b| a.found.correlation.total_cmp(&b.found.correlation));
        let Some(best) = best else {
            last = None;
            continue;
        };
        let goes_on = last
            .filter(|&(before, lag, _)| before + 1 == stretch && (lag - best.lag).abs() <= width);
        let count = goes_on.map_or(1, |(_, _, count)| count + 1);
        last = Some((stretch, best.lag, count));
        match runs.last_mut() {
            Some(run) if count > 1 => run.frames.end = at.end,
            _ => runs.push(Moved { frames: at.clone(), by_frames: best.lag - lag }),
        }
    }
    // A single stretch may be like another one of a song that repeats itself.
    let second = stretches.first().map_or(0, |at| at.end - at.start);
    runs.retain(|run| run.frames.end - run.frames.start > second);
    runs
}
