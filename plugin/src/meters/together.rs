//! Several signals at once: what a turn of the K-weighting waits for is waited for once.

use super::pair_sums::PairSums;
use super::{Meters, Notes, newest, shortest};

impl Meters {
    /// [`process_together`](Self::process_together), compiled for the instructions of the caller.
    #[inline(always)]
    pub(super) fn process_together_with<'a, const FMA: bool, const N: usize>(
        mut meters: [&mut Self; N],
        mut channels: [&'a [&'a [f32]]; N],
        mut notes: [&mut Notes; N],
    ) {
        let mut len_frames = usize::MAX;
        for (meters, channels) in meters.iter().zip(&mut channels) {
            *channels = meters.own(channels);
            len_frames = len_frames.min(shortest(channels));
        }
        let are_alike = meters.array_windows().all(|[one, other]| {
            one.instructions == other.instructions && one.factors == other.factors
        });
        let mut done = 0;
        let Some(mut grid) = meters.first_mut().map(|meters| meters.take_grid()) else { return };
        while done < len_frames {
            let next = meters.iter().map(|meters| meters.next_chunk_frames(len_frames - done));
            let len = next.min().unwrap_or(0);
            for (meters, channels) in meters.iter_mut().zip(channels) {
                meters.take_in(channels, done, len);
            }
            let due = notes.each_ref().map(|notes| notes.due(done, len));
            if let [first, others @ ..] = due.as_slice()
                && others.iter().all(|other| other == first)
                && are_alike
            {
                Self::filter_together(&mut meters, len, first);
            } else {
                for (meters, due) in meters.iter_mut().zip(&due) {
                    meters.filter(len, due);
                }
            }
            // A loop, so that the code is there once: it is long, and stays near the processor.
            for ((meters, notes), due) in meters.iter_mut().zip(&mut notes).zip(&due) {
                notes.note(due, |index| meters.weigh(|pair| pair.noted(index)));
                meters.advance_counted::<FMA>(&mut grid, len, done, notes);
            }
            done += len;
        }
        if let Some(meters) = meters.first_mut() {
            meters.grid = Some(grid);
        }
    }

    /// [`filter`](Self::filter) of all, side by side.
    #[inline(always)]
    fn filter_together<const N: usize>(
        meters: &mut [&mut Self; N],
        len_frames: usize,
        ends: &[usize],
    ) {
        let rest = meters.as_mut_slice();
        #[cfg(target_arch = "x86_64")]
        let rest = if let Some(wide) = rest.first().and_then(|meters| meters.instructions.wide()) {
            let (fours, rest) = rest.as_chunks_mut();
            for [one, two, three, four] in fours {
                let Self { pairs, true_peaks, factors, .. } = &mut **one;
                let pairs = pairs.iter_mut().zip(&mut two.pairs);
                let pairs = pairs.zip(three.pairs.iter_mut().zip(&mut four.pairs));
                let heard = true_peaks.chunks(2).zip(two.true_peaks.chunks(2));
                let heard = heard.zip(three.true_peaks.chunks(2).zip(four.true_peaks.chunks(2)));
                for (((p, q), (r, s)), ((i, j), (k, l))) in pairs.zip(heard) {
                    let [[a, b], [c, d], [e, f], [g, h]] =
                        [i, j, k, l].map(|pair| newest(pair, len_frames));
                    let channels = [a, b, c, d, e, f, g, h];
                    PairSums::add_four(wide, [p, q, r, s], factors, channels, ends);
                }
            }
            rest
        } else {
            rest
        };
        let (twos, rest) = rest.as_chunks_mut();
        for [one, two] in twos {
            let Self { pairs, true_peaks, factors, instructions, .. } = &mut **one;
            let pairs = pairs.iter_mut().zip(&mut two.pairs);
            for ((p, q), (i, j)) in pairs.zip(true_peaks.chunks(2).zip(two.true_peaks.chunks(2))) {
                let [[a, b], [c, d]] = [i, j].map(|pair| newest(pair, len_frames));
                let channels = [a, b, c, d];
                PairSums::add_two(*instructions, [p, q], factors, channels, ends);
            }
        }
        for meters in rest {
            meters.filter(len_frames, ends);
        }
    }
}
