//! How quiet the quietest steady part is.
//!
//! Definition (the project's own choice, no source): the lowest level, RMS over 400 ms, mean of
//! left and right, unweighted, of stretches without digital silence whose four quarters lie within
//! 3 dB of each other; a fade falls faster as a rule. Above −40 dBFS nothing counts as quiet. No
//! 3.01 dB is added for sines. Limits: music
//! that is this quiet and steady counts too, and a slow fade reads lower than the noise of the
//! rest.

use crate::loudness::Analysis;
use crate::record::hop_seconds;
use crate::units::{Dbfs, energy_to_db};

/// Hops of a quarter: 100 ms.
const QUARTER_HOPS: usize = 10;
const QUARTERS: usize = 4;

/// How far apart the quarters may lie, as a power ratio: 3 dB.
const STEADY_RATIO: f64 = 2.0;

/// A part above this is not quiet, dBFS RMS.
const QUIET_DBFS: f64 = -40.0;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoiseFloor {
    /// Its level, dBFS RMS.
    pub level: Dbfs,
    /// Where it begins, seconds.
    pub at_s: f64,
}

/// Looks for it; `None` without a quiet, steady stretch.
pub fn find(analysis: &Analysis) -> Option<NoiseFloor> {
    let extent = analysis.extent()?;
    let mut quarters = [0.0_f64; QUARTERS];
    let (mut sum, mut hops, mut sounding) = (0.0, 0, 0);
    let mut lowest: Option<(f64, i32)> = None;
    for (hop, kept) in analysis.hops(extent) {
        let [left, right, _] = kept.left_right;
        let power = f64::from(left + right) / 2.0;
        // A quarter with a silent or a missing hop is none.
        sum = if kept.is_full() && power > 0.0 { sum + power } else { f64::NAN };
        hops += 1;
        if hops < QUARTER_HOPS {
            continue;
        }
        quarters.rotate_left(1);
        if let Some(newest) = quarters.last_mut() {
            *newest = sum / 10.0;
        }
        sounding = if sum.is_nan() { 0 } else { sounding + 1 };
        (sum, hops) = (0.0, 0);
        let highest = quarters.iter().copied().fold(0.0, f64::max);
        let least = quarters.iter().copied().fold(f64::INFINITY, f64::min);
        if sounding >= QUARTERS && highest <= least * STEADY_RATIO {
            let mean = quarters.iter().sum::<f64>() / 4.0;
            if lowest.is_none_or(|(before, _)| mean < before) {
                lowest = Some((mean, hop + 1));
            }
        }
    }
    let floor = lowest.map(|(power, end_hop)| NoiseFloor {
        level: Dbfs(energy_to_db(power)),
        at_s: hop_seconds(end_hop) - 0.4,
    });
    floor.filter(|floor| floor.level.0 <= QUIET_DBFS)
}
