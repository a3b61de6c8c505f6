//! The section log, the peak ledger and the comparison of two playthroughs, as tables.

use std::fmt::Write;

use plimsoll::loudness::Analysis;
use plimsoll::reference::{Comparison, Pool, Span};
use plimsoll::section::{
    LogEntry, PeakLedger, Playthrough, SectionChange, SectionLog, Taming, compare, measure,
};
use plimsoll::state;
use plimsoll::target::{Distance, Target};
use plimsoll::units::{Db, Dbtp, one_decimal, signed_one_decimal};

use crate::progress::clock;
use crate::song::Song;

/// Places of the ledger that are printed.
const PLACES: usize = 8;
/// Places that the sentence on taming speaks of.
const TAMED: usize = 6;
/// How far below the highest peak the ledger goes, dB.
const DEPTH_DB: f64 = 6.0;

/// All three; empty for a song without sections.
pub fn tables(
    song: &Song,
    saved: &state::Song,
    analysis: &mut Analysis,
    target: &Target,
) -> String {
    let sections = saved.sections.as_slice();
    let mut out = String::new();
    if !sections.is_empty() {
        let mut log = SectionLog::default();
        log.update(sections, analysis);
        section_log(&mut out, log.entries());
        tone(&mut out, log.entries());
        references(&mut out, song, log.entries(), analysis);
        ledger(&mut out, analysis, log.entries(), target);
    }
    if let (Some(tweak), [.., before, after]) = (&song.tweak, saved.playthroughs.as_slice()) {
        let gain = signed_one_decimal(f64::from(tweak.gain_db));
        comparison(&mut out, &gain, before, after);
    }
    out
}

fn figure(value: Option<f64>) -> String {
    value.filter(|value| value.is_finite()).map_or_else(|| "–".to_owned(), one_decimal)
}

fn change(value: Option<f64>) -> String {
    value.filter(|value| value.is_finite()).map_or_else(|| "–".to_owned(), signed_one_decimal)
}

fn section_log(out: &mut String, log: &[LogEntry]) {
    out.push_str("\nSection log\n");
    let _ = writeln!(
        out,
        "  {:<13}{:>7}{:>8}{:>7}{:>8}{:>8}{:>8}{:>7}{:>7}{:>8}{:>8}{:>7}",
        "", "from", "I", "step", "max S", "max M", "TP", "PLR", "PSR", "corr.", "S/M", "wider"
    );
    let _ = writeln!(
        out,
        "  {:<13}{:>7}{:>8}{:>7}{:>8}{:>8}{:>8}{:>7}{:>7}{:>8}{:>8}{:>7}",
        "", "min", "LUFS", "LU", "LUFS", "LUFS", "dBTP", "LU", "LU", "", "dB", "dB"
    );
    for entry in log {
        let (measured, figures) = (&entry.measured, &entry.measured.figures);
        let correlation = measured.correlation.map_or_else(
            || "–".to_owned(),
            |correlation| format!("{correlation:+.2}").replace('-', "−"),
        );
        let _ = writeln!(
            out,
            "  {:<13}{:>7}{:>8}{:>7}{:>8}{:>8}{:>8}{:>7}{:>7}{:>8}{:>8}{:>7}",
            entry.name,
            clock(f64::from(entry.range.start) / 100.0),
            figure(figures.integrated.map(|v| v.0)),
            change(entry.louder_by.map(|v| v.0)),
            figure(figures.max_short_term.map(|v| v.0)),
            figure(figures.max_momentary.map(|v| v.0)),
            change(figures.max_true_peak.map(|v| v.0)),
            figure(measured.plr().map(|v| v.0)),
            figure(measured.min_psr.map(|v| v.0)),
            correlation,
            change(measured.side_to_mid.map(|v| v.0)),
            change(entry.wider_by.map(|v| v.0)),
        );
    }
}

/// Tone and width of each section and, below, how they differ from the section before.
fn tone(out: &mut String, log: &[LogEntry]) {
    out.push_str("\nTone and width\n");
    let _ = writeln!(
        out,
        "  {:<13}{:>8}{:>8}{:>9}{:>8}{:>8}{:>9}{:>9}{:>8}{:>8}{:>8}",
        "",
        "< 20 Hz",
        "to 120",
        "presence",
        "air",
        "slope",
        "S/M low",
        "S/M mid",
        "S/M hi",
        "mono",
        "R/L"
    );
    let _ = writeln!(
        out,
        "  {:<13}{:>8}{:>8}{:>9}{:>8}{:>8}{:>9}{:>9}{:>8}{:>8}{:>8}",
        "", "dB", "dB", "dB", "dB", "dB/oct", "dB", "dB", "dB", "LU", "dB"
    );
    let mut row = |name: &str, values: [Option<f64>; 10], sign: fn(Option<f64>) -> String| {
        let [subsonic, low_end, presence, air, slope, low, middle, high, mono, balance] =
            values.map(sign);
        let _ = writeln!(
            out,
            "  {name:<13}{subsonic:>8}{low_end:>8}{presence:>9}{air:>8}{slope:>8}{low:>9}{middle:>9}\
             {high:>8}{mono:>8}{balance:>8}"
        );
    };
    for entry in log {
        let Some(tone) = &entry.measured.tone else { continue };
        let [low, middle, high] = tone.side_to_mid.map(|width| width.map(|v| v.0));
        let values = [
            Some(tone.subsonic.0),
            Some(tone.low_end.0),
            Some(tone.presence.0),
            Some(tone.air.0),
            tone.slope_db_per_octave,
            low,
            middle,
            high,
            // What is lost is below zero, as on a fader.
            Some(-tone.fold_down_loss.0),
            entry.measured.balance.map(|v| v.0),
        ];
        row(&entry.name, values, figure);
        let Some(by) = &entry.tone_change else { continue };
        let [low, middle, high] = by.side_to_mid.map(|width| width.map(|v| v.0));
        let changes = [
            by.subsonic.map(|v| v.0),
            by.low_end.map(|v| v.0),
            by.presence.map(|v| v.0),
            by.air.map(|v| v.0),
            by.slope_db_per_octave,
            low,
            middle,
            high,
            by.fold_down_loss.map(|v| -v.0),
            None,
        ];
        row("    by", changes, change);
    }
}

/// The song beside its references, part by part, and what differs enough to be told.
fn references(out: &mut String, song: &Song, log: &[LogEntry], analysis: &mut Analysis) {
    let Some(range) = analysis.song_range() else { return };
    let whole = measure(analysis, range);
    let Some(comparison) = Comparison::new(&whole, log, &song.references) else { return };
    let names = comparison.names.join(", ");
    let _ = writeln!(out, "\nBeside \"{names}\", at equal loudness: song less reference");
    let _ = writeln!(
        out,
        "  {:<13}{:<14}{:>8}{:>9}{:>8}{:>9}{:>9}{:>8}{:>8}{:>8}{:>8}",
        "",
        "against",
        "to 120",
        "presence",
        "air",
        "S/M low",
        "S/M mid",
        "S/M hi",
        "LRA",
        "PLR",
        "PSR"
    );
    let stretches = std::iter::once(&comparison.whole).chain(&comparison.sections);
    for stretch in stretches {
        let by = |of: fn(&Pool) -> Option<Span>| {
            change(stretch.ours.difference(&stretch.theirs, of).map(|one| one.by()))
        };
        let ours = if stretch.id.is_none() { "Whole song" } else { &stretch.name };
        let against = stretch.their_names.iter().flatten().next();
        let _ = writeln!(
            out,
            "  {ours:<13}{:<14}{:>8}{:>9}{:>8}{:>9}{:>9}{:>8}{:>8}{:>8}{:>8}",
            against.map_or("the whole", String::as_str),
            by(|pool| pool.low_end),
            by(|pool| pool.presence),
            by(|pool| pool.air),
            by(|pool| pool.widths[0]),
            by(|pool| pool.widths[1]),
            by(|pool| pool.widths[2]),
            by(|pool| pool.loudness_range),
            by(|pool| pool.plr),
            by(|pool| pool.min_psr),
        );
    }
    for observation in &comparison.observations {
        let _ = writeln!(out, "  - {observation}");
    }
}

fn ledger(out: &mut String, analysis: &mut Analysis, log: &[LogEntry], target: &Target) {
    let figures = analysis.song_figures();
    let (Some(highest), Some(song)) = (figures.max_true_peak, analysis.extent()) else {
        return;
    };
    let gain = Distance::new(&figures, target).gain_to_target.unwrap_or(Db(0.0));
    let over = target.ceiling().map_or(f64::INFINITY, |ceiling| ceiling.0 - gain.0.max(0.0));
    let floor = Dbtp((highest.0 - DEPTH_DB).min(over));
    let ledger = PeakLedger::new(analysis, song, floor, log);
    out.push_str("\nPeak ledger\n");
    let _ = writeln!(
        out,
        "  {:>3}{:>9}  {:<13}{:>8}{:>15}",
        "no.", "at", "section", "TP", "over section"
    );
    let _ = writeln!(out, "  {:>3}{:>9}  {:<13}{:>8}{:>15}", "", "min", "", "dBTP", "LU");
    for (event, rank) in ledger.events().iter().take(PLACES).zip(1..) {
        let section = event.section.and_then(|id| log.iter().find(|entry| entry.id == id));
        let _ = writeln!(
            out,
            "  {rank:>3}{:>9}  {:<13}{:>8}{:>15}",
            clock(event.at_s()),
            section.map_or("–", |entry| entry.name.as_str()),
            signed_one_decimal(event.peak.0),
            figure(event.above_section.map(|above| above.0)),
        );
    }
    if let Some(ceiling) = target.ceiling() {
        let places = |gain: Db| ledger.over_ceiling(ceiling, gain).places.len();
        let _ = writeln!(
            out,
            "  Over {} dBTP: {} places now, {} with the gain to target of {} dB.",
            one_decimal(ceiling.0),
            places(Db(0.0)),
            places(gain),
            signed_one_decimal(gain.0)
        );
    }
    if let Some(Taming { events, to, frees }) = ledger.curve().take(TAMED).last() {
        let _ = writeln!(
            out,
            "  Taming the top {events} to {} dBTP frees {} dB.",
            one_decimal(to.0),
            one_decimal(frees.0)
        );
    }
}

fn comparison(out: &mut String, gain: &str, before: &Playthrough, after: &Playthrough) {
    let _ = writeln!(
        out,
        "\nSecond playthrough: choruses {gain} dB, and only {} to {} played again",
        clock(f64::from(after.start_hop) / 100.0),
        clock(f64::from(after.end_hop) / 100.0)
    );
    let _ = writeln!(
        out,
        "  {:<13}{:>9}{:>9}{:>11}{:>11}{:>9}",
        "", "before", "after", "louder by", "TP by", "PLR by"
    );
    let _ =
        writeln!(out, "  {:<13}{:>9}{:>9}{:>11}{:>11}{:>9}", "", "LUFS", "LUFS", "LU", "dB", "LU");
    for SectionChange { name, before, after, change: by, .. } in compare(before, after) {
        let integrated = |figures: Option<plimsoll::section::LoggedFigures>| {
            figure(figures.and_then(|figures| figures.integrated_lufs))
        };
        let by = by.unwrap_or_default();
        let _ = writeln!(
            out,
            "  {name:<13}{:>9}{:>9}{:>11}{:>11}{:>9}",
            integrated(before),
            integrated(after),
            change(by.louder_by.map(|v| v.0)),
            change(by.true_peak_by.map(|v| v.0)),
            change(by.plr_by.map(|v| v.0)),
        );
    }
}
