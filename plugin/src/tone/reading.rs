//! What a range of song time reads.

use crate::meters::spectrum::Powers;
use crate::meters::spectrum::bands::{
    BAND_COUNT, OFFSET_BELOW_HZ, edges_hz, midband_hz, slots_between,
};
use crate::record::ToneSecond;
use crate::units::{Db, Lu, Lufs, energy_to_db};

/// Seconds at or below this loudness do not sound, LUFS.
const SOUNDING_ABOVE_LUFS: f64 = -70.0;

/// A second counts if at least this share of it was measured. The project's own choice, no source.
const COUNTS_FROM: f64 = 0.5;

/// A side this far below the mid, as a power ratio, reads as mono: −60 dB. The project's own choice,
/// no source.
const MONO_RATIO: f64 = 1e-6;

/// Where the three ranges of width part, Hz. Common practice, no source.
pub const WIDTH_BORDERS_HZ: [f64; 2] = [120.0, 4_000.0];

/// Below this is subsonic, up to [`LOW_END_TO_HZ`] low end, Hz. Common practice, no source.
const SUBSONIC_BELOW_HZ: f64 = 20.0;
/// Upper end of the low end, Hz. Common practice, no source.
const LOW_END_TO_HZ: f64 = 120.0;
/// Bands of the presence: those of 2 to 5 kHz, which is 1.78 to 5.62 kHz. Common practice, no source.
const PRESENCE_BANDS: [usize; 2] = [20, 24];
/// Above this is air, Hz. Common practice, no source.
const AIR_FROM_HZ: f64 = 10_000.0;
/// Bands that the slope is fitted to: 100 Hz to 10 kHz. The project's own choice, no source.
const SLOPE_BANDS: [usize; 2] = [7, 27];

/// Levels of the bands, dB of mean square, full scale = 0 dB (a full-scale sine reads −3.01 dB); −∞
/// is silence, also where a band lies beyond half the sample rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandLevels {
    /// Average of power over all seconds.
    pub mean_db: [f64; BAND_COUNT],
    /// What 10, 50 and 90 per cent of the seconds do not exceed.
    pub percentiles_db: [[f64; BAND_COUNT]; 3],
}

/// The tone and width of a range. Shares are parts of all power but that of a steady offset, dB.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    /// Seconds that it stands on.
    pub seconds: usize,
    /// Mid and side together, which is the mean of left and right.
    pub both: BandLevels,
    /// The mid, (L + R)/2.
    pub mid: BandLevels,
    /// The side, (L − R)/2.
    pub side: BandLevels,
    /// Share of what lies below 20 Hz.
    pub subsonic: Db,
    /// Share of 20 to 120 Hz.
    pub low_end: Db,
    /// Share of the bands of 2 to 5 kHz.
    pub presence: Db,
    /// Share of 10 kHz and above, to the end of the 20 kHz band.
    pub air: Db,
    /// Slope of the power per Hz from 100 Hz to 10 kHz, dB per octave: the straight line that fits
    /// the bands best. White noise reads 0.0, pink −3.0. `None` if a band of these is silent.
    pub slope_db_per_octave: Option<f64>,
    /// Side to mid below 120 Hz, from there to 4 kHz, and above, dB. −∞ for mono, +∞ with no mid at
    /// all, `None` for silence.
    pub side_to_mid: [Option<Db>; 3],
    /// How much loudness is lost when both channels are folded to mono, (L + R)/2 in both: K-weighted
    /// power of mid and side to that of the mid. 0.0 for mono, +∞ if nothing is left. Over the
    /// seconds that count, without the relative gate of the integrated loudness.
    pub fold_down_loss: Lu,
}

/// How a section differs from the one before it; `None` where one of the two has no such value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneChange {
    /// Of [`Tone::subsonic`].
    pub subsonic: Option<Db>,
    /// Of [`Tone::low_end`].
    pub low_end: Option<Db>,
    /// Of [`Tone::presence`].
    pub presence: Option<Db>,
    /// Of [`Tone::air`].
    pub air: Option<Db>,
    /// Of [`Tone::slope_db_per_octave`].
    pub slope_db_per_octave: Option<f64>,
    /// Of [`Tone::side_to_mid`].
    pub side_to_mid: [Option<Db>; 3],
    /// Of [`Tone::fold_down_loss`].
    pub fold_down_loss: Option<Lu>,
}

impl Tone {
    /// What `seconds` read; `None` if none of them counts.
    pub fn of<'a>(seconds: impl Iterator<Item = &'a ToneSecond>) -> Option<Self> {
        let seconds: Vec<&ToneSecond> = seconds.filter(|second| counts(second)).collect();
        let share = 1.0 / f64::from(u32::try_from(seconds.len()).ok().filter(|&n| n > 0)?);
        let (mut mid, mut side) = (Powers::ZERO, Powers::ZERO);
        for second in &seconds {
            mid.add(&second.mid, share);
            side.add(&second.side, share);
        }
        let mut both = mid;
        both.add(&side, 1.0);

        let sound = both.sum(slots_between(OFFSET_BELOW_HZ, f64::INFINITY));
        let share_of =
            |from_hz, to_hz| Db(energy_to_db(both.sum(slots_between(from_hz, to_hz)) / sound));
        let [first, last] = PRESENCE_BANDS.map(edges_hz);
        let [low_hz, high_hz] = WIDTH_BORDERS_HZ;
        let ranges = [(OFFSET_BELOW_HZ, low_hz), (low_hz, high_hz), (high_hz, f64::INFINITY)];
        Some(Self {
            seconds: seconds.len(),
            both: levels(&both, seconds.iter().map(|s| [&s.mid, &s.side])),
            mid: levels(&mid, seconds.iter().map(|s| [&s.mid, &Powers::ZERO])),
            side: levels(&side, seconds.iter().map(|s| [&Powers::ZERO, &s.side])),
            subsonic: share_of(OFFSET_BELOW_HZ, SUBSONIC_BELOW_HZ),
            low_end: share_of(SUBSONIC_BELOW_HZ, LOW_END_TO_HZ),
            presence: share_of(first[0], last[1]),
            air: share_of(AIR_FROM_HZ, edges_hz(BAND_COUNT - 1)[1]),
            slope_db_per_octave: slope(&both),
            side_to_mid: ranges.map(|(from_hz, to_hz)| {
                let slots = slots_between(from_hz, to_hz);
                ratio(side.sum(slots.clone()), mid.sum(slots))
            }),
            fold_down_loss: Lu(energy_to_db(both.k_weighted / mid.k_weighted)),
        })
    }

    /// How this differs from `before`.
    #[must_use]
    pub fn change_from(&self, before: &Self) -> ToneChange {
        let finite = |by: f64| by.is_finite().then_some(by);
        let db = |now: Db, before: Db| finite(now.0 - before.0).map(Db);
        let mut side_to_mid = [None; 3];
        let widths = self.side_to_mid.iter().zip(before.side_to_mid);
        for (change, (now, before)) in side_to_mid.iter_mut().zip(widths) {
            *change = now.zip(before).and_then(|(now, before)| db(now, before));
        }
        let slopes = self.slope_db_per_octave.zip(before.slope_db_per_octave);
        ToneChange {
            subsonic: db(self.subsonic, before.subsonic),
            low_end: db(self.low_end, before.low_end),
            presence: db(self.presence, before.presence),
            air: db(self.air, before.air),
            slope_db_per_octave: slopes.map(|(now, before)| now - before),
            side_to_mid,
            fold_down_loss: finite(self.fold_down_loss.0 - before.fold_down_loss.0).map(Lu),
        }
    }
}

fn counts(second: &ToneSecond) -> bool {
    // Left and right together have twice the power of mid and side.
    let energy = 2.0 * (second.mid.k_weighted + second.side.k_weighted);
    second.covered >= COUNTS_FROM && Lufs::from_energy(energy).0 > SOUNDING_ABOVE_LUFS
}

fn levels<'a>(mean: &Powers, seconds: impl Iterator<Item = [&'a Powers; 2]> + Clone) -> BandLevels {
    let mut levels =
        BandLevels { mean_db: [0.0; BAND_COUNT], percentiles_db: [[0.0; BAND_COUNT]; 3] };
    let [low, median, high] = &mut levels.percentiles_db;
    let places = low.iter_mut().zip(median).zip(high);
    for ((band, mean_db), ((low, median), high)) in
        levels.mean_db.iter_mut().enumerate().zip(places)
    {
        *mean_db = energy_to_db(mean.band(band));
        let mut powers: Vec<f64> =
            seconds.clone().map(|[mid, side]| mid.band(band) + side.band(band)).collect();
        powers.sort_unstable_by(f64::total_cmp);
        for (place, percent) in [(low, 10), (median, 50), (high, 90)] {
            *place = percentile(&powers, percent).map_or(f64::NEG_INFINITY, energy_to_db);
        }
    }
    levels
}

/// The smallest of the rising `values` that `percent` per cent of them do not exceed.
fn percentile(values: &[f64], percent: usize) -> Option<f64> {
    let rank = (values.len() * percent).div_ceil(100).max(1);
    values.get(rank - 1).copied()
}

/// Least squares over the bands' octaves; a band's power per Hz falls by one band's width in dB
/// more than its power.
fn slope(powers: &Powers) -> Option<f64> {
    let [first, last] = SLOPE_BANDS;
    let points: Vec<[f64; 2]> = (first..=last)
        .map(|band| {
            let [low, high] = edges_hz(band);
            let level_db = energy_to_db(powers.band(band) / (high - low));
            level_db.is_finite().then(|| [midband_hz(band).log2(), level_db])
        })
        .collect::<Option<_>>()?;
    let count = f64::from(u32::try_from(points.len()).ok()?);
    let mean = |of: fn(&[f64; 2]) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|point| point[0]), mean(|point| point[1]));
    let both: f64 = points.iter().map(|point| (point[0] - x) * (point[1] - y)).sum();
    let square: f64 = points.iter().map(|point| (point[0] - x).powi(2)).sum();
    Some(both / square)
}

fn ratio(side: f64, mid: f64) -> Option<Db> {
    if side + mid <= 0.0 {
        return None;
    }
    Some(Db(if side <= mid * MONO_RATIO {
        f64::NEG_INFINITY
    } else if mid <= side * MONO_RATIO {
        f64::INFINITY
    } else {
        energy_to_db(side / mid)
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meters::spectrum::bands::{SLOT_COUNT, slot_borders_hz};

    /// A second whose power per Hz is ∝ f^`slope`, 0 dB at 1 kHz times `level`.
    fn second(slope: f64, level: f64, side: f64) -> ToneSecond {
        let borders = slot_borders_hz();
        let mut mid = Powers::ZERO;
        for (slot, power) in mid.slots.iter_mut().enumerate() {
            let low = slot.checked_sub(1).map_or(0.1, |low| borders[low]);
            let high = borders.get(slot).copied().unwrap_or(24_000.0);
            let steps = 200;
            let step = (high - low) / f64::from(steps);
            *power = (0..steps)
                .map(|n| {
                    let hz = low + (f64::from(n) + 0.5) * step;
                    level * (hz / 1_000.0).powf(slope) * step
                })
                .sum();
        }
        mid.k_weighted = mid.sum(1..SLOT_COUNT);
        ToneSecond { covered: 1.0, playthrough: 1, side: mid.times(side), mid }
    }

    #[test]
    fn slope_is_that_of_the_density() {
        for (slope, expected) in [(0.0, 0.0), (-1.0, -3.0103), (-1.5, -4.5154)] {
            let tone = Tone::of([second(slope, 1e-6, 0.2)].iter()).unwrap();
            let found = tone.slope_db_per_octave.unwrap();
            assert!((found - expected).abs() < 0.01, "{slope}: {found}");
        }
    }

    #[test]
    fn shares_of_white_noise_are_those_of_bandwidth() {
        let tone = Tone::of([second(0.0, 1e-6, 0.5)].iter()).unwrap();
        let total_hz = 24_000.0 - OFFSET_BELOW_HZ;
        for (found, hz) in [
            (tone.subsonic, 17.0),
            (tone.low_end, 100.0),
            (tone.presence, 5_623.413 - 1_778.279),
            (tone.air, 22_387.211 - 10_000.0),
        ] {
            assert!((found.0 - energy_to_db(hz / total_hz)).abs() < 0.001, "{found}");
        }
        for width in tone.side_to_mid {
            assert!((width.unwrap().0 + 3.0103).abs() < 1e-3);
        }
        // Half the mid's power in the side: 10·log10(1.5).
        assert!((tone.fold_down_loss.0 - 1.7609).abs() < 1e-3);
    }

    #[test]
    fn averages_are_of_power_and_percentiles_of_seconds() {
        let seconds: Vec<_> = (1..=10).map(|n| second(-1.0, 1e-6 * f64::from(n), 0.0)).collect();
        let tone = Tone::of(seconds.iter()).unwrap();
        let one = |n: f64| energy_to_db(second(-1.0, 1e-6 * n, 0.0).mid.band(17));
        let [low, median, high] = tone.both.percentiles_db.map(|levels| levels[17]);
        for (found, expected) in
            [(tone.both.mean_db[17], 5.5), (low, 1.0), (median, 5.0), (high, 9.0)]
        {
            assert!((found - one(expected)).abs() < 1e-9, "{found} {expected}");
        }
        assert_eq!(tone.mid, tone.both);
        assert_eq!(tone.side.mean_db, [f64::NEG_INFINITY; BAND_COUNT]);
        assert_eq!(tone.side_to_mid, [Some(Db(f64::NEG_INFINITY)); 3]);
        assert_eq!((tone.seconds, tone.fold_down_loss), (10, Lu(0.0)));
    }

    #[test]
    fn silence_and_parts_of_seconds_do_not_count() {
        let sound = second(-1.0, 1e-6, 0.1);
        let quiet = second(-1.0, 1e-13, 0.1);
        let part = ToneSecond { covered: 0.49, ..second(-1.0, 1.0, 0.1) };
        let silence = ToneSecond { mid: Powers::ZERO, side: Powers::ZERO, ..sound };
        let tone = Tone::of([sound, quiet, part, silence].iter()).unwrap();
        assert_eq!(tone, Tone::of([sound].iter()).unwrap());
        assert!(Tone::of([quiet, part, silence].iter()).is_none());
    }

    #[test]
    fn a_change_is_the_difference_and_none_where_there_is_none() {
        let (verse, chorus) = (second(-1.5, 1e-6, 0.0), second(-1.0, 1e-5, 0.5));
        let [verse, chorus] = [verse, chorus].map(|second| Tone::of([second].iter()).unwrap());
        let change = chorus.change_from(&verse);
        assert!((change.slope_db_per_octave.unwrap() - 1.505).abs() < 0.01);
        assert!((change.air.unwrap().0 - (chorus.air.0 - verse.air.0)).abs() < 1e-12);
        // The verse is mono: there is no finite change of width.
        assert_eq!(change.side_to_mid, [None; 3]);
        assert!((change.fold_down_loss.unwrap().0 - 1.7609).abs() < 1e-3);
    }
}
