//! Loudness out of the record: every figure of any range of song time has this one source.
//!
//! Windows are formed in song order over adjacent hops that were measured in full, also across
//! playthroughs. A window with a hop missing is not measured. M and S slide by one hop (10 ms);
//! gating blocks (ITU-R BS.1770-5) and the values behind LRA (EBU Tech 3342) step by ten.

mod analysis;
mod chunk;
mod figures;
mod file;
mod gating;
mod hops;
mod windows;

pub use analysis::{Analysis, HopRange, Kept};
pub use figures::{Coverage, Figures, Now};
pub use file::{FileMeter, FilePart, measure_file};
pub use gating::{integrated_energy, loudness_range};

use crate::record::RecentReader;
use crate::units::{Dbtp, Lufs};

/// Hops of the momentary window and of a gating block: 400 ms
/// (ITU-R BS.1770-5, Annex 1; EBU Tech 3341 §2.2).
pub const MOMENTARY_HOPS: usize = 40;

/// Hops of the short-term window: 3 s (EBU Tech 3341 §2.2).
pub const SHORT_TERM_HOPS: usize = 300;

/// Hops from one gating block to the next: 100 ms, 75 % overlap (ITU-R BS.1770-5, Annex 1), and
/// from one short-term value behind LRA to the next: 10 Hz (EBU Tech 3342 §3.1).
pub const BLOCK_STEP_HOPS: usize = 10;

impl Now {
    /// The values of this moment, for `channel_count` channels.
    #[must_use]
    pub fn read(recent: &RecentReader, channel_count: usize) -> Self {
        let mean = |hops: usize| {
            let newest = recent.newest(u64::try_from(hops).ok()?)?;
            let count = u32::try_from(hops).ok()?;
            Some((newest.energy_sum / f64::from(count), newest.true_peaks))
        };
        let momentary = mean(MOMENTARY_HOPS);
        let mut now = Self {
            momentary: momentary.map(|(energy, _)| Lufs::from_energy(energy)),
            short_term: mean(SHORT_TERM_HOPS).map(|(energy, _)| Lufs::from_energy(energy)),
            ..Self::default()
        };
        if let Some((_, peaks)) = momentary {
            let peaks = now.true_peaks.iter_mut().zip(peaks).take(channel_count);
            for (shown, amplitude) in peaks {
                *shown = Some(Dbtp::from_amplitude(amplitude));
            }
        }
        now
    }
}
