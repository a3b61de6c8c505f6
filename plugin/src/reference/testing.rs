//! Songs whose measurement is made up, for tests: pink noise with known changes.

use super::{Profile, Reference, ReferenceSection};
use crate::loudness::Figures;
use crate::meters::spectrum::Powers;
use crate::meters::spectrum::bands::{BAND_COUNT, slots_of_band};
use crate::record::ToneSecond;
use crate::section::{LogEntry, LoggedFigures, Measured};
use crate::tone::Tone;
use crate::units::{Db, Dbtp, Lu, Lufs, db_to_energy};

/// A stretch of made-up sound.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sound {
    pub integrated_lufs: f64,
    /// Bands, counted from 0, and by how many dB they differ from pink noise.
    pub change: (usize, usize, f64),
    /// Side to mid at all frequencies, dB.
    pub width_db: f64,
    pub loudness_range_lu: f64,
    pub plr_lu: f64,
    pub min_psr_lu: f64,
}

impl Default for Sound {
    fn default() -> Self {
        Self {
            integrated_lufs: -14.0,
            change: (0, 0, 0.0),
            width_db: -8.0,
            loudness_range_lu: 6.0,
            plr_lu: 12.0,
            min_psr_lu: 9.0,
        }
    }
}

impl Sound {
    /// Pink noise but for some bands.
    pub fn changed(first: usize, last: usize, by_db: f64) -> Self {
        Self { change: (first, last, by_db), ..Self::default() }
    }

    pub fn measured(&self) -> Measured {
        let (first, last, by_db) = self.change;
        // A step up and down about the average from second to second: a spread.
        let seconds: Vec<ToneSecond> = (0..20)
            .map(|second| {
                let [mut mid, mut side] = [Powers::ZERO; 2];
                for band in 0..BAND_COUNT {
                    let change_db = if (first..=last).contains(&band) { by_db } else { 0.0 };
                    let step_db = if second % 2 == 0 { 1.0 } else { -1.0 };
                    let level_db = self.integrated_lufs - 15.0 + change_db + step_db;
                    let slots = slots_of_band(band);
                    let share = 1.0 / f64::from(u32::try_from(slots.len()).unwrap());
                    for slot in slots {
                        let power = share * db_to_energy(level_db);
                        mid.slots[slot] = power;
                        side.slots[slot] = power * db_to_energy(self.width_db);
                    }
                }
                (mid.k_weighted, side.k_weighted) = (mid.sum(0..38), side.sum(0..38));
                ToneSecond { covered: 1.0, playthrough: 1, mid, side }
            })
            .collect();
        Measured {
            figures: Figures {
                integrated: Some(Lufs(self.integrated_lufs)),
                loudness_range: Some(Lu(self.loudness_range_lu)),
                max_true_peak: Some(Dbtp(self.integrated_lufs + self.plr_lu)),
                ..Figures::default()
            },
            min_psr: Some(Lu(self.min_psr_lu)),
            side_to_mid: Some(Db(self.width_db)),
            tone: Tone::of(seconds.iter()).map(Box::new),
            ..Measured::default()
        }
    }

    pub fn profile(&self) -> Profile {
        Profile::from(&self.measured())
    }
}

/// A log of made-up sections, one after the other.
pub(crate) fn log(sections: &[(&str, Sound)]) -> Vec<LogEntry> {
    let entries = sections.iter().zip(0_i32..).map(|((name, sound), at)| LogEntry {
        id: u32::try_from(at).unwrap() + 1,
        name: (*name).to_owned(),
        range: at * 2_000..(at + 1) * 2_000,
        measured: sound.measured(),
        louder_by: None,
        wider_by: None,
        tone_change: None,
    });
    entries.collect()
}

/// A made-up reference.
pub(crate) fn reference(
    id: u32,
    name: &str,
    whole: Sound,
    sections: &[(&str, Sound)],
) -> Reference {
    let length_s = 20.0 * f64::from(u32::try_from(sections.len().max(1)).unwrap());
    let new = Reference::new(name, length_s, &whole.measured(), &log(sections));
    Reference { id, ..new }
}

/// Three references as a user may have them: with sections, without, and one that is not used.
pub(crate) fn references() -> Vec<Reference> {
    let parts = [("Verse", Sound::default()), ("Chorus", Sound::changed(20, 24, 1.0))];
    let silent = ReferenceSection {
        name: "Tail".to_owned(),
        start_s: 40.0,
        end_s: 40.0,
        profile: Profile { figures: LoggedFigures::default(), tone: None },
    };
    let mut first = reference(1, "Copper Weather", Sound::default(), &parts);
    first.sections.push(silent);
    let second =
        Reference { is_input: true, ..reference(4, "Ebb", Sound::changed(0, 5, -2.0), &[]) };
    let third = Reference { is_used: false, ..reference(5, "Flood", Sound::default(), &parts) };
    vec![first, second, third]
}
