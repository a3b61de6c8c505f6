//! First and last samples, seams, and at which hop a peak is booked.

use super::*;

/// Two equal samples between silences: their waveform peaks half-way at 4/π of them.
const PAIR_PEAK: f32 = 4.0 / std::f32::consts::PI;

fn assert_is_pair_peak(peak: f32) {
    // The pair fills the whole band, beyond 0.45 fs too, so it may read low by what two crests of
    // 0.45 fs may: 0.05 dB each way.
    let error_db = 20.0 * (peak / PAIR_PEAK).log10();
    assert!((-0.05..=0.01).contains(&error_db), "{peak}: {error_db} dB");
}

#[test]
fn peaks_at_the_first_and_last_samples_of_a_file_count() {
    for len_frames in [2, 3, 29, 30, 31, 64, 500] {
        for mut meters in both(48_000, Layout::Mono) {
            let mut samples = vec![0.0; len_frames];
            samples[..2].fill(1.0);
            assert_is_pair_peak(true_peak(&mut meters, &samples));
            samples.reverse();
            assert_is_pair_peak(true_peak(&mut meters, &samples));
        }
    }
    let mut meters = Meters::new(rate(48_000), Layout::Mono);
    assert_eq!(true_peak(&mut meters, &[0.7]), 0.7);
    assert_eq!(true_peak(&mut meters, &[]), 0.0);
}

#[test]
fn a_seam_never_over_reads_wherever_it_is_cut() {
    // A tone whose crests all are 1; cut anywhere, with nothing known of the rest. Between
    // silences the cut would ring well above.
    let tone: Vec<f32> =
        (0..400).map(|n| (f64::from(n) * 0.83 * std::f64::consts::PI).cos() as f32).collect();
    let largest = 10.0_f32.powf(0.01 / 20.0);
    let mut rang = false;
    for mut meters in both(48_000, Layout::Mono) {
        for cut in 0..60 {
            for len_frames in [1, 20, 59, 60, 61, 100, 250] {
                let piece = &tone[cut..cut + len_frames];
                meters.start(Edge::Unknown);
                meters.process(&[piece]);
                meters.finish(Edge::Unknown, meters.latency_frames());
                let peak = meters.take_true_peaks()[0];
                let sample_peak = piece.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
                assert!(peak <= largest, "{cut}, {len_frames}: {peak}");
                assert!(peak >= sample_peak, "{cut}, {len_frames}: {peak}");
                rang |= true_peak(&mut meters, piece) > largest;
            }
        }
    }
    assert!(rang, "the signal cannot tell a seam from an edge");
}

#[test]
fn nothing_of_the_old_place_is_left_after_a_start() {
    let [old, new] = [lively(1, 2_000), lively(2, 2_000)];
    for before in [Edge::Silence, Edge::Unknown] {
        let mut fresh = Meters::new(rate(48_000), Layout::Mono);
        let edges = [before, Edge::Silence];
        let expected = measure_in_blocks(&mut fresh, std::slice::from_ref(&new), 480, edges, || 64);
        let mut used = Meters::new(rate(48_000), Layout::Mono);
        used.process(&[&old]);
        let found = measure_in_blocks(&mut used, std::slice::from_ref(&new), 480, edges, || 64);
        assert_same(&found, &expected);
    }
}

#[test]
fn a_peak_is_booked_at_the_hop_it_lies_in() {
    for mut meters in both(48_000, Layout::Mono) {
        for at in [0, 1, 478, 479, 480, 481, 959, 960, 1_000] {
            let mut samples = vec![0.0; 1_920];
            samples[at] = 1.0;
            samples[at + 1] = 1.0;
            let hops = measure_in_blocks(&mut meters, &[samples], 480, [Edge::Silence; 2], || 333);
            for (k, hop) in hops.iter().enumerate().take(3) {
                let peak = hop.true_peaks[0];
                if at / 480 == k {
                    assert_is_pair_peak(peak);
                } else {
                    assert!(peak <= 1.0, "pair at {at}: hop {k} reads {peak}");
                }
            }
        }
    }
}

#[test]
fn points_are_complete_after_the_stated_latency_and_not_before() {
    let mut meters = Meters::new(rate(48_000), Layout::Mono);
    let latency = meters.latency_frames();
    let mut samples = vec![0.0; 100 + latency];
    samples[99] = 1.0;
    meters.start(Edge::Silence);
    // Frame 99 is before frame e = 100.
    meters.process(&[&samples[..99 + latency]]);
    assert!(meters.take_true_peaks()[0] < 1.0);
    meters.process(&[&samples[99 + latency..]]);
    assert_eq!(meters.take_true_peaks()[0], 1.0);
}
