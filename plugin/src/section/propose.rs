//! A proposal of section borders, from changes in loudness, width and crest factor.
//!
//! The method is the novelty of a self-similarity matrix under a checkerboard kernel (J. Foote,
//! "Automatic audio segmentation using a measure of audio novelty", 2000; from memory). The song
//! is cut into frames of 1 s, each with three features. Two frames are alike by
//! exp(−d²/2), d the distance of their features in the scales below. At each second the 8 s
//! before and the 8 s after are held against each other: how much more alike are the frames of
//! one side among themselves than those of different sides? Where that is highest, the same is
//! asked in steps of 100 ms, or of the bar lines around, with the frames laid from there.
//!
//! What it cannot know: whether a fill before a chorus belongs to the verse. Without bars such a
//! border may lie at the start of the fill.

mod refine;

use super::measure::StereoSums;
use super::{BarGrid, MAX_SECTIONS, MIN_SECTION_S, NewSection, Place, float};
use crate::loudness::{Analysis, HopRange};
use crate::record::{HOPS_PER_SECOND, hop_seconds};
use crate::units::{Lufs, amplitude_to_db, energy_to_db};

/// Differences that make two frames clearly unlike (similarity 0.61). All three are the project's
/// own choice, no source: loudness in LU, side to mid in dB, crest factor in dB.
const SCALES: [f64; 3] = [2.0, 4.0, 4.0];

/// Lowest values of the features: below these a change is not heard as one. LUFS (the absolute
/// gate of ITU-R BS.1770-5), dB and dB (the project's own choice, no source).
const FLOORS: [f64; 3] = [-70.0, -30.0, 0.0];
/// Highest values of the features, where a feature could be infinite. The project's own choice.
const CEILINGS: [f64; 3] = [20.0, 30.0, 60.0];

/// Frames on each side of a border that are held against each other. The project's own choice,
/// no source: two to four bars at common tempos.
const SIDE_FRAMES: usize = 8;

/// Least distance of two borders, frames: 5 s. The project's own choice, no source.
const APART_FRAMES: usize = 5;

/// Borders less sure than this are not proposed. The project's own choice, no source.
const LEAST_SURE: f64 = 0.1;

/// A proposed border between two sections.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Border {
    /// Where the new section starts: the surest bar line if bars are known.
    pub place: Place,
    /// Where it is surest in steps of 100 ms, bars aside, seconds.
    pub measured_s: f64,
    /// How sure it is at [`Self::place`], 0 to 1: mean likeness of the seconds within the 8 s before and within the
    /// 8 s after, minus mean likeness of the seconds across, near ones weighing more. 1: each
    /// side is uniform and the two have nothing in common. 0: no difference.
    pub sure: f64,
}

/// Proposed borders, to be accepted, edited or thrown away.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proposal {
    /// Where the first section starts: where the song was first measured; `None` if it was not.
    pub start: Option<Place>,
    /// The borders, in song order.
    pub borders: Vec<Border>,
}

impl Proposal {
    /// The sections between the borders that are at least `least_sure`, for
    /// [`Sections::replace_all`](super::Sections::replace_all); the last one is open.
    #[must_use]
    pub fn sections(&self, least_sure: f64) -> Vec<NewSection> {
        let Some(start) = self.start else {
            return Vec::new();
        };
        let mut starts = vec![start];
        for border in self.borders.iter().filter(|border| border.sure >= least_sure) {
            let far_enough = |last: &Place| border.place.at_s - last.at_s >= MIN_SECTION_S;
            if starts.last().is_some_and(far_enough) {
                starts.push(border.place);
            }
        }
        starts.into_iter().map(|start| NewSection { name: None, start, end: None }).collect()
    }
}

/// Proposes borders for the whole of what was measured; with a grid they lie on its bar lines.
#[must_use]
pub fn propose(analysis: &Analysis, grid: Option<&BarGrid>) -> Proposal {
    let Some(extent) = analysis.extent() else {
        return Proposal::default();
    };
    let frames = frames(analysis, &extent);
    let novelty: Vec<f64> = (0..frames.len())
        .filter_map(|at| frames.split_at_checked(at))
        .map(|(before, after)| novelty(before.iter().rev(), after.iter()))
        .collect();

    let mut borders: Vec<Border> = Vec::new();
    for (at, &sure) in novelty.iter().enumerate() {
        let around = at.saturating_sub(APART_FRAMES)..at;
        let before = novelty.get(around).unwrap_or_default();
        let after = novelty.get(at + 1..(at + 1 + APART_FRAMES).min(novelty.len()));
        let is_highest = before.iter().all(|&other| other < sure)
            && after.unwrap_or_default().iter().all(|&other| other <= sure);
        if !is_highest || sure < LEAST_SURE {
            continue;
        }
        let Some(frame_hop) = i32::try_from(at).ok().map(|at| extent.start + at * HOPS_PER_SECOND)
        else {
            continue;
        };
        let (measured_hop, measured_sure) = refine::best_near(analysis, frame_hop, &extent);
        let measured_s = hop_seconds(measured_hop);
        let on_bar = grid.and_then(|grid| refine::best_bar_line(analysis, frame_hop, grid));
        let (place, sure) = on_bar.unwrap_or((Place::at(measured_s), measured_sure));
        if sure < LEAST_SURE {
            continue;
        }
        let border = Border { place, measured_s, sure };
        match borders.last_mut() {
            // Two changes nearest to one bar line: the surer one counts.
            Some(last) if last.place.at_s >= place.at_s => {
                if last.sure < sure {
                    *last = border;
                }
            }
            _ => borders.push(border),
        }
    }
    keep_surest(&mut borders, MAX_SECTIONS - 1);
    let start_s = hop_seconds(extent.start);
    let start = grid.map_or(Place::at(start_s), |grid| grid.place(start_s));
    Proposal { start: Some(start), borders }
}

fn keep_surest(borders: &mut Vec<Border>, count: usize) {
    if borders.len() > count {
        let mut sure: Vec<f64> = borders.iter().map(|border| border.sure).collect();
        sure.sort_unstable_by(|a, b| b.total_cmp(a));
        let least = sure.get(count).copied().unwrap_or(0.0);
        borders.retain(|border| border.sure > least);
    }
}

/// Loudness in LUFS, side to mid in dB, crest factor in dB; inside of [`FLOORS`] and
/// [`CEILINGS`].
type Features = [f64; 3];

/// The features of every second of `extent`; `None` where less than half of it was measured.
fn frames(analysis: &Analysis, extent: &HopRange) -> Vec<Option<Features>> {
    let length = usize::try_from(HOPS_PER_SECOND).unwrap_or(1);
    extent
        .clone()
        .step_by(length)
        .map(|start| features(analysis, start..(start + HOPS_PER_SECOND).min(extent.end)))
        .collect()
}

/// The features of `range`; `None` where less than half of it was measured in full.
fn features(analysis: &Analysis, range: HopRange) -> Option<Features> {
    let needed = range.len().div_ceil(2).max(1);
    let (mut energy, mut peak, mut stereo) = (0.0, 0.0_f32, StereoSums::default());
    for (_, kept) in analysis.hops(range).filter(|(_, kept)| kept.is_full()) {
        energy += f64::from(kept.energy);
        peak = peak.max(kept.true_peak);
        stereo.add(&kept);
    }
    if stereo.hops() < needed {
        return None;
    }
    let [loudness_floor, side_floor, crest_floor] = FLOORS;
    let [loudness_ceiling, side_ceiling, crest_ceiling] = CEILINGS;
    let loudness = Lufs::from_energy(energy / float(stereo.hops())).0;
    let side = stereo.side_to_mid().map_or(side_floor, |side| side.0);
    let crest = amplitude_to_db(f64::from(peak)) - energy_to_db(stereo.mean_square());
    // Silence has none.
    let crest = if crest.is_finite() { crest } else { crest_floor };
    Some([
        loudness.clamp(loudness_floor, loudness_ceiling),
        side.clamp(side_floor, side_ceiling),
        crest.clamp(crest_floor, crest_ceiling),
    ])
}

/// Squared distance of two sets of features, in [`SCALES`].
fn distance_squared(a: &Features, b: &Features) -> f64 {
    a.iter().zip(b).zip(SCALES).map(|((a, b), scale)| ((a - b) / scale).powi(2)).sum()
}

/// How sure a border is (see [`Border::sure`]) between the frames `before` and `after`, each side
/// from the border outwards; 0.0 where less than half of the frames on a side were measured.
fn novelty<'a>(
    before: impl Iterator<Item = &'a Option<Features>>,
    after: impl Iterator<Item = &'a Option<Features>>,
) -> f64 {
    let before: Vec<_> = tapered(before).collect();
    let after: Vec<_> = tapered(after).collect();
    if before.len().min(after.len()) < SIDE_FRAMES / 2 {
        return 0.0;
    }
    let both = || {
        let before = before.iter().map(|frame| (false, frame));
        before.chain(after.iter().map(|frame| (true, frame)))
    };
    let (mut within, mut across) = (Mean::default(), Mean::default());
    for (index, (side, (weight, features))) in both().enumerate() {
        // Each pair once, and no frame with itself: that says nothing.
        for (other_side, (other_weight, other)) in both().take(index) {
            let mean = if side == other_side { &mut within } else { &mut across };
            let likeness = (-0.5 * distance_squared(features, other)).exp();
            mean.add(weight * other_weight, likeness);
        }
    }
    (within.value() - across.value()).clamp(0.0, 1.0)
}

/// The measured frames of one side, from the border outwards, each with the weight of a Gaussian
/// taper: 1 at the border, 0.135 (two standard deviations) at the far end.
fn tapered<'a>(
    side: impl Iterator<Item = &'a Option<Features>>,
) -> impl Iterator<Item = (f64, Features)> {
    side.take(SIDE_FRAMES).enumerate().filter_map(|(index, frame)| {
        let distance = (float(index) + 0.5) / float(SIDE_FRAMES);
        Some(((-2.0 * distance * distance).exp(), (*frame)?))
    })
}

/// A weighted mean.
#[derive(Default)]
struct Mean {
    sum: f64,
    weights: f64,
}

impl Mean {
    fn add(&mut self, weight: f64, value: f64) {
        self.sum += weight * value;
        self.weights += weight;
    }

    fn value(&self) -> f64 {
        if self.weights > 0.0 { self.sum / self.weights } else { 0.0 }
    }
}

#[cfg(test)]
mod tests;
