use super::super::testing::{Dice, Sound, Tape, near};
use super::super::{Edit, Sections};
use super::*;
use crate::record::Hop;

/// A song of sections of steady character with a fluctuation of ±`spread_db` in loudness, width
/// and peaks from one hop to the next, which is what a second of music averages over.
fn song(parts: &[(i32, Sound)], spread_db: f64, seed: u64) -> Tape {
    let mut dice = Dice(seed);
    let hops: Vec<Hop> = parts
        .iter()
        .flat_map(|(hops, sound)| (0..*hops).map(|_| *sound))
        .map(|sound| {
            let wobble = dice.between(-spread_db, spread_db);
            Sound {
                lufs: sound.lufs + wobble,
                peak_dbtp: sound.peak_dbtp + dice.between(-spread_db, 0.0),
                mean_square: sound.mean_square * 10.0_f64.powf(wobble / 10.0),
                correlation: (sound.correlation + dice.between(-0.03, 0.03) * spread_db)
                    .clamp(-1.0, 1.0),
            }
            .hop()
        })
        .collect();
    let mut tape = Tape::new();
    let end = i32::try_from(hops.len()).unwrap();
    tape.play(0..end, |hop| hops[usize::try_from(hop).unwrap()]);
    tape
}

/// The same sound `gain_db` louder: energies and peaks go with it.
fn louder(sound: Sound, gain_db: f64) -> Sound {
    Sound {
        lufs: sound.lufs + gain_db,
        peak_dbtp: sound.peak_dbtp + gain_db,
        mean_square: sound.mean_square * 10.0_f64.powf(gain_db / 10.0),
        ..sound
    }
}

fn measured(proposal: &Proposal) -> Vec<f64> {
    proposal.borders.iter().map(|border| border.measured_s).collect()
}

/// Every border found, none too many, each within `tolerance_s`.
#[track_caller]
fn matches(proposal: &Proposal, expected_s: &[f64], tolerance_s: f64) {
    let found = measured(proposal);
    assert_eq!(found.len(), expected_s.len(), "{:?}", proposal.borders);
    for (found, expected) in found.iter().zip(expected_s) {
        near(*found, *expected, tolerance_s);
    }
}

#[test]
fn verse_and_chorus_are_told_apart_by_loudness() {
    let verse = Sound::default();
    let chorus = louder(verse, 3.0);
    let tape = song(
        &[(1_530, verse), (2_020, chorus), (1_950, verse), (2_210, chorus), (1_400, verse)],
        3.0,
        1,
    );
    let proposal = propose(&tape.analysis(), None);
    // A step of 100 ms, and one more for what the fluctuation does to it.
    matches(&proposal, &[15.3, 35.5, 55.0, 77.1], 0.2);
    assert_eq!(proposal.start, Some(Place::at(0.0)));
}

#[test]
fn sections_of_equal_loudness_are_told_apart_by_width_or_by_density() {
    let narrow = Sound { correlation: 0.8, ..Sound::default() };
    let wide = Sound { correlation: 0.0, ..Sound::default() };
    let spiky = Sound { peak_dbtp: 0.0, ..wide };
    let tape = song(&[(2_000, narrow), (2_000, wide), (2_000, spiky)], 2.0, 2);
    matches(&propose(&tape.analysis(), None), &[20.0, 40.0], 0.2);
}

#[test]
fn a_song_without_a_change_has_no_borders() {
    for seed in 0..20 {
        let tape = song(&[(9_000, Sound::default())], 3.0, seed);
        let proposal = propose(&tape.analysis(), None);
        assert_eq!(proposal.borders, [], "seed {seed}");
        assert_eq!(proposal.sections(0.0).len(), 1);
    }
    assert_eq!(propose(&Tape::new().analysis(), None), Proposal::default());
}

#[test]
fn the_greater_the_change_the_surer_the_border() {
    let verse = Sound::at(-30.0);
    let sure = |step_db: f64| {
        let tape = song(&[(3_000, verse), (3_000, louder(verse, step_db))], 0.0, 3);
        let borders = propose(&tape.analysis(), None).borders;
        borders.first().map(|border| border.sure)
    };
    // Uniform sides: 1 − exp(−d²/2), d = 1 for 2 LU; 1 LU gives 0.118.
    near(sure(2.0).unwrap(), 1.0 - (-0.5_f64).exp(), 1e-4);
    near(sure(1.0).unwrap(), 1.0 - (-0.125_f64).exp(), 1e-4);
    near(sure(12.0).unwrap(), 1.0, 1e-4);
    // Half a LU: 0.03, which is too little to propose.
    assert_eq!(sure(0.5), None);
}

#[test]
fn with_a_grid_the_borders_lie_on_bar_lines() {
    let verse = Sound::default();
    // 120 quarters a minute in 4/4, first bar line at 0.25 s: bar 8 at 16.25 s, bar 18 at 36.25 s.
    let grid = BarGrid::steady(0.25, 120.0, 4.0).unwrap();
    let tape = song(&[(1_600, verse), (2_040, louder(verse, 4.0)), (2_000, verse)], 1.0, 4);
    let proposal = propose(&tape.analysis(), Some(&grid));
    let places: Vec<Place> = proposal.borders.iter().map(|border| border.place).collect();
    let bar = |at_s, bar| Place { at_s, bar: Some(bar) };
    assert_eq!(places, [bar(16.25, 8.0), bar(36.25, 18.0)]);
    matches(&proposal, &[16.0, 36.4], 0.2);

    let mut sections = Sections::default();
    sections.follow_song_end(Some(56.4));
    sections.replace_all(Edit::TakeProposal, proposal.sections(0.2)).unwrap();
    let ends: Vec<(f64, f64)> =
        sections.as_slice().iter().map(|section| (section.start_s, section.end_s)).collect();
    assert_eq!(ends, [(0.0, 16.25), (16.25, 36.25), (36.25, 56.4)]);
    assert_eq!(sections.as_slice()[1].start_bar, Some(8.0));
    // Only the borders that are sure enough.
    assert_eq!(proposal.sections(1.01).len(), 1);
}

#[test]
fn a_gap_is_no_border_and_hides_none_far_from_it() {
    let verse = Sound::default();
    let chorus = louder(verse, 4.0);
    let mut tape = Tape::new();
    let sound = |hop: i32| {
        if hop < 3_000 { verse.hop() } else { chorus.hop() }
    };
    tape.play(0..1_000, sound);
    tape.play(1_400..6_000, sound);
    // Nothing fluctuates here, so it is found to the step.
    assert_eq!(measured(&propose(&tape.analysis(), None)), [30.0]);
}
