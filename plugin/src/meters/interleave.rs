//! Channels that stand one after the other, turned into frames.

#[cfg(target_arch = "x86_64")]
use bytemuck::cast;
#[cfg(target_arch = "x86_64")]
use std::arch::x86_64::{
    __m256, _mm256_castpd_ps, _mm256_castps_pd, _mm256_unpackhi_pd, _mm256_unpackhi_ps,
    _mm256_unpacklo_pd, _mm256_unpacklo_ps,
};

/// Fills `frames` from the start of all `channels`, which are at least as long.
#[inline(always)]
pub(super) fn plain<const N: usize>(channels: [&[f32]; N], frames: &mut [[f32; N]]) {
    let channels = channels.map(|channel| channel.get(..frames.len()).unwrap_or_default());
    for (at, frame) in frames.iter_mut().enumerate() {
        for (sample, channel) in frame.iter_mut().zip(channels) {
            *sample = channel.get(at).copied().unwrap_or_default();
        }
    }
}

/// [`plain`] for two channels.
#[inline(always)]
pub(super) fn two([a, b]: [&[f32]; 2], frames: &mut [[f32; 2]]) {
    for (frame, (&a, &b)) in frames.iter_mut().zip(a.iter().zip(b)) {
        *frame = [a, b];
    }
}

/// [`two`], compiled for AVX2.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
pub(super) fn two_avx2(channels: [&[f32]; 2], frames: &mut [[f32; 2]]) {
    two(channels, frames);
}

/// Four rows of two times four, each four turned into columns; the compiler's own way takes three
/// times as long.
#[cfg(target_arch = "x86_64")]
#[inline]
#[target_feature(enable = "avx2")]
fn turned(rows: [[[f32; 4]; 2]; 4]) -> [[[f32; 4]; 2]; 4] {
    let [a, b, c, d] = rows.map(cast::<_, __m256>);
    let early =
        [_mm256_unpacklo_ps(a, b), _mm256_unpacklo_ps(c, d)].map(|row| _mm256_castps_pd(row));
    let late =
        [_mm256_unpackhi_ps(a, b), _mm256_unpackhi_ps(c, d)].map(|row| _mm256_castps_pd(row));
    let [[a, b], [c, d]] = [early, late];
    [
        _mm256_unpacklo_pd(a, b),
        _mm256_unpackhi_pd(a, b),
        _mm256_unpacklo_pd(c, d),
        _mm256_unpackhi_pd(c, d),
    ]
    .map(|row| cast(_mm256_castpd_ps(row)))
}

/// [`plain`] for four channels.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
pub(super) fn four(channels: [&[f32]; 4], frames: &mut [[f32; 4]]) {
    let [a, b, c, d] = channels.map(|channel| channel.as_chunks::<8>().0);
    let rows = a.iter().zip(b).zip(c.iter().zip(d));
    let (eights, rest) = frames.as_chunks_mut::<8>();
    let done = 8 * eights.len();
    for (eight, ((a, b), (c, d))) in eights.iter_mut().zip(rows) {
        let [[f0, f4], [f1, f5], [f2, f6], [f3, f7]] = turned([*a, *b, *c, *d].map(cast));
        *eight = [f0, f1, f2, f3, f4, f5, f6, f7];
    }
    let late = channels.map(|channel| channel.get(done..).unwrap_or_default());
    plain(late, rest);
}

/// [`plain`] for eight channels.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
pub(super) fn eight(channels: [&[f32]; 8], frames: &mut [[f32; 8]]) {
    let [a, b, c, d, e, f, g, h] = channels.map(|channel| channel.as_chunks::<4>().0);
    let early = a.iter().zip(b).zip(c.iter().zip(d));
    let late = e.iter().zip(f).zip(g.iter().zip(h));
    let (fours, rest) = frames.as_chunks_mut::<4>();
    let done = 4 * fours.len();
    for (four, (((a, b), (c, d)), ((e, f), (g, h)))) in fours.iter_mut().zip(early.zip(late)) {
        *four = turned([[*a, *e], [*b, *f], [*c, *g], [*d, *h]]).map(cast);
    }
    let late = channels.map(|channel| channel.get(done..).unwrap_or_default());
    plain(late, rest);
}

#[cfg(test)]
mod tests {
    use super::super::dispatch::Instructions;
    use super::*;

    fn check<const N: usize>(fill: impl Fn([&[f32]; N], &mut [[f32; N]])) {
        for len in 0..67_u16 {
            let mut channel = 0;
            let rows = [(); N].map(|()| -> Vec<f32> {
                channel += 100;
                (0..len).map(|at| f32::from(channel + at)).collect()
            });
            let mut frames = vec![[-1.0; N]; usize::from(len)];
            fill(rows.each_ref().map(Vec::as_slice), &mut frames);
            for (at, frame) in frames.iter().enumerate() {
                for (row, sample) in rows.iter().zip(frame) {
                    assert_eq!(row[at].to_bits(), sample.to_bits(), "frame {at} of {len}");
                }
            }
        }
    }

    #[test]
    fn every_sample_stands_in_its_frame() {
        check::<2>(plain);
        check::<2>(|channels, frames| Instructions::Baseline.interleave_two(channels, frames));
        check::<2>(|channels, frames| Instructions::detect().interleave_two(channels, frames));
        check::<8>(plain);
        check::<4>(|channels, frames| Instructions::Baseline.interleave(channels, frames));
        check::<4>(|channels, frames| Instructions::detect().interleave(channels, frames));
        #[cfg(target_arch = "x86_64")]
        if let Some(wide) = Instructions::detect().wide() {
            check::<8>(|channels, frames| wide.interleave(channels, frames));
        }
    }
}
