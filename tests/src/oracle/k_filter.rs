//! K-weighting (ITU-R BS.1770-5 Annex 1, Tables 1 and 2).
//!
//! The tables hold for 48 kHz. For other rates the document asks for the same frequency response
//! and gives no formula. Here that is met in two steps. Each table is read as what a bilinear
//! transform made of an analogue second-order section: K = tan(π·f0/fs) and Q follow from a1 and
//! a2, the analogue numerator from b0, b1, b2; the section is transformed again for the wanted
//! rate, which bends its response by up to 0.006 dB (0.03 dB at 22.05 kHz). A short symmetric
//! filter then takes out the rest: its response is what the tables give at a frequency over what
//! the bent sections give there. Above 24 kHz, where the tables say nothing, the response stays
//! what it is at 24 kHz.

/// One section: b0, b1, b2, a1, a2.
type Section = [f64; 5];

/// The rate of the tables, in Hz.
const TABLE_RATE_HZ: f64 = 48_000.0;

/// Annex 1, Table 1: the head, a high shelf.
const HEAD: Section = [
    1.535_124_859_586_97,
    -2.691_696_189_406_38,
    1.198_392_810_852_85,
    -1.690_659_293_182_41,
    0.732_480_774_215_85,
];
/// Annex 1, Table 2: the RLB curve, a high-pass.
const RLB: Section = [1.0, -2.0, 1.0, -1.990_047_454_833_98, 0.990_072_250_366_21];

/// Points of the grid on which the correction is computed, from 0 Hz to half the rate.
const GRID: usize = 4096;
/// Reach of the correction to either side, in s: the bend is about 1 kHz wide.
const CORRECTION_REACH_S: f64 = 0.003;

/// K-weights one channel that is silent before its first frame; rates from 44.1 kHz up (below, the
/// correction would have to reach further).
#[must_use]
pub fn weigh(rate_hz: u32, samples: &[f32]) -> Vec<f64> {
    let sections = sections(rate_hz);
    // Direct form I. Per section: the last two inputs and the last two outputs.
    let mut memory = [[0.0; 4]; 2];
    let weighted: Vec<f64> = samples
        .iter()
        .map(|&sample| {
            let mut value = f64::from(sample);
            for ([b0, b1, b2, a1, a2], memory) in sections.iter().zip(&mut memory) {
                let [x1, x2, y1, y2] = *memory;
                let output = b0 * value + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
                *memory = [value, x1, output, y1];
                value = output;
            }
            value
        })
        .collect();
    if f64::from(rate_hz) == TABLE_RATE_HZ {
        return weighted;
    }
    let correction = correction(rate_hz);
    let reach = correction.len() / 2;
    let mut padded = vec![0.0; reach];
    padded.extend(&weighted);
    padded.resize(padded.len() + reach, 0.0);
    padded.windows(correction.len()).map(|window| super::sinc::dot(window, &correction)).collect()
}

/// Gain of the tables at `frequency_hz`, in dB: what every rate is to match. Above 24 kHz it is
/// the gain at 24 kHz.
#[must_use]
pub fn table_gain_db(frequency_hz: f64) -> f64 {
    gain_db(&[HEAD, RLB], (frequency_hz / TABLE_RATE_HZ).min(0.5))
}

/// Gain of what [`weigh`] does at `rate_hz`, in dB.
#[must_use]
pub fn filter_gain_db(rate_hz: u32, frequency_hz: f64) -> f64 {
    let frequency = frequency_hz / f64::from(rate_hz);
    let sections_db = gain_db(&sections(rate_hz), frequency);
    if f64::from(rate_hz) == TABLE_RATE_HZ {
        return sections_db;
    }
    let correction = correction(rate_hz);
    let reach = correction.len() / 2;
    let amplitude: f64 = correction
        .iter()
        .enumerate()
        .map(|(i, tap)| {
            let distance = i as f64 - reach as f64;
            tap * (std::f64::consts::TAU * frequency * distance).cos()
        })
        .sum();
    sections_db + 20.0 * amplitude.log10()
}

fn sections(rate_hz: u32) -> [Section; 2] {
    if f64::from(rate_hz) == TABLE_RATE_HZ {
        [HEAD, RLB]
    } else {
        [HEAD, RLB].map(|section| at_rate(section, f64::from(rate_hz)))
    }
}

/// The taps, odd in number and symmetric, of the filter whose response is that of the tables
/// over that of the sections at `rate_hz`: its cosine series, faded out.
fn correction(rate_hz: u32) -> Vec<f64> {
    let sections = sections(rate_hz);
    let rate = f64::from(rate_hz);
    // At 0 Hz both are zero; their ratio there is that of the first point above.
    let amplitudes: Vec<f64> = (0..=GRID)
        .map(|point| 0.5 * point.max(1) as f64 / GRID as f64)
        .map(|frequency| table_gain_db(frequency * rate) - gain_db(&sections, frequency))
        .map(|db| 10.0_f64.powf(db / 20.0))
        .collect();
    let reach = (CORRECTION_REACH_S * rate).round();
    let one_side = |tap: usize| {
        let turn = std::f64::consts::PI * tap as f64 / GRID as f64;
        let sum: f64 = amplitudes
            .iter()
            .enumerate()
            .map(|(point, amplitude)| {
                let share = if point == 0 || point == GRID { 0.5 } else { 1.0 };
                share * amplitude * (turn * point as f64).cos()
            })
            .sum();
        // The raised cosine fades the series out.
        sum / GRID as f64 * (0.5 + 0.5 * (std::f64::consts::PI * tap as f64 / (reach + 1.0)).cos())
    };
    let side: Vec<f64> = (0..=reach as usize).map(one_side).collect();
    side.iter().skip(1).rev().chain(&side).copied().collect()
}

fn gain_db(sections: &[Section], frequency: f64) -> f64 {
    // |c0 + c1·z⁻¹ + c2·z⁻²|² in powers of φ = sin²(ω/2), which stays exact near 0 Hz.
    let phi = (std::f64::consts::PI * frequency).sin().powi(2);
    let power = |[c0, c1, c2]: [f64; 3]| {
        let at_zero = c0 + c1 + c2;
        at_zero * at_zero - 4.0 * (c1 * (c0 + c2) + 4.0 * c0 * c2) * phi
            + 16.0 * c0 * c2 * phi * phi
    };
    let ratio: f64 = sections
        .iter()
        .map(|&[b0, b1, b2, a1, a2]| power([b0, b1, b2]) / power([1.0, a1, a2]))
        .product();
    10.0 * ratio.log10()
}

/// `section` of 48 kHz made anew for `rate_hz`.
///
/// With p = s/ω0 and the bilinear p = (1/K)·(1 − z⁻¹)/(1 + z⁻¹), the section
/// (c2·p² + c1·p + c0)/(p² + p/Q + 1) becomes, over d = 1 + K/Q + K²:
/// b = [c2 + c1·K + c0·K², 2·(c0·K² − c2), c2 − c1·K + c0·K²]/d,
/// a1 = 2·(K² − 1)/d, a2 = (1 − K/Q + K²)/d.
/// From a1 and a2: 1 + a1 + a2 = 4·K²/d, 1 − a1 + a2 = 4/d, 1 − a2 = 2·(K/Q)/d.
/// From b:         b0 + b1 + b2 = 4·c0·K²/d, b0 − b1 + b2 = 4·c2/d, b0 − b2 = 2·c1·K/d.
fn at_rate([b0, b1, b2, a1, a2]: Section, rate_hz: f64) -> Section {
    let d = 4.0 / (1.0 - a1 + a2);
    let k = ((1.0 + a1 + a2) / (1.0 - a1 + a2)).sqrt();
    let inverse_q = (1.0 - a2) * d / 2.0 / k;
    let c2 = (b0 - b1 + b2) * d / 4.0;
    let c1 = (b0 - b2) * d / 2.0 / k;
    let c0 = (b0 + b1 + b2) * d / 4.0 / (k * k);

    let corner_hz = k.atan() * TABLE_RATE_HZ / std::f64::consts::PI;
    let k = (std::f64::consts::PI * corner_hz / rate_hz).tan();
    let d = 1.0 + k * inverse_q + k * k;
    [
        (c2 + c1 * k + c0 * k * k) / d,
        2.0 * (c0 * k * k - c2) / d,
        (c2 - c1 * k + c0 * k * k) / d,
        2.0 * (k * k - 1.0) / d,
        (1.0 - k * inverse_q + k * k) / d,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_section_made_anew_for_48_khz_is_the_table() {
        for section in [HEAD, RLB] {
            for (again, table) in at_rate(section, TABLE_RATE_HZ).into_iter().zip(section) {
                assert!((again - table).abs() < 1e-12, "{again} {table}");
            }
        }
    }

    #[test]
    fn gain_at_997_and_1000_hz_is_what_the_printed_coefficients_give() {
        // STANDARDS §1.1, computed from the tables: +0.69101 and +0.69770 dB.
        assert!((table_gain_db(997.0) - 0.691_01).abs() < 5e-6);
        assert!((table_gain_db(1000.0) - 0.697_70).abs() < 5e-6);
    }

    #[test]
    fn other_rates_have_the_response_of_the_table() {
        // A tenth of the 0.006 dB that the meters are allowed.
        for rate_hz in [44_100, 88_200, 96_000, 176_400, 192_000, 384_000] {
            let top_hz = (0.45 * f64::from(rate_hz)).min(20_000.0);
            for step in 0..=200 {
                let frequency_hz = 20.0 * (top_hz / 20.0).powf(f64::from(step) / 200.0);
                let error_db = filter_gain_db(rate_hz, frequency_hz) - table_gain_db(frequency_hz);
                assert!(
                    error_db.abs() <= 0.0006,
                    "{rate_hz} Hz at {frequency_hz} Hz: {error_db} dB"
                );
            }
        }
    }

    #[test]
    fn what_is_computed_of_a_tone_is_the_stated_gain() {
        for rate_hz in [44_100_u32, 48_000, 96_000] {
            let turn = 2000.0 / f64::from(rate_hz);
            let tone: Vec<f32> = (0..rate_hz)
                .map(|k| (std::f64::consts::TAU * (f64::from(k) * turn).fract()).sin() as f32)
                .collect();
            let weighted = weigh(rate_hz, &tone);
            // Half a second in the middle: whole periods, at rest.
            let middle = &weighted[rate_hz as usize / 4..rate_hz as usize / 4 * 3];
            let mean_square: f64 = middle.iter().map(|y| y * y).sum::<f64>() / middle.len() as f64;
            let gain_db = 10.0 * (2.0 * mean_square).log10();
            assert!((gain_db - filter_gain_db(rate_hz, 2000.0)).abs() < 1e-4, "{gain_db}");
        }
    }
}
