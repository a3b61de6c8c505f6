//! Where bands lie on the frequency axis.
//!
//! One-third-octave bands by IEC 61260-1:2014, base ten (clause read as a quotation): midband
//! frequencies 1000·10^(x/10) Hz, edges a twentieth of a decade to either side. Some readings
//! begin or end inside of a band (20 Hz, 120 Hz, 4 kHz, 10 kHz), so power is kept in *slots*: the
//! bands, cut where a reading needs it, what lies below and above them, and steady offset (DC).
//! Bands and readings are sums of adjacent slots.

use std::ops::Range;
use std::sync::LazyLock;

/// One-third-octave bands from 20 Hz to 20 kHz.
pub const BAND_COUNT: usize = 31;

/// x of the lowest band, whose nominal midband frequency is 20 Hz.
const FIRST_X: i32 = -17;

/// Below this stands an offset or its drift, which is no sound and no rumble, Hz. The project's
/// own choice, no source.
pub const OFFSET_BELOW_HZ: f64 = 3.0;

/// Cuts inside of bands, Hz, rising.
const CUTS_HZ: [f64; 4] = [20.0, 120.0, 4_000.0, 10_000.0];

/// Slots: offset, subsonic, the bands with a further slot for each cut, above.
pub const SLOT_COUNT: usize = BAND_COUNT + CUTS_HZ.len() + 3;

/// Nominal midband frequencies as they are written on axes (IEC 61260-1, Annex E; from memory).
pub const NOMINAL_HZ: [f64; BAND_COUNT] = [
    20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0,
    500.0, 630.0, 800.0, 1_000.0, 1_250.0, 1_600.0, 2_000.0, 2_500.0, 3_150.0, 4_000.0, 5_000.0,
    6_300.0, 8_000.0, 10_000.0, 12_500.0, 16_000.0, 20_000.0,
];

/// The exact midband frequency of band `band`, counted from 0, Hz.
#[must_use]
pub fn midband_hz(band: usize) -> f64 {
    at_twentieth(2 * x_of(band))
}

/// Lower and upper edge of band `band`, Hz.
#[must_use]
pub fn edges_hz(band: usize) -> [f64; 2] {
    let x = x_of(band);
    [at_twentieth(2 * x - 1), at_twentieth(2 * x + 1)]
}

fn x_of(band: usize) -> i32 {
    FIRST_X.saturating_add(i32::try_from(band).unwrap_or(i32::MAX / 4))
}

/// 1000·10^(n/20) Hz.
fn at_twentieth(n: i32) -> f64 {
    1_000.0 * 10.0_f64.powf(f64::from(n) / 20.0)
}

/// The borders between slots, Hz, rising: slot n lies between borders n − 1 and n, the first one
/// from zero on, the last one without end.
#[must_use]
pub fn slot_borders_hz() -> &'static [f64; SLOT_COUNT - 1] {
    static BORDERS: LazyLock<[f64; SLOT_COUNT - 1]> = LazyLock::new(rising_borders_hz);
    &BORDERS
}

fn rising_borders_hz() -> [f64; SLOT_COUNT - 1] {
    let mut borders = [0.0; SLOT_COUNT - 1];
    let bands = (0..BAND_COUNT).map(|band| edges_hz(band)[0]);
    let all = bands.chain([edges_hz(BAND_COUNT - 1)[1], OFFSET_BELOW_HZ]).chain(CUTS_HZ);
    for (border, hz) in borders.iter_mut().zip(all) {
        *border = hz;
    }
    borders.sort_unstable_by(f64::total_cmp);
    borders
}

/// The slots between two frequencies, Hz; a frequency that is no border counts as the border
/// next to it. Use [`OFFSET_BELOW_HZ`] for "from the lowest sound on" and infinity for "to the top".
#[must_use]
pub fn slots_between(from_hz: f64, to_hz: f64) -> Range<usize> {
    let borders = slot_borders_hz();
    let slot_from = |hz: f64| borders.iter().filter(|&&border| border <= hz * (1.0 + 1e-9)).count();
    slot_from(from_hz)..if to_hz.is_finite() { slot_from(to_hz) } else { SLOT_COUNT }
}

/// The slots of band `band`.
#[must_use]
pub fn slots_of_band(band: usize) -> Range<usize> {
    static SLOTS: LazyLock<[Range<usize>; BAND_COUNT]> = LazyLock::new(|| {
        std::array::from_fn(|band| {
            let [low, high] = edges_hz(band);
            slots_between(low, high)
        })
    });
    SLOTS.get(band).cloned().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn midband_frequencies_are_those_of_the_standard() {
        // Exact values, base ten, from 20 Hz to 20 kHz (IEC 61260-1; five digits).
        let exact = [
            19.953, 25.119, 31.623, 39.811, 50.119, 63.096, 79.433, 100.0, 125.89, 158.49, 199.53,
            251.19, 316.23, 398.11, 501.19, 630.96, 794.33, 1_000.0, 1_258.9, 1_584.9, 1_995.3,
            2_511.9, 3_162.3, 3_981.1, 5_011.9, 6_309.6, 7_943.3, 10_000.0, 12_589.0, 15_849.0,
            19_953.0,
        ];
        for (band, exact) in exact.into_iter().enumerate() {
            assert!((midband_hz(band) / exact - 1.0).abs() < 5e-5, "{band}");
            // A nominal frequency is within 1.3 % of the exact one.
            assert!((NOMINAL_HZ[band] / exact - 1.0).abs() < 0.013, "{band}");
        }
    }

    #[test]
    fn bands_adjoin_and_each_is_a_tenth_of_a_decade() {
        for band in 0..BAND_COUNT {
            let [low, high] = edges_hz(band);
            assert!(((high / low).log10() - 0.1).abs() < 1e-12);
            assert!(((low * high).sqrt() / midband_hz(band) - 1.0).abs() < 1e-12);
            if band > 0 {
                assert_eq!(edges_hz(band - 1)[1], low);
            }
        }
    }

    #[test]
    fn every_slot_is_counted_once_and_readings_end_at_borders() {
        let borders = slot_borders_hz();
        assert!(borders.is_sorted() && borders[0] == OFFSET_BELOW_HZ);
        let mut next = slots_between(OFFSET_BELOW_HZ, edges_hz(0)[0]).end;
        for band in 0..BAND_COUNT {
            let slots = slots_of_band(band);
            assert_eq!(slots.start, next);
            next = slots.end;
        }
        assert_eq!(next, SLOT_COUNT - 1);
        for cut in CUTS_HZ {
            let slots = slots_between(OFFSET_BELOW_HZ, cut);
            assert_eq!((slots.start, borders[slots.end - 1]), (1, cut));
            assert_eq!(slots_between(cut, f64::INFINITY), slots.end..SLOT_COUNT);
        }
    }
}
