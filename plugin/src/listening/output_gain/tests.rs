use super::*;
use crate::listening::MatchTo;
use crate::units::{Db, Dbtp};

const RATE_HZ: u32 = 48_000;

/// All that is promised holds whatever the song is matched to.
const BOTH: [MatchTo; 2] = [MatchTo::Playback, MatchTo::Reference];

fn pair() -> (Arc<Listening>, OutputGain) {
    let listening = Arc::new(Listening::default());
    let gain = OutputGain::new(Arc::clone(&listening), RATE_HZ);
    (listening, gain)
}

/// A tone below `peak`, with an odd frequency so that no two samples are alike.
fn tone(peak: f32, len_frames: u16) -> Vec<f32> {
    (0..len_frames).map(|n| peak * (f32::from(n) * 0.137).sin()).collect()
}

/// What comes out of blocks of `block` frames, both channels alike.
fn through(gain: &mut OutputGain, input: &[f32], block: usize, true_peak: f32) -> Vec<f32> {
    let mut left = input.to_vec();
    let mut right = input.to_vec();
    for (left, right) in left.chunks_mut(block).zip(right.chunks_mut(block)) {
        gain.apply(&mut [left, right], true_peak, false);
    }
    assert!(left.iter().zip(&right).all(|(left, right)| left.to_bits() == right.to_bits()));
    left
}

#[test]
fn while_it_is_off_not_a_bit_changes() {
    for to in BOTH {
        let (listening, mut gain) = pair();
        let mut odd = tone(2.0, 5_000);
        odd[17] = f32::NAN;
        odd[18] = f32::INFINITY;
        odd[19] = 1e-42;
        let bits = |samples: &[f32]| samples.iter().map(|s| s.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&through(&mut gain, &odd, 64, 3.0)), bits(&odd));
        // Off again: once the way back is over.
        listening.start(to, Db(-6.0), None);
        assert_ne!(bits(&through(&mut gain, &odd, 64, 3.0)), bits(&odd));
        listening.stop();
        through(&mut gain, &tone(0.5, 5_000), 64, 0.5);
        assert_eq!(bits(&through(&mut gain, &odd, 64, 3.0)), bits(&odd));
    }
}

#[test]
fn the_gain_comes_and_goes_over_at_least_20_ms_and_in_small_steps() {
    for to in BOTH {
        let ones = vec![0.25_f32; 5_000];
        for block in [1, 64, 5_000] {
            let (listening, mut gain) = pair();
            let mut out = Vec::new();
            for asked in [Some(-12.0), Some(3.0), None] {
                match asked {
                    Some(gain_db) => listening.start(to, Db(gain_db), None),
                    None => listening.stop(),
                }
                out.extend(through(&mut gain, &ones, block, 0.25));
            }
            let goals =
                [0.25 * 10.0_f32.powf(-12.0 / 20.0), 0.25 * 10.0_f32.powf(3.0 / 20.0), 0.25];
            for (part, goal) in out.chunks(5_000).zip(goals) {
                assert!((part[4_999] - goal).abs() < 1e-6, "{} is not {goal}", part[4_999]);
                let moving = part.iter().filter(|&&sample| (sample - goal).abs() > 1e-6).count();
                assert!((960..=1_440).contains(&moving), "{moving} frames, blocks of {block}");
            }
            // From one end of the range to the other in a thousand steps.
            let largest = out.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max);
            assert!(largest <= 0.25 * (1.4126 - 0.2512) / 960.0, "a step of {largest}");
        }
    }
}

#[test]
fn no_sample_is_raised_over_the_ceiling() {
    for to in BOTH {
        let ceiling = 10.0_f32.powf(-1.0 / 20.0);
        let (listening, mut gain) = pair();
        let mut input = tone(0.4, 9_000);
        for (n, louder) in [(4_000, 0.7_f32), (4_001, -0.85), (6_000, 0.95), (7_000, 0.5)] {
            input[n] = louder;
        }
        listening.start(to, Db(6.0), Some(Dbtp(-1.0)));
        let out = through(&mut gain, &input, 64, 0.4);
        for (n, (&before, &after)) in input.iter().zip(&out).enumerate() {
            // What was over it before stays as it is.
            assert!(after.abs() <= before.abs().max(ceiling) * (1.0 + 1e-6), "{after} at {n}");
            assert!(after.abs() >= before.abs(), "turned down at {n}");
        }
        assert!((out[3_900] / input[3_900] - 1.9953).abs() < 1e-3);
        // 0.95 is over the ceiling already: nothing is raised from there on.
        assert_eq!(out[6_000..], input[6_000..]);
        let told = listening.matched().unwrap();
        assert!(told.held_back && told.gain.0.abs() < 1e-6, "{told:?}");
        // Another press tries again.
        listening.start(to, Db(6.0), Some(Dbtp(-1.0)));
        assert!(!listening.matched().unwrap().held_back);
        let again = through(&mut gain, &tone(0.4, 5_000), 64, 0.4);
        assert!((again[4_900] / tone(0.4, 5_000)[4_900] - 1.9953).abs() < 1e-3);
    }
}

#[test]
fn a_peak_between_samples_lowers_the_gain_too() {
    for to in BOTH {
        let (listening, mut gain) = pair();
        listening.start(to, Db(6.0), Some(Dbtp(0.0)));
        let input = vec![0.4_f32; 5_000];
        through(&mut gain, &input, 64, 0.4);
        let out = through(&mut gain, &input, 64, 0.8);
        assert!((out[4_999] - 0.4 / 0.8).abs() < 1e-6, "{}", out[4_999]);
        assert!(listening.matched().unwrap().held_back);
    }
}

#[test]
fn turning_down_knows_no_ceiling_and_bypass_takes_the_gain_off() {
    for to in BOTH {
        let (listening, mut gain) = pair();
        listening.start(to, Db(-6.0), Some(Dbtp(-1.0)));
        let input = vec![1.5_f32; 5_000];
        let out = through(&mut gain, &input, 64, 1.5);
        assert!((out[4_999] - 1.5 * 0.501_187).abs() < 1e-5);
        assert!(!listening.matched().unwrap().held_back);
        let mut left = input.clone();
        gain.apply(&mut [&mut left], 1.5, true);
        assert_eq!(left[4_999], 1.5);
        assert!(listening.is_on());
    }
}

#[test]
fn a_press_that_is_taken_back_before_a_block_does_nothing() {
    for to in BOTH {
        let (listening, mut gain) = pair();
        listening.start(to, Db(6.0), None);
        listening.stop();
        listening.stop();
        assert!(!listening.is_on());
        assert_eq!(listening.matched(), None);
        let input = tone(0.4, 500);
        assert_eq!(through(&mut gain, &input, 64, 0.4), input);
    }
}
