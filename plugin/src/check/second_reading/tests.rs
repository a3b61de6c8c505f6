use super::*;
use crate::loudness::FileMeter;
use crate::units::Lufs;
use std::f64::consts::TAU;

#[test]
fn the_gain_flaw_is_the_one_that_was_measured() {
    // STANDARDS §6.1, column "libebur128 = crate I": theirs minus exact.
    for (hz, theirs_minus_exact) in
        [(44_100, 0.0038), (48_000, 0.0), (96_000, -0.0216), (192_000, -0.0324)]
    {
        let flaw = gain_flaw_db(SampleRate::new(hz).unwrap());
        assert!((flaw + theirs_minus_exact).abs() < 0.0015, "{hz}: {flaw}");
    }
}

/// 70 s of a tone whose level changes every 700 ms, in all channels.
fn planes(hz: u32, layout: Layout) -> Vec<Vec<f32>> {
    let plane: Vec<f32> = (0..70 * hz)
        .map(|frame| {
            let at_s = f64::from(frame) / f64::from(hz);
            let level = 0.05 + 0.2 * ((at_s / 0.7).floor() * 0.37).fract();
            #[allow(clippy::cast_possible_truncation, reason = "a sample")]
            let sample = (level * (TAU * 997.0 * at_s).sin()) as f32;
            sample
        })
        .collect();
    vec![plane; layout.channel_count()]
}

fn read(hz: u32, layout: Layout) -> (Figures, SecondReading) {
    let rate = SampleRate::new(hz).unwrap();
    let planes = planes(hz, layout);
    let mut second = SecondMeter::new(rate, layout).unwrap();
    let mut meter = FileMeter::new(rate, layout);
    second.push(&planes);
    meter.push(&planes.iter().map(Vec::as_slice).collect::<Vec<_>>());
    let figures = meter.finish().song_figures();
    (figures, second.finish(&figures).unwrap())
}

#[test]
fn both_readings_agree_at_every_rate_and_layout() {
    for (hz, layout) in [
        (44_100, Layout::Stereo),
        (48_000, Layout::Mono),
        (96_000, Layout::Stereo),
        (192_000, Layout::Mono),
        (48_000, Layout::Surround51),
        (48_000, Layout::Surround71),
    ] {
        let (_, reading) = read(hz, layout);
        assert_eq!(reading.figures.len(), 6);
        assert!(reading.figures.iter().all(|figure| figure.difference.is_some()), "{reading:?}");
        assert_eq!(reading.unexplained().count(), 0, "{hz} {layout:?}: {reading:?}");
    }
}

#[test]
fn a_difference_that_no_flaw_explains_is_told() {
    let (figures, _) = read(48_000, Layout::Stereo);
    let rate = SampleRate::new(48_000).unwrap();
    let again = |wrong: &Figures| {
        let mut second = SecondMeter::new(rate, Layout::Stereo).unwrap();
        second.push(&planes(48_000, Layout::Stereo));
        let reading = second.finish(wrong).unwrap();
        reading.unexplained().map(|figure| figure.key).collect::<Vec<_>>()
    };
    assert_eq!(again(&figures), [""; 0]);
    let louder = figures.integrated.map(|loudness| Lufs(loudness.0 + 0.05));
    assert_eq!(again(&Figures { integrated: louder, ..figures }), ["integrated_lufs"]);
    // Ours may be above theirs, which misses maxima between its looks, but not below.
    let lower = figures.max_momentary.map(|loudness| Lufs(loudness.0 - 0.5));
    assert_eq!(again(&Figures { max_momentary: lower, ..figures }), ["max_momentary_lufs"]);
}

#[test]
fn what_is_no_number_is_measured_as_zero_in_both() {
    let mut second = SecondMeter::new(SampleRate::new(48_000).unwrap(), Layout::Mono).unwrap();
    let mut plane = planes(48_000, Layout::Mono).remove(0);
    plane[4_000] = f32::NAN;
    plane[5_000] = f32::INFINITY;
    second.push(&[plane]);
    let reading = second.finish(&Figures::default()).unwrap();
    assert!(reading.figures.iter().all(|figure| figure.theirs.is_some_and(f64::is_finite)));
}
