//! What must come out: ITU-R BS.1770-5 (11/2023) and EBU Tech 3341/3342 (2023), written down from
//! the text in plain float64, slow, one sample at a time. Shares no line with the plugin.
//!
//! - K-weighting (BS.1770-5 Annex 1, Tables 1 and 2) at 48 kHz with the printed coefficients; at
//!   other rates see [`k_filter`].
//! - Gating (Annex 1, eqs 3 to 7) with strict inequalities over 400 ms blocks every 100 ms.
//! - Momentary and short-term windows (Tech 3341 §2.2) sliding by one sample.
//! - Loudness range (Tech 3342 §3.1 and §5) from short-term values ten times a second, nearest
//!   rank, non-strict gates, no trailing silence unless asked for.
//! - True peak (BS.1770-5 Annex 2) by brute force: [`true_peak`].

pub mod k_filter;
pub mod sinc;
pub mod true_peak;

use crate::audio_file::Audio;

/// Absolute gate (BS.1770-5 Annex 1, eq. 6; Tech 3342 §3.1), in LKFS.
const ABSOLUTE_GATE_LUFS: f64 = -70.0;
/// Relative gate of the integrated loudness below the ungated one (BS.1770-5 Annex 1, eq. 6).
const RELATIVE_GATE_LU: f64 = 10.0;
/// Relative gate of the loudness range (Tech 3342 §3.1).
const RANGE_RELATIVE_GATE_LU: f64 = 20.0;

/// −0.691 + 10·log10 of a weighted mean square (BS.1770-5 Annex 1, eq. 2); −∞ for zero.
#[must_use]
pub fn loudness_lufs(mean_square: f64) -> f64 {
    -0.691 + 10.0 * mean_square.log10()
}

/// A K-weighted sound, ready to be asked.
#[derive(Debug, Clone)]
pub struct Oracle {
    rate_hz: u32,
    /// Entry n: weighted energy of frames 0 to n−1 summed over channels, as a running sum and
    /// what its roundings lost, so that a quiet window after a loud hour is still exact.
    energy_before: Vec<(f64, f64)>,
}

impl Oracle {
    /// Weighs and sums `audio`. Channels: one or two front channels; or L, R, C, Ls, Rs
    /// (weights of BS.1770-5 Annex 1, Table 3).
    ///
    /// # Panics
    /// For another channel count.
    #[must_use]
    pub fn new(audio: &Audio) -> Self {
        let weights: &[f64] = match audio.channels.len() {
            1 | 2 => &[1.0, 1.0],
            5 => &[1.0, 1.0, 1.0, 1.41, 1.41],
            other => panic!("{other} channels: 1, 2 or 5"),
        };
        Self::weighted(audio, weights)
    }

    /// The same with these weights, one for each channel.
    #[must_use]
    pub fn weighted(audio: &Audio, weights: &[f64]) -> Self {
        let mut energy = vec![0.0; audio.len_frames()];
        for (channel, weight) in audio.channels.iter().zip(weights) {
            let weighted = k_filter::weigh(audio.rate_hz, channel);
            for (sum, sample) in energy.iter_mut().zip(weighted) {
                *sum += weight * sample * sample;
            }
        }
        let mut energy_before = Vec::with_capacity(energy.len() + 1);
        let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
        energy_before.push((0.0, 0.0));
        for value in energy {
            let next = sum + value;
            lost += if sum >= value { (sum - next) + value } else { (value - next) + sum };
            sum = next;
            energy_before.push((sum, lost));
        }
        Self { rate_hz: audio.rate_hz, energy_before }
    }

    /// Length in frames.
    #[must_use]
    pub fn len_frames(&self) -> usize {
        self.energy_before.len() - 1
    }

    /// Weighted mean square of the window of `len` frames that ends before frame `end`.
    fn mean_square(&self, end: usize, len: usize) -> f64 {
        let (end_sum, end_lost) = self.energy_before[end];
        let (start_sum, start_lost) = self.energy_before[end - len];
        ((end_sum - start_sum) + (end_lost - start_lost)).max(0.0) / len as f64
    }

    /// `tenths` tenths of a second as the nearest frame.
    fn frames(&self, tenths: usize) -> usize {
        (tenths * self.rate_hz as usize * 2 + 10) / 20
    }

    /// Mean squares of the gating blocks (BS.1770-5 Annex 1, eq. 3): 400 ms every 100 ms, whole
    /// blocks only.
    #[must_use]
    pub fn gating_blocks(&self) -> Vec<f64> {
        (0..)
            .map(|block| (self.frames(block), self.frames(block + 4)))
            .take_while(|&(_, end)| end <= self.len_frames())
            .map(|(start, end)| self.mean_square(end, end - start))
            .collect()
    }

    /// Integrated loudness (Annex 1, eqs 5 to 7), in LUFS; `None` if no block passes the gate.
    #[must_use]
    pub fn integrated_lufs(&self) -> Option<f64> {
        gated_mean(&self.gating_blocks()).map(loudness_lufs)
    }

    /// Momentary loudness at each frame of `ends`: window of 400 ms that ends before it.
    pub fn momentary_lufs(&self, ends: std::ops::Range<usize>) -> impl Iterator<Item = f64> {
        self.sliding_lufs(self.frames(4), ends)
    }

    /// Short-term loudness at each frame of `ends`: window of 3 s that ends before it.
    pub fn short_term_lufs(&self, ends: std::ops::Range<usize>) -> impl Iterator<Item = f64> {
        self.sliding_lufs(self.frames(30), ends)
    }

    fn sliding_lufs(&self, len: usize, ends: std::ops::Range<usize>) -> impl Iterator<Item = f64> {
        let ends = ends.start.max(len)..ends.end.min(self.len_frames() + 1);
        ends.map(move |end| loudness_lufs(self.mean_square(end, len)))
    }

    /// Greatest momentary loudness, sliding by one sample, in LUFS; `None` below 400 ms.
    #[must_use]
    pub fn max_momentary_lufs(&self) -> Option<f64> {
        self.momentary_lufs(0..usize::MAX).reduce(f64::max)
    }

    /// Greatest short-term loudness, sliding by one sample, in LUFS; `None` below 3 s.
    #[must_use]
    pub fn max_short_term_lufs(&self) -> Option<f64> {
        self.short_term_lufs(0..usize::MAX).reduce(f64::max)
    }

    /// Loudness range (Tech 3342 §3.1, §5), in LU, from short-term values at 3.0 s, 3.1 s and so
    /// on; `None` if none passes the gate.
    #[must_use]
    pub fn loudness_range_lu(&self) -> Option<f64> {
        let short_term: Vec<f64> = (30..)
            .map(|tenths| self.frames(tenths))
            .take_while(|&end| end <= self.len_frames())
            .map(|end| self.mean_square(end, self.frames(30)))
            .collect();
        range_lu(&short_term)
    }
}

/// BS.1770-5 Annex 1, eqs 4 to 7, over mean squares of gating blocks; the mean square of the
/// blocks that stay.
#[must_use]
pub fn gated_mean(blocks: &[f64]) -> Option<f64> {
    let loud_enough: Vec<f64> =
        blocks.iter().copied().filter(|&block| loudness_lufs(block) > ABSOLUTE_GATE_LUFS).collect();
    let gate_lufs = loudness_lufs(mean(&loud_enough)?) - RELATIVE_GATE_LU;
    let kept: Vec<f64> =
        loud_enough.into_iter().filter(|&block| loudness_lufs(block) > gate_lufs).collect();
    mean(&kept)
}

/// Tech 3342 §5 over mean squares of short-term windows, in LU.
#[must_use]
pub fn range_lu(short_term: &[f64]) -> Option<f64> {
    let above_absolute: Vec<f64> = short_term
        .iter()
        .copied()
        .filter(|&value| loudness_lufs(value) >= ABSOLUTE_GATE_LUFS)
        .collect();
    let gate_lufs = loudness_lufs(mean(&above_absolute)?) - RANGE_RELATIVE_GATE_LU;
    let mut kept: Vec<f64> =
        above_absolute.into_iter().map(loudness_lufs).filter(|&value| value >= gate_lufs).collect();
    kept.sort_by(f64::total_cmp);
    // The document's index counts from 1: round((n − 1)·p/100 + 1).
    let at = |percent: f64| {
        let index = ((kept.len() - 1) as f64 * percent / 100.0 + 1.0).round();
        kept[index as usize - 1]
    };
    if kept.is_empty() { None } else { Some(at(95.0) - at(10.0)) }
}

fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() { None } else { Some(values.iter().sum::<f64>() / values.len() as f64) }
}

#[cfg(test)]
mod tests;
