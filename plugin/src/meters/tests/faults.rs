//! What is not audio: finite figures, counted, and gone when it is over.

use super::*;

const FAULTS: [f32; 7] =
    [f32::NAN, -f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, -4_097.0, f32::MAX];

fn assert_finite(hop: &Hop) {
    let levels = &hop.levels;
    assert!(levels.weighted_square_sum.is_finite() && levels.weighted_square_sum >= 0.0);
    assert!(levels.left_square_sum.is_finite() && levels.right_square_sum.is_finite());
    assert!(levels.left_right_sum.is_finite());
    assert!(levels.sample_peaks.iter().chain(&hop.true_peaks).all(|peak| peak.is_finite()));
}

#[test]
fn what_is_not_audio_is_counted_and_measured_as_zero() {
    for mut meters in both(48_000, Layout::Stereo) {
        let [clean_left, right] = [lively(1, 4_800), lively(2, 4_800)];
        let (mut faulty, mut zeroed) = (clean_left.clone(), clean_left);
        for (k, fault) in FAULTS.into_iter().enumerate() {
            faulty[1_000 + 13 * k] = fault;
            zeroed[1_000 + 13 * k] = 0.0;
        }
        let mut hops = |left: Vec<f32>| {
            let channels = [left, right.clone()];
            measure_in_blocks(&mut meters, &channels, 480, [Edge::Silence; 2], || 100)
        };
        let (faulty, zeroed) = (hops(faulty), hops(zeroed));
        let count: u32 = faulty.iter().map(|hop| hop.levels.scrubbed).sum();
        assert_eq!(count, 7);
        for (mut faulty, zeroed) in faulty.into_iter().zip(zeroed) {
            assert_finite(&faulty);
            faulty.levels.scrubbed = 0;
            assert_eq!(faulty, zeroed);
        }
    }
}

#[test]
fn nothing_latches_after_seconds_of_faults() {
    for mut meters in both(48_000, Layout::Stereo) {
        for fault in FAULTS {
            meters.start(Edge::Silence);
            for _ in 0..20 {
                meters.process(&[&[fault; 480], &[fault; 480]]);
                let hop =
                    Hop { levels: meters.take_levels(), true_peaks: meters.take_true_peaks() };
                assert_finite(&hop);
                assert_eq!(hop.levels.scrubbed, 960);
                assert_eq!(hop.levels.weighted_square_sum, 0.0);
            }
            let tone = lively(4, 4_800);
            let mut fresh = Meters::new_baseline(rate(48_000), Layout::Stereo);
            let mut expected = [0.0; 2];
            let mut found = [0.0; 2];
            for (hop, frames) in tone.chunks(480).enumerate() {
                meters.process(&[frames, frames]);
                fresh.process(&[frames, frames]);
                let latest = usize::from(hop > 0);
                found[latest] = meters.take_levels().weighted_square_sum;
                expected[latest] = fresh.take_levels().weighted_square_sum;
                assert!((found[latest] / expected[latest] - 1.0).abs() < 1e-9);
            }
        }
    }
}

#[test]
fn subnormal_samples_are_silence_and_silence_ends_as_exact_zero() {
    for mut meters in both(48_000, Layout::Stereo) {
        meters.start(Edge::Silence);
        meters.process(&[&[f32::MIN_POSITIVE / 2.0; 480], &[1e-20; 480]]);
        let levels = meters.take_levels();
        assert_eq!(levels.weighted_square_sum, 0.0);
        assert_eq!((levels.scrubbed, levels.sample_peaks[0]), (0, 0.0));
        // A loud second, then silence: the filter decays, and no sum is ever subnormal.
        let loud = lively(5, 480);
        for _ in 0..100 {
            meters.process(&[&loud, &loud]);
            meters.take_levels();
        }
        let mut zero_hops = 0;
        for _ in 0..200 {
            meters.process(&[&[0.0; 480], &[0.0; 480]]);
            let sum = meters.take_levels().weighted_square_sum;
            assert!(sum == 0.0 || sum.is_normal(), "{sum}");
            zero_hops += u32::from(sum == 0.0);
        }
        assert!(zero_hops > 100, "the filter never came to rest");
    }
}

#[test]
fn dc_and_a_full_scale_square_give_finite_figures_that_are_right() {
    for mut meters in both(48_000, Layout::Mono) {
        // DC: the high-pass takes it out.
        meters.start(Edge::Silence);
        for _ in 0..300 {
            meters.process(&[&[1.0; 480]]);
            meters.take_true_peaks();
            let last = meters.take_levels();
            assert!(last.weighted_square_sum.is_finite());
        }
        meters.process(&[&[1.0; 480]]);
        let settled = meters.take_levels();
        assert!(settled.weighted_square_sum < 1e-12, "{settled:?}");
        assert_eq!(settled.left_square_sum, 480.0);
        // Square wave of 500 Hz: every sample is clipped, the true peak lies above by what a
        // band-limited edge overshoots (Gibbs: 9 % of the step of 2 at most, for one edge).
        let square: Vec<f32> =
            (0..4_800).map(|n| if n / 48 % 2 == 0 { 1.0 } else { -1.0 }).collect();
        meters.start(Edge::Unknown);
        meters.process(&[&square]);
        let levels = meters.take_levels();
        assert_eq!((levels.clipped, levels.scrubbed), (4_800, 0));
        meters.finish(Edge::Unknown, meters.latency_frames());
        let peak = meters.take_true_peaks()[0];
        assert!((1.1..1.3).contains(&peak), "{peak}");
    }
}

#[test]
fn clipped_samples_are_counted_from_the_largest_16_bit_value_on() {
    let mut meters = Meters::new(rate(48_000), Layout::Stereo);
    let largest = 32_767.0 / 32_768.0;
    let left = [1.0, -1.0, largest, -largest, 0.999_9, 0.0, 2.0, -0.999_9, f32::NAN];
    meters.process(&[&left, &[0.0; 9]]);
    let levels = meters.take_levels();
    assert_eq!((levels.clipped, levels.scrubbed), (5, 1));
}
