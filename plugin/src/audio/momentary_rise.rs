//! How much higher than on its two hop borders the momentary loudness rises within a hop.
//!
//! Windows on the 10 ms grid of hops miss a maximum by up to 10·log10(1 − 5 ms/400 ms) = 0.055 LU:
//! a tone of 400 ms that begins between two borders is never whole in one of them. So each hop is
//! summed in eight parts of 1.25 ms, and the 400 ms windows that end on those are looked at too:
//! what is left is 0.007 LU. (For the 3 s of the short-term window the grid alone misses 0.007 LU.)

use crate::meters::Notes;
use crate::record::Hop;
use crate::units::{SampleRate, energy_to_db};

/// Parts of a hop.
pub(super) const PARTS: usize = 8;

/// Hops that the momentary window of 40 hops (EBU Tech 3341 §2.2) slides over within one hop: its
/// own length and the hop that it leaves.
const KEPT_HOPS: usize = 40 + 1;

/// First frame of part `part` of hop `hop`; part 0 is the hop's own border.
pub(super) fn first_frame_of_part(hop: i32, part: usize, rate: SampleRate) -> i64 {
    let parts = i64::try_from(PARTS).unwrap_or(1);
    let index = i64::from(hop) * parts + i64::try_from(part).unwrap_or(0);
    let per_second = parts * i64::from(crate::record::HOPS_PER_SECOND);
    (index * i64::from(rate.hz())).div_euclid(per_second)
}

/// Asks for the energy at the end of each part of hop `hop`, from `part` on, that ends within
/// `len_frames` frames from `next_frame` on.
pub(super) fn notes_of_parts(
    hop: i32,
    part: usize,
    next_frame: i64,
    len_frames: usize,
    rate: SampleRate,
) -> Notes {
    let mut notes = Notes::default();
    for part in part..PARTS {
        let end = first_frame_of_part(hop, part + 1, rate).saturating_sub(next_frame);
        let end = usize::try_from(end).unwrap_or(0);
        if end > len_frames || !notes.ask(end) {
            break;
        }
    }
    notes
}

/// The parts of the last hops of one run.
pub(super) struct MomentaryRise {
    hops: [[f64; PARTS]; KEPT_HOPS],
    /// The sum of each.
    totals: [f64; KEPT_HOPS],
    next: usize,
    filled: usize,
    current: [f64; PARTS],
    /// Sum of the parts of the current hop that are done.
    done: f64,
}

impl MomentaryRise {
    pub const fn new() -> Self {
        Self {
            hops: [[0.0; PARTS]; KEPT_HOPS],
            totals: [0.0; KEPT_HOPS],
            next: 0,
            filled: 0,
            current: [0.0; PARTS],
            done: 0.0,
        }
    }

    /// A run begins: what was before does not join.
    pub const fn start(&mut self) {
        self.filled = 0;
        self.done = 0.0;
    }

    /// Part `part` of the current hop has ended; `sum` is the weighted square sum of the hop so
    /// far.
    pub fn end_part(&mut self, part: usize, sum: f64) {
        if let Some(value) = self.current.get_mut(part) {
            *value = sum - self.done;
        }
        self.done = sum;
    }

    /// The current hop has ended. Gives [`Hop::momentary_rise`]: 0 as long as there are no
    /// 400 ms and a hop, all of them whole.
    pub fn end_hop(&mut self, is_whole: bool) -> u16 {
        self.done = 0.0;
        if !is_whole {
            self.filled = 0;
            return 0;
        }
        if let Some(slot) = self.hops.get_mut(self.next) {
            *slot = self.current;
        }
        if let Some(total) = self.totals.get_mut(self.next) {
            *total = self.current.iter().sum();
        }
        self.next = (self.next + 1) % KEPT_HOPS;
        self.filled = (self.filled + 1).min(KEPT_HOPS);
        // The ring is full, so the oldest hop is the one that will be overwritten next.
        match self.hops.get(self.next) {
            Some(oldest) if self.filled == KEPT_HOPS => self.rise(oldest),
            _ => 0,
        }
    }

    fn rise(&self, oldest: &[f64; PARTS]) -> u16 {
        // Four sums side by side: one alone would wait for each of its additions.
        let (fours, rest) = self.totals.as_chunks::<4>();
        let mut sums = [0.0; 4];
        for four in fours {
            for (sum, total) in sums.iter_mut().zip(four) {
                *sum += total;
            }
        }
        let total = sums.iter().chain(rest).sum::<f64>();
        let before = total - self.current.iter().sum::<f64>();
        let after = total - oldest.iter().sum::<f64>();
        let (mut window, mut highest) = (before, before.max(after));
        for (enters, leaves) in self.current.iter().zip(oldest) {
            window += enters - leaves;
            highest = highest.max(window);
        }
        let base = before.max(after);
        if base <= 0.0 || highest <= base {
            return 0;
        }
        let steps = (energy_to_db(highest / base) / Hop::MOMENTARY_RISE_STEP_DB).round();
        to_u16(steps.min(f64::from(Hop::MAX_MOMENTARY_RISE)))
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 30 103")]
const fn to_u16(steps: f64) -> u16 {
    steps as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hop_of(rise: &mut MomentaryRise, parts: [f64; PARTS]) -> u16 {
        let mut sum = 0.0;
        for (part, energy) in parts.into_iter().enumerate() {
            sum += energy;
            rise.end_part(part, sum);
        }
        rise.end_hop(true)
    }

    #[test]
    fn a_tone_of_400_ms_between_two_borders_is_found_whole() {
        let mut rise = MomentaryRise::new();
        for _ in 0..50 {
            assert_eq!(hop_of(&mut rise, [0.0; PARTS]), 0);
        }
        // Begins and ends in the middle of a hop: on a border 39.5 of its 40 hops are in.
        let half_on = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
        let half_off = [1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0];
        hop_of(&mut rise, half_on);
        for _ in 0..39 {
            hop_of(&mut rise, [1.0; PARTS]);
        }
        let steps = hop_of(&mut rise, half_off);
        let expected_db = 10.0 * (40.0_f64 / 39.5).log10();
        let found_db = f64::from(steps) * Hop::MOMENTARY_RISE_STEP_DB;
        assert!((found_db - expected_db).abs() < Hop::MOMENTARY_RISE_STEP_DB, "{found_db}");
    }

    #[test]
    fn no_window_reaches_over_a_start_or_a_partly_covered_hop() {
        let mut rise = MomentaryRise::new();
        let rising = [0.0, 0.0, 9.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        let falling = [0.0, 0.0, 0.0, 0.0, 0.0, 9.0, 0.0, 0.0];
        for n in 0..40 {
            assert_eq!(hop_of(&mut rise, if n == 0 { falling } else { [1.0; PARTS] }), 0);
        }
        let mut other = MomentaryRise::new();
        for n in 0..40 {
            hop_of(&mut other, if n == 0 { falling } else { [1.0; PARTS] });
        }
        // Both bursts lie in a window that ends between them; without a start in between it shows.
        assert!(hop_of(&mut other, rising) > 0);
        rise.start();
        assert_eq!(hop_of(&mut rise, rising), 0);
        rise.end_hop(false);
        assert_eq!(rise.filled, 0);
    }

    #[test]
    fn parts_lie_on_the_grid_of_hops() {
        for hz in [8_000, 11_025, 44_100, 48_000, 384_000] {
            let rate = SampleRate::new(hz).unwrap();
            for hop in -3..200 {
                let border = crate::record::first_frame_of_hop(hop, rate);
                assert_eq!(first_frame_of_part(hop, 0, rate), border);
                assert_eq!(
                    first_frame_of_part(hop, PARTS, rate),
                    crate::record::first_frame_of_hop(hop + 1, rate)
                );
            }
        }
    }
}
