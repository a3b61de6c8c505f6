use super::super::testing::{Sound, log, reference};
use super::super::{Comparison, Reference};
use super::*;

/// 200, 250 and 315 Hz.
const DIP: (usize, usize) = (10, 12);

fn dipped(by_db: f64) -> Sound {
    Sound::changed(DIP.0, DIP.1, by_db)
}

/// What is told of a song as a whole and in sections.
fn told(whole: Sound, sections: &[(&str, Sound)], references: &[Reference]) -> Vec<String> {
    let comparison = Comparison::new(&whole.measured(), &log(sections), references).unwrap();
    comparison.observations.iter().map(ToString::to_string).collect()
}

fn plain() -> Sound {
    Sound::default()
}

/// Verse, chorus, verse: nothing changed.
fn harbour() -> Reference {
    let parts = [("Verse 1", plain()), ("Chorus", plain()), ("Verse 2", plain())];
    reference(1, "Copper Weather", plain(), &parts)
}

#[test]
fn a_dip_in_the_verses_is_told_of_the_verses() {
    let ours = [("Verse 1", dipped(-2.1)), ("Chorus 1", plain()), ("Verse 2", dipped(-2.1))];
    // Two of three thirds of the song have it.
    let found = told(dipped(-1.6), &ours, &[harbour()]);
    assert_eq!(found, ["2.1 dB less between 200 and 315 Hz than the reference, in the verses"]);
}

#[test]
fn what_is_everywhere_is_told_once() {
    let ours = [("Verse 1", dipped(2.5)), ("Chorus 1", dipped(2.5)), ("Verse 2", dipped(2.5))];
    let found = told(dipped(2.5), &ours, &[harbour()]);
    assert_eq!(found, ["2.5 dB more between 200 and 315 Hz than the reference"]);
}

#[test]
fn louder_is_not_more() {
    let louder = Sound { integrated_lufs: -8.0, ..plain() };
    let ours = [("Verse 1", Sound { integrated_lufs: -20.0, ..plain() }), ("Chorus", louder)];
    assert_eq!(told(louder, &ours, &[harbour()]), [""; 0]);
}

#[test]
fn less_than_the_thresholds_is_not_told() {
    let alone = || [reference(1, "Ebb", plain(), &[])];
    assert_eq!(told(dipped(0.99 * BANDS_FROM_DB), &[], &alone()), [""; 0]);
    let found = told(dipped(1.01 * BANDS_FROM_DB), &[], &alone());
    assert_eq!(found, ["1.5 dB more between 200 and 315 Hz than the reference"]);
    let just = |by: f64| Sound {
        width_db: -8.0 + by * WIDTH_FROM_DB,
        loudness_range_lu: 6.0 + by * RATIO_FROM_LU,
        plr_lu: 12.0 + by * RATIO_FROM_LU,
        min_psr_lu: 9.0 - by * RATIO_FROM_LU,
        ..plain()
    };
    assert_eq!(told(just(0.99), &[], &alone()), [""; 0]);
    let found = told(just(1.01), &[], &alone());
    assert_eq!(
        found,
        [
            "2.0 dB wider below 120 Hz than the reference",
            "2.0 dB wider between 120 Hz and 4 kHz than the reference",
            "2.0 dB wider above 4 kHz than the reference",
            "LRA 1.0 LU larger than the reference",
            "PLR 1.0 LU higher than the reference",
            "lowest PSR 1.0 LU lower than the reference",
        ]
    );
}

#[test]
fn several_references_are_a_range() {
    let three = [-1.0, 0.5, 2.0].map(|by_db| reference(1, "", dipped(by_db), &[]));
    assert_eq!(told(dipped(-2.4), &[], &three), [""; 0], "1.4 dB below the lowest");
    let found = told(dipped(-2.6), &[], &three);
    assert_eq!(found, ["1.6 dB less between 200 and 315 Hz than the lowest of 3 references"]);
    let found = told(dipped(3.7), &[], &three);
    assert_eq!(found, ["1.7 dB more between 200 and 315 Hz than the highest of 3 references"]);
}

#[test]
fn runs_end_where_the_side_changes_and_quiet_bands_are_passed_over() {
    let pools = |ours: Sound, theirs: Sound| {
        let [ours, theirs] = [ours, theirs].map(|sound| Pool::of(&[&sound.profile()]).unwrap());
        runs(&ours, &theirs)
    };
    let found = pools(dipped(-3.0), Sound::changed(11, 15, -6.0));
    let bands: Vec<_> = found.iter().map(|(bands, by, _)| (bands.clone(), by.round())).collect();
    assert_eq!(bands, [(10..=10, -3.0), (11..=15, 5.0)]);
    // 60 and 55 dB below all others.
    assert_eq!(pools(Sound::changed(0, 3, -60.0), Sound::changed(0, 3, -55.0)), []);
    assert_eq!(pools(Sound::changed(0, 3, -52.0), Sound::changed(0, 3, -48.0)).len(), 1);
}

#[test]
fn mono_is_called_so() {
    let mono = Sound { width_db: f64::NEG_INFINITY, ..plain() };
    let found = told(mono, &[], &[reference(1, "Ebb", plain(), &[])]);
    assert_eq!(found[0], "mono below 120 Hz, 32.0 dB narrower than the reference");
}

#[test]
fn places_between_hertz_and_kilohertz_read_well() {
    assert_eq!(between(16, 18), "between 800 Hz and 1.25 kHz");
    assert_eq!(between(20, 22), "between 2 and 3.15 kHz");
    assert_eq!(between(2, 2), "at 31.5 Hz");
}
