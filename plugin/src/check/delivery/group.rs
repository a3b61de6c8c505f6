//! Sum, squares and peak of a group of samples.

use crate::units::SampleRate;

/// Samples that are looked at side by side; a group is a multiple of it.
const LANES: usize = 8;

/// Groups are about this many a second: fine enough to place what they find, coarse enough to
/// cost little, and far above twice 20 Hz, so that their means show what lies below.
const GROUPS_PER_SECOND: u32 = 2_000;

/// Frames of a group at `rate`.
pub fn frames(rate: SampleRate) -> usize {
    let frames = usize::try_from(rate.hz() / GROUPS_PER_SECOND).unwrap_or(LANES);
    (frames / LANES * LANES).max(LANES)
}

/// What a group of samples of one channel adds up to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Group {
    /// Σ x.
    pub sum: f32,
    /// Σ x².
    pub square_sum: f32,
    /// Largest |x|.
    pub peak: f32,
}

impl Group {
    /// Adds up `samples`: in eight sums side by side, which the compiler makes vectors of.
    pub fn of(samples: &[f32]) -> Self {
        let (mut sums, mut squares, mut peaks) = ([0.0; LANES], [0.0; LANES], [0.0_f32; LANES]);
        let (rows, rest) = samples.as_chunks::<LANES>();
        let mut add = |row: &[f32; LANES]| {
            let lanes = sums.iter_mut().zip(&mut squares).zip(&mut peaks);
            for (((sum, square), peak), &sample) in lanes.zip(row) {
                *sum += sample;
                *square += sample * sample;
                let magnitude = sample.abs();
                *peak = if magnitude > *peak { magnitude } else { *peak };
            }
        };
        rows.iter().for_each(&mut add);
        if !rest.is_empty() {
            let mut row = [0.0; LANES];
            row.iter_mut().zip(rest).for_each(|(to, from)| *to = *from);
            add(&row);
        }
        Self {
            sum: sums.iter().sum(),
            square_sum: squares.iter().sum(),
            peak: peaks.into_iter().fold(0.0, f32::max),
        }
    }
}
