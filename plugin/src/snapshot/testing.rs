//! Snapshots to test with: one of a plain song, and any number without a pattern.

use super::{Moment, Snapshot, Source, UtcTime};
use crate::loudness::{Analysis, Kept};
use crate::meters::layout::Layout;
use crate::record::Hop;
use crate::section::testing::{Dice, Sound, Tape, noisy};
use crate::section::{BarGrid, Place, Playthrough, Playthroughs, Sections};
use crate::target::{Target, built_in_targets};
use crate::units::{Dbtp, SampleRate};

/// 2026-11-25T14:01:07Z: 20 782 days (56 years of 365, 14 leap days, 328 days) and 50 467 s.
pub(super) fn now() -> UtcTime {
    UtcTime::from_unix_s(20_782 * 86_400 + 50_467)
}

/// Names that break things: quotes, markup, formulas, emoji, line ends, other directions, nothing.
pub(super) const NASTY: [&str; 12] = [
    "",
    "Lantern Tide",
    "\"quoted\" & 'both'",
    "<script>alert(1)</script>",
    "</style><svg onload=\"x\">",
    "🌊 wave 👩‍🎤",
    "two\nlines\r\nand\ta tab",
    "=1+1",
    "@sum, \"x\"",
    "\u{202e}backwards\u{0}\u{7}\u{fffe}",
    "]]> --> &amp;",
    "ÄÖÜ ぬりかべ العربية",
];

/// A song of 120 s: two sections and a gap between them, played twice, the second part louder the
/// second time.
pub(super) struct Song {
    pub tape: Tape,
    pub sections: Sections,
    pub playthroughs: Playthroughs,
    pub targets: Vec<Target>,
    pub bars: BarGrid,
}

/// A hop with a peak of its own every 200 hops.
fn hop(index: i32, lufs: f64) -> Hop {
    let peak_dbtp = if index % 200 == 0 { -1.0 - f64::from(index) * 1e-4 } else { -9.0 };
    Sound { lufs, peak_dbtp, ..Sound::default() }.hop()
}

impl Song {
    pub fn new() -> Self {
        let mut tape = Tape::new();
        let mut sections = Sections::default();
        let place = Place::at;
        sections.add_range(place(0.0), place(40.0), Some("Verse")).unwrap();
        sections.add_range(place(80.0), place(120.0), Some("Chorus <1>")).unwrap();
        let mut playthroughs = Playthroughs::default();
        let level = |index| if index < 6_000 { -20.0 } else { -15.0 };
        let first = tape.play(0..6_000, |index| hop(index, level(index)));
        playthroughs.add(Playthrough::of(&tape.reader, first, sections.as_slice()).unwrap());
        let second = tape.play(8_000..12_000, |index| hop(index, level(index)));
        playthroughs.add(Playthrough::of(&tape.reader, second, sections.as_slice()).unwrap());
        let bars = BarGrid::steady(0.0, 96.0, 4.0).unwrap();
        Self { tape, sections, playthroughs, targets: built_in_targets(), bars }
    }

    pub fn analysis(&self) -> Analysis {
        self.tape.analysis()
    }

    pub fn snapshot(&self) -> Snapshot {
        Snapshot::take(Moment {
            analysis: &mut self.analysis(),
            source: Source::Song,
            rate: SampleRate::new(48_000).ok(),
            sections: &self.sections,
            bars: Some(&self.bars),
            playthroughs: &self.playthroughs,
            references: &[],
            targets: &self.targets,
            chosen: Some(0),
            song: "Lantern Tide",
            track: Some("Mix bus"),
            taken: now(),
        })
    }
}

/// A song of 4 minutes that fills a page: 12 sections, many peaks, a pinned playthrough, and the
/// last chorus played again, louder.
pub(super) fn full(lift_lu: f64) -> Song {
    const PARTS: [(&str, f64); 12] = [
        ("Intro", -22.0),
        ("Verse 1", -18.5),
        ("Pre-chorus 1", -17.0),
        ("Chorus 1", -13.6),
        ("Verse 2", -18.0),
        ("Pre-chorus 2", -16.6),
        ("Chorus 2", -13.1),
        ("Bridge", -20.5),
        ("Solo with the long name", -15.2),
        ("Breakdown", -24.0),
        ("Last chorus", -12.4),
        ("Outro", -21.0),
    ];
    let mut song = Song::new();
    song.tape = Tape::new();
    song.sections = Sections::default();
    song.playthroughs = Playthroughs::default();
    for (index, (name, _)) in PARTS.iter().enumerate() {
        let bar = |index: usize| {
            let bar = 8.0 * f64::from(u32::try_from(index).unwrap());
            Place { at_s: song.bars.seconds_at(bar).unwrap(), bar: Some(bar) }
        };
        song.sections.add_range(bar(index), bar(index + 1), Some(name)).unwrap();
    }
    let mut dice = Dice(77);
    let mut hop = |index: i32, lift_lu: f64| {
        let part = usize::try_from(index / 2_000).unwrap().min(11);
        let lufs = PARTS[part].1 + lift_lu + dice.between(-1.0, 1.0) + dice.between(-1.0, 1.0);
        let beat = f64::from(index % 62) / 62.0;
        let is_hit = index % 62 == 0 && dice.below(4) == 0;
        let crest = if is_hit { dice.between(10.0, 14.5) } else { 8.5 };
        let sound = Sound {
            lufs: lufs - 3.0 * beat,
            peak_dbtp: lufs + crest,
            mean_square: crate::units::db_to_energy(lufs),
            correlation: 0.4 + 0.4 * dice.between(0.0, 1.0),
        };
        sound.hop()
    };
    let first = song.tape.play(0..24_000, |index| hop(index, lift_lu));
    let sections = song.sections.as_slice();
    let id = song.playthroughs.add(Playthrough::of(&song.tape.reader, first, sections).unwrap());
    song.playthroughs.pin(id, "Mix 3, before the limiter").unwrap();
    let second = song.tape.play(19_900..22_000, |index| hop(index, lift_lu + 0.9));
    song.playthroughs.add(Playthrough::of(&song.tape.reader, second, sections).unwrap());
    song
}

/// A snapshot of nothing.
pub(super) fn empty() -> Snapshot {
    Snapshot::take(Moment {
        analysis: &mut Tape::new().analysis(),
        source: Source::Live,
        rate: None,
        sections: &Sections::default(),
        bars: None,
        playthroughs: &Playthroughs::default(),
        references: &[],
        targets: &[],
        chosen: None,
        song: "",
        track: None,
        taken: now(),
    })
}

/// A snapshot without a pattern: the record empty, silent, of one hop, of one run or many, with
/// names that break things.
pub(super) fn any(dice: &mut Dice) -> Snapshot {
    let mut tape = Tape::new();
    let mut playthroughs = Playthroughs::default();
    let mut sections = any_sections(dice);
    let kind = dice.below(6);
    for _ in 0..dice.below(4) {
        let start = i32::try_from(dice.below(7_000)).unwrap() - 500;
        let hops = match kind {
            0 => 0,
            1 => 1,
            _ => i32::try_from(dice.below(3_000)).unwrap(),
        };
        let is_full = dice.below(8) > 0;
        let mut run = Dice(u64::from(dice.next()));
        let number = tape.play(start..start + hops, |_| {
            let hop = if kind == 2 { silent() } else { any_hop(&mut run, kind) };
            Hop { full: hop.full && is_full, ..hop }
        });
        let played = Playthrough::of(&tape.reader, number, sections.as_slice());
        let id = played.map(|played| playthroughs.add(played));
        if let Some(id) = id.filter(|_| dice.below(3) == 0) {
            // A name that is no plain text is refused, and the playthrough stays without one.
            let _ = playthroughs.pin(id, name(dice));
        }
    }
    let mut targets = built_in_targets();
    targets.push(Target { name: name(dice).to_owned(), ..targets[0].clone() });
    targets.push(Target {
        name: name(dice).to_owned(),
        source: name(dice).to_owned(),
        integrated: None,
        true_peak_ceiling: (dice.below(2) == 0).then_some(Dbtp(-1.0)),
        ..targets[0].clone()
    });
    let chosen = usize::try_from(dice.below(20)).unwrap();
    let bars = BarGrid::steady(dice.between(-3.0, 3.0), 96.0, 4.0).unwrap();
    sections.follow_song_end(Some(dice.between(0.0, 90.0)));
    let mut analysis = if dice.below(6) == 0 { of_file(dice) } else { tape.analysis() };
    Snapshot::take(Moment {
        analysis: &mut analysis,
        source: if dice.below(2) == 0 { Source::Song } else { Source::Live },
        rate: SampleRate::new(dice.below(400_000)).ok(),
        sections: &sections,
        bars: (dice.below(2) == 0).then_some(&bars),
        playthroughs: &playthroughs,
        references: &[],
        targets: &targets,
        chosen: Some(chosen),
        song: name(dice),
        track: (dice.below(2) == 0).then(|| name(dice)),
        taken: UtcTime::from_unix_s(u64::from(dice.next()) * u64::from(dice.below(80))),
    })
}

fn name(dice: &mut Dice) -> &'static str {
    NASTY[usize::try_from(dice.below(12)).unwrap()]
}

fn any_sections(dice: &mut Dice) -> Sections {
    let mut sections = Sections::default();
    for _ in 0..dice.below(14) {
        let start_s = dice.between(-5.0, 80.0);
        let end = Place::at(start_s + dice.between(0.4, 20.0));
        // A name that is no plain text is refused: then there is no such section.
        let _ = sections.add_range(Place::at(start_s), end, Some(name(dice)));
    }
    sections
}

/// A hop of digital silence.
pub(super) fn silent() -> Hop {
    Hop { frames: 480, full: true, ..Hop::default() }
}

fn any_hop(dice: &mut Dice, kind: u32) -> Hop {
    if dice.below(50) == 0 {
        return silent();
    }
    let mut hop = noisy(dice).hop();
    match kind {
        3 => hop.right_mean_square = 0.0,
        4 => {
            hop.right_mean_square = hop.left_mean_square;
            hop.left_right_mean = -hop.left_mean_square;
        }
        _ => {}
    }
    hop.clipped = u16::try_from(dice.below(3)).unwrap();
    hop.scrubbed = u16::try_from(dice.below(2)).unwrap();
    hop
}

/// An analysis of a file, which has no record.
fn of_file(dice: &mut Dice) -> Analysis {
    let layout = Layout::ALL[usize::try_from(dice.below(4)).unwrap()];
    let mut analysis = Analysis::of_file(layout);
    for index in 0..i32::try_from(dice.below(2_000)).unwrap() {
        analysis.add(index, Kept::from(Hop { playthrough: 1, ..any_hop(dice, 5) }));
    }
    analysis
}
