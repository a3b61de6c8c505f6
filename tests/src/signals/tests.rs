use super::*;

fn sample_peak_dbfs(part: &Part) -> f64 {
    let peak = part.audio.channels[0].iter().fold(0.0_f32, |peak, s| peak.max(s.abs()));
    20.0 * f64::from(peak).log10()
}

#[test]
fn there_are_25_cases_and_their_channels_are_as_stated() {
    let cases = cases();
    assert_eq!(cases.len(), 25);
    for case in cases {
        for part in case.parts(44_100) {
            assert_eq!(part.audio.channels.len(), case.channels());
            assert!(!part.expected.is_empty());
        }
    }
}

#[test]
fn lengths_are_the_prescribed_ones_at_every_rate() {
    // Sums of the stretches in Tech 3341 Table 1 and Tech 3342 §4, in s.
    for rate_hz in [44_100, 48_000, 88_200, 96_000, 192_000] {
        for (case, len_s) in [
            (tech_3341(1), 20.0),
            (tech_3341(3), 80.0),
            (tech_3341(4), 100.0),
            (tech_3341(5), 60.1),
            (tech_3341(9), 15.0),
            (tech_3341(11), 120.0),
            (tech_3341(12), 10.0),
            (tech_3341(14), 16.0),
            (tech_3342(4), 100.0),
        ] {
            let parts = case.parts(rate_hz);
            assert_eq!(parts[0].audio.len_s(), len_s, "{case}");
        }
        assert_eq!(tech_3341(10).parts(rate_hz).len(), 20);
        assert_eq!(tech_3341(13).parts(rate_hz).len(), 20);
    }
}

#[test]
fn levels_are_peak_levels() {
    for (number, dbfs) in [(1, -23.0), (2, -33.0), (5, -20.0)] {
        let peak = sample_peak_dbfs(&tech_3341(number).parts(48_000)[0]);
        assert!((peak - dbfs).abs() < 1e-3, "{peak}");
    }
}

/// STANDARDS §2.2: sample peaks −6.02, −9.03, −7.27, −6.71, −0.03 dBFS for cases 15 to 19.
#[test]
fn the_steady_peak_cases_hide_their_peak_between_samples() {
    for (number, dbfs) in [(15, -6.02), (16, -9.03), (17, -7.27), (18, -6.71), (19, -0.03)] {
        for rate_hz in [44_100, 48_000, 192_000] {
            let peak = sample_peak_dbfs(&tech_3341(number).parts(rate_hz)[0]);
            assert!((peak - dbfs).abs() < 0.006, "case {number} at {rate_hz} Hz: {peak}");
        }
    }
}

/// STANDARDS §2.2: with an anti-alias cut-off at 0.45 of the rate the exact true peak of cases 20
/// to 23 is −0.117 dBTP, sample peaks about −0.15, −0.55, −2.6, −0.55 dBFS. The filter there was
/// another one, so its length may move the second decimal.
#[test]
fn the_crest_cases_have_one_true_peak_at_four_offsets() {
    for (number, dbfs) in [(20, -0.15), (21, -0.55), (22, -2.6), (23, -0.55)] {
        let part = &tech_3341(number).parts(48_000)[0];
        let peak = sample_peak_dbfs(part);
        assert!((peak - dbfs).abs() < 0.1, "case {number}: sample peak {peak}");
        let dbtp = crate::oracle::true_peak::dbtp(&part.audio.channels[0]);
        assert!((dbtp - -0.117).abs() < 0.03, "case {number}: {dbtp} dBTP");
    }
}
