//! Which vector instructions the meters run on: picked at run time, with a baseline that every
//! machine of the target has. The only file of the meters with unsafe code: a function that is
//! compiled for more instructions than the rest of the program can only be called so.
#![allow(unsafe_code, reason = "calls a #[target_feature] function after asking the processor")]

#[cfg(target_arch = "x86_64")]
use super::loops;
use super::pair_sums::{Factors, Filter};
use super::{Edge, Meters, Notes, interleave};

/// The instructions that a set of meters runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Instructions {
    /// What every machine of the target has.
    Baseline,
    /// AVX2 and FMA; the token is proof that the processor has both.
    #[cfg(target_arch = "x86_64")]
    Avx2Fma(Proof),
}

/// Exists only where the processor was asked for AVX2 and FMA and said yes.
#[cfg(target_arch = "x86_64")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Proof {
    /// Whether it has registers of eight `f64` too.
    wide: Option<Wide>,
}

/// Exists only where the processor was asked for AVX-512F, beside AVX2 and FMA, and said yes.
#[cfg(target_arch = "x86_64")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Wide(());

#[cfg(target_arch = "x86_64")]
impl Wide {
    /// [`Filter::add_plain`] of eight channels.
    pub fn add_eight(self, filter: &mut Filter<8>, factors: &Factors, frames: &[[f32; 8]]) {
        // SAFETY: this value is only made after the processor said that it has all three.
        unsafe { loops::eight(filter, factors, frames) }
    }

    /// [`interleave::plain`] of eight channels.
    pub fn interleave(self, channels: [&[f32]; 8], frames: &mut [[f32; 8]]) {
        // SAFETY: this value is only made after the processor said that it has AVX2 too.
        unsafe { interleave::eight(channels, frames) }
    }
}

/// Whether the baseline itself multiplies and adds in one rounding.
const BASELINE_FMA: bool = cfg!(any(target_arch = "aarch64", target_feature = "fma"));

/// Has the processor fetch `row` into its nearest cache while other work goes on; a hint without
/// effect on any result. Blocks are read in bursts, and at the start of each, and at every page, the
/// processor's own guess comes too late: measured at 10 % of a file in memory.
pub fn prefetch<T>(row: &[T]) {
    #[cfg(target_arch = "x86_64")]
    for line in row.chunks((CACHE_LINE_BYTES / size_of::<T>().max(1)).max(1)) {
        use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
        // SAFETY: a hint, which reads nothing that the program could see; every x86-64 has it.
        unsafe { _mm_prefetch::<_MM_HINT_T0>(line.as_ptr().cast()) };
    }
    #[cfg(not(target_arch = "x86_64"))]
    let _ = row;
}

/// A cache line on every x86-64.
#[cfg(target_arch = "x86_64")]
const CACHE_LINE_BYTES: usize = 64;

impl Instructions {
    /// The best that this machine has.
    pub fn detect() -> Self {
        #[cfg(target_arch = "x86_64")]
        if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
            let wide = is_x86_feature_detected!("avx512f").then_some(Wide(()));
            return Self::Avx2Fma(Proof { wide });
        }
        Self::Baseline
    }

    /// [`Meters::process_with`] on these instructions.
    pub fn process(self, meters: &mut Meters, channels: &[&[f32]], notes: &mut Notes) {
        match self {
            Self::Baseline => meters.process_with::<BASELINE_FMA>(channels, notes),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(_) => unsafe { process_avx2_fma(meters, channels, notes) },
        }
    }

    /// [`Meters::process_together_with`] on the instructions that all those meters run on.
    pub fn process_together<const N: usize>(
        meters: [&mut Meters; N],
        channels: [&[&[f32]]; N],
        notes: [&mut Notes; N],
    ) {
        #[cfg(target_arch = "x86_64")]
        if N > 0 && meters.iter().all(|meters| matches!(meters.instructions, Self::Avx2Fma(_))) {
            // SAFETY: the proof is only made after the processor said that it has both.
            return unsafe { process_together_avx2_fma(meters, channels, notes) };
        }
        // A mixed set is made by tests only; all of it runs on what every machine has.
        Meters::process_together_with::<BASELINE_FMA, N>(meters, channels, notes);
    }

    /// [`Filter::add_plain`] of two channels.
    pub fn add_two(self, filter: &mut Filter<2>, factors: &Factors, frames: &[[f32; 2]]) {
        match self {
            Self::Baseline => filter.add_plain::<BASELINE_FMA>(factors, frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(_) => unsafe { loops::two(filter, factors, frames) },
        }
    }

    /// The same of four.
    pub fn add_four(self, filter: &mut Filter<4>, factors: &Factors, frames: &[[f32; 4]]) {
        match self {
            Self::Baseline => filter.add_plain::<BASELINE_FMA>(factors, frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(_) => unsafe { loops::four(filter, factors, frames) },
        }
    }

    /// [`Filter::add_plain`] of any number, where the processor itself multiplies and adds in one
    /// rounding: what some C libraries have in its place (mingw-w64's) rounds twice.
    #[cfg(test)]
    pub fn add_plain<const N: usize>(
        self,
        filter: &mut Filter<N>,
        factors: &Factors,
        frames: &[[f32; N]],
    ) {
        match self {
            Self::Baseline => filter.add_plain::<BASELINE_FMA>(factors, frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(_) => unsafe { add_plain_avx2_fma(filter, factors, frames) },
        }
    }

    /// [`interleave::plain`] of two channels.
    pub fn interleave_two(self, channels: [&[f32]; 2], frames: &mut [[f32; 2]]) {
        match self {
            Self::Baseline => interleave::two(channels, frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has AVX2.
            Self::Avx2Fma(_) => unsafe { interleave::two_avx2(channels, frames) },
        }
    }

    /// The same of four.
    pub fn interleave(self, channels: [&[f32]; 4], frames: &mut [[f32; 4]]) {
        match self {
            Self::Baseline => interleave::plain(channels, frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has AVX2.
            Self::Avx2Fma(_) => unsafe { interleave::four(channels, frames) },
        }
    }

    /// How many signals are measured in the least time together.
    pub fn side_by_side(self) -> usize {
        match self {
            #[cfg(target_arch = "x86_64")]
            Self::Avx2Fma(Proof { wide: Some(_) }) => 4,
            _ => 2,
        }
    }

    /// Proof of registers of eight `f64`.
    #[cfg(target_arch = "x86_64")]
    #[inline(always)]
    pub fn wide(self) -> Option<Wide> {
        match self {
            Self::Avx2Fma(Proof { wide }) => wide,
            Self::Baseline => None,
        }
    }

    /// [`Meters::finish_with`] on these instructions.
    pub fn finish(self, meters: &mut Meters, after: Edge, len_frames: usize) {
        match self {
            Self::Baseline => meters.finish_with::<BASELINE_FMA>(after, len_frames),
            #[cfg(target_arch = "x86_64")]
            // SAFETY: the proof is only made after the processor said that it has both.
            Self::Avx2Fma(_) => unsafe { finish_avx2_fma(meters, after, len_frames) },
        }
    }
}

#[cfg(all(test, target_arch = "x86_64"))]
#[target_feature(enable = "avx2,fma")]
fn add_plain_avx2_fma<const N: usize>(
    filter: &mut Filter<N>,
    factors: &Factors,
    frames: &[[f32; N]],
) {
    filter.add_plain::<true>(factors, frames);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn process_avx2_fma(meters: &mut Meters, channels: &[&[f32]], notes: &mut Notes) {
    meters.process_with::<true>(channels, notes);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn process_together_avx2_fma<const N: usize>(
    meters: [&mut Meters; N],
    channels: [&[&[f32]]; N],
    notes: [&mut Notes; N],
) {
    Meters::process_together_with::<true, N>(meters, channels, notes);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn finish_avx2_fma(meters: &mut Meters, after: Edge, len_frames: usize) {
    meters.finish_with::<true>(after, len_frames);
}
