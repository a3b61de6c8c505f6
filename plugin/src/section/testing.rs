//! A record to write by hand, for tests.

use crate::loudness::Analysis;
use crate::meters::layout::Layout;
use crate::record::{Hop, RecordReader, RecordWriter, record};
use crate::units::{Lufs, db_to_amplitude};
use std::ops::Range;

/// A stereo record and its writer.
pub(crate) struct Tape {
    writer: RecordWriter,
    pub reader: RecordReader,
}

/// Steady sound, as one hop of it measures.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sound {
    pub lufs: f64,
    pub peak_dbtp: f64,
    /// L² = R² = this.
    pub mean_square: f64,
    pub correlation: f64,
}

impl Default for Sound {
    /// −20 LUFS, −6 dBTP, correlation 0.5.
    fn default() -> Self {
        Self { lufs: -20.0, peak_dbtp: -6.0, mean_square: 0.01, correlation: 0.5 }
    }
}

impl Sound {
    pub fn at(lufs: f64) -> Self {
        Self { lufs, ..Self::default() }
    }

    pub fn hop(self) -> Hop {
        let mut hop = Hop {
            energy: single(Lufs(self.lufs).to_energy()),
            frames: 480,
            full: true,
            left_mean_square: single(self.mean_square),
            right_mean_square: single(self.mean_square),
            left_right_mean: single(self.mean_square * self.correlation),
            ..Hop::default()
        };
        let peak = single(db_to_amplitude(self.peak_dbtp));
        hop.true_peaks[0] = peak;
        hop.sample_peaks[0] = peak;
        hop
    }
}

#[expect(clippy::cast_possible_truncation, reason = "the record holds single precision")]
pub(crate) fn single(value: f64) -> f32 {
    value as f32
}

impl Tape {
    pub fn new() -> Self {
        let (writer, reader) = record(Layout::Stereo, false);
        Self { writer, reader }
    }

    /// Plays these hops in one run; gives its number.
    pub fn play(&mut self, range: Range<i32>, mut hop: impl FnMut(i32) -> Hop) -> u32 {
        let playthrough = self.writer.begin_playthrough();
        for index in range {
            self.writer.write(index, &Hop { playthrough, ..hop(index) });
        }
        playthrough
    }

    /// More of a run that was played before.
    pub fn goes_on(&mut self, playthrough: u32, range: Range<i32>, hop: impl Fn(i32) -> Hop) {
        for index in range {
            self.writer.write(index, &Hop { playthrough, ..hop(index) });
        }
    }

    /// Plays steady sounds one after the other, each for so many hops, from hop 0.
    pub fn play_sounds(&mut self, sounds: &[(i32, Sound)]) -> u32 {
        let playthrough = self.writer.begin_playthrough();
        let mut index = 0;
        for (hops, sound) in sounds {
            for _ in 0..*hops {
                self.writer.write(index, &Hop { playthrough, ..sound.hop() });
                index += 1;
            }
        }
        playthrough
    }

    pub fn analysis(&self) -> Analysis {
        Analysis::of(&self.reader)
    }
}

/// A simple generator of numbers without a pattern (D. Knuth's MMIX constants; from memory).
pub(crate) struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u32 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        u32::try_from(self.0 >> 32).unwrap()
    }

    /// 0 to `end` − 1.
    pub fn below(&mut self, end: u32) -> u32 {
        self.next() % end
    }

    /// From `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * f64::from(self.next()) / f64::from(u32::MAX)
    }
}

/// Whether two values are the same to `tolerance`.
#[track_caller]
pub(crate) fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value}, expected {expected} ± {tolerance}");
}

/// Sound without a pattern.
pub(crate) fn noisy(dice: &mut Dice) -> Sound {
    Sound {
        lufs: dice.between(-40.0, -8.0),
        peak_dbtp: dice.between(-12.0, 1.0),
        mean_square: dice.between(0.001, 0.1),
        correlation: dice.between(-0.5, 1.0),
    }
}
