//! Peaks there and back.

use super::*;

fn random(seed: &mut u64) -> f64 {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    float((*seed >> 33).cast_signed()) / 2_147_483_648.0
}

fn there_and_back(channels: &[Peaks], pieces: &[Range<usize>]) -> Vec<Peaks> {
    let count = channels.first().map_or(0, |peaks| peaks.sample.len());
    let mut writer = Writer::new();
    let written = write(&mut writer, channels, pieces);
    let bytes = writer.into_bytes();
    let mut reader = Reader::new(&bytes);
    let (read, rough) = read(&mut reader, channels.len(), count, pieces).unwrap();
    assert!(reader.is_empty());
    assert_eq!(written, rough, "guesses differ");
    read
}

fn peaks(seed: u64, count: usize) -> Peaks {
    let mut seed = seed;
    let sample: Vec<f32> = (0..count)
        .map(|at| {
            let db = -60.0 * random(&mut seed) * random(&mut seed);
            if at % 50 < 3 { 0.0 } else { 10.0_f64.powf(db / 20.0) as f32 }
        })
        .collect();
    let true_peaks = sample.iter().map(|peak| peak * (1.0 + 0.3 * random(&mut seed)) as f32);
    Peaks { true_peaks: true_peaks.collect(), sample }
}

fn highest(peaks: &[f32]) -> f64 {
    amplitude_to_db(f64::from(peaks.iter().copied().fold(0.0, f32::max)))
}

#[test]
fn the_maximum_of_every_range_of_an_event_or_longer_is_exact() {
    let channels = [peaks(1, 1_500), peaks(2, 1_500), peaks(3, 1_500)];
    let pieces = [0..700, 700..705, 705..1_500];
    let read = there_and_back(&channels, &pieces);
    for (before, after) in channels.iter().zip(&read) {
        for (a, b) in [(&before.sample, &after.sample), (&before.true_peaks, &after.true_peaks)] {
            for len in [SHORTEST_HOPS, 21, 40, 300] {
                for (a, b) in a.windows(len).zip(b.windows(len)) {
                    let (a, b) = (highest(a), highest(b));
                    assert!(a == b || (a - b).abs() <= 0.000_5 + 1e-5, "{a} came back as {b}");
                }
            }
            let coarse = a.iter().zip(b).filter(|(a, b)| {
                let error = amplitude_to_db(f64::from(**a)) - amplitude_to_db(f64::from(**b));
                assert!(**a == **b || error.abs() <= 0.064 + 0.001, "{a} came back as {b}");
                error.abs() > 0.001
            });
            assert!(coarse.count() > 700, "nothing was saved by cells");
        }
    }
    // What was rounded is rounded to itself.
    assert_eq!(there_and_back(&read, &pieces), read);
}

#[test]
fn full_scale_and_silence_are_exact_and_extremes_do_no_harm() {
    let odd = vec![1.0, 0.0, f32::MIN_POSITIVE / 4.0, f32::MAX, f32::INFINITY, f32::NAN, -1.0];
    let count = odd.len();
    let one = Peaks { sample: odd.clone(), true_peaks: odd };
    let pieces: Vec<Range<usize>> = (0..count).map(|at| at..at + 1).collect();
    let [read] = <[Peaks; 1]>::try_from(there_and_back(&[one], &pieces)).unwrap();
    assert_eq!(&read.sample[..2], &[1.0, 0.0]);
    assert!(read.sample[2] > 0.0 && read.sample.iter().all(|peak| peak.is_finite()));
    assert_eq!(&read.sample[5..], &[0.0, 0.0]);
}
