//! Tone by second: levels in steps of half a decibel, so that a second of a band comes back
//! within 0.25 dB and an average of many nearer.

use super::planes::{Damage, Reader, Writer};
use crate::meters::spectrum::Powers;
use crate::record::{BaseHops, END_SECOND, FIRST_SECOND, RecordReader, ToneSecond};
use crate::units::{db_to_energy, energy_to_db};

const STEPS_PER_DB: f64 = 2.0;
/// Levels at or below this are silence, dB.
const SILENCE_DB: f64 = -200.0;
/// Highest step: 56 dB, beyond what a record holds.
const HIGHEST: i64 = 512;
/// Steps of the covered share.
const WHOLE: f64 = 10_000.0;

/// Writes the seconds of `record`.
pub(super) fn write(writer: &mut Writer, record: &RecordReader) {
    let seconds: Vec<(i32, ToneSecond)> = record.tone_seconds().collect();
    writer.numbers([u64::try_from(seconds.len()).unwrap_or(0)]);
    let numbers = seconds.iter().map(|(second, _)| i64::from(*second));
    writer.signed(differences(numbers, i64::from(FIRST_SECOND) - 1));
    writer.signed(differences(seconds.iter().map(|(_, s)| i64::from(s.playthrough)), 0));
    writer.signed(seconds.iter().map(|(_, second)| whole((1.0 - second.covered) * WHOLE)));
    let mids = seconds.iter().map(|(_, second)| second.mid).collect();
    let sides = seconds.iter().map(|(_, second)| second.side).collect();
    for powers in [mids, sides] {
        // From second to second a band changes least.
        let powers: Vec<Powers> = powers;
        let rows = (0..row_count()).flat_map(|row| {
            let levels = powers.iter().map(move |powers| level_of(row_of(powers, row)));
            differences(levels, 0)
        });
        writer.signed(rows);
    }
}

/// Reads seconds into `base`.
pub(super) fn read(reader: &mut Reader<'_>, base: &mut BaseHops) -> Result<(), Damage> {
    let out_of_range = Damage("tone out of the range of a record");
    let most = usize::try_from(END_SECOND - FIRST_SECOND).unwrap_or(0);
    let count = reader.numbers(1)?.first().copied().unwrap_or(0);
    let count = usize::try_from(count).ok().filter(|&count| count <= most).ok_or(out_of_range)?;
    let places = sums(reader.signed(count)?, i64::from(FIRST_SECOND) - 1);
    let playthroughs = sums(reader.signed(count)?, 0);
    let missing = reader.signed(count)?;
    let mut seconds = Vec::with_capacity(count);
    let mut last = FIRST_SECOND - 1;
    for ((place, playthrough), missing) in places.into_iter().zip(playthroughs).zip(missing) {
        let second = i32::try_from(place).ok().filter(|&n| n > last && n < END_SECOND);
        last = second.ok_or(out_of_range)?;
        let playthrough = u32::try_from(playthrough).ok().filter(|&number| number > 0);
        let playthrough = playthrough.ok_or(Damage("a playthrough without a number"))?;
        let covered = 1.0 - float(missing) / WHOLE;
        if !(covered > 0.0 && covered <= 1.0) {
            return Err(Damage("a second that was measured by no share of it"));
        }
        let (mid, side) = (Powers::ZERO, Powers::ZERO);
        seconds.push((last, ToneSecond { covered, playthrough, mid, side }));
    }
    for is_side in [false, true] {
        let mut levels = reader.signed(count * row_count())?.into_iter();
        for row in 0..row_count() {
            let mut level = 0_i64;
            for ((_, second), change) in seconds.iter_mut().zip(&mut levels) {
                level = level.saturating_add(change);
                if !(0..=HIGHEST).contains(&level) {
                    return Err(Damage("a level out of range"));
                }
                let powers = if is_side { &mut second.side } else { &mut second.mid };
                *row_of_mut(powers, row) = power_of(level);
            }
        }
    }
    for (second, tone) in &seconds {
        base.put_tone(*second, tone);
    }
    Ok(())
}

/// Slots, and the K-weighted sum.
fn row_count() -> usize {
    Powers::ZERO.slots.len() + 1
}

fn row_of(powers: &Powers, row: usize) -> f64 {
    powers.slots.get(row).copied().unwrap_or(powers.k_weighted)
}

fn row_of_mut(powers: &mut Powers, row: usize) -> &mut f64 {
    powers.slots.get_mut(row).unwrap_or(&mut powers.k_weighted)
}

fn level_of(power: f64) -> i64 {
    whole(((energy_to_db(power) - SILENCE_DB) * STEPS_PER_DB).max(0.0)).min(HIGHEST)
}

fn power_of(level: i64) -> f64 {
    if level == 0 { 0.0 } else { db_to_energy(SILENCE_DB + float(level) / STEPS_PER_DB) }
}

/// Each number less the one before it.
fn differences(numbers: impl Iterator<Item = i64>, mut before: i64) -> impl Iterator<Item = i64> {
    numbers.map(move |number| number - std::mem::replace(&mut before, number))
}

fn sums(differences: Vec<i64>, mut sum: i64) -> Vec<i64> {
    let add = |difference| {
        sum = sum.saturating_add(difference);
        sum
    };
    differences.into_iter().map(add).collect()
}

#[expect(clippy::cast_possible_truncation, reason = "small, and saturates; NaN gives 0")]
fn whole(value: f64) -> i64 {
    value.round() as i64
}

#[expect(clippy::cast_precision_loss, reason = "checked or shown to be small where it counts")]
const fn float(value: i64) -> f64 {
    value as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meters::layout::Layout;
    use crate::meters::spectrum::Second;
    use crate::record::record_with_tone;
    use std::sync::Arc;

    #[test]
    fn seconds_come_back_within_a_quarter_of_a_decibel() {
        let (mut hops, mut writer, record) = record_with_tone(Layout::Stereo, false);
        let number = hops.begin_playthrough();
        for index in (-3..40).filter(|index| index % 7 != 0) {
            let mut mid = Powers::ZERO;
            for (power, slot) in mid.slots.iter_mut().zip(0_i32..) {
                *power = 1e-4 / (1.0 + f64::from(index * index * slot));
            }
            mid.k_weighted = 0.01;
            let side = if index % 2 == 0 { Powers::ZERO } else { mid.times(0.1) };
            let covered = if index == 39 { 0.25 } else { 1.0 };
            writer.write(&Second { second: index, covered, mid, side }, number);
        }
        let mut saved = Writer::new();
        write(&mut saved, &record);
        let bytes = saved.into_bytes();
        let mut base = BaseHops::new(Layout::Stereo);
        read(&mut Reader::new(&bytes), &mut base).unwrap();
        let (_, _, reopened) = record_with_tone(Layout::Stereo, false);
        reopened.load(Some(Arc::new(base))).unwrap();
        let [before, after]: [Vec<_>; 2] = [&record, &reopened].map(|r| r.tone_seconds().collect());
        assert!(before.len() > 30 && before.len() == after.len());
        for ((second, before), (same, after)) in before.iter().zip(&after) {
            assert_eq!((second, before.covered), (same, after.covered));
            assert_eq!(before.playthrough, after.playthrough);
            for (before, after) in [(before.mid, after.mid), (before.side, after.side)] {
                for row in 0..row_count() {
                    let [before, after] = [row_of(&before, row), row_of(&after, row)];
                    let off_db = energy_to_db(before / after);
                    assert!((before == 0.0 && after == 0.0) || off_db.abs() <= 0.251, "{off_db}");
                }
            }
        }
        for len in 0..bytes.len() {
            assert!(
                read(&mut Reader::new(&bytes[..len]), &mut BaseHops::new(Layout::Stereo)).is_err()
            );
        }
    }
}
