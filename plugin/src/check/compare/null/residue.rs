//! Gain, residue and places, out of the sums.

use super::{CELLS_PER_SECOND, Cells, Sums};
use crate::units::{Db, Dbfs, energy_to_db};
use std::ops::Range;

/// What is left this far below the song is nothing, as a power ratio: −80 dB. That is also what a
/// gain of 0.0009 dB leaves. The project's own choice, no source.
pub const NOTHING: f64 = 1e-8;

/// Gains of channels, and of single cells, count of their own if they bring what is left down to
/// this: by 6 dB. The project's own choice, no source.
const WORTH_IT: f64 = 0.25;

/// A stretch of which so little is left with gains of its own is changed in level alone: −50 dB,
/// what a slope of 1 dB within a cell leaves. The project's own choice, no source.
const LEVEL_ALONE: f64 = 1e-5;

/// Differing places closer than this are one stretch: 1 s. The project's own choice, no source.
const JOIN_CELLS: usize = 10;

/// Loudest places that are named.
const LOUDEST: usize = 5;

/// A channel that lost this much, as a power ratio, is gone: 60 dB. As above.
const GONE: f64 = 1e-6;

/// What is left of NEW less OLD.
#[derive(Debug, Clone, PartialEq)]
pub struct Null {
    /// Frames of OLD that both files have.
    pub frames: Range<i64>,
    /// Whether every sample is the same in both.
    pub is_same: bool,
    /// Gain from OLD to NEW that was taken away, dB.
    pub gain: Db,
    /// Whether that gain is one: it alone would leave more than nothing, and more than what half of
    /// the cells differ by whatever the gain.
    pub gain_counts: bool,
    /// The same for each channel of OLD, where one for all would leave 6 dB more.
    pub channel_gains: Option<Vec<Db>>,
    /// The channels of OLD that are turned over in NEW.
    pub turned_over: Vec<bool>,
    /// The channels of OLD that NEW has no more.
    pub gone: Vec<bool>,
    /// What is left to all of NEW, dB; −∞ if nothing is.
    pub depth: Db,
    /// Level (RMS) of what is left, dBFS.
    pub level: Dbfs,
    /// What is left below this level counts as nothing, dBFS.
    pub limit: Dbfs,
    /// Where more than that is left, in song order.
    pub stretches: Vec<Stretch>,
    /// The 100 ms in which the most is left, 1 s apart at least, highest first.
    pub loudest: Vec<Loudest>,
}

/// A stretch of song time in which the files differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Frames of OLD.
    pub frames: Range<i64>,
    /// What is left to NEW within it, dB.
    pub depth: Db,
    /// How much louder NEW is there than the gain of the whole makes it, where nothing but level
    /// changed.
    pub level_by: Option<Db>,
}

/// A place at which much is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Loudest {
    /// The frame of OLD at which its 100 ms begin.
    pub frame: i64,
    /// Level (RMS) of what is left, dBFS.
    pub level: Dbfs,
}

impl Null {
    /// The null of `cells`; `lsb` is the step of the coarser file, full scale = 1.0.
    #[must_use]
    pub fn of(cells: &Cells, lsb: f64) -> Self {
        let channels = &cells.channels;
        let totals: Vec<Sums> = channels.iter().map(|sums| total(sums)).collect();
        let turned_over: Vec<bool> = totals.iter().map(|sums| sums.ab < 0.0).collect();
        let loudest = totals.iter().map(|sums| sums.aa.max(sums.bb)).fold(0.0, f64::max);
        let gone: Vec<bool> = totals
            .iter()
            .map(|sums| sums.bb <= sums.aa * GONE && sums.aa > loudest * GONE)
            .collect();

        // Channels turned back, and those that are gone left out of the common gain.
        let turned: Vec<Vec<Sums>> = channels
            .iter()
            .zip(&turned_over)
            .map(|(sums, &over)| sums.iter().map(|sums| turn(*sums, over)).collect())
            .collect();
        let there = || turned.iter().zip(&gone).filter(|(_, gone)| !**gone).map(|(sums, _)| sums);
        let gain = median_gain(&sum_channels(there()));
        let own: Vec<f64> = turned.iter().map(|sums| median_gain(sums)).collect();
        let left_with = |gains: &[f64]| -> f64 {
            let pairs = turned.iter().zip(gains);
            pairs.map(|(sums, &gain)| sums.iter().map(|sums| sums.left(gain)).sum::<f64>()).sum()
        };
        // Nothing is expected of a channel that is gone.
        let common: Vec<f64> = gone.iter().map(|&gone| if gone { 0.0 } else { gain }).collect();
        let are_own = left_with(&own) < left_with(&common) * WORTH_IT && !gone.contains(&true);
        let gains = if are_own { &own } else { &common };

        let count = turned.first().map_or(0, Vec::len);
        let places: Vec<Place> =
            (0..count).map(|index| Place::of(&turned, gains, cells, index)).collect();
        let all = places.iter().fold(Place::NONE, |all, place| all.plus(place));
        let alone = (gain - 1.0).powi(2);
        let limit = (lsb * lsb).max(NOTHING * all.new / all.samples.max(1.0));
        Self {
            is_same: cells.is_same,
            frames: cells.frames.clone(),
            gain: decibels(gain),
            gain_counts: alone > NOTHING && alone > typical(&places),
            channel_gains: are_own.then(|| own.iter().map(|&gain| decibels(gain)).collect()),
            turned_over,
            gone,
            depth: Db(energy_to_db(ratio(all.left, all.new))),
            level: Dbfs(energy_to_db(ratio(all.left, all.samples))),
            limit: Dbfs(energy_to_db(limit)),
            stretches: stretches(&places, limit),
            loudest: loudest_places(&places),
        }
    }

    /// Whether nothing is left but what counts as nothing.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.stretches.is_empty()
    }

    /// Whether the files differ from beginning to end, but for a second.
    #[must_use]
    pub fn is_throughout(&self, rate_hz: i64) -> bool {
        let different: i64 =
            self.stretches.iter().map(|stretch| stretch.frames.end - stretch.frames.start).sum();
        different * 10 >= (self.frames.end - self.frames.start - rate_hz) * 9
    }
}

/// What is left in one cell, all channels.
#[derive(Debug, Clone)]
struct Place {
    frames: Range<i64>,
    samples: f64,
    left: f64,
    /// What is left with the gain that leaves the least here.
    least: f64,
    /// Energy of OLD with the gain of the whole, and with the gain that leaves the least here.
    expected: f64,
    fitted: f64,
    new: f64,
}

impl Place {
    const NONE: Self = Self {
        frames: 0..0,
        samples: 0.0,
        left: 0.0,
        least: 0.0,
        expected: 0.0,
        fitted: 0.0,
        new: 0.0,
    };

    fn of(channels: &[Vec<Sums>], gains: &[f64], cells: &Cells, index: usize) -> Self {
        let frames = cells.frames_of(index);
        let mut place = Self { frames: frames.clone(), ..Self::NONE };
        let len = u32::try_from(frames.end - frames.start).map_or(0.0, f64::from);
        for (sums, gain) in channels.iter().zip(gains) {
            let Some(sums) = sums.get(index) else { continue };
            place.samples += len;
            place.left += sums.left(*gain);
            place.least += sums.least();
            place.expected += gain * gain * sums.aa;
            place.fitted += if sums.aa > 0.0 { sums.ab * sums.ab / sums.aa } else { 0.0 };
            place.new += sums.bb;
        }
        place
    }

    fn plus(mut self, other: &Self) -> Self {
        self.samples += other.samples;
        self.left += other.left;
        self.least += other.least;
        self.expected += other.expected;
        self.fitted += other.fitted;
        self.new += other.new;
        self
    }

    fn differs(&self, limit: f64) -> bool {
        self.left > limit * self.samples
    }
}

fn total(sums: &[Sums]) -> Sums {
    sums.iter().fold(Sums::default(), |total, sums| total.plus(*sums))
}

fn turn(sums: Sums, over: bool) -> Sums {
    if over { Sums { ab: -sums.ab, ..sums } } else { sums }
}

fn sum_channels<'a>(channels: impl Iterator<Item = &'a Vec<Sums>>) -> Vec<Sums> {
    channels.fold(Vec::new(), |mut sum, channel| {
        sum.resize(channel.len(), Sums::default());
        sum.iter_mut().zip(channel).for_each(|(sum, one)| *sum = sum.plus(*one));
        sum
    })
}

/// The median of the gains of all cells; 1 for silence. Each is weighed with its energy, and with
/// the fourth power of the share of NEW that OLD explains: where NEW is something else, there is
/// no gain to speak of.
fn median_gain(cells: &[Sums]) -> f64 {
    let sounding = cells.iter().filter(|sums| sums.aa > 0.0 && sums.bb > 0.0);
    let mut gains: Vec<[f64; 2]> = sounding
        .map(|sums| {
            let explained = sums.ab * sums.ab / (sums.aa * sums.bb);
            [sums.ab / sums.aa, sums.aa * explained.powi(4)]
        })
        .collect();
    gains.sort_unstable_by(|one, other| one[0].total_cmp(&other[0]));
    let half = gains.iter().map(|[_, weight]| weight).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    let middle = gains.iter().find(|[_, weight]| {
        sum += weight;
        sum >= half
    });
    middle.map_or(1.0, |[gain, _]| *gain)
}

/// Runs of cells that differ.
fn stretches(places: &[Place], limit: f64) -> Vec<Stretch> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (index, place) in places.iter().enumerate().filter(|(_, place)| place.differs(limit)) {
        debug_assert!(place.samples > 0.0, "an empty cell differs");
        match runs.last_mut() {
            Some(run) if index - run.end < JOIN_CELLS => run.end = index + 1,
            _ => runs.push(index..index + 1),
        }
    }
    runs.into_iter().filter_map(|run| stretch(places.get(run)?, limit)).collect()
}

fn stretch(places: &[Place], limit: f64) -> Option<Stretch> {
    let (first, last) = (places.first()?, places.last()?);
    let sum = |places: &[Place]| places.iter().fold(Place::NONE, |sum, place| sum.plus(place));
    let all = sum(places);
    // Cells at either end hold some of what was not changed.
    let inner = match places.len() {
        ..=4 => sum(places),
        len => sum(places.get(1..len - 1)?),
    };
    let is_level = inner.expected > 0.0
        && inner.least < inner.left * WORTH_IT
        && inner.least <= (LEVEL_ALONE * inner.new).max(limit * inner.samples);
    Some(Stretch {
        frames: first.frames.start..last.frames.end,
        depth: Db(energy_to_db(ratio(all.left, all.new))),
        level_by: is_level.then(|| Db(energy_to_db(inner.fitted / inner.expected))),
    })
}

/// The places where the most is left.
fn loudest_places(places: &[Place]) -> Vec<Loudest> {
    let mut order: Vec<&Place> = places.iter().filter(|place| place.left > 0.0).collect();
    order.sort_by(|one, other| {
        let level = |place: &Place| ratio(place.left, place.samples);
        level(other).total_cmp(&level(one))
    });
    let mut found: Vec<Loudest> = Vec::new();
    let apart = |place: &Place| CELLS_PER_SECOND * (place.frames.end - place.frames.start);
    for place in order {
        let near = |known: &Loudest| (known.frame - place.frames.start).abs() < apart(place);
        if !found.iter().any(near) {
            let level = Dbfs(energy_to_db(ratio(place.left, place.samples)));
            found.push(Loudest { frame: place.frames.start, level });
        }
        if found.len() == LOUDEST {
            break;
        }
    }
    found
}

/// What half of the cells that sound do not exceed: the least that any gain would leave, to NEW.
fn typical(places: &[Place]) -> f64 {
    let sounding = places.iter().filter(|place| place.new > 0.0);
    let mut least: Vec<f64> = sounding.map(|place| place.least / place.new).collect();
    least.sort_unstable_by(f64::total_cmp);
    least.get(least.len() / 2).copied().unwrap_or(0.0)
}

fn ratio(part: f64, whole: f64) -> f64 {
    if part > 0.0 { part / whole } else { 0.0 }
}

fn decibels(gain: f64) -> Db {
    Db(2.0 * energy_to_db(gain.abs()))
}
