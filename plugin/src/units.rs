//! Newtypes that cross module borders, and the only conversions between linear values and
//! decibels.
//!
//! Inside a DSP function values are raw floats with the unit in their name; energies are linear
//! `f64`. `Option` means "not measured"; −∞ is only ever measured silence.

use std::fmt;

/// Offset of the loudness scale: L = −0.691 + 10·log10 Σ G·z (ITU-R BS.1770-5, Annex 1, eq. 2).
pub const LOUDNESS_OFFSET_LU: f64 = -0.691;

macro_rules! decibel_unit {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit as the trade writes it.
            pub const UNIT: &'static str = $unit;
        }

        impl fmt::Display for $name {
            /// One decimal and the unit, with a true minus sign; silence reads "−∞".
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", one_decimal(self.0), $unit)
            }
        }
    };
}

decibel_unit! {
    /// Loudness, absolute, in LUFS (= LKFS). −∞ is measured silence.
    Lufs, "LUFS"
}
decibel_unit! {
    /// A difference of two loudnesses, in LU (1 LU = 1 dB).
    Lu, "LU"
}
decibel_unit! {
    /// A true peak relative to full scale, in dBTP (ITU-R BS.1770-5, Annex 2). −∞ is silence.
    Dbtp, "dBTP"
}
decibel_unit! {
    /// A sample peak relative to full scale, in dBFS. −∞ is silence.
    Dbfs, "dBFS"
}
decibel_unit! {
    /// A gain or a difference of two levels, in dB.
    Db, "dB"
}

impl Lufs {
    /// Loudness of a channel-weighted mean square `energy` (full-scale square wave in one
    /// front channel = 1.0). Zero gives −∞.
    #[must_use]
    pub fn from_energy(energy: f64) -> Self {
        Self(LOUDNESS_OFFSET_LU + energy_to_db(energy))
    }

    /// The channel-weighted mean square that reads as this loudness; −∞ gives zero.
    #[must_use]
    pub fn to_energy(self) -> f64 {
        db_to_energy(self.0 - LOUDNESS_OFFSET_LU)
    }
}

impl std::ops::Sub for Lufs {
    type Output = Lu;
    fn sub(self, other: Self) -> Lu {
        Lu(self.0 - other.0)
    }
}

impl std::ops::Add<Db> for Lufs {
    type Output = Self;
    fn add(self, gain: Db) -> Self {
        Self(self.0 + gain.0)
    }
}

impl std::ops::Sub for Dbtp {
    type Output = Db;
    fn sub(self, other: Self) -> Db {
        Db(self.0 - other.0)
    }
}

impl std::ops::Add<Db> for Dbtp {
    type Output = Self;
    fn add(self, gain: Db) -> Self {
        Self(self.0 + gain.0)
    }
}

impl Dbtp {
    /// True peak of a linear amplitude (1.0 = full scale).
    #[must_use]
    pub fn from_amplitude(amplitude: f32) -> Self {
        Self(amplitude_to_db(f64::from(amplitude)))
    }
}

impl Dbfs {
    /// Sample peak of a linear amplitude (1.0 = full scale).
    #[must_use]
    pub fn from_amplitude(amplitude: f32) -> Self {
        Self(amplitude_to_db(f64::from(amplitude)))
    }
}

/// 10·log10 of a power or energy ratio; zero gives −∞.
#[must_use]
pub fn energy_to_db(energy: f64) -> f64 {
    10.0 * energy.log10()
}

/// The power or energy ratio of `db`; −∞ gives zero.
#[must_use]
pub fn db_to_energy(db: f64) -> f64 {
    10.0_f64.powf(db / 10.0)
}

/// 20·log10 of an amplitude ratio; zero gives −∞.
#[must_use]
pub fn amplitude_to_db(amplitude: f64) -> f64 {
    20.0 * amplitude.log10()
}

/// The amplitude ratio of `db`; −∞ gives zero.
#[must_use]
pub fn db_to_amplitude(db: f64) -> f64 {
    10.0_f64.powf(db / 20.0)
}

/// `value` with one decimal and a true minus sign, never "−0.0"; −∞ and +∞ as signs.
#[must_use]
pub fn one_decimal(value: f64) -> String {
    if value == f64::NEG_INFINITY {
        return "−∞".to_owned();
    }
    if value == f64::INFINITY {
        return "+∞".to_owned();
    }
    let text = format!("{:.1}", value.abs());
    if value < 0.0 && text != "0.0" { format!("−{text}") } else { text }
}

/// [`one_decimal`] with a plus sign before values above zero.
#[must_use]
pub fn signed_one_decimal(value: f64) -> String {
    let text = one_decimal(value);
    if value > 0.0 && text != "0.0" && !text.starts_with('+') { format!("+{text}") } else { text }
}

/// Song time as m:ss or h:mm:ss, with tenths if asked.
#[must_use]
pub fn song_time(seconds: f64, tenths: bool) -> String {
    let scale = if tenths { 10.0 } else { 1.0 };
    let units = (seconds.abs() * scale).round();
    let sign = if seconds < 0.0 && units > 0.0 { "−" } else { "" };
    let whole_s = (units / scale).floor();
    let (hours, minutes, secs) =
        ((whole_s / 3600.0).floor(), (whole_s / 60.0).floor(), whole_s % 60.0);
    let mut text = if hours > 0.0 {
        format!("{sign}{hours:.0}:{:02.0}:{secs:02.0}", minutes % 60.0)
    } else {
        format!("{sign}{minutes:.0}:{secs:02.0}")
    };
    if tenths {
        text.push_str(&format!(".{:.0}", units - whole_s * scale));
    }
    text
}

/// Sample rate in Hz, 8 000 to 384 000.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SampleRate(u32);

impl SampleRate {
    /// Lowest rate that the meters are built for, in Hz.
    pub const MIN_HZ: u32 = 8_000;
    /// Highest rate that the meters are built for, in Hz.
    pub const MAX_HZ: u32 = 384_000;

    /// # Errors
    /// A rate outside 8 000 to 384 000 Hz.
    pub const fn new(hz: u32) -> Result<Self, UnsupportedRate> {
        if hz >= Self::MIN_HZ && hz <= Self::MAX_HZ {
            Ok(Self(hz))
        } else {
            Err(UnsupportedRate { hz })
        }
    }

    /// The rate in Hz.
    #[must_use]
    pub const fn hz(self) -> u32 {
        self.0
    }
}

/// A sample rate that the meters are not built for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnsupportedRate {
    /// The rate that was asked for, in Hz.
    pub hz: u32,
}

impl fmt::Display for UnsupportedRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "sample rate {} Hz: the meters work from {} to {} Hz",
            self.hz,
            SampleRate::MIN_HZ,
            SampleRate::MAX_HZ
        )
    }
}

impl std::error::Error for UnsupportedRate {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_reads_minus_infinity_and_comes_back_as_zero() {
        assert_eq!(Lufs::from_energy(0.0).0, f64::NEG_INFINITY);
        assert_eq!(Lufs(f64::NEG_INFINITY).to_energy(), 0.0);
        assert_eq!(Lufs(f64::NEG_INFINITY).to_string(), "−∞ LUFS");
    }

    #[test]
    fn numbers_carry_sign_and_unit_and_never_read_minus_zero() {
        assert_eq!(Lufs(-14.04).to_string(), "−14.0 LUFS");
        assert_eq!(one_decimal(-0.04), "0.0");
        assert_eq!(signed_one_decimal(2.44), "+2.4");
        assert_eq!(signed_one_decimal(0.04), "0.0");
    }

    #[test]
    fn song_time_reads_as_a_clock() {
        assert_eq!(song_time(0.0, false), "0:00");
        assert_eq!(song_time(83.24, true), "1:23.2");
        assert_eq!(song_time(59.96, true), "1:00.0");
        assert_eq!(song_time(3661.0, false), "1:01:01");
        assert_eq!(song_time(-2.0, false), "−0:02");
        assert_eq!(song_time(-0.01, true), "0:00.0");
    }

    #[test]
    fn rates_outside_the_range_are_refused_with_value_and_rule() {
        assert!(SampleRate::new(8_000).is_ok());
        assert!(SampleRate::new(384_000).is_ok());
        let message = SampleRate::new(0).map_err(|e| e.to_string());
        assert_eq!(
            message,
            Err("sample rate 0 Hz: the meters work from 8000 to 384000 Hz".to_owned())
        );
    }
}
