//! Where exactly a border lies: the place near a proposed one that is surest, with the frames of
//! the two sides laid from there.

use super::super::{BarGrid, Place, nearest_hop};
use super::{Features, SIDE_FRAMES, features, novelty};
use crate::loudness::{Analysis, HopRange};
use crate::record::{HOPS_PER_SECOND, hop_seconds};

/// How far from the proposed second to look, in steps: 1.5 s to either side, for the border may
/// lie anywhere in a frame and the novelty be highest one frame off.
const STEPS: i32 = 15;

/// Length of a step, hops: 100 ms.
const STEP_HOPS: i32 = 10;

/// The hop within 1.5 s of `hop`, in steps of 100 ms, at which a border is surest, and how sure;
/// of equal ones the nearest.
pub fn best_near(analysis: &Analysis, hop: i32, extent: &HopRange) -> (i32, f64) {
    let mut best = (hop, sure_at(analysis, hop));
    // Nearest first: 1, −1, 2, −2, …
    let steps = (1..=STEPS).flat_map(|step| [step, -step]);
    for at in steps.map(|step| hop + step * STEP_HOPS).filter(|at| extent.contains(at)) {
        let sure = sure_at(analysis, at);
        if sure > best.1 {
            best = (at, sure);
        }
    }
    best
}

/// The surest of the bar lines around `hop`: the nearest one and the one on either side of it.
pub fn best_bar_line(analysis: &Analysis, hop: i32, grid: &BarGrid) -> Option<(Place, f64)> {
    let nearest = grid.snapped(hop_seconds(hop))?.bar?;
    let lines = [nearest, nearest - 1.0, nearest + 1.0].into_iter().filter_map(|bar| {
        let place = Place { at_s: grid.seconds_at(bar)?, bar: Some(bar) };
        Some((place, sure_at(analysis, nearest_hop(place.at_s))))
    });
    lines.reduce(|best, line| if line.1 > best.1 { line } else { best })
}

/// How sure a border at `hop` is.
fn sure_at(analysis: &Analysis, hop: i32) -> f64 {
    let side = |toward: i32| -> Vec<Option<Features>> {
        (0..i32::try_from(SIDE_FRAMES).unwrap_or(0))
            .map(|index| hop + toward * index * HOPS_PER_SECOND)
            .map(|near| (near, near + toward * HOPS_PER_SECOND))
            .map(|(near, far)| features(analysis, near.min(far)..near.max(far)))
            .collect()
    };
    novelty(side(-1).iter(), side(1).iter())
}
