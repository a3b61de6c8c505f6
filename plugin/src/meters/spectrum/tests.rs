//! Accuracy against sounds whose bands are known without a meter.

use super::bands::{BAND_COUNT, OFFSET_BELOW_HZ, edges_hz, midband_hz, slots_between};
use super::*;
use crate::meters::Edge;
use crate::units::energy_to_db;
use std::f64::consts::{PI, TAU};

const RATES_HZ: [u32; 4] = [44_100, 48_000, 96_000, 192_000];

/// The seconds of `mono`, which stands in both channels, in blocks of `block` frames.
fn seconds_of(rate_hz: u32, mono: &[f32], block: usize) -> Vec<Second> {
    let mut stream = stream_at(rate_hz);
    let mut seconds = Vec::new();
    for block in mono.chunks(block) {
        stream.push(block, block, |second| seconds.push(*second));
    }
    stream.finish(|second| seconds.push(*second));
    seconds
}

fn sine(rate_hz: u32, hz: f64, len_s: u32) -> Vec<f32> {
    let step = TAU * hz / f64::from(rate_hz);
    (0..rate_hz * len_s).map(|n| (0.5 * (0.3 + step * f64::from(n)).sin()) as f32).collect()
}

fn stream_at(rate_hz: u32) -> SecondStream {
    SecondStream::new(SampleRate::new(rate_hz).unwrap())
}

/// The mid of the middle second of three.
fn middle(stream: &mut SecondStream, mono: &[f32]) -> Powers {
    let mut seconds = Vec::new();
    stream.start(0, Edge::Silence);
    stream.push(mono, mono, |second| seconds.push(*second));
    seconds[1].mid
}

/// The next 64 bits (SplitMix64, constants from memory), as a phase.
fn phase(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    TAU * ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

/// Noise of `len_s` seconds with one line of known power and random phase every 1/`len_s` Hz, from
/// 1 Hz up: power ∝ f^`slope` per Hz. Its bands are known exactly, which those of a random draw are
/// not: in five minutes the lowest band would be off by 0.12 dB in two of three draws.
fn noise(rate_hz: u32, len_s: u32, slope: f64) -> Vec<f32> {
    let len = (rate_hz * len_s) as usize;
    let inverse = RealFftPlanner::<f32>::new().plan_fft_inverse(len);
    let mut lines = inverse.make_input_vec();
    let mut state = 7;
    for (n, line) in lines.iter_mut().enumerate().skip(len_s as usize) {
        let hz = n as f64 / f64::from(len_s);
        let (sin, cos) = phase(&mut state).sin_cos();
        let size = 0.02 * (hz / 1_000.0).powf(slope / 2.0) / f64::from(len_s).sqrt();
        *line = Complex::new((size * cos) as f32, (size * sin) as f32);
    }
    lines.last_mut().unwrap().im = 0.0;
    let mut out = inverse.make_output_vec();
    inverse.process(&mut lines, &mut out).unwrap();
    out
}

fn mean_of(seconds: &[Second]) -> Powers {
    let mut mean = Powers::ZERO;
    for second in seconds {
        mean.add(&second.mid, 1.0 / seconds.len() as f64);
    }
    mean
}

#[test]
fn a_sine_in_the_middle_of_a_band_reads_its_level_and_far_bands_stay_silent() {
    for rate_hz in RATES_HZ {
        let mut stream = stream_at(rate_hz);
        for band in 0..BAND_COUNT {
            let powers = middle(&mut stream, &sine(rate_hz, midband_hz(band), 3));
            let level_db = energy_to_db(powers.band(band) / 0.125);
            // The lowest band ends 2.2 bins from its middle: with the window's own spectrum summed
            // as bins are shared, 0.025 dB of the sine lie outside. IEC 61260-1 allows 0.4 dB.
            assert!(level_db.abs() < 0.03, "{rate_hz} {band}: {level_db}");
            for far in (0..BAND_COUNT).filter(|far| far.abs_diff(band) >= 5) {
                // 61 dB at a third of the midband frequency (IEC 61260-1, class 1; from memory).
                let leak_db = energy_to_db(powers.band(far) / 0.125);
                assert!(leak_db < -61.0, "{rate_hz} {band} in {far}: {leak_db}");
            }
        }
    }
}

#[test]
fn a_sine_on_an_edge_is_shared_in_halves() {
    for rate_hz in RATES_HZ {
        let mut stream = stream_at(rate_hz);
        for band in 0..=BAND_COUNT {
            let edge_hz = edges_hz(band)[0];
            if edge_hz > 0.5 * f64::from(rate_hz) - 10.0 {
                continue;
            }
            let powers = middle(&mut stream, &sine(rate_hz, edge_hz, 3));
            // What lies beyond the bands is that half's neighbour at either end.
            let low_hz = if band == 0 { OFFSET_BELOW_HZ } else { edges_hz(band - 1)[0] };
            let high_hz = if band == BAND_COUNT { f64::INFINITY } else { edges_hz(band)[1] };
            for slots in [slots_between(low_hz, edge_hz), slots_between(edge_hz, high_hz)] {
                // 1 % of the power is 0.09 dB of a half: see the head of `spectrum`.
                let half_db = energy_to_db(powers.sum(slots) / 0.0625);
                assert!(half_db.abs() < 0.09, "{rate_hz} {edge_hz}: {half_db}");
            }
        }
    }
}

#[test]
fn white_rises_by_one_decibel_a_band_exactly() {
    for rate_hz in RATES_HZ {
        // A single sample has the spectrum that white noise has on average.
        let mut click = vec![0.0; 3 * rate_hz as usize];
        click[3 * rate_hz as usize / 2] = 1.0;
        let powers = middle(&mut stream_at(rate_hz), &click);
        for band in 1..BAND_COUNT {
            if edges_hz(band)[1] < 0.5 * f64::from(rate_hz) {
                let rise_db = energy_to_db(powers.band(band) / powers.band(band - 1));
                assert!((rise_db - 1.0).abs() < 0.0005, "{rate_hz} {band}: {rise_db}");
            }
        }
    }
}

/// Bands of `seconds` against the first whole one, in dB, expected to rise by `rise_db` each.
fn assert_rise(rate_hz: u32, len_s: u32, slope: f64, rise_db: f64) {
    let powers = mean_of(&seconds_of(rate_hz, &noise(rate_hz, len_s, slope), 4_096));
    let whole = |band: &usize| edges_hz(*band)[1] < 0.5 * f64::from(rate_hz);
    let levels_db: Vec<f64> = (0..BAND_COUNT)
        .filter(whole)
        .map(|band| energy_to_db(powers.band(band)) - rise_db * band as f64)
        .collect();
    let mean_db = levels_db.iter().sum::<f64>() / levels_db.len() as f64;
    for (band, level_db) in levels_db.iter().enumerate() {
        assert!((level_db - mean_db).abs() < 0.1, "{rate_hz} {slope} {band}: {levels_db:?}");
    }
}

#[test]
fn pink_noise_is_flat_over_five_minutes() {
    assert_rise(48_000, 300, -1.0, 0.0);
}

#[test]
fn noise_reads_the_same_at_every_rate() {
    for rate_hz in RATES_HZ {
        assert_rise(rate_hz, 60, -1.0, 0.0);
        assert_rise(rate_hz, 60, 0.0, 1.0);
    }
}

#[test]
fn all_slots_together_are_the_mean_square_and_the_weighted_sum_is_the_filters() {
    for rate_hz in RATES_HZ {
        let mut sound = noise(rate_hz, 20, -1.0);
        for (n, sample) in sound.iter_mut().enumerate() {
            // With swells and an offset.
            let time_s = n as f64 / f64::from(rate_hz);
            *sample = *sample * (1.0 - 0.8 * (PI * time_s / 5.0).cos()) as f32 + 0.01;
        }
        let seconds = seconds_of(rate_hz, &sound, 1_000);
        assert_eq!(seconds.len(), 20);
        let [total, weighted] = [0, 1].map(|what| {
            let of = |second: &Second| match what {
                0 => second.mid.sum(0..SLOT_COUNT),
                _ => second.mid.k_weighted,
            };
            seconds.iter().map(of).sum::<f64>() / 20.0
        });
        let mean_square =
            |sound: &[f64]| sound.iter().map(|x| x * x).sum::<f64>() / sound.len() as f64;
        let mut signal: Vec<f64> = sound.iter().map(|&x| f64::from(x)).collect();
        assert!(energy_to_db(total / mean_square(&signal)).abs() < 0.05, "{rate_hz}: {total}");
        for stage in k_weighting::stages(SampleRate::new(rate_hz).unwrap()) {
            let [mut x1, mut x2, mut y1, mut y2] = [0.0; 4];
            for x in &mut signal {
                let y =
                    stage.b0 * *x + stage.b1 * x1 + stage.b2 * x2 - stage.a1 * y1 - stage.a2 * y2;
                (x2, x1, y2, y1) = (x1, *x, y1, y);
                *x = y;
            }
        }
        assert!(energy_to_db(weighted / mean_square(&signal)).abs() < 0.05, "{rate_hz}");
    }
}

#[test]
fn an_offset_is_no_rumble() {
    let powers = middle(&mut stream_at(48_000), &vec![0.1; 3 * 48_000]);
    assert!((powers.sum(0..1) / 0.01 - 1.0).abs() < 0.01);
    assert!(powers.sum(1..SLOT_COUNT) < 1e-4 * 0.01);
}

#[test]
fn mid_and_side_are_half_the_sum_and_half_the_difference() {
    let (left, right) = (sine(48_000, 1_000.0, 3), sine(48_000, 100.0, 3));
    let mut stream = stream_at(48_000);
    let mut seconds = Vec::new();
    stream.push(&left, &right, |second| seconds.push(*second));
    for powers in [seconds[1].mid, seconds[1].side] {
        for band in [7, 17] {
            assert!(energy_to_db(powers.band(band) / (0.125 / 4.0)).abs() < 0.001);
        }
    }
    seconds.clear();
    let other: Vec<f32> = left.iter().map(|x| -x).collect();
    stream.start(0, Edge::Silence);
    stream.push(&left, &other, |second| seconds.push(*second));
    assert_eq!(seconds[1].mid, Powers::ZERO);
    assert!(energy_to_db(seconds[1].side.band(17) / 0.125).abs() < 0.001);
}

#[test]
fn seconds_do_not_depend_on_blocks_or_on_where_the_run_began() {
    const RATE_HZ: u32 = 8_000;
    let sound = noise(RATE_HZ, 10, -1.0);
    let whole = seconds_of(RATE_HZ, &sound, sound.len());
    for block in [1, 64, 997, 8_000] {
        assert_eq!(seconds_of(RATE_HZ, &sound, block), whole, "{block}");
    }
    let mut stream = stream_at(RATE_HZ);
    let mut later = Vec::new();
    stream.start(3 * 8_000 + 5_000, Edge::Unknown);
    stream.push(&sound[29_000..60_000], &sound[29_000..60_000], |second| later.push(*second));
    stream.finish(|second| later.push(*second));
    let found: Vec<_> = later.iter().map(|second| (second.second, second.covered)).collect();
    assert_eq!(found, [(3, 0.375), (4, 1.0), (5, 1.0), (6, 1.0), (7, 0.5)]);
    // A quarter second beside a second colours it.
    assert_eq!(later[1..4], whole[4..7]);
    // A part reads as loud as what it is a part of, for even noise: see the tolerance of a draw of
    // 0.4 s over 4 kHz of bandwidth.
    let level_db = energy_to_db(later[0].mid.band(14) / whole[3].mid.band(14));
    assert!(level_db.abs() < 3.0, "{level_db}");
}

#[test]
fn a_run_that_takes_up_where_one_ended_makes_a_whole_second_with_it() {
    const RATE_HZ: u32 = 8_000;
    let sound = noise(RATE_HZ, 5, -1.0);
    let whole = seconds_of(RATE_HZ, &sound, 512);
    let mut stream = stream_at(RATE_HZ);
    let mut seconds = Vec::new();
    let mut play = |range: std::ops::Range<usize>, seconds: &mut Vec<Second>| {
        stream.start(range.start as i64, Edge::Unknown);
        stream.push(&sound[range.clone()], &sound[range], |second| seconds.push(*second));
        stream.finish(|second| seconds.push(*second));
    };
    play(0..20_000, &mut seconds);
    play(20_000..40_000, &mut seconds);
    let found: Vec<_> = seconds.iter().map(|second| (second.second, second.covered)).collect();
    assert_eq!(found, [(0, 1.0), (1, 1.0), (2, 0.5), (2, 1.0), (3, 1.0), (4, 1.0)]);
    // 20 ms are faded at the seam, two per cent of the second.
    let total = |second: &Second| second.mid.sum(0..SLOT_COUNT);
    assert!(energy_to_db(total(&seconds[3]) / total(&whole[2])).abs() < 0.3);
    // Elsewhere in song time nothing of it is left.
    seconds.clear();
    play(30_000..40_000, &mut seconds);
    play(4_000..16_000, &mut seconds);
    assert_eq!(seconds.last().unwrap().second, 1);
    let mut fresh = stream_at(RATE_HZ);
    let mut alone = Vec::new();
    fresh.start(4_000, Edge::Unknown);
    fresh.push(&sound[4_000..16_000], &sound[4_000..16_000], |second| alone.push(*second));
    fresh.finish(|second| alone.push(*second));
    assert_eq!(seconds[seconds.len() - alone.len()..], alone);
}

#[test]
fn what_is_not_audio_and_absurd_places_do_no_harm() {
    let mut stream = stream_at(11_025);
    let mut seconds = Vec::new();
    let bad = [f32::NAN, f32::INFINITY, f32::MIN, 0.5].repeat(11_025);
    for frame in [0, i64::MAX - 5, i64::MIN, -11_025 * 60] {
        stream.start(frame, Edge::Unknown);
        stream.push(&bad, &bad, |second| seconds.push(*second));
        stream.finish(|second| seconds.push(*second));
    }
    assert!(seconds.len() >= 8);
    for second in seconds {
        assert!(second.mid.slots.iter().chain(&second.side.slots).all(|power| power.is_finite()));
    }
}
