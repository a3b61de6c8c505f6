//! Tones as lists of numbers, in steps of 0.01 dB.

use super::super::planes::{Damage, Reader, Writer};
use crate::meters::spectrum::bands::BAND_COUNT;
use crate::tone::{BandLevels, Tone};
use crate::units::{Db, Lu};

const STEPS_PER_DB: f64 = 100.0;
/// Values beyond this are no levels, steps: 1 000 dB.
const HIGHEST: i64 = 100_000;
/// Stands for −∞; its negative for +∞.
const SILENCE: i64 = -2 * HIGHEST;
/// Stands for no value.
const NONE: i64 = 3 * HIGHEST;
/// Values beside the bands.
const SINGLES: usize = 9;
/// Rows of bands: average and three percentiles of both, mid and side.
const ROWS: usize = 12;

/// Writes `tones`, one behind the other.
pub(super) fn write<'a>(tones: impl Iterator<Item = Option<&'a Tone>>) -> Vec<u8> {
    let tones: Vec<Option<&Tone>> = tones.collect();
    let mut writer = Writer::new();
    // 0 for none: a tone stands on a second at least.
    let seconds = |tone: &Option<&Tone>| tone.map_or(0, |tone| tone.seconds);
    writer.numbers(tones.iter().map(|tone| u64::try_from(seconds(tone)).unwrap_or(u64::MAX)));
    let tones: Vec<&Tone> = tones.into_iter().flatten().collect();
    writer.signed(tones.iter().flat_map(|tone| singles(tone).map(steps_of)));
    let rows = tones.iter().flat_map(|tone| rows(tone)).flat_map(|row| {
        let mut before = 0;
        row.map(|level_db| {
            let steps = steps_of(Some(level_db));
            // From band to band a level changes little.
            steps - std::mem::replace(&mut before, steps)
        })
    });
    writer.signed(rows);
    writer.into_bytes()
}

/// Reads `count` tones and nothing else.
pub(super) fn read(bytes: &[u8], count: usize) -> Result<Vec<Option<Tone>>, Damage> {
    let mut reader = Reader::new(bytes);
    let seconds = reader.numbers(count)?;
    let there = seconds.iter().filter(|seconds| **seconds > 0).count();
    let mut all_singles = reader.signed(there * SINGLES)?.into_iter();
    let mut all_levels = reader.signed(there * ROWS * BAND_COUNT)?.into_iter();
    if !reader.is_empty() {
        return Err(Damage("more than its tones"));
    }
    let mut tones = Vec::with_capacity(count);
    for seconds in seconds {
        if seconds == 0 {
            tones.push(None);
            continue;
        }
        let mut singles = [None; SINGLES];
        for (single, steps) in singles.iter_mut().zip(&mut all_singles) {
            *single = value_of(steps)?;
        }
        let mut rows = [[0.0; BAND_COUNT]; ROWS];
        for row in &mut rows {
            let mut steps = 0_i64;
            for (level, change) in row.iter_mut().zip(&mut all_levels) {
                steps = steps.saturating_add(change);
                *level = value_of(steps)?.ok_or(Damage("a band without a level"))?;
            }
        }
        let seconds = usize::try_from(seconds).unwrap_or(usize::MAX);
        tones.push(Some(tone(seconds, &singles, rows)?));
    }
    Ok(tones)
}

fn rows(tone: &Tone) -> [[f64; BAND_COUNT]; ROWS] {
    let [a, b, c] = [&tone.both, &tone.mid, &tone.side].map(|levels| {
        let [low, median, high] = levels.percentiles_db;
        [levels.mean_db, low, median, high]
    });
    let [[a0, a1, a2, a3], [b0, b1, b2, b3], [c0, c1, c2, c3]] = [a, b, c];
    [a0, a1, a2, a3, b0, b1, b2, b3, c0, c1, c2, c3]
}

fn singles(tone: &Tone) -> [Option<f64>; SINGLES] {
    let [low, middle, high] = tone.side_to_mid.map(|width| width.map(|width| width.0));
    [
        Some(tone.subsonic.0),
        Some(tone.low_end.0),
        Some(tone.presence.0),
        Some(tone.air.0),
        tone.slope_db_per_octave,
        low,
        middle,
        high,
        Some(tone.fold_down_loss.0),
    ]
}

fn tone(
    seconds: usize,
    singles: &[Option<f64>; SINGLES],
    rows: [[f64; BAND_COUNT]; ROWS],
) -> Result<Tone, Damage> {
    let [a0, a1, a2, a3, b0, b1, b2, b3, c0, c1, c2, c3] = rows;
    let levels =
        |mean_db, low, median, high| BandLevels { mean_db, percentiles_db: [low, median, high] };
    let [subsonic, low_end, presence, air, slope, low, middle, high, loss] = *singles;
    let share = |value: Option<f64>| value.map(Db).ok_or(Damage("a share without a value"));
    Ok(Tone {
        seconds,
        both: levels(a0, a1, a2, a3),
        mid: levels(b0, b1, b2, b3),
        side: levels(c0, c1, c2, c3),
        subsonic: share(subsonic)?,
        low_end: share(low_end)?,
        presence: share(presence)?,
        air: share(air)?,
        slope_db_per_octave: slope,
        side_to_mid: [low, middle, high].map(|width| width.map(Db)),
        fold_down_loss: Lu(share(loss)?.0),
    })
}

fn steps_of(value: Option<f64>) -> i64 {
    match value {
        None => NONE,
        Some(f64::NEG_INFINITY) => SILENCE,
        Some(f64::INFINITY) => -SILENCE,
        Some(value) => {
            #[expect(clippy::cast_possible_truncation, reason = "saturates, and is clamped")]
            let steps = (value * STEPS_PER_DB).round() as i64;
            steps.clamp(-HIGHEST, HIGHEST)
        }
    }
}

fn value_of(steps: i64) -> Result<Option<f64>, Damage> {
    match steps {
        NONE => Ok(None),
        SILENCE => Ok(Some(f64::NEG_INFINITY)),
        _ if steps == -SILENCE => Ok(Some(f64::INFINITY)),
        _ if steps.abs() <= HIGHEST => {
            #[expect(clippy::cast_precision_loss, reason = "at most 1e5")]
            let steps = steps as f64;
            Ok(Some(steps / STEPS_PER_DB))
        }
        _ => Err(Damage("a level out of range")),
    }
}
