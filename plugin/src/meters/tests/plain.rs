//! The fast path against a plain one that was written from the equations, in f64.

use super::*;

/// Transposed form and one channel at a time: another way to the same filter.
fn plain_weighted_square_sum(hz: u32, samples: &[f32]) -> f64 {
    let mut row: Vec<f64> = samples.iter().map(|&x| f64::from(x)).collect();
    for stage in k_weighting::stages(rate(hz)) {
        let (mut s1, mut s2) = (0.0, 0.0);
        for value in &mut row {
            let x = *value;
            let y = stage.b0 * x + s1;
            s1 = stage.b1 * x - stage.a1 * y + s2;
            s2 = stage.b2 * x - stage.a2 * y;
            *value = y;
        }
    }
    row.iter().map(|y| y * y).sum()
}

#[test]
fn energy_is_that_of_the_plain_filter() {
    let [left, right] = [lively(1, 5_000), lively(2, 5_000)];
    for hz in RATES_HZ {
        for mut meters in both(hz, Layout::Stereo) {
            meters.process(&[&left, &right]);
            let levels = meters.take_levels();
            let expected =
                plain_weighted_square_sum(hz, &left) + plain_weighted_square_sum(hz, &right);
            let error = (levels.weighted_square_sum / expected - 1.0).abs();
            // 0.002 LU is 4.6e-4; the filters differ in rounding only.
            assert!(error < 1e-9, "{hz} Hz: {error}");
            let product = |a: &[f32], b: &[f32]| -> f64 {
                a.iter().zip(b).map(|(&a, &b)| f64::from(a) * f64::from(b)).sum()
            };
            for (found, expected) in [
                (levels.left_square_sum, product(&left, &left)),
                (levels.right_square_sum, product(&right, &right)),
                (levels.left_right_sum, product(&left, &right)),
            ] {
                assert!((found - expected).abs() < 1e-9 * expected.abs(), "{found} {expected}");
            }
        }
    }
}

/// True peak of each hop by the definition: every grid point, every parabola, in f64.
fn plain_true_peaks(samples: &[f32], hop_frames: usize, edges: [Edge; 2]) -> Vec<f64> {
    let c = Coefficients::new();
    let len = samples.len() as i64;
    let support = LATENCY_FRAMES as i64 - 1;
    let x = |n: i64| {
        if (0..len).contains(&n) { f64::from(samples[n as usize]) } else { 0.0 }
    };
    let o = |n: i64| -> f64 {
        let pair = |k: usize| x(n - k as i64) + x(n + 1 + k as i64);
        c.half.iter().enumerate().map(|(k, &h)| f64::from(h) * pair(k)).sum()
    };
    // The doubled row, two frames more on either side.
    let doubled: Vec<f64> = (-4..len + 4).flat_map(|n| [x(n), o(n)]).collect();
    let u = |i: i64| doubled[(i + 8) as usize];
    let is_known = |n: i64| {
        (edges[0] == Edge::Silence || n >= support)
            && (edges[1] == Edge::Silence || n + support < len)
    };
    // Point p eighths after frame n; None where it rests on frames that are not known.
    let point = |n: i64, p: i64| -> Option<f64> {
        if p == 0 && (0..len).contains(&n) {
            return Some(x(n).abs());
        }
        if !is_known(n) {
            return None;
        }
        let i = 2 * n + p / 4;
        let sum = |row: &[f32; 4], sign: f64| -> f64 {
            let pair = |k: i64| u(i - k) + sign * u(i + 1 + k);
            row.iter().zip(0..).map(|(&h, k)| f64::from(h) * pair(k)).sum()
        };
        Some(
            match p % 4 {
                0 => u(i),
                1 => sum(&c.even, 1.0) + sum(&c.odd, -1.0),
                2 => sum(&c.middle, 1.0),
                _ => sum(&c.even, 1.0) - sum(&c.odd, -1.0),
            }
            .abs(),
        )
    };
    let mut peaks = vec![0.0_f64; samples.len().div_ceil(hop_frames)];
    for n in 0..len {
        let peak = &mut peaks[n as usize / hop_frames];
        for p in 0..8 {
            let Some(b) = point(n, p) else { continue };
            *peak = peak.max(b);
            let before = if p == 0 { point(n - 1, 7) } else { point(n, p - 1) };
            let after = if p == 7 { point(n + 1, 0) } else { point(n, p + 1) };
            if let (Some(a), Some(c), true) = (before, after, is_known(n))
                && b >= a
                && b >= c
                && 2.0 * b > a + c
            {
                let vertex = b + (a - c) * (a - c) / (8.0 * (2.0 * b - a - c));
                *peak = peak.max(vertex.min(b / (std::f64::consts::PI / 16.0).cos()));
            }
        }
    }
    peaks
}

#[test]
fn true_peaks_are_those_of_the_definition_hop_by_hop() {
    let tone = |step: f64| -> Vec<f32> {
        (0..1_500).map(|n| (0.7 * (f64::from(n) * step).sin()) as f32).collect()
    };
    let signals = [lively(1, 1_500), lively(7, 333), lively(8, 20), tone(0.13), tone(2.6)];
    for samples in signals {
        for edges in [
            [Edge::Silence, Edge::Silence],
            [Edge::Silence, Edge::Unknown],
            [Edge::Unknown, Edge::Silence],
            [Edge::Unknown, Edge::Unknown],
        ] {
            let expected = plain_true_peaks(&samples, 100, edges);
            for mut meters in both(10_000, Layout::Mono) {
                let mono = [samples.clone()];
                let hops = measure_in_blocks(&mut meters, &mono, 100, edges, || 64);
                // The last hops are one in `measure_in_blocks`.
                let whole = hops.len().min(expected.len()) - 1;
                let rest = expected[whole..].iter().copied().fold(0.0, f64::max);
                let expected = expected[..whole].iter().copied().chain([rest]);
                for (hop, expected) in hops.iter().zip(expected) {
                    let found = f64::from(hop.true_peaks[0]);
                    // f32 rounding: some sixty additions of 6e-8 each.
                    let error = (found / expected - 1.0).abs();
                    assert!(error < 4e-6, "{edges:?}: {found} for {expected}");
                }
            }
        }
    }
}

#[test]
fn no_true_peak_is_below_the_sample_peak_of_its_hop() {
    let samples = [lively(11, 20_000)];
    for edges in [[Edge::Silence; 2], [Edge::Unknown; 2]] {
        let mut meters = Meters::new(rate(48_000), Layout::Mono);
        let hops = measure_in_blocks(&mut meters, &samples, 480, edges, || 1_000);
        let (last, whole) = hops.split_last().unwrap();
        for hop in whole {
            assert!(hop.true_peaks[0] >= hop.levels.sample_peaks[0]);
            assert!(hop.levels.sample_peaks[0] > 0.0);
        }
        assert!(last.true_peaks[0] >= last.levels.sample_peaks[0]);
    }
}
