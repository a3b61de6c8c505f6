//! Which vector instructions the meters run on: picked at run time, with a baseline that every
//! machine of the target has. The only file of the meters with unsafe code: a function that is
//! compiled for more instructions than the rest of the program can only be called so.
#![allow(unsafe_code, reason = "calls a #[target_feature] function after asking the processor")]

use super::{Edge, Meters, Notes};

/// The instructions that a set of meters runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Instructions {
    /// What every machine of the target has.
    Baseline,
    /// AVX2 and FMA; the token is proof that the processor has both.
    #[cfg(target_arch = "x86_64")]
    Avx2Fma(Proof),
}

/// Exists only where the processor was asked and said yes.
#[cfg(target_arch = "x86_64")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Proof(());

/// Whether the baseline itself multiplies and adds in one rounding.
const BASELINE_FMA: bool = cfg!(any(target_arch = "aarch64", target_feature = "fma"));

/// Has the processor fetch `row` into its nearest cache while other work goes on; a hint without
/// effect on any result. Blocks are read in bursts, and at the start of each, and at every page, the
/// processor's own guess comes too late: measured at 10 % of a file in memory.
pub(crate) fn prefetch(row: &[f32]) {
    #[cfg(target_arch = "x86_64")]
    for line in row.chunks(CACHE_LINE_SAMPLES) {
        use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
        // SAFETY: a hint, which reads nothing that the program could see; every x86-64 has it.
        unsafe { _mm_prefetch::<_MM_HINT_T0>(line.as_ptr().cast()) };
    }
    #[cfg(not(target_arch = "x86_64"))]
    let _ = row;
}

/// Samples of a cache line of 64 bytes, the size on every x86-64.
#[cfg(target_arch = "x86_64")]
const CACHE_LINE_SAMPLES: usize = 16;

impl Instructions {
    /// The best that this machine has.
    pub fn detect() -> Self {
        #[cfg(target_arch = "x86_64")]
        if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
            return Self::Avx2Fma(Proof(()));
        }
        Self::Baseline
    }

    /// [`Meters::process_with`] on these instructions.
    pub fn process(self, meters: &mut Meters, channels: &[&[f32]], notes: &mut Notes) {
        match self {
            Self::Baseline => meters.process_with::<BASELINE_FMA>(channels, notes),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(Proof(())) => unsafe { process_avx2_fma(meters, channels, notes) },
        }
    }

    /// [`Meters::process_both_with`] on the instructions that both sets of meters run on.
    pub fn process_both(
        [one, two]: [&mut Meters; 2],
        channels: [&[&[f32]]; 2],
        notes: [&mut Notes; 2],
    ) {
        match (one.instructions, two.instructions) {
            (Self::Baseline, Self::Baseline) => {
                Meters::process_both_with::<BASELINE_FMA>([one, two], channels, notes);
            }
            #[cfg(target_arch = "x86_64")]
            (Self::Avx2Fma(Proof(())), Self::Avx2Fma(Proof(()))) => {
                // SAFETY: the proof is only made after the processor said that it has both.
                unsafe { process_both_avx2_fma([one, two], channels, notes) }
            }
            // A mixed pair is made by tests only; the plain code serves both.
            #[cfg(target_arch = "x86_64")]
            _ => Meters::process_both_with::<BASELINE_FMA>([one, two], channels, notes),
        }
    }

    /// [`Meters::finish_with`] on these instructions.
    pub fn finish(self, meters: &mut Meters, after: Edge, len_frames: usize) {
        match self {
            Self::Baseline => meters.finish_with::<BASELINE_FMA>(after, len_frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(Proof(())) => unsafe { finish_avx2_fma(meters, after, len_frames) },
        }
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn process_avx2_fma(meters: &mut Meters, channels: &[&[f32]], notes: &mut Notes) {
    meters.process_with::<true>(channels, notes);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn process_both_avx2_fma(
    meters: [&mut Meters; 2],
    channels: [&[&[f32]]; 2],
    notes: [&mut Notes; 2],
) {
    Meters::process_both_with::<true>(meters, channels, notes);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn finish_avx2_fma(meters: &mut Meters, after: Edge, len_frames: usize) {
    meters.finish_with::<true>(after, len_frames);
}
