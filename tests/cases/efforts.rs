//! The true-peak meter has two ways of working and two sets of instructions. Both ways must give
//! the same bits on any signal, whatever the cuts: on noise, clicks, crests close together, steps,
//! bursts, faults, after silence and after a start in mid song.

#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll::meters::layout::Layout;
use plimsoll::meters::{Edge, Effort, Meters};
use plimsoll::units::SampleRate;
use plimsoll_tests::noise::Rng;

/// Signals that once told the two apart: a start in mid song, with a crest at its first point.
const ONCE_DIFFERENT: [u64; 3] = [2_886, 15_903, 36_894];

struct Signal {
    edge: Edge,
    seed: u64,
    channels: [Vec<f32>; 2],
}

impl Signal {
    fn new(seed: u64) -> Self {
        let mut rng = Rng::new(seed * 7 + 1);
        let len = rng.between(700, 3_000);
        let kind = rng.between(0, 7);
        let edge = if seed.is_multiple_of(3) { Edge::Unknown } else { Edge::Silence };
        let channels = [channel(&mut rng, len, kind), channel(&mut rng, len, kind)];
        Self { edge, seed, channels }
    }

    /// Bits of the true peaks of every hop, with cuts of their own.
    fn true_peaks(&self, mut meters: Meters, cuts: u64) -> Vec<[u32; 2]> {
        let mut rng = Rng::new(cuts + self.seed);
        let [left, right] = &self.channels;
        let mut taken = Vec::new();
        let mut take = |meters: &mut Meters| {
            let peaks = meters.take_true_peaks();
            taken.push([peaks[0].to_bits(), peaks[1].to_bits()]);
        };
        meters.start(self.edge);
        let (mut at, mut due) = (0, 480 + meters.latency_frames());
        while at < left.len() {
            let len = rng.between(1, 600).min(left.len() - at).min(due - at);
            meters.process(&[&left[at..at + len], &right[at..at + len]]);
            at += len;
            if at == due {
                take(&mut meters);
                due += 480;
            }
        }
        meters.finish(self.edge, meters.latency_frames());
        take(&mut meters);
        taken
    }
}

fn channel(rng: &mut Rng, len: usize, kind: usize) -> Vec<f32> {
    let floor = [0.0, 1e-4, 0.01, 0.2][rng.between(0, 3)];
    let mut samples: Vec<f32> =
        (0..len).map(|_| floor * (rng.between(0, 20_001) as f32 / 10_000.0 - 1.0)).collect();
    match kind {
        0 | 1 => clicks(rng, &mut samples, kind == 1),
        2 => {
            let turn = rng.between(1, 3_100) as f32 / 1_000.0;
            for (n, sample) in samples.iter_mut().enumerate() {
                *sample += 0.5 * (turn * n as f32).sin();
            }
        }
        3 => crests(rng, &mut samples),
        4 => {
            for (n, sample) in samples.iter_mut().enumerate() {
                *sample += if (n / 37).is_multiple_of(2) { 0.9 } else { -0.9 };
            }
        }
        5 => {
            for _ in 0..rng.between(1, 8) {
                let at = rng.between(0, len - 1);
                for (n, sample) in samples.iter_mut().enumerate().skip(at).take(24) {
                    *sample = if n.is_multiple_of(2) { 0.7 } else { -0.7 };
                }
            }
        }
        _ => {
            samples.iter_mut().for_each(|sample| *sample *= 3.0);
            samples[rng.between(0, len - 1)] = f32::NAN;
        }
    }
    samples
}

/// Single samples, `grouped` at the borders of the groups that are worked on together.
fn clicks(rng: &mut Rng, samples: &mut [f32], grouped: bool) {
    for _ in 0..rng.between(1, 60) {
        let mut at = rng.between(0, samples.len() - 1);
        if grouped {
            at = at / 8 * 8 + [0, 7][rng.between(0, 1)];
        }
        if let Some(sample) = samples.get_mut(at) {
            *sample += rng.between(0, 2_001) as f32 / 1_000.0 - 1.0;
        }
    }
}

/// Short wave packets whose crests lie between samples, some on top of one another.
fn crests(rng: &mut Rng, samples: &mut [f32]) {
    for _ in 0..rng.between(1, 12) {
        let at = rng.between(0, samples.len() - 1) as f32 + rng.between(0, 1_000) as f32 / 1_000.0;
        let turn = rng.between(100, 2_900) as f32 / 1_000.0;
        let width = rng.between(2, 16) as f32;
        let height = rng.between(300, 1_000) as f32 / 1_000.0;
        for (n, sample) in samples.iter_mut().enumerate() {
            let t = n as f32 - at;
            if t.abs() < 80.0 {
                *sample += height * (turn * t).cos() * (-(t * t) / (2.0 * width * width)).exp();
            }
        }
    }
}

#[test]
fn both_efforts_give_the_same_bits_on_any_signal() {
    let rate = SampleRate::new(48_000).unwrap();
    for seed in (0..4_000).chain(ONCE_DIFFERENT) {
        let signal = Signal::new(seed);
        let fast = || Meters::new(rate, Layout::Stereo);
        let plain = || Meters::new_baseline(rate, Layout::Stereo);
        let even = signal.true_peaks(fast(), 1);
        assert_eq!(even, signal.true_peaks(fast().with_effort(Effort::Least), 2), "{seed}");
        let even = signal.true_peaks(plain(), 3);
        assert_eq!(even, signal.true_peaks(plain().with_effort(Effort::Least), 4), "{seed}, plain");
    }
}
