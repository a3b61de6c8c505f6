//! The figures of a range of song time, and the values of this moment.

use crate::meters::MAX_CHANNELS;
use crate::units::{Dbfs, Dbtp, Lu, Lufs};

/// How much of a range of song time was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Coverage {
    /// Hops of 10 ms that were measured in full.
    pub measured_hops: usize,
    /// Hops from the first to the last of the range.
    pub span_hops: usize,
    /// Stretches inside the range that were not measured.
    pub gaps: usize,
}

impl Coverage {
    /// The measured share, 0 to 1; 0 for an empty range.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "hop counts stay far below 2^52")]
    pub fn share(self) -> f64 {
        if self.span_hops == 0 { 0.0 } else { self.measured_hops as f64 / self.span_hops as f64 }
    }
}

/// What a range of song time measures. `None` is "not measured", −∞ is measured silence.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figures {
    /// Gated loudness of the whole range, LUFS (ITU-R BS.1770-5, Annex 1). Needs 400 ms.
    pub integrated: Option<Lufs>,
    /// Loudness range, LU (EBU Tech 3342). Needs 3 s; unstable below 60 s.
    pub loudness_range: Option<Lu>,
    /// Highest momentary loudness, LUFS: 400 ms, moved by 1.25 ms (EBU Tech 3341 §2.2).
    pub max_momentary: Option<Lufs>,
    /// Highest short-term loudness, LUFS: 3 s, moved by 10 ms (EBU Tech 3341 §2.2).
    pub max_short_term: Option<Lufs>,
    /// Highest true peak of all channels, dBTP (ITU-R BS.1770-5, Annex 2).
    pub max_true_peak: Option<Dbtp>,
    /// Hop in which the highest true peak stands.
    pub max_true_peak_hop: Option<i32>,
    /// Highest sample peak of all channels, dBFS.
    pub sample_peak: Option<Dbfs>,
    /// Samples at or beyond full scale, all channels.
    pub clipped_samples: u64,
    /// Samples that were no number or far outside any level of audio, all channels. They pass
    /// through the plugin untouched and count as silence in the meters.
    pub scrubbed_samples: u64,
    /// Sum of measured frames.
    pub frames: u64,
    /// What share of the range these figures stand on.
    pub coverage: Coverage,
}

impl Figures {
    /// Peak to loudness ratio, LU: highest true peak minus integrated loudness
    /// (EBU R 128 s2; quotation). `None` unless both are measured and not silent.
    #[must_use]
    pub fn peak_to_loudness_ratio(&self) -> Option<Lu> {
        let (peak, loudness) = (self.max_true_peak?.0, self.integrated?.0);
        (peak.is_finite() && loudness.is_finite()).then_some(Lu(peak - loudness))
    }
}

/// The values of this moment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Now {
    /// Momentary loudness, LUFS: the last 400 ms.
    pub momentary: Option<Lufs>,
    /// Short-term loudness, LUFS: the last 3 s.
    pub short_term: Option<Lufs>,
    /// True peak per channel over the last 400 ms, dBTP; `None` where there is no such channel.
    pub true_peaks: [Option<Dbtp>; MAX_CHANNELS],
}
