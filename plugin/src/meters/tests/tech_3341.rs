//! EBU Tech 3341-2023, Table 1, cases 15 to 23: true peak. The frequencies are shares of the
//! sampling rate, so the cases hold at every rate.

use super::*;
use std::f64::consts::PI;

/// Tolerance of cases 15 to 23, dB over and under.
const OVER_DB: f64 = 0.2;
const UNDER_DB: f64 = 0.4;

const CASE_RATES_HZ: [u32; 6] = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

fn assert_reads(case: u32, hz: u32, signal: &[f32], expected_dbtp: f64) -> f64 {
    let mut meters = Meters::new(rate(hz), Layout::Stereo);
    meters.process(&[signal, signal]);
    meters.finish(Edge::Silence, meters.latency_frames());
    let peaks = meters.take_true_peaks();
    assert_eq!(peaks[0], peaks[1]);
    let reading = 20.0 * f64::from(peaks[0]).log10();
    let error_db = reading - expected_dbtp;
    assert!(
        (-UNDER_DB..=OVER_DB).contains(&error_db),
        "case {case} at {hz} Hz: {reading} dBTP for {expected_dbtp}"
    );
    reading
}

/// Fade-in and fade-out of 10 ms.
fn faded(signal: &mut [f32], hz: u32) {
    let fade_frames = (hz / 100) as usize;
    let len = signal.len();
    for n in 0..fade_frames {
        let gain = n as f32 / fade_frames as f32;
        signal[n] *= gain;
        signal[len - 1 - n] *= gain;
    }
}

#[test]
fn cases_15_to_19_read_the_tone_between_its_samples() {
    for hz in CASE_RATES_HZ {
        for (case, divisor, amplitude, phase_degrees, expected_dbtp) in [
            (15, 4.0, 0.50, 0.0, -6.0),
            (16, 4.0, 0.50, 45.0, -6.0),
            (17, 6.0, 0.50, 60.0, -6.0),
            (18, 8.0, 0.50, 67.5, -6.0),
            (19, 4.0, 1.41, 45.0, 3.0),
        ] {
            let mut signal: Vec<f32> = (0..hz / 10)
                .map(|n| {
                    let phase = 2.0 * PI * f64::from(n) / divisor + f64::to_radians(phase_degrees);
                    (amplitude * phase.sin()) as f32
                })
                .collect();
            faded(&mut signal, hz);
            let reading = assert_reads(case, hz, &signal, expected_dbtp);
            // The exact value is that of the amplitude.
            let exact_dbtp = 20.0 * f64::log10(amplitude);
            assert!((reading - exact_dbtp).abs() <= 0.02, "case {case}: {reading}");
        }
    }
}

/// A tone of fs/6 at 0.50 with one period of fs/4 at 1.00 in its middle, phase-continuous, at
/// four times the rate, low-passed at 0.45 fs and decimated from `offset` on. The standard does
/// not state its filter; this one is a windowed sinc of 255 taps.
fn burst(hz: u32, offset: usize) -> Vec<f32> {
    // The tone's zero crossing at the start of a period of 24 quarter samples.
    let periods = (hz / 10 / 6) as usize;
    let mut fine: Vec<f64> =
        (0..24 * periods).map(|n| 0.5 * (2.0 * PI * n as f64 / 24.0).sin()).collect();
    fine.extend((0..16).map(|n| (2.0 * PI * f64::from(n) / 16.0).sin()));
    fine.extend_from_within(..24 * periods);
    let taps: Vec<f64> = (-127_i32..=127)
        .map(|k| {
            // Cut-off 0.45 fs of the final rate, 0.1125 of this one; Blackman window.
            let (t, turn) = (f64::from(k), PI * f64::from(k) / 128.0);
            let window = 0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos();
            let sinc = if k == 0 { 1.0 } else { (PI * 0.225 * t).sin() / (PI * 0.225 * t) };
            0.225 * sinc * window
        })
        .collect();
    let mut signal: Vec<f32> = (127 + offset..fine.len() - 127)
        .step_by(4)
        .map(|n| {
            let frames = &fine[n - 127..=n + 127];
            frames.iter().zip(&taps).map(|(x, h)| x * h).sum::<f64>() as f32
        })
        .collect();
    faded(&mut signal, hz);
    signal
}

#[test]
fn cases_20_to_23_read_the_burst_at_every_offset() {
    for hz in CASE_RATES_HZ {
        let readings: Vec<f64> = (0..4)
            .map(|offset| assert_reads(20 + offset, hz, &burst(hz, offset as usize), 0.0))
            .collect();
        // The waveform is one and the same: an exact meter cannot tell the offsets apart.
        let largest = readings.iter().copied().fold(f64::MIN, f64::max);
        let smallest = readings.iter().copied().fold(f64::MAX, f64::min);
        assert!(largest - smallest <= 0.02, "{hz} Hz: {readings:?}");
    }
}
