//! The synthetic test signals of EBU Tech 3341 (2023, v4) Table 1 and EBU Tech 3342 (2023, v4),
//! at any sample rate, with what each must read.
//!
//! A case is a list of parts: the file-based cases 10 and 13 are twenty separate measurements,
//! all others one. A part is the sound and the readings expected of it, each over a range of
//! frames. Cases 7 and 8 (and 5 and 6 of Tech 3342) are recorded programmes that cannot be
//! synthesised.
//!
//! Tech 3341's table is known here through quotations, Tech 3342 was read in full.

mod peak;
mod tones;

use crate::audio_file::Audio;

/// The quantity that a case prescribes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// Integrated loudness of the whole part, in LUFS.
    IntegratedLufs,
    /// Every momentary loudness whose window ends in the range, in LUFS.
    MomentaryLufs,
    /// Every short-term loudness whose window ends in the range, in LUFS.
    ShortTermLufs,
    /// Maximum momentary loudness over windows that end in the range, in LUFS.
    MaxMomentaryLufs,
    /// Maximum short-term loudness over windows that end in the range, in LUFS.
    MaxShortTermLufs,
    /// Loudness range of the whole part, in LU.
    LoudnessRangeLu,
    /// Maximum true peak of the whole part, in dBTP.
    MaxTruePeakDbtp,
}

/// One reading that a part must give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// What is read.
    pub figure: Figure,
    /// The prescribed value, in the unit of the figure.
    pub value: f64,
    /// How far the reading may lie below, in LU or dB, positive.
    pub below: f64,
    /// How far the reading may lie above, in LU or dB.
    pub above: f64,
    /// First frame at which the reading is taken.
    pub from_frame: usize,
    /// The frame after the last one at which the reading is taken.
    pub until_frame: usize,
}

impl Expected {
    /// Whether `reading` lies within the tolerance.
    #[must_use]
    pub fn admits(&self, reading: f64) -> bool {
        reading >= self.value - self.below && reading <= self.value + self.above
    }
}

/// One measurement, started from reset.
#[derive(Debug, Clone)]
pub struct Part {
    /// The sound.
    pub audio: Audio,
    /// What must be read.
    pub expected: Vec<Expected>,
}

/// One test case of a standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Case {
    /// The document and the place in it.
    pub clause: &'static str,
    /// The number that the document gives the case.
    pub number: u8,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Meter,
    Range,
}

/// The clause of every case of Tech 3341.
const TECH_3341: &str = "EBU Tech 3341 (2023), Table 1";
/// The clause of every case of Tech 3342.
const TECH_3342: &str = "EBU Tech 3342 (2023), §4";

/// All cases that can be synthesised: Tech 3341 1 to 6 and 9 to 23, Tech 3342 1 to 4.
#[must_use]
pub fn cases() -> Vec<Case> {
    let meter =
        (1..=6).chain(9..=23).map(|number| Case { clause: TECH_3341, number, kind: Kind::Meter });
    let range = (1..=4).map(|number| Case { clause: TECH_3342, number, kind: Kind::Range });
    meter.chain(range).collect()
}

/// Case `number` of Tech 3341: 1 to 6 or 9 to 23.
///
/// # Panics
/// For another number.
#[must_use]
pub fn tech_3341(number: u8) -> Case {
    assert!(matches!(number, 1..=6 | 9..=23), "no synthetic case {number} in {TECH_3341}");
    Case { clause: TECH_3341, number, kind: Kind::Meter }
}

/// Case `number` of Tech 3342: 1 to 4.
///
/// # Panics
/// For another number.
#[must_use]
pub fn tech_3342(number: u8) -> Case {
    assert!(matches!(number, 1..=4), "no synthetic case {number} in {TECH_3342}");
    Case { clause: TECH_3342, number, kind: Kind::Range }
}

impl Case {
    /// The sounds and what they must read, at `rate_hz`.
    #[must_use]
    pub fn parts(&self, rate_hz: u32) -> Vec<Part> {
        match (self.kind, self.number) {
            (Kind::Meter, 15..=23) => vec![peak::part(self.number, rate_hz)],
            (Kind::Meter, number) => tones::meter_parts(number, rate_hz),
            (Kind::Range, number) => vec![tones::range_part(number, rate_hz)],
        }
    }

    /// Channels of the sound: 5 (L, R, C, Ls, Rs) in case 6 of Tech 3341, else 2.
    #[must_use]
    pub fn channels(&self) -> usize {
        if self.kind == Kind::Meter && self.number == 6 { 5 } else { 2 }
    }
}

impl std::fmt::Display for Case {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, case {}", self.clause, self.number)
    }
}

#[cfg(test)]
mod tests;
