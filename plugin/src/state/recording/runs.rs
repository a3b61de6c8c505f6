//! Where hops stand, and what is the same for many in a row: runs of adjacent hops.

use super::planes::{Damage, Reader, Writer};
use crate::record::{BaseHops, END_HOP, FIRST_HOP, Hop, first_frame_of_hop};
use crate::units::SampleRate;

/// Most frames of a hop: 10 ms at the highest rate.
const MAX_FRAMES: i64 = 3_840;
/// Bits of a run's kind: whole, at an edge.
const FULL: u64 = 1;
const EDGE: u64 = 2;

/// Hops of one kind, one playthrough, and as many frames off what the rate says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Run {
    start: i32,
    len: u32,
    kind: u64,
    playthrough: u32,
    frames_off: i64,
}

impl Run {
    fn end(&self) -> i32 {
        self.start.saturating_add_unsigned(self.len)
    }
}

/// Frames of a whole hop.
fn frames_of_hop(index: i32, rate: SampleRate) -> i64 {
    first_frame_of_hop(index.saturating_add(1), rate) - first_frame_of_hop(index, rate)
}

/// Writes the runs of `hops`, which are in song order.
pub(super) fn write(writer: &mut Writer, hops: &[(i32, Hop)], rate: SampleRate) {
    let mut runs: Vec<Run> = Vec::new();
    for (index, hop) in hops {
        let run = Run {
            start: *index,
            len: 1,
            kind: u64::from(hop.full) * FULL + u64::from(hop.edge) * EDGE,
            playthrough: hop.playthrough,
            frames_off: i64::from(hop.frames) - frames_of_hop(*index, rate),
        };
        match runs.last_mut() {
            Some(last)
                if last.end() == *index && run == (Run { start: *index, len: 1, ..*last }) =>
            {
                last.len += 1;
            }
            _ => runs.push(run),
        }
    }
    writer.numbers([u64::try_from(runs.len()).unwrap_or(0)]);
    let mut end = FIRST_HOP;
    writer.signed(runs.iter().map(|run| {
        let gap = i64::from(run.start) - i64::from(end);
        end = run.end();
        gap
    }));
    writer.numbers(runs.iter().map(|run| u64::from(run.len)));
    writer.numbers(runs.iter().map(|run| run.kind));
    let mut last = 0;
    writer.signed(runs.iter().map(|run| {
        let playthrough = i64::from(run.playthrough);
        playthrough - std::mem::replace(&mut last, playthrough)
    }));
    writer.signed(runs.iter().map(|run| run.frames_off));
}

/// Reads hops that have nothing but what runs know of them.
pub(super) fn read(reader: &mut Reader<'_>, rate: SampleRate) -> Result<Vec<(i32, Hop)>, Damage> {
    let most = usize::try_from(END_HOP - FIRST_HOP).unwrap_or(0);
    let count = reader.numbers(1)?.first().copied().unwrap_or(0);
    let count = usize::try_from(count).ok().filter(|&count| count <= most);
    let count = count.ok_or(Damage("more runs than a record has hops"))?;
    let gaps = reader.signed(count)?;
    let lens = reader.numbers(count)?;
    let kinds = reader.numbers(count)?;
    let changes = reader.signed(count)?;
    let frames_off = reader.signed(count)?;

    let mut hops = Vec::new();
    let mut end = i64::from(FIRST_HOP);
    let mut playthrough = 0_i64;
    for (((gap, len), (kind, change)), frames_off) in
        gaps.into_iter().zip(lens).zip(kinds.into_iter().zip(changes)).zip(frames_off)
    {
        let out_of_range = Damage("hops out of the range of a record");
        let start = end.saturating_add(gap);
        let len = i64::try_from(len).map_err(|_| out_of_range)?;
        if gap < 0 || len < 1 || start.saturating_add(len) > i64::from(END_HOP) {
            return Err(out_of_range);
        }
        end = start + len;
        playthrough = playthrough.saturating_add(change);
        let number = u32::try_from(playthrough).ok().filter(|&number| number > 0);
        let number = number.ok_or(Damage("a playthrough without a number"))?;
        if kind > FULL + EDGE {
            return Err(Damage("hops of an unknown kind"));
        }
        for index in start..end {
            let index = i32::try_from(index).map_err(|_| out_of_range)?;
            let frames = frames_of_hop(index, rate).saturating_add(frames_off);
            let frames =
                u16::try_from(frames).ok().filter(|&f| (1..=MAX_FRAMES).contains(&i64::from(f)));
            let hop = Hop {
                frames: frames.ok_or(Damage("a hop without frames, or with too many"))?,
                full: kind & FULL != 0,
                edge: kind & EDGE != 0,
                playthrough: number,
                ..Hop::default()
            };
            hops.push((index, hop));
        }
    }
    close_up(&mut hops);
    Ok(hops)
}

/// Renumbers the playthroughs 1, 2, 3 … in their order if the newest is beyond what a base can
/// hold: after years of looping, or by damage.
fn close_up(hops: &mut [(i32, Hop)]) {
    let mut numbers: Vec<u32> = hops.iter().map(|(_, hop)| hop.playthrough).collect();
    numbers.sort_unstable();
    numbers.dedup();
    if numbers.last().is_some_and(|&newest| newest > BaseHops::MAX_PLAYTHROUGH) {
        for (_, hop) in hops {
            let place = numbers.partition_point(|&number| number < hop.playthrough);
            hop.playthrough = u32::try_from(place + 1).unwrap_or(u32::MAX);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn there_and_back(hops: &[(i32, Hop)]) -> Result<Vec<(i32, Hop)>, Damage> {
        let mut writer = Writer::new();
        write(&mut writer, hops, SampleRate::new(44_056).unwrap());
        read(&mut Reader::new(&writer.into_bytes()), SampleRate::new(44_056).unwrap())
    }

    fn hop(frames: u16, playthrough: u32) -> Hop {
        Hop { frames, playthrough, full: true, ..Hop::default() }
    }

    #[test]
    fn places_kinds_numbers_and_frames_are_exact() {
        let mut hops: Vec<(i32, Hop)> =
            (0..500).map(|n| (n, hop(if n % 2 == 0 { 440 } else { 441 }, 3))).collect();
        hops.extend((500..600).map(|n| (n, Hop { edge: true, ..hop(480, 2) })));
        hops.extend((700..703).map(|n| (n, Hop { full: false, ..hop(7, 9) })));
        hops.insert(0, (FIRST_HOP, hop(1, 1)));
        hops.push((END_HOP - 1, hop(3_840, 100_000)));
        assert_eq!(there_and_back(&hops).unwrap(), hops);
        assert_eq!(there_and_back(&[]).unwrap(), []);
    }

    #[test]
    fn what_no_record_holds_is_refused() {
        for bad in [(END_HOP, hop(1, 1)), (0, hop(0, 1)), (0, hop(3_841, 1)), (0, hop(1, 0))] {
            assert!(there_and_back(&[bad]).is_err(), "{bad:?}");
        }
        assert!(there_and_back(&[(5, hop(1, 1)), (4, hop(1, 1))]).is_err());
    }

    #[test]
    fn numbers_beyond_all_bounds_are_closed_up_in_their_order() {
        let hops =
            [(0, hop(1, 7)), (1, hop(1, u32::MAX)), (2, hop(1, 9)), (3, hop(1, u32::MAX - 1))];
        let read: Vec<u32> =
            there_and_back(&hops).unwrap().iter().map(|(_, hop)| hop.playthrough).collect();
        assert_eq!(read, [1, 4, 2, 3]);
    }
}
