//! The two gates: BS.1770's, strict, and Tech 3342's, not strict.

use crate::units::{Lu, Lufs, energy_to_db};

/// Absolute gate of both documents, LUFS (ITU-R BS.1770-5, Annex 1; EBU Tech 3342 §3.1).
const ABSOLUTE_GATE: Lufs = Lufs(-70.0);
/// Relative gate of the integrated loudness: −10 LU, as a ratio (ITU-R BS.1770-5, Annex 1).
const RELATIVE_GATE_RATIO: f64 = 0.1;
/// Relative gate of the loudness range: −20 LU, as a ratio (EBU Tech 3342 §3.1).
const RANGE_GATE_RATIO: f64 = 0.01;

/// Mean energy of the blocks that pass both gates (ITU-R BS.1770-5, Annex 1, eqs 5 to 7):
/// loudness > −70 LUFS and > the loudness of those less 10 LU, both strictly.
///
/// `blocks` gives the energies of the gating blocks and is walked twice. `None` without a block;
/// zero (silence) if none passes.
#[must_use]
pub fn integrated_energy(blocks: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let absolute = ABSOLUTE_GATE.to_energy();
    let (mut any, mut sum, mut count) = (false, 0.0, 0_u32);
    for energy in blocks.clone() {
        any = true;
        if energy > absolute {
            sum += energy;
            count += 1;
        }
    }
    if !any {
        return None;
    }
    if count == 0 {
        return Some(0.0);
    }
    let relative = sum / f64::from(count) * RELATIVE_GATE_RATIO;
    let (mut sum, mut count) = (0.0, 0_u32);
    for energy in blocks {
        if energy > absolute && energy > relative {
            sum += energy;
            count += 1;
        }
    }
    Some(if count == 0 { 0.0 } else { sum / f64::from(count) })
}

/// Loudness range of short-term energies at 10 Hz (EBU Tech 3342 §3.1 and §5): those ≥ −70 LUFS
/// and ≥ their power mean less 20 LU; 95th less 10th percentile by nearest rank.
///
/// `short_term` is a work area: its order is lost. `None` if nothing passes the gates.
#[must_use]
pub fn loudness_range(short_term: &mut Vec<f64>) -> Option<Lu> {
    let absolute = ABSOLUTE_GATE.to_energy();
    short_term.retain(|&energy| energy >= absolute);
    let count = u32::try_from(short_term.len()).ok().filter(|&n| n > 0)?;
    let mean = short_term.iter().sum::<f64>() / f64::from(count);
    let relative = mean * RANGE_GATE_RATIO;
    short_term.retain(|&energy| energy >= relative);

    let mut percentile = |percent: usize| -> Option<f64> {
        // round((n − 1)·p/100 + 1), counted from 1, is (2(n − 1)p + 100)/200 counted from 0.
        let last = short_term.len().checked_sub(1)?;
        let rank = (2 * last * percent + 100) / 200;
        let (_, value, _) = short_term.select_nth_unstable_by(rank, f64::total_cmp);
        Some(*value)
    };
    let (low, high) = (percentile(10)?, percentile(95)?);
    Some(Lu(energy_to_db(high / low)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn integrated(blocks: &[f64]) -> Option<f64> {
        integrated_energy(blocks.iter().copied())
    }

    #[test]
    fn a_block_exactly_on_the_absolute_gate_is_dropped() {
        let gate = ABSOLUTE_GATE.to_energy();
        assert_eq!(integrated(&[gate]), Some(0.0));
        assert_eq!(integrated(&[gate.next_up()]), Some(gate.next_up()));
        assert_eq!(integrated(&[]), None);
    }

    #[test]
    fn a_block_exactly_on_the_relative_gate_is_dropped() {
        // Mean of 19 blocks of 1 and one of r is on the gate when r = (19 + r)/200: 19/199.
        // In binary fractions: 7 blocks of 0.75 and 10 of 0.075 do not sum exactly, so search
        // the last bit for the value that meets the gate.
        let mut low = 19.0 / 199.0;
        let on_gate = |low: f64| low == (19.0 + low) / 20.0 * RELATIVE_GATE_RATIO;
        for _ in 0..8 {
            if on_gate(low) {
                break;
            }
            low = low.next_up();
        }
        assert!(on_gate(low), "no value on the gate near {low}");
        let mut blocks = vec![1.0; 19];
        blocks.push(low);
        assert_eq!(integrated(&blocks), Some(1.0));
        if let Some(last) = blocks.last_mut() {
            *last = low * 1.000_001;
        }
        assert!(integrated(&blocks).is_some_and(|energy| energy < 1.0));
    }

    #[test]
    fn a_value_exactly_on_the_gates_of_the_range_is_kept() {
        let gate = ABSOLUTE_GATE.to_energy();
        // One value: 95th and 10th percentile are the same.
        assert_eq!(loudness_range(&mut vec![gate]), Some(Lu(0.0)));
        assert_eq!(loudness_range(&mut vec![gate.next_down()]), None);
        assert_eq!(loudness_range(&mut Vec::new()), None);
    }

    #[test]
    fn percentiles_are_nearest_rank_as_in_the_appendix_of_tech_3342() {
        // n = 101 values of 0 to 10 dB in steps of 0.1 dB: 10th = index 10, 95th = index 95.
        let mut values: Vec<f64> =
            (0..101_u32).rev().map(|n| crate::units::db_to_energy(f64::from(n) / 10.0)).collect();
        let range = loudness_range(&mut values).unwrap();
        assert!((range.0 - 8.5).abs() < 1e-9, "{range}");
        // n = 2: round(1·0.95 + 1) = 2 and round(1·0.1 + 1) = 1.
        let range = loudness_range(&mut vec![1.0, 10.0]).unwrap();
        assert!((range.0 - 10.0).abs() < 1e-12);
        // n = 6: (n − 1)·10/100 + 1 = 1.5 rounds up to 2 (half away from zero).
        let mut six: Vec<f64> = (0..6_u32).map(|n| 10.0_f64.powf(f64::from(n) / 10.0)).collect();
        let range = loudness_range(&mut six).unwrap();
        assert!((range.0 - 4.0).abs() < 1e-9, "{range}");
    }
}
