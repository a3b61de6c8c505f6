//! Several files as one release.

use super::Track;
use crate::loudness::integrated_energy;
use crate::units::{Db, Dbtp, Lu, Lufs};

/// Where the loudest track of an album is to be, LUFS, and how far above is still within, LU
/// (AES TD1008.1.21-9 (2021) = AES77-2023, Table 1, music, album-normalised; quotation).
const ALBUM_LOUDEST: Lufs = Lufs(-14.0);

/// What several tracks are together.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// How many tracks were measured.
    pub tracks: usize,
    /// Integrated loudness of all tracks as one: all gating blocks pooled, then gated (STANDARDS
    /// §3, album mode).
    pub album_integrated: Option<Lufs>,
    /// The loudest track: its index among the files, and its integrated loudness.
    pub loudest: Option<(usize, Lufs)>,
    /// The quietest track.
    pub quietest: Option<(usize, Lufs)>,
    /// From the quietest to the loudest track, LU.
    pub spread: Option<Lu>,
    /// Highest true peak of all tracks, dBTP.
    pub max_true_peak: Option<Dbtp>,
    /// The one gain for all tracks that brings the loudest to −14 LUFS (AES77's rule for albums).
    pub album_gain: Option<Db>,
    /// Highest true peak with that gain, dBTP.
    pub peak_at_album_gain: Option<Dbtp>,
}

impl Release {
    /// The release of `tracks`, each with its index among the files; `None` for fewer than two.
    #[must_use]
    pub fn of(tracks: &[(usize, &Track)]) -> Option<Self> {
        if tracks.len() < 2 {
            return None;
        }
        let blocks = tracks.iter().flat_map(|(_, track)| track.block_energies.iter().copied());
        let album_integrated = integrated_energy(blocks).map(Lufs::from_energy);
        let loudness = tracks.iter().filter_map(|(index, track)| {
            let integrated = track.measured.figures.integrated?;
            integrated.0.is_finite().then_some((*index, integrated))
        });
        let loudest = loudness.clone().max_by(|a, b| a.1.0.total_cmp(&b.1.0));
        let quietest = loudness.min_by(|a, b| a.1.0.total_cmp(&b.1.0));
        let peaks = tracks.iter().filter_map(|(_, track)| track.measured.figures.max_true_peak);
        let max_true_peak = peaks.max_by(|a, b| a.0.total_cmp(&b.0));
        let album_gain = loudest.map(|(_, loudest)| Db((ALBUM_LOUDEST - loudest).0));
        Some(Self {
            tracks: tracks.len(),
            album_integrated,
            loudest,
            quietest,
            spread: loudest.zip(quietest).map(|((_, high), (_, low))| high - low),
            max_true_peak,
            album_gain,
            peak_at_album_gain: max_true_peak.zip(album_gain).map(|(peak, gain)| peak + gain),
        })
    }
}
