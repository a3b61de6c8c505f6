//! Analyses of small records written by hand.

use super::super::Coverage;
use super::*;
use crate::meters::layout::Layout;
use crate::record::{RecordWriter, record};

fn hop(energy: f32, playthrough: u32) -> Hop {
    Hop { energy, frames: 480, full: true, playthrough, ..Hop::default() }
}

fn filled(energies: &[(i32, f32)]) -> (RecordWriter, Analysis) {
    let (mut writer, reader) = record(Layout::Stereo, false);
    let playthrough = writer.begin_playthrough();
    for &(index, energy) in energies {
        writer.write(index, &hop(energy, playthrough));
    }
    (writer, Analysis::of(&reader))
}

fn steady(range: Range<i32>, energy: f32) -> Vec<(i32, f32)> {
    range.map(|index| (index, energy)).collect()
}

/// Full-scale 997 Hz in one front channel has a mean square of 0.5 before K-weighting.
const HALF: f32 = 0.5;

#[test]
fn nothing_measured_is_not_silence() {
    let (_, mut analysis) = filled(&[]);
    assert_eq!(analysis.song_figures(), Figures::default());
    assert_eq!(analysis.extent(), None);
    let (_, mut analysis) = filled(&steady(0..400, 0.0));
    let figures = analysis.song_figures();
    assert_eq!(figures.integrated, Some(Lufs(f64::NEG_INFINITY)));
    assert_eq!(figures.loudness_range, None);
}

#[test]
fn figures_need_their_windows() {
    let (_, mut analysis) = filled(&steady(0..39, HALF));
    assert_eq!(analysis.song_figures().integrated, None);
    assert_eq!(analysis.song_figures().max_momentary, None);
    let (_, mut analysis) = filled(&steady(0..40, HALF));
    let figures = analysis.song_figures();
    let expected = -0.691 + 10.0 * 0.5_f64.log10();
    assert!((figures.integrated.unwrap().0 - expected).abs() < 1e-12);
    assert_eq!(figures.max_short_term, None);
    let (_, mut analysis) = filled(&steady(0..300, HALF));
    assert!((analysis.song_figures().max_short_term.unwrap().0 - expected).abs() < 1e-12);
}

#[test]
fn a_gap_breaks_windows_and_is_counted() {
    let mut energies = steady(0..1_000, HALF);
    energies.retain(|&(index, _)| index != 500);
    let (_, mut analysis) = filled(&energies);
    assert!(analysis.short_term(499).is_some());
    assert_eq!(analysis.short_term(500), None);
    assert_eq!(analysis.short_term(799), None);
    assert_eq!(analysis.short_term(800), Some(Lufs::from_energy(0.5)));
    assert_eq!(analysis.momentary(539), None);
    assert!(analysis.momentary(540).is_some());
    let coverage = analysis.song_figures().coverage;
    assert_eq!(coverage, Coverage { measured_hops: 999, span_hops: 1_000, gaps: 1 });
}

#[test]
fn updating_in_steps_gives_the_same_bits_as_reading_at_once() {
    let energy = |index: i32| (index.rem_euclid(977) + 1) as f32 * 1e-4;
    let (mut writer, reader) = record(Layout::Stereo, false);
    let playthrough = writer.begin_playthrough();
    let mut steps = Analysis::new(reader.clone());
    // Forwards with odd steps, then parts again with other values.
    for index in -300..3_000 {
        writer.write(index, &hop(energy(index), playthrough));
        if index % 37 == 0 {
            steps.update();
        }
    }
    for index in (1_000..1_400).chain(-20..60) {
        writer.write(index, &hop(2.0 * energy(index), playthrough));
        if index % 11 == 0 {
            steps.update();
        }
    }
    steps.update();
    assert!(!steps.update());
    let mut once = Analysis::of(&reader);
    assert_eq!(steps.song_figures(), once.song_figures());
    let bits = |series: &[f64]| series.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&steps.momentary), bits(&once.momentary));
    assert_eq!(bits(&steps.short_term), bits(&once.short_term));
}

#[test]
fn windows_agree_with_plain_sums() {
    let energy = |index: i32| ((index * 7_919).rem_euclid(1_013) + 1) as f32 * 1e-5;
    let energies: Vec<_> = (-100..2_000).map(|index| (index, energy(index))).collect();
    let (_, analysis) = filled(&energies);
    for end in [-61, 0, 155, 156, 411, 412, 1_999] {
        let plain: f64 = (end - 39..=end).map(|i| f64::from(energy(i))).sum::<f64>() / 40.0;
        let read = analysis.momentary(end).unwrap().to_energy();
        assert!((read / plain - 1.0).abs() < 1e-12, "{end}: {read} {plain}");
    }
}

#[test]
fn a_loud_past_does_not_colour_a_quiet_present() {
    let mut energies = steady(0..1_000, 1.0e6);
    energies.extend(steady(1_000..3_000, 1.0e-7));
    let (_, analysis) = filled(&energies);
    let quiet = analysis.short_term(2_999).unwrap().to_energy();
    assert!((quiet / f64::from(1.0e-7_f32) - 1.0).abs() < 1e-9, "{quiet}");
}

#[test]
fn after_a_reset_only_the_new_counts_and_after_its_undo_all() {
    let (mut writer, mut analysis) = filled(&steady(0..400, HALF));
    let before = analysis.song_figures();
    let undo = analysis.record().reset();
    assert!(analysis.update());
    assert_eq!(analysis.song_figures(), Figures::default());
    let playthrough = writer.begin_playthrough();
    writer.write(10, &hop(HALF, playthrough));
    analysis.update();
    assert_eq!(analysis.extent(), Some(10..11));
    analysis.record().undo_reset(undo);
    analysis.update();
    assert_eq!(analysis.song_figures(), before);
}

#[test]
fn a_range_is_measured_as_if_it_were_cut_out() {
    let mut energies = steady(0..500, 0.01);
    energies.extend(steady(500..1_003, HALF));
    let (_, mut analysis) = filled(&energies);
    let loud = analysis.figures(500..1_003);
    assert!((loud.integrated.unwrap().0 - Lufs::from_energy(0.5).0).abs() < 1e-12);
    assert_eq!(loud.coverage.measured_hops, 503);
    assert_eq!(analysis.figures(0..500).frames, 500 * 480);
}

#[test]
fn a_rise_that_looked_back_on_other_hops_counts_no_more() {
    let (mut writer, reader) = record(Layout::Stereo, false);
    let first = writer.begin_playthrough();
    for index in 0..200 {
        let rise = if index == 100 { Hop::MAX_MOMENTARY_RISE } else { 0 };
        writer.write(index, &Hop { momentary_rise: rise, ..hop(0.01, first) });
    }
    let energy = |analysis: &mut Analysis| {
        analysis.song_figures().max_momentary.map(crate::units::Lufs::to_energy).unwrap()
    };
    let mut analysis = Analysis::of(&reader);
    assert!((energy(&mut analysis) / f64::from(0.01_f32) - 2.0).abs() < 1e-3);
    // What stood before hop 100 is replayed, louder: the rise of hop 100 knows nothing of it.
    let second = writer.begin_playthrough();
    for index in 60..100 {
        writer.write(index, &hop(0.1, second));
    }
    analysis.update();
    assert!((energy(&mut analysis) / f64::from(0.1_f32) - 1.0).abs() < 1e-9);
    // Nor does it count in a range that its window reaches out of.
    let figures = analysis.figures(61..101);
    assert!(figures.max_momentary.is_some());
}

#[test]
fn digital_silence_after_a_loud_passage_is_silence() {
    // Energies so far apart that sums of them round.
    let loud = |index: i32| {
        let energy = ((index * 7_919).rem_euclid(1_013) + 1) as f32 * 1.7e-3;
        if index % 3 == 0 { energy * 1e-11 } else { energy }
    };
    let mut energies: Vec<_> = (0..1_000).map(|index| (index, loud(index))).collect();
    energies.extend(steady(1_000..1_500, 0.0));
    let (_, analysis) = filled(&energies);
    for index in 1_040..1_500 {
        assert_eq!(analysis.momentary(index), Some(Lufs(f64::NEG_INFINITY)), "{index}");
    }
}

#[test]
fn ranges_put_together_from_chunks_read_as_those_looked_at_hop_by_hop() {
    let mut seed = 20_261_126_u64;
    let mut random = |below: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % below
    };
    let (mut writer, reader) = record(Layout::Stereo, false);
    let mut steps = Analysis::new(reader.clone());
    for _ in 0..40 {
        // A run somewhere, with a hop left out, covered in part or clipped now and then.
        let playthrough = writer.begin_playthrough();
        let first = random(2_500) as i32 - 300;
        for index in first..first + random(700) as i32 {
            let full = random(200) > 0;
            let frames = if full { 480 } else { random(480) as u16 };
            let level = random(1 << 20) as f32 / (1 << 20) as f32;
            if frames > 0 {
                let measured = Hop {
                    frames,
                    full,
                    momentary_rise: random(u64::from(Hop::MAX_MOMENTARY_RISE) + 1) as u16,
                    clipped: u16::from(random(50) == 0),
                    true_peaks: [level; crate::meters::MAX_CHANNELS],
                    sample_peaks: [level * 0.9; crate::meters::MAX_CHANNELS],
                    ..hop(level * level, playthrough)
                };
                writer.write(index, &measured);
            }
        }
        steps.update();
        let mut plain = Analysis::of_file(Layout::Stereo);
        for (index, kept) in steps.hops(FIRST_HOP..i32::MAX) {
            plain.add(index, kept);
        }
        assert_eq!(steps.extent(), plain.extent());
        assert_eq!(steps.song_figures(), plain.song_figures());
        for _ in 0..20 {
            let start = random(3_200) as i32 - 350;
            let range = start..start + random(1_500) as i32;
            assert_eq!(steps.figures(range.clone()), plain.figures(range.clone()), "{range:?}");
        }
    }
}
