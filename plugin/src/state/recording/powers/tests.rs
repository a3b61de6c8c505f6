//! Mean squares there and back, also such as no music has.

use super::super::peaks::RoughPowers;
use super::*;

/// Numbers that look random, 0 to 1.
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        float((self.0 >> 33).cast_signed()) / 2_147_483_648.0
    }
}

/// Levels that jump by up to `spread_db` from hop to hop, with silence in between.
fn wild(seed: u64, count: usize, spread_db: f64) -> Vec<Powers> {
    let mut random = Random(seed);
    let single = |value: f64| f64::from(super::super::single(value));
    (0..count)
        .map(|at| {
            // Long stretches of one level, single hops, and anything between.
            let silent = (at / 97) % 5 == 4 || random.next() < 0.02;
            if silent {
                return Powers::default();
            }
            let level = 10.0_f64.powf(-spread_db * random.next() / 10.0);
            let (left, right) = (single(level * random.next()), single(level * random.next()));
            let product = (2.0 * random.next() - 1.0) * (left * right).sqrt();
            let side = (left + right - 2.0 * product) / 4.0;
            Powers { energy: single(level), left, right, side }
        })
        .collect()
}

fn there_and_back(powers: &[Powers], pieces: &[Range<usize>]) -> Vec<Powers> {
    let rough: RoughPowers = vec![powers.iter().map(|p| p.left).collect(); 2];
    let mut writer = Writer::new();
    write(&mut writer, powers, pieces, &rough);
    let bytes = writer.into_bytes();
    let mut reader = Reader::new(&bytes);
    let read = read(&mut reader, powers.len(), &rough).unwrap();
    assert!(reader.is_empty());
    read
}

fn sums(powers: &[Powers]) -> Powers {
    powers.iter().fold(Powers::default(), |a, b| Powers {
        energy: a.energy + b.energy,
        left: a.left + b.left,
        right: a.right + b.right,
        side: a.side + b.side,
    })
}

#[test]
fn the_error_of_every_window_is_bounded_whatever_the_levels_do() {
    for (seed, spread_db) in [(1, 10.0), (2, 40.0), (3, 90.0)] {
        let powers = wild(seed, 3_000, spread_db);
        let read = there_and_back(&powers, &[0..1_400, 1_400..3_000]);
        let mut worst = [0.0_f64; 3];
        for len in [WINDOW_HOPS, 41, 77, 300, 1_000] {
            for start in 0..1_400_usize.saturating_sub(len) {
                let range = start..start + len;
                let (a, b) = (sums(&powers[range.clone()]), sums(&read[range]));
                if a.energy == 0.0 {
                    assert_eq!(b, Powers::default());
                    continue;
                }
                let correlation = |p: &Powers| {
                    let product = (p.left + p.right) / 2.0 - 2.0 * p.side;
                    product / (p.left * p.right).sqrt()
                };
                let side_to_mid =
                    |p: &Powers| 10.0 * (p.side / ((p.left + p.right) / 2.0 - p.side)).log10();
                let errors = [
                    (b.energy / a.energy - 1.0).abs() / ENERGY_ERROR,
                    (correlation(&a) - correlation(&b)).abs() / 0.001,
                    (side_to_mid(&a) - side_to_mid(&b)).abs() / 0.01,
                ];
                for (worst, error) in worst.iter_mut().zip(errors) {
                    *worst = worst.max(error);
                }
            }
        }
        assert!(worst.iter().all(|&error| error <= 1.0 + 1e-6), "{spread_db}: {worst:?}");
        // The bounds are not met by writing everything out.
        assert!(worst[0] > 0.1, "{spread_db}: {worst:?}");
    }
}

#[test]
fn what_was_rounded_is_rounded_to_itself() {
    let powers = wild(7, 2_000, 40.0);
    let once = there_and_back(&powers, &[0..2_000]);
    assert_ne!(once, powers);
    let twice = there_and_back(&once, &[0..2_000]);
    let differing = once.iter().zip(&twice).filter(|(a, b)| a != b).count();
    assert_eq!(differing, 0);
}

#[test]
fn single_hops_and_extremes_come_back() {
    let loudest = f64::from(f32::MAX);
    let extremes = [
        Powers { energy: loudest, left: loudest, right: 0.0, side: loudest / 4.0 },
        Powers { energy: 1e-45, left: 1e-45, right: 1e-45, side: 0.0 },
        Powers { energy: 1.0, left: 1.0, right: 1.0, side: -1e-9 },
        Powers::default(),
    ];
    let pieces: Vec<Range<usize>> = (0..4).map(|at| at..at + 1).collect();
    for (a, b) in extremes.iter().zip(there_and_back(&extremes, &pieces)) {
        for (a, b) in [(a.energy, b.energy), (a.left, b.left), (a.right, b.right)] {
            assert!((a - b).abs() <= 0.001 * a, "{a} {b}");
        }
    }
    // In one piece too: 380 dB apart is more than can be counted, but nothing breaks.
    assert!(there_and_back(&extremes, &[0..4]).iter().all(|p| p.energy.is_finite()));
    assert_eq!(there_and_back(&[], &[]), []);
}
