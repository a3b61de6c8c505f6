//! The loop over frames of the K-weighting in vector registers, one value of each channel in each.
//!
//! The operations of `Filter::add_plain` in the same order, to the same bits (a step of the shelf is
//! kept for the next frame, which would compute the same): written out because the compiler finds
//! these vectors in that loop in some places and not in others, and what it makes where it does not
//! takes three times as long.

use super::pair_sums::{Factors, Filter};
use bytemuck::cast;
use std::arch::x86_64::{
    __m128d, __m256d, __m512d, _mm_cvtps_pd, _mm_fmadd_pd, _mm_set1_pd, _mm_shuffle_pd, _mm_sub_pd,
    _mm256_cvtps_pd, _mm256_fmadd_pd, _mm256_permute_pd, _mm256_set1_pd, _mm256_sub_pd,
    _mm512_cvtps_pd, _mm512_fmadd_pd, _mm512_permute_pd, _mm512_set1_pd, _mm512_sub_pd,
};

macro_rules! add_frames {
    ($name:ident, $channels:literal, $features:literal, $vector:ty, $wide:expr, $set:ident,
     $subtract:ident, $multiply_add:ident, $swapped:expr) => {
        /// Adds frames.
        #[target_feature(enable = $features)]
        pub(super) fn $name(
            filter: &mut Filter<$channels>,
            factors: &Factors,
            frames: &[[f32; $channels]],
        ) {
            let Factors { b1, b2, shelf: [s1, s2], high_pass: [h1, h2], .. } = *factors;
            let [b1, b2, s1, s2, h1, h2] = [b1, b2, s1, s2, h1, h2].map(|factor| $set(factor));
            let [mut x1, mut x2]: [$vector; 2] = filter.heard.map(cast);
            let [mut u1, mut u2]: [$vector; 2] = filter.shelved.map(cast);
            let mut step = $subtract(u1, u2);
            let [mut y1, mut y2]: [$vector; 2] = filter.weighted.map(cast);
            let mut weighted: $vector = cast(filter.weighted_square_sum);
            let mut squares: $vector = cast(filter.square_sum);
            let mut products: $vector = cast(filter.product_sum);
            for frame in frames {
                let x = $wide(*frame);
                let u = $multiply_add(b2, x2, $multiply_add(b1, x1, x));
                let u = $multiply_add(s1, u1, $multiply_add(s2, u2, u));
                let step_before = step;
                step = $subtract(u, u1);
                let y = $multiply_add(h2, y2, $subtract(step, step_before));
                let y = $multiply_add(h1, y1, y);
                (x1, x2, u1, u2, y1, y2) = (x, x1, u, u1, y, y1);
                weighted = $multiply_add(y, y, weighted);
                squares = $multiply_add(x, x, squares);
                products = $multiply_add(x, $swapped(x), products);
            }
            filter.heard = [x1, x2].map(cast);
            filter.shelved = [u1, u2].map(cast);
            filter.weighted = [y1, y2].map(cast);
            filter.weighted_square_sum = cast(weighted);
            filter.square_sum = cast(squares);
            filter.product_sum = cast(products);
        }
    };
}

add_frames!(
    two,
    2,
    "avx2,fma",
    __m128d,
    |[a, b]: [f32; 2]| _mm_cvtps_pd(cast([a, b, 0.0, 0.0])),
    _mm_set1_pd,
    _mm_sub_pd,
    _mm_fmadd_pd,
    |x| _mm_shuffle_pd::<0b01>(x, x)
);
add_frames!(
    four,
    4,
    "avx2,fma",
    __m256d,
    |frame: [f32; 4]| _mm256_cvtps_pd(cast(frame)),
    _mm256_set1_pd,
    _mm256_sub_pd,
    _mm256_fmadd_pd,
    |x| _mm256_permute_pd::<0b0101>(x)
);
add_frames!(
    eight,
    8,
    "avx2,fma,avx512f",
    __m512d,
    |frame: [f32; 8]| _mm512_cvtps_pd(cast(frame)),
    _mm512_set1_pd,
    _mm512_sub_pd,
    _mm512_fmadd_pd,
    |x| _mm512_permute_pd::<0b0101_0101>(x)
);

#[cfg(test)]
mod tests {
    use super::super::dispatch::Instructions;
    use super::super::k_weighting;
    use super::*;
    use crate::units::SampleRate;

    /// Frames of noise, all channels different.
    fn frames<const N: usize>(len: usize) -> Vec<[f32; N]> {
        let mut state = 7_u32;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f32::from(i16::try_from(state >> 17).unwrap_or(0)) / 32_768.0 - 0.4
        };
        (0..len).map(|_| [(); N].map(|()| random())).collect()
    }

    fn check<const N: usize>(add: impl Fn(&mut Filter<N>, &Factors, &[[f32; N]])) {
        for hz in [8_000, 44_100, 48_000, 384_000] {
            let factors = Factors::new(&k_weighting::stages(SampleRate::new(hz).unwrap()));
            let frames = frames::<N>(700);
            let (mut plain, mut fast) = (Filter::NEW, Filter::NEW);
            for frames in frames.chunks(61) {
                Instructions::detect().add_plain(&mut plain, &factors, frames);
                add(&mut fast, &factors, frames);
                assert_eq!(fast, plain, "{N} channels at {hz} Hz");
            }
        }
    }

    #[test]
    fn each_loop_has_the_bits_of_the_plain_one() {
        let on = Instructions::detect();
        if on == Instructions::Baseline {
            return println!("skipped: this processor has no AVX2 or no FMA");
        }
        check::<2>(|filter, factors, frames| on.add_two(filter, factors, frames));
        check::<4>(|filter, factors, frames| on.add_four(filter, factors, frames));
        match on.wide() {
            Some(wide) => {
                check::<8>(|filter, factors, frames| wide.add_eight(filter, factors, frames))
            }
            None => println!("eight channels skipped: this processor has no AVX-512F"),
        }
    }
}
