//! Contrast and colour vision, computed from the theme's own colours.

use super::{Palette, ThemeChoice, rgb};
use crate::palette::linear;
use egui::Color32;

fn linear_rgb(color: Color32) -> [f64; 3] {
    rgb(color).0.map(linear)
}

fn contrast(a: Color32, b: Color32) -> f64 {
    rgb(a).contrast(rgb(b))
}

/// CIE L*a*b* (D65) of linear sRGB; primaries of IEC 61966-2-1.
fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
    let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.0890;
    let f = |t: f64| {
        if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
    };
    [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
}

/// Dichromats, in linear sRGB: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
/// Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE TVCG 15(6), 2009,
/// severity 1.0, as the tables in the source of the Python package colorspacious 1.1.2 (MIT, `cvd.py`)
/// have them. That each row sums to 1, as grey must stay grey, is tested.
const DEFICIENCIES: [(&str, [[f64; 3]; 3]); 3] = [
    (
        "protanopia",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

fn seen(color: Color32, matrix: &[[f64; 3]; 3]) -> [f64; 3] {
    let rgb = linear_rgb(color);
    matrix.map(|row| row.iter().zip(rgb).map(|(m, c)| m * c).sum::<f64>().clamp(0.0, 1.0))
}

fn palettes() -> [(ThemeChoice, Palette); 2] {
    [ThemeChoice::Day, ThemeChoice::Night].map(|choice| (choice, choice.palette()))
}

#[test]
fn text_meets_wcag_aa() {
    for (choice, p) in palettes() {
        // Success criterion 1.4.3: 4.5 to 1. Text is set in ink, line and signal.
        for (role, color) in [("ink", p.ink), ("line", p.line), ("signal", p.signal)] {
            let ratio = contrast(color, p.paper);
            assert!(ratio >= 4.5, "{choice:?} {role}: {ratio:.2}");
            // Hovered rows with such text on them are paper with up to 6 % ink.
            let ratio = contrast(color, p.over_paper(p.ink, 0.06));
            assert!(ratio >= 4.5, "{choice:?} {role} on a hovered row: {ratio:.2}");
        }
        // Pressed buttons: 16 % ink, with ink on it.
        let ratio = contrast(p.ink, p.over_paper(p.ink, 0.16));
        assert!(ratio >= 4.5, "{choice:?} pressed: {ratio:.2}");
        // The name of the instrument, in water.
        let ratio = contrast(p.water, p.paper);
        assert!(ratio >= 4.5, "{choice:?} name: {ratio:.2}");
    }
}

#[test]
fn graphics_meet_wcag_aa() {
    for (choice, p) in palettes() {
        // Success criterion 1.4.11: 3 to 1 for what must be seen to understand the chart.
        for (role, color) in [("water", p.water), ("ink", p.ink), ("signal", p.signal)] {
            let ratio = contrast(color, p.paper);
            assert!(ratio >= 3.0, "{choice:?} {role}: {ratio:.2}");
        }
        // Ink and signal are drawn over the filled water as well.
        let water_body = p.over_paper(p.water, crate::editor::strip::BODY_SHARE[0]);
        for (role, color) in [("ink", p.ink), ("signal", p.signal)] {
            let ratio = contrast(color, water_body);
            assert!(ratio >= 3.0, "{choice:?} {role} on water: {ratio:.2}");
        }
    }
}

#[test]
fn a_simulated_grey_stays_grey() {
    for (name, matrix) in DEFICIENCIES {
        for row in matrix {
            let sum: f64 = row.iter().sum();
            assert!((sum - 1.0).abs() < 2e-6, "{name}: {sum}");
        }
    }
}

#[test]
fn the_roles_stay_apart_for_colour_vision_deficiencies() {
    // CIE 1976 difference; 2.3 is one just noticeable step (common practice), ten of them are
    // asked for here (own choice).
    const APART: f64 = 23.0;
    for (choice, p) in palettes() {
        let roles = [
            ("paper", p.paper),
            ("ink", p.ink),
            ("line", p.line),
            ("water", p.water),
            ("signal", p.signal),
        ];
        for (deficiency, matrix) in DEFICIENCIES {
            for (i, (a_name, a)) in roles.iter().enumerate() {
                for (b_name, b) in &roles[i + 1..] {
                    let (la, lb) = (lab(seen(*a, &matrix)), lab(seen(*b, &matrix)));
                    let apart = la.iter().zip(lb).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt();
                    assert!(apart >= APART, "{choice:?} {deficiency} {a_name} {b_name}: {apart}");
                }
            }
        }
    }
}
