//! Sentences and figures of the distance, over targets of every kind.

use super::super::{IntegratedGoal, PeakWindow, built_in_targets};
use super::*;
use crate::loudness::Coverage;

fn figures(integrated_lufs: f64, peak_dbtp: f64) -> Figures {
    Figures {
        integrated: Some(Lufs(integrated_lufs)),
        max_true_peak: Some(Dbtp(peak_dbtp)),
        sample_peak: Some(Dbfs(peak_dbtp)),
        coverage: Coverage { measured_hops: 1000, span_hops: 1000, gaps: 0 },
        ..Figures::default()
    }
}

fn target() -> Target {
    let mut target = built_in_targets().remove(0);
    target.integrated =
        Some(IntegratedGoal { loudness: Lufs(-14.0), below: Some(Lu(1.0)), above: Lu(1.0) });
    target.true_peak_ceiling = Some(Dbtp(-1.0));
    target
}

#[test]
fn the_arithmetic_of_the_distance() {
    let distance = Distance::new(&figures(-16.5, -0.5), &target());
    assert_eq!(distance.distance, Some(Lu(-2.5)));
    assert_eq!(distance.gain_to_target, Some(Db(2.5)));
    assert_eq!(distance.peak_at_target, Some(Dbtp(2.0)));
    assert_eq!(distance.peak_control, Some(Db(3.0)));
    assert_eq!(distance.headroom, Some(Db(-0.5)));
    // No room at all: playback does not turn it up.
    assert_eq!(distance.playback_gain, Some(Db(0.0)));
    assert_eq!(distance.in_words().as_deref(), Some("2.5 LU below target"));
}

#[test]
fn every_standing_has_its_case() {
    let standing = |i, tp| Distance::new(&figures(i, tp), &target()).standing;
    assert!(matches!(standing(-10.0, -1.0), Standing::TooLoud { .. }));
    assert!(matches!(standing(-18.0, -6.0), Standing::TooQuietWithRoom { .. }));
    assert!(matches!(standing(-18.0, -2.0), Standing::TooQuietWithoutRoom { .. }));
    assert!(matches!(standing(-14.2, -0.9), Standing::PeaksOver { .. }));
    assert!(matches!(standing(-14.2, -1.0), Standing::Within { .. }));
    assert!(matches!(standing(f64::NEG_INFINITY, -80.0), Standing::Silent));
    assert_eq!(Distance::new(&Figures::default(), &target()).standing, Standing::NotMeasured);
    let short = Figures { integrated: None, ..figures(0.0, -3.0) };
    assert_eq!(Distance::new(&short, &target()).standing, Standing::TooShort);
}

#[test]
fn limits_are_compared_unrounded() {
    // Shows as −13.0 LUFS and 1.0 LU, yet lies outside ±1.0 LU.
    let over = Distance::new(&figures(-12.96, -3.0), &target());
    assert_eq!(over.verdict(), Verdict::NotWithin);
    let edge = Distance::new(&figures(-13.0, -3.0), &target());
    assert_eq!(edge.verdict(), Verdict::Within);
}

#[test]
fn quieter_is_never_wrong_where_the_tolerance_is_only_upward() {
    let mut target = target();
    if let Some(goal) = target.integrated.as_mut() {
        goal.below = None;
    }
    let verdict = Distance::new(&figures(-30.0, -10.0), &target).verdict();
    assert_eq!(verdict, Verdict::Within);
}

#[test]
fn a_mix_hand_off_looks_at_peaks_only() {
    let mix = built_in_targets().pop().unwrap();
    let standing = |peak| Distance::new(&figures(-20.0, peak), &mix).standing;
    assert!(matches!(standing(-9.0), Standing::PeakBelowWindow { .. }));
    assert!(matches!(standing(-4.0), Standing::Within { distance: None }));
    assert!(matches!(standing(-1.0), Standing::PeakAboveWindow { .. }));
}

#[test]
fn advice_minds_the_other_limits() {
    // Too loud, and after turning down by 1.5 dB the peak is still 1.6 dB over the ceiling.
    let loud = Distance::new(&figures(-12.5, 2.1), &target()).to_string();
    assert_eq!(
        loud,
        "1.5 LU too loud. Turn the song down by 1.5 dB. The peaks then still ask for 1.6 dB of \
         peak control."
    );
    // Too quiet by 3 LU, but the loudest 3 s have only 1 LU left to their limit.
    let mut limited = target();
    limited.max_short_term = Some(Lufs(-18.0));
    let mut quiet = figures(-17.0, -20.0);
    quiet.max_short_term = Some(Lufs(-19.0));
    let standing = Distance::new(&quiet, &limited).standing;
    let then = Obstacle::ShortTerm(Lu(2.0));
    assert!(matches!(standing, Standing::TooQuietButLoudInParts { then: t, .. } if t == then));
}

#[test]
fn a_limit_that_was_not_measured_is_no_limit_that_holds() {
    let mut limited = target();
    limited.max_short_term = Some(Lufs(-10.0));
    let distance = Distance::new(&figures(-14.0, -3.0), &limited);
    assert_eq!(distance.verdict(), Verdict::NotYet);
}

#[test]
fn a_target_without_loudness_says_nothing_of_loudness_and_no_excess_reads_zero() {
    let mut ceiling_only = target();
    ceiling_only.integrated = None;
    let text = Distance::new(&figures(-14.0, -0.98), &ceiling_only).to_string();
    assert_eq!(
        text,
        "The true peak is under 0.1 dB over the ceiling. Turn the song down by 0.1 dB."
    );
    let text = Distance::new(&figures(-14.0, -0.5), &target()).to_string();
    assert_eq!(
        text,
        "The integrated loudness is right. The true peak is 0.5 dB over the ceiling. Turn the song \
         down by 0.5 dB."
    );
}

#[test]
fn little_coverage_is_said() {
    let mut some = figures(-14.0, -2.0);
    some.coverage = Coverage { measured_hops: 60, span_hops: 100, gaps: 1 };
    let text = Distance::new(&some, &target()).to_string();
    assert_eq!(text, "Within target. So far: only 60 % of the song is measured.");
}

/// Targets of every kind: all built-in ones, and one for each limit alone and with a loudness.
fn targets_of_every_kind() -> Vec<Target> {
    let nothing = Target {
        integrated: None,
        true_peak_ceiling: None,
        max_short_term: None,
        max_momentary: None,
        max_loudness_range: None,
        peak_window: None,
        ..target()
    };
    let goal =
        |below, above| Some(IntegratedGoal { loudness: Lufs(-14.0), below, above: Lu(above) });
    let window = PeakWindow { lowest: Dbfs(-6.0), highest: Dbfs(-3.0) };
    let limits = [
        Target { true_peak_ceiling: Some(Dbtp(-1.0)), ..nothing.clone() },
        Target { max_short_term: Some(Lufs(-12.0)), ..nothing.clone() },
        Target { max_momentary: Some(Lufs(-11.0)), ..nothing.clone() },
        Target { max_loudness_range: Some(Lu(8.0)), ..nothing.clone() },
        Target { peak_window: Some(window), ..nothing.clone() },
        Target {
            true_peak_ceiling: Some(Dbtp(-1.0)),
            max_short_term: Some(Lufs(-12.0)),
            max_momentary: Some(Lufs(-11.0)),
            max_loudness_range: Some(Lu(8.0)),
            ..nothing.clone()
        },
    ];
    let goals = [None, goal(Some(Lu(1.0)), 1.0), goal(None, 0.2), goal(Some(Lu(0.0)), 0.0)];
    let mut all = built_in_targets();
    all.push(Target { integrated: goal(Some(Lu(0.5)), 0.5), ..nothing });
    for limit in limits {
        all.extend(goals.iter().map(|goal| Target { integrated: *goal, ..limit.clone() }));
    }
    all
}

/// Songs from quiet to loud, with little and much peak, and a narrow and a wide range.
fn songs() -> Vec<Figures> {
    let mut songs = Vec::new();
    for tenths in (-300..=-60).step_by(7) {
        let integrated = f64::from(tenths) / 10.0 + 0.013;
        for crest in [6.0, 12.5, 19.0] {
            for (above, range) in [(1.0, 3.0), (4.5, 11.0)] {
                let mut song = figures(integrated, integrated + crest);
                song.sample_peak = Some(Dbfs(integrated + crest - 0.3));
                song.max_short_term = Some(Lufs(integrated + above));
                song.max_momentary = Some(Lufs(integrated + above * 1.5));
                song.loudness_range = Some(Lu(range));
                songs.push(song);
            }
        }
    }
    songs
}

/// A song after plain gain.
fn turned(song: &Figures, gain_db: f64) -> Figures {
    let lufs = |value: Option<Lufs>| value.map(|value| Lufs(value.0 + gain_db));
    Figures {
        integrated: lufs(song.integrated),
        max_short_term: lufs(song.max_short_term),
        max_momentary: lufs(song.max_momentary),
        max_true_peak: song.max_true_peak.map(|peak| Dbtp(peak.0 + gain_db)),
        sample_peak: song.sample_peak.map(|peak| Dbfs(peak.0 + gain_db)),
        ..*song
    }
}

/// The gain that a standing says is enough; `None` if it says that none is.
fn advised(standing: &Standing) -> Option<Db> {
    match *standing {
        Standing::TooLoud { enough, .. }
        | Standing::TooQuietWithoutRoom { enough, .. }
        | Standing::TooQuietButLoudInParts { enough, .. }
        | Standing::PeaksOver { enough, .. }
        | Standing::ShortTermOver { enough, .. }
        | Standing::MomentaryOver { enough, .. }
        | Standing::PeakAboveWindow { enough, .. }
        | Standing::PeakBelowWindow { enough, .. } => enough,
        Standing::TooQuietWithRoom { gain, then: None, .. } => Some(gain),
        _ => None,
    }
}

#[test]
fn advice_is_right_for_targets_of_every_kind() {
    // Whether a gain mends it is tried out, from −40 to 40 dB in steps of 0.1 dB, by judging anew.
    let within = |song: &Figures, target: &Target, gain_db: f64| {
        Distance::new(&turned(song, gain_db), target).verdict() == Verdict::Within
    };
    let (mut mended, mut not) = (0, 0);
    for target in targets_of_every_kind() {
        for song in songs() {
            let distance = Distance::new(&song, &target);
            if distance.verdict() != Verdict::NotWithin {
                continue;
            }
            let told = format!("{} {:?}: {distance}", target.summary(), song.integrated);
            match advised(&distance.standing) {
                Some(gain) => {
                    let nearly = [0.0, 1e-9, -1e-9];
                    let holds = nearly.iter().any(|by| within(&song, &target, gain.0 + by));
                    assert!(holds, "{told}");
                    mended += 1;
                }
                None => {
                    let mut tried = (-400..=400).map(|tenths| f64::from(tenths) / 10.0);
                    assert!(!tried.any(|gain_db| within(&song, &target, gain_db)), "{told}");
                    not += 1;
                }
            }
        }
    }
    assert!(mended > 1_000 && not > 300, "{mended} mended, {not} not");
}

#[test]
fn every_sentence_is_whole_and_names_what_the_target_limits() {
    for target in targets_of_every_kind() {
        for song in songs() {
            let sentence = Distance::new(&song, &target).to_string();
            assert!(sentence.ends_with('.') && !sentence.contains("  "), "{sentence}");
            assert!(!sentence.contains(" 0.0 ") && !sentence.contains("by −"), "{sentence}");
            let speaks = |word: &str| sentence.contains(word);
            let has_peaks = target.ceiling().is_some();
            assert!(has_peaks || !(speaks("peak") || speaks("ceiling")), "{sentence}");
            assert!(target.integrated.is_some() || !speaks("too loud"), "{sentence}");
            assert!(target.integrated.is_some() || !speaks("too quiet"), "{sentence}");
            assert!(target.max_short_term.is_some() || !speaks("3 s"), "{sentence}");
            assert!(target.max_momentary.is_some() || !speaks("400 ms"), "{sentence}");
            assert!(target.max_loudness_range.is_some() || !speaks("range"), "{sentence}");
        }
    }
}

#[test]
fn the_sentence_says_when_less_gain_is_enough_and_when_the_target_leaves_more_to_do() {
    let said = |figures: &Figures, target: &Target| Distance::new(figures, target).to_string();
    assert_eq!(
        said(&figures(-15.5, -2.0), &target()),
        "1.5 LU too quiet, and the peaks stand in the way: 1.5 dB of gain asks for 0.5 dB of peak \
         control. 1.0 dB of gain alone are within the tolerance."
    );
    assert_eq!(
        said(&figures(-12.5, 1.0), &target()),
        "1.5 LU too loud. Turn the song down by 2.0 dB. That also brings the peaks under the \
         ceiling."
    );
    let mut short_form = target();
    short_form.max_short_term = Some(Lufs(-11.0));
    let mut song = figures(-12.5, -6.0);
    song.max_short_term = Some(Lufs(-7.0));
    assert_eq!(
        said(&song, &short_form),
        "1.5 LU too loud. Turn the song down by 1.5 dB. The loudest 3 s are then still 2.5 LU over \
         their limit."
    );
}
