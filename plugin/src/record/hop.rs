//! One hop of song time, and the grid it lies on.

use crate::meters::MAX_CHANNELS;
use crate::units::SampleRate;

/// Hops per second of song time: a hop is 10 ms.
pub const HOPS_PER_SECOND: i32 = 100;

/// First frame of hop `hop`: floor(hop · rate / 100), so that the grid holds at any rate.
#[must_use]
pub fn first_frame_of_hop(hop: i32, rate: SampleRate) -> i64 {
    (i64::from(hop) * i64::from(rate.hz())).div_euclid(i64::from(HOPS_PER_SECOND))
}

/// The hop that song frame `frame` lies in; clamped to the range of `i32`.
#[must_use]
pub fn hop_of_frame(frame: i64, rate: SampleRate) -> i32 {
    // floor(k·r/100) ≤ f  ⇔  k < (f + 1)·100/r
    let hops_per_second = i64::from(HOPS_PER_SECOND);
    let scaled = frame.saturating_add(1).saturating_mul(hops_per_second).saturating_sub(1);
    let hop = scaled.div_euclid(i64::from(rate.hz()));
    i32::try_from(hop).unwrap_or(if hop < 0 { i32::MIN } else { i32::MAX })
}

/// Song time of the start of a hop, in seconds.
#[must_use]
pub fn hop_seconds(hop: i32) -> f64 {
    f64::from(hop) / f64::from(HOPS_PER_SECOND)
}

/// What one hop measured. Plain data, copied in and out of the record.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hop {
    /// Mean square of the K-weighted channels, summed with the weights of ITU-R BS.1770-5,
    /// over the frames covered. Finite, ≥ 0.
    pub energy: f32,
    /// How far the momentary loudness rises, within this hop, over the higher of its values at the
    /// hop's two borders, in steps of [`Self::MOMENTARY_RISE_STEP_DB`]; at most 3.01 dB.
    pub momentary_rise: u16,
    /// Frames covered, 1 to 3 840.
    pub frames: u16,
    /// Whether every frame of the hop was covered. Only such hops enter loudness windows.
    pub full: bool,
    /// Whether the hop stands at an edge of a playthrough, where the interpolator saw silence or
    /// nothing in place of the song's own frames.
    pub edge: bool,
    /// Samples at or beyond full scale, all channels.
    pub clipped: u16,
    /// Samples that were no number or no audio level, all channels.
    pub scrubbed: u16,
    /// The playthrough it came from, counted from 1; higher is newer.
    pub playthrough: u32,
    /// Highest sample magnitude per channel, linear.
    pub sample_peaks: [f32; MAX_CHANNELS],
    /// Highest true peak per channel, linear.
    pub true_peaks: [f32; MAX_CHANNELS],
    /// Mean square of the left channel (of the only one in mono), unweighted.
    pub left_mean_square: f32,
    /// Mean square of the right channel, unweighted.
    pub right_mean_square: f32,
    /// Mean product of left and right.
    pub left_right_mean: f32,
}

impl Hop {
    /// One step of [`Self::momentary_rise`], dB.
    pub const MOMENTARY_RISE_STEP_DB: f64 = 1e-4;

    /// Highest [`Self::momentary_rise`]: a window between two borders is at most the sum of both,
    /// hence twice the higher one.
    pub const MAX_MOMENTARY_RISE: u16 = 30_103;

    /// Whether this hop may take the place of `old`: partly covered never replaces fully covered,
    /// and an edge never replaces a hop whose peaks had the song on both sides.
    #[must_use]
    pub const fn may_replace(&self, old: &Self) -> bool {
        self.rank() >= old.rank()
    }

    /// Whether nothing was heard in it.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.energy == 0.0 && self.sample_peaks.iter().chain(&self.true_peaks).all(|&p| p == 0.0)
    }

    const fn rank(&self) -> u8 {
        match (self.full, self.edge) {
            (true, false) => 2,
            (true, true) => 1,
            (false, _) => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_frame_lies_in_exactly_the_hop_that_the_grid_says() {
        for hz in [8_000, 11_025, 22_050, 44_100, 48_000, 384_000, 44_056] {
            let rate = SampleRate::new(hz).unwrap();
            for frame in -2_000..6_000 {
                let hop = hop_of_frame(frame, rate);
                assert!(first_frame_of_hop(hop, rate) <= frame, "{hz} {frame}");
                assert!(frame < first_frame_of_hop(hop + 1, rate), "{hz} {frame}");
            }
        }
    }

    #[test]
    fn frames_beyond_all_bounds_do_not_overflow() {
        let rate = SampleRate::new(48_000).unwrap();
        assert_eq!(hop_of_frame(i64::MAX, rate), i32::MAX);
        assert_eq!(hop_of_frame(i64::MIN, rate), i32::MIN);
    }

    #[test]
    fn a_lesser_hop_never_replaces_a_better_one() {
        let hop = |full, edge| Hop { full, edge, ..Hop::default() };
        assert!(hop(true, false).may_replace(&hop(true, false)));
        assert!(!hop(true, true).may_replace(&hop(true, false)));
        assert!(!hop(false, false).may_replace(&hop(true, true)));
        assert!(hop(false, true).may_replace(&hop(false, false)));
    }
}
