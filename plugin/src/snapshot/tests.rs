//! A snapshot tells what the analysis tells, at the moment it was taken.

use super::testing::{Song, empty, now};
use super::{Comparison, Moment, Snapshot, Source};
use crate::section::testing::{Dice, Sound};
use crate::section::{SectionLog, compare, measure};
use crate::target::Distance;
use crate::units::Db;

#[test]
fn figures_are_those_of_the_analysis() {
    let song = Song::new();
    let (snapshot, mut analysis) = (song.snapshot(), song.analysis());
    let figures = analysis.song_figures();
    assert_eq!(snapshot.whole.figures, figures);
    assert_eq!(snapshot.extent, analysis.extent());
    let range = analysis.song_range().unwrap();
    let whole = measure(&mut analysis, range);
    assert_eq!(snapshot.whole.correlation, whole.correlation);
    assert_eq!(snapshot.whole.min_psr, whole.min_psr);
    let mut log = SectionLog::default();
    log.update(song.sections.as_slice(), &mut analysis);
    for (section, entry) in snapshot.sections.iter().zip(log.entries()) {
        assert_eq!(&section.entry, entry);
        assert_eq!(section.entry.id, section.section.id);
    }
    assert_eq!(snapshot.sections.len(), 2);
    for (result, target) in snapshot.targets.iter().zip(&song.targets) {
        assert_eq!(result.distance, Distance::new(&figures, target));
    }
    assert_eq!(snapshot.targets.len(), song.targets.len());
    assert_eq!(snapshot.about.fingerprint, Some(song.tape.reader.fingerprint()));
}

#[test]
fn the_series_is_that_of_the_analysis_at_the_end_of_every_100_ms() {
    let song = Song::new();
    let (snapshot, analysis) = (song.snapshot(), song.analysis());
    let series = &snapshot.series;
    assert_eq!(series.points.len(), 1_200);
    for (index, point) in series.points.iter().enumerate() {
        let hops = series.hops(index);
        assert_eq!(hops.len(), 10);
        assert_eq!(point.momentary, analysis.momentary(hops.end - 1));
        assert_eq!(point.short_term, analysis.short_term(hops.end - 1));
        let peak = analysis.hops(hops.clone()).map(|(_, kept)| kept.true_peak).fold(0.0, f32::max);
        assert_eq!(point.true_peak.is_some(), peak > 0.0);
        if let Some(true_peak) = point.true_peak {
            assert_eq!(true_peak, crate::units::Dbtp::from_amplitude(peak));
        }
    }
    let gap = (6_000..8_000).contains(&series.hops(700).start);
    assert!(gap && series.points[700].true_peak.is_none());
    assert_eq!(series.points[0].playthrough, Some(1));
    assert_eq!(series.newest_playthrough(), Some(2));
}

#[test]
fn a_series_that_ends_in_mid_step_ends_with_the_measurement() {
    let mut song = Song::new();
    song.tape.play(12_000..12_003, |_| Sound::at(-15.0).hop());
    let snapshot = song.snapshot();
    assert_eq!(snapshot.series.hops(1_200), 12_000..12_003);
    let last = snapshot.series.points.last().unwrap();
    assert_eq!(last.momentary, song.analysis().momentary(12_002));
    assert!(last.momentary.is_some());
}

#[test]
fn a_snapshot_stays_what_it_was_when_the_record_goes_on() {
    let mut song = Song::new();
    let before = song.snapshot();
    let copy = before.clone();
    song.tape.play(0..12_000, |_| Sound::at(-9.0).hop());
    let after = song.snapshot();
    assert_eq!(before, copy);
    assert_ne!(after.whole.figures.integrated, before.whole.figures.integrated);
}

#[test]
fn an_analysis_that_lags_behind_is_brought_up_to_date() {
    let mut song = Song::new();
    let mut analysis = song.analysis();
    song.tape.play(0..12_000, |_| Sound::at(-9.0).hop());
    let snapshot = Snapshot::take(Moment {
        analysis: &mut analysis,
        source: Source::Song,
        rate: None,
        sections: &song.sections,
        bars: None,
        playthroughs: &song.playthroughs,
        references: &[],
        targets: &song.targets,
        chosen: None,
        song: "",
        track: None,
        taken: now(),
    });
    assert_eq!(snapshot.whole.figures, song.analysis().song_figures());
}

#[test]
fn the_newest_playthrough_is_held_against_the_pinned_one_else_the_one_before() {
    let mut song = Song::new();
    let kept = |song: &Song| song.playthroughs.as_slice().to_vec();
    let comparison = song.snapshot().comparison.unwrap();
    assert_eq!((&comparison.before, &comparison.after), (&kept(&song)[0], &kept(&song)[1]));
    assert_eq!(comparison.sections, compare(&kept(&song)[0], &kept(&song)[1]));

    let third = kept(&song)[1].clone();
    song.playthroughs.add(third);
    song.playthroughs.pin(1, "Mix 3").unwrap();
    let comparison = song.snapshot().comparison.unwrap();
    assert_eq!((comparison.before.id, comparison.after.id), (1, 3));
    assert_eq!(Comparison::label(&comparison.before), "Mix 3");
    // A pin on the newest is none to hold it against.
    song.playthroughs.unpin(1).unwrap();
    song.playthroughs.pin(3, "Mix 4").unwrap();
    assert_eq!(song.snapshot().comparison.unwrap().before.id, 2);
}

#[test]
fn the_ledger_reaches_down_to_what_the_gain_to_the_target_lifts_over_the_ceiling() {
    // One peak far above all others, and a song so quiet that its gain lifts them all over.
    let mut song = Song::new();
    song.tape.play(0..12_000, |index| {
        let peak_dbtp = if index == 6_000 { -1.0 } else { -14.0 };
        Sound { peak_dbtp, ..Sound::at(-30.0) }.hop()
    });
    let snapshot = song.snapshot();
    let chosen = snapshot.chosen_target().unwrap();
    let (ceiling, gain) =
        (chosen.target.ceiling().unwrap(), chosen.distance.gain_to_target.unwrap());
    assert!((gain.0 - 16.0).abs() < 0.1, "{gain}");
    let over = snapshot.peaks.over_ceiling(ceiling, gain);
    assert!(over.complete && over.places.len() > 500, "{}", over.places.len());
    assert!(snapshot.peaks.over_ceiling(ceiling, Db(0.0)).places.is_empty());
}

#[test]
fn nothing_gives_a_snapshot_too() {
    let snapshot = empty();
    assert_eq!(snapshot.extent, None);
    assert!(snapshot.series.points.is_empty() && snapshot.peaks.events().is_empty());
    assert_eq!(snapshot.chosen_target(), None);
}

#[test]
fn a_chosen_target_that_is_not_there_is_none() {
    let mut dice = Dice(3);
    for _ in 0..50 {
        let snapshot = super::testing::any(&mut dice);
        assert!(snapshot.chosen.is_none_or(|chosen| chosen < snapshot.targets.len()));
        assert_eq!(snapshot.chosen.is_some(), snapshot.chosen_target().is_some());
    }
}
