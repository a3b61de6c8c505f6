//! Models to look at: "Lantern Tide" in the states that the editor is drawn for. Made up, not
//! measured, and the same every time.

use plimsoll::editor::model::{Model, Notice, SongData, StripData, StripPoint, TransportState};
use plimsoll::loudness::{Analysis, Coverage, Figures};
use plimsoll::meters::layout::Layout;
use plimsoll::meters::spectrum::bands::{BAND_COUNT, midband_hz, slots_of_band};
use plimsoll::meters::spectrum::{Powers, Second};
use plimsoll::record::{Hop, ToneSecond};
use plimsoll::reference::{Comparison, Profile, Reference, ReferenceSection};
use plimsoll::section::{
    BarGrid, LoggedFigures, PeakLedger, Place, Playthrough, Playthroughs, SectionLog, Sections,
    compare,
};
use plimsoll::target::{Distance, built_in_targets};
use plimsoll::tone::Tone;
use plimsoll::units::{Dbfs, Dbtp, Lu, Lufs, db_to_energy};

/// Hops per point of the strip.
const STEP_HOPS: usize = 10;
/// Sections: length in seconds, short-term loudness, highest true peak.
const SECTIONS: [(usize, f64, f64); 8] = [
    (10, -23.5, -7.0),
    (14, -18.2, -3.6),
    (12, -13.4, 0.1),
    (12, -17.6, -3.1),
    (12, -13.0, 0.4),
    (12, -21.0, -5.8),
    (14, -11.8, 0.6),
    (6, -24.0, -8.0),
];

/// Their names.
const NAMES: [&str; 8] =
    ["Intro", "Verse 1", "Chorus 1", "Verse 2", "Chorus 2", "Bridge", "Last chorus", "Outro"];

/// A number from −1 to 1, different for each `index`, always the same.
fn chance(index: usize) -> f64 {
    let mixed = (index as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(29);
    let mixed = mixed.wrapping_mul(0xBF58_476D_1CE4_E5B9);
    (mixed >> 40) as f64 / f64::from(1_u32 << 23) - 1.0
}

/// Nothing measured, the first target chosen.
pub fn empty() -> Model {
    let mut model = Model {
        transport: TransportState::Stopped,
        playhead_hop: Some(0),
        targets: built_in_targets(),
        built_in_count: built_in_targets().len(),
        ..Model::empty()
    };
    judge(&mut model);
    model
}

/// The whole song, `gain_db` louder or quieter than it was made up.
pub fn song(gain_db: f64) -> Model {
    let mut model = empty();
    let mut levels = Vec::new();
    let mut peaks = Vec::new();
    for (seconds, lufs, dbtp) in SECTIONS {
        for _ in 0..seconds * 100 / STEP_HOPS {
            let at = levels.len();
            let beat = if at % 5 == 0 { 2.0 } else { -0.6 };
            levels.push(lufs + beat + chance(at) * 1.4 + gain_db);
            let off_beat_db = if at % 5 == 0 { 0.0 } else { 2.5 };
            peaks.push(dbtp - 2.2 - 2.0 * chance(at + 7).abs() - off_beat_db + gain_db);
        }
        // The peaks that matter stand where a section comes in.
        let start = levels.len() - seconds * 100 / STEP_HOPS;
        peaks[start] = dbtp + gain_db;
    }
    let mean = |range: std::ops::Range<usize>| {
        let energy: f64 = levels[range.clone()].iter().map(|l| Lufs(*l).to_energy()).sum();
        Lufs::from_energy(energy / range.len() as f64)
    };
    model.strip = StripData {
        first_hop: 0,
        step_hops: STEP_HOPS as i32,
        points: (0..levels.len())
            .map(|at| {
                Some(StripPoint {
                    short_term: (at >= 29).then(|| mean(at - 29..at + 1)),
                    momentary: (at >= 3).then(|| mean(at - 3..at + 1)),
                    true_peak: Some(Dbtp(peaks[at])),
                    playthrough: 1,
                })
            })
            .collect(),
        newest_playthrough: 1,
    };
    model.transport = TransportState::Playing;
    measure(&mut model);
    model
}

/// Figures out of the strip: near enough to a measurement to look at.
pub fn measure(model: &mut Model) {
    let points: Vec<&StripPoint> = model.strip.points.iter().flatten().collect();
    let highest = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::NEG_INFINITY, f64::max);
    let loudest: Vec<f64> = points.iter().filter_map(|point| Some(point.momentary?.0)).collect();
    let mut short: Vec<f64> = points.iter().filter_map(|point| Some(point.short_term?.0)).collect();
    short.sort_by(f64::total_cmp);
    let gated = |gate: f64| {
        let kept: Vec<f64> = loudest.iter().copied().filter(|lufs| *lufs > gate).collect();
        let energy: f64 = kept.iter().map(|lufs| Lufs(*lufs).to_energy()).sum();
        (!kept.is_empty()).then(|| Lufs::from_energy(energy / kept.len() as f64))
    };
    let measured_hops = points.len() * STEP_HOPS;
    let first = model.strip.points.iter().position(Option::is_some).unwrap_or(0);
    let last = model.strip.points.iter().rposition(Option::is_some).map_or(0, |last| last + 1);
    let percentile = |share: f64| short.get((short.len() as f64 * share) as usize).copied();
    let peak = points.iter().filter_map(|point| point.true_peak).max_by(|a, b| a.0.total_cmp(&b.0));
    model.figures = Figures {
        integrated: gated(-70.0).and_then(|ungated| gated(ungated.0 - 10.0)),
        loudness_range: percentile(0.95).zip(percentile(0.1)).map(|(high, low)| Lu(high - low)),
        max_momentary: (!loudest.is_empty()).then(|| Lufs(highest(&mut loudest.iter().copied()))),
        max_short_term: short.last().copied().map(Lufs),
        max_true_peak: peak,
        max_true_peak_hop: None,
        sample_peak: peak.map(|peak| Dbfs(peak.0 - 0.2)),
        clipped_samples: 0,
        scrubbed_samples: 0,
        frames: measured_hops as u64 * 480,
        coverage: Coverage {
            measured_hops,
            span_hops: (last - first) * STEP_HOPS,
            gaps: usize::from(points.len() < last - first),
        },
    };
    let now = model.strip.points.iter().rev().flatten().next();
    model.playhead_hop = Some((last * STEP_HOPS) as i32 + model.strip.first_hop);
    if let Some(now) = now {
        model.now.momentary = now.momentary;
        model.now.short_term = now.short_term;
        model.now.true_peaks[0] = now.true_peak;
        model.now.true_peaks[1] = now.true_peak.map(|peak| Dbtp(peak.0 - 0.7));
    }
    judge(model);
}

/// The distance to the chosen target.
pub fn judge(model: &mut Model) {
    let target = model.targets.get(model.chosen_target);
    model.distance = target.map(|target| Distance::new(&model.figures, target));
}

/// Chooses the target of this name.
pub fn choose(model: &mut Model, name: &str) {
    model.chosen_target = model.targets.iter().position(|target| target.name == name).unwrap();
    judge(model);
}

/// The song with a gap, its last chorus played again, bars known, playhead inside.
pub fn replayed() -> Model {
    let mut model = song(-3.6);
    model.strip.newest_playthrough = 2;
    for (at, point) in model.strip.points.iter_mut().enumerate() {
        if (300..370).contains(&at) {
            *point = None;
        }
        // After a gap, 3 s pass before there is a short-term loudness again.
        if (370..399).contains(&at)
            && let Some(point) = point
        {
            point.short_term = None;
        }
        if (720..860).contains(&at)
            && let Some(point) = point
        {
            point.playthrough = 2;
        }
    }
    model.bars = BarGrid::steady(0.0, 120.0, 4.0).ok();
    measure(&mut model);
    model.playhead_hop = Some(8_400);
    model
}

/// The song against its target and five others, one of them for peaks only.
pub fn destinations() -> Model {
    let mut model = song(0.0);
    for name in [
        "AES music, track",
        "Podcast, −16",
        "EBU R 128 programme",
        "ATSC A/85",
        "Mix hand-off to mastering",
    ] {
        model.beside.extend(model.targets.iter().position(|target| target.name == name));
    }
    model
}

/// Only the first `seconds` of the song.
pub fn begun(gain_db: f64, seconds: usize) -> Model {
    let mut model = song(gain_db);
    model.strip.points.truncate(seconds * 100 / STEP_HOPS);
    measure(&mut model);
    model
}

/// The tone of a second: falling by some 4 dB an octave with a hump of bass, and wider from the bass
/// up; a chorus is brighter and wider.
fn tone_of(second: i32, lufs: f64, is_chorus: bool) -> Second {
    let mut mid = Powers::ZERO;
    let mut side = Powers::ZERO;
    for band in 0..BAND_COUNT {
        let octaves = (midband_hz(band) / 1_000.0).log2();
        let bass_db = 6.0 * (-((octaves + 3.7) / 0.9).powi(2)).exp();
        let bright_db = if is_chorus { 1.3 * octaves.max(0.0) } else { 0.0 };
        let rumble_db = -14.0 * (-octaves - 4.3).max(0.0);
        let level_db = lufs - 12.0 - 1.6 * octaves
            + bass_db
            + bright_db
            + rumble_db
            + 3.5 * chance((second as usize) * BAND_COUNT + band);
        let width_db = (-26.0 + 5.0 * (octaves + 3.0).clamp(0.0, 3.4)) + bright_db;
        let slots = slots_of_band(band);
        let share = 1.0 / slots.len() as f64;
        for slot in slots {
            mid.slots[slot] = share * db_to_energy(level_db);
            side.slots[slot] = share * db_to_energy(level_db + width_db);
        }
    }
    mid.slots[1] = db_to_energy(lufs - 48.0);
    mid.k_weighted = mid.sum(20..38);
    side.k_weighted = side.sum(20..38);
    Second { second, covered: 1.0, mid, side }
}

/// The song with its sections, its last chorus played again 0.8 dB louder, and the log and the
/// ledger of that: measured from a record that is made up hop by hop.
pub fn sectioned() -> Model {
    let (mut writer, mut tone, reader) = plimsoll::record::record_with_tone(Layout::Stereo, false);
    let mut sections = Sections::default();
    let mut starts = vec![0_i32];
    for (at, (seconds, _, _)) in SECTIONS.iter().enumerate() {
        let end = starts[at] + *seconds as i32 * 100;
        let place = |hop: i32| {
            let at_s = f64::from(hop) / 100.0;
            Place { at_s, bar: Some(at_s / 2.0) }
        };
        sections.add_range(place(starts[at]), place(end), Some(NAMES[at])).unwrap();
        starts.push(end);
    }
    let mut play = |range: std::ops::Range<usize>, gain_db: f64| {
        let playthrough = writer.begin_playthrough();
        for at in range {
            let (_, lufs, dbtp) = SECTIONS[at];
            for hop in starts[at]..starts[at + 1] {
                let chance = chance(hop as usize);
                let level = lufs + gain_db + chance;
                let peak = dbtp + gain_db - if hop % 200 == 40 { 0.0 } else { 3.0 + chance };
                let amplitude = 10.0_f64.powf(peak / 20.0) as f32;
                let power = (Lufs(level).to_energy() / 2.0) as f32;
                let mut measured = Hop {
                    energy: Lufs(level).to_energy() as f32,
                    frames: 480,
                    full: true,
                    playthrough,
                    left_mean_square: power,
                    right_mean_square: power,
                    left_right_mean: power * if at % 2 == 0 { 0.6 } else { 0.9 },
                    ..Hop::default()
                };
                measured.true_peaks[0] = amplitude;
                measured.sample_peaks[0] = amplitude * 0.97;
                writer.write(hop, &measured);
            }
            for second in starts[at] / 100..starts[at + 1] / 100 {
                tone.write(&tone_of(second, lufs + gain_db, at % 2 == 0), playthrough);
            }
        }
        Playthrough::of(&reader, playthrough, sections.as_slice()).unwrap()
    };
    let mut runs = Playthroughs::default();
    let first = runs.add(play(0..8, -3.6));
    runs.add(play(6..7, -2.8));

    let mut model = empty();
    let mut analysis = Analysis::of(&reader);
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), &mut analysis);
    model.figures = analysis.song_figures();
    plimsoll::window::read_strip(&analysis, &mut model.strip);
    model.bars = BarGrid::steady(0.0, 120.0, 4.0).ok();
    model.playhead_hop = Some(8_350);
    let range = analysis.song_range().unwrap();
    let song_range = range.clone();
    model.song = SongData {
        sections: sections.as_slice().to_vec(),
        log: log.entries().to_vec(),
        ledger: Some(PeakLedger::new(&analysis, range, Dbtp(-8.0), log.entries())),
        playthroughs: runs.as_slice().to_vec(),
        compared_with: Some(first),
        changes: {
            let now = Playthrough::of_analysis(&mut analysis, 0, sections.as_slice()).unwrap();
            compare(runs.get(first).unwrap(), &now)
        },
        next_undo: sections.next_undo(),
        whole: Some(plimsoll::section::measure(&mut analysis, song_range)),
        loop_range_s: Some((24.0, 36.0)),
        ..SongData::default()
    };
    judge(&mut model);
    model
}

/// The tone of a whole stretch: every band `change_db` apart from the song's.
fn reference_tone(
    lufs: f64,
    is_chorus: bool,
    change_db: impl Fn(usize) -> f64,
    width_db: f64,
) -> Tone {
    let seconds: Vec<ToneSecond> = (0..14)
        .map(|second| {
            let mut second = tone_of(900 + second, lufs, is_chorus);
            for band in 0..BAND_COUNT {
                let gain = db_to_energy(change_db(band));
                for slot in slots_of_band(band) {
                    second.mid.slots[slot] *= gain;
                    second.side.slots[slot] *= gain * db_to_energy(width_db);
                }
            }
            ToneSecond::new(&second, 1)
        })
        .collect();
    Tone::of(seconds.iter()).unwrap()
}

/// A made-up reference: fuller in the low mids and above 5 kHz, wider, with five parts.
fn made_up_reference(id: u32, name: &str, fuller_db: f64, bright_db: f64) -> Reference {
    let change = |band: usize| match band {
        9..=12 => fuller_db,
        24..=30 => bright_db,
        _ => 0.0,
    };
    let profile = |lufs: f64, is_chorus: bool| Profile {
        figures: LoggedFigures {
            integrated_lufs: Some(lufs),
            max_short_term_lufs: Some(lufs + 2.0),
            max_momentary_lufs: Some(lufs + 3.5),
            loudness_range_lu: Some(6.4),
            max_true_peak_dbtp: Some(lufs + 11.0),
            plr_lu: Some(11.0),
            min_psr_lu: Some(8.1),
            coverage: 1.0,
            ..LoggedFigures::default()
        },
        tone: Some(Box::new(reference_tone(lufs, is_chorus, change, 2.6))),
    };
    let parts = [
        ("Intro", -20.0),
        ("Verse 1", -15.0),
        ("Chorus 1", -10.5),
        ("Verse 2", -14.5),
        ("Chorus 2", -9.5),
    ];
    let sections = parts.iter().zip(0_u32..).map(|((name, lufs), at)| ReferenceSection {
        name: (*name).to_owned(),
        start_s: f64::from(at) * 30.0,
        end_s: f64::from(at + 1) * 30.0,
        profile: profile(*lufs, name.starts_with("Chorus")),
    });
    Reference {
        id,
        name: name.to_owned(),
        length_s: 171.0,
        is_used: true,
        is_input: false,
        whole: profile(-11.0, true),
        sections: sections.collect(),
    }
}

/// The song with sections beside so many references.
pub fn beside(count: usize) -> Model {
    let mut model = sectioned();
    let all = [
        made_up_reference(1, "Copper Weather", 2.4, 1.9),
        made_up_reference(2, "Nine Small Boats", 0.4, 3.3),
        made_up_reference(
            3,
            "The long way round the harbour, as it was sung in the rain",
            1.2,
            0.2,
        ),
    ];
    model.reference.list = all.into_iter().take(count).collect();
    let whole = model.song.whole.as_ref().unwrap();
    model.reference.comparison = Comparison::new(whole, &model.song.log, &model.reference.list);
    model
}

/// Paused, full and with broken samples: every kind of note.
pub fn noted() -> Model {
    let mut model = song(0.0);
    model.running = false;
    model.transport = TransportState::Stopped;
    model.notices = vec![Notice::RecordFull, Notice::ScrubbedSamples { count: 12 }];
    model.can_undo_reset = true;
    model
}
