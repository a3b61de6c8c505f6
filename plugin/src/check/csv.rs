//! The report as one table of CSV (RFC 4180), with the units in its header: a row for each file,
//! one for each of its sections under it, and one for the release at the end. The rules for cells
//! are those of a snapshot's tables ([`crate::snapshot::csv`]). The unrounded rest is in the JSON.

use super::facts::name_of;
use super::json::{status, verdict_word};
use super::{CheckReport, Release, TargetVerdict, Track, TrackOutcome};
use crate::meters::layout::Layout;
use crate::record::hop_seconds;
use crate::section::{LogEntry, Measured};
use crate::snapshot::Reason;
use crate::snapshot::csv::{cell, guarded, number, row};
use crate::snapshot::reason::FigureSet;
use crate::units::Db;
use std::borrow::Cow;

type Cell = Cow<'static, str>;

const BEFORE_FIGURES: [&str; 5] = ["row", "file", "section", "start_s", "end_s"];
const AFTER_FIGURES: [&str; 5] =
    ["louder_by_lu", "wider_by_db", "clipped_samples", "scrubbed_samples", "coverage"];
/// Of a file alone.
const FILE: [&str; 7] =
    ["status", "error", "rate_hz", "channels", "used_bits", "clipped_runs", "inter_sample_overs"];
/// Of a file alone, for each target; the number of the target stands before.
const TARGET: [&str; 6] = [
    "name",
    "verdict",
    "distance_lu",
    "gain_to_target_db",
    "peak_at_target_dbtp",
    "playback_gain_db",
];

/// The report as CSV.
#[must_use]
pub fn to_csv(report: &CheckReport) -> String {
    let tracks = || report.tracks.iter().filter_map(|track| track.outcome.as_ref().ok());
    let targets = tracks().map(|track| track.verdicts.len()).max().unwrap_or(0);
    let nothing = Measured::default();
    let keys = FigureSet::new(&nothing, Layout::Stereo).entries().map(|(key, _)| key);
    let named = [&BEFORE_FIGURES[..], &keys, &AFTER_FIGURES, &FILE].concat();
    let of_targets = (1..=targets)
        .flat_map(|target| TARGET.map(|column| Cow::Owned(format!("target_{target}_{column}"))));
    let header: Vec<Cell> = named.into_iter().map(Cow::Borrowed).chain(of_targets).collect();

    let mut out = String::new();
    let mut put = |mut cells: Vec<Cell>| {
        // Every row has as many cells as the header.
        cells.resize(header.len(), Cow::Borrowed(""));
        row(&mut out, cells);
    };
    put(header.clone());
    for track in &report.tracks {
        put(file_cells(track, &nothing));
        if let Ok(measured) = &track.outcome {
            for entry in &measured.sections {
                put(section_cells(&track.path, entry, measured.layout));
            }
        }
    }
    if let Some(release) = &report.release {
        put(release_cells(release));
    }
    out
}

fn text(text: &str) -> Cell {
    Cow::Owned(guarded(text).into_owned())
}

fn optional(value: Option<f64>) -> Cell {
    cell(value.filter(|value| value.is_finite()).ok_or(Reason::NotMeasured))
}

fn figures(measured: &Measured, layout: Layout) -> impl Iterator<Item = Cell> {
    FigureSet::new(measured, layout).entries().into_iter().map(|(_, figure)| cell(figure))
}

fn counts(measured: &Measured, steps: [Option<Db>; 2]) -> impl Iterator<Item = Cell> {
    let figures = measured.figures;
    let counts = [figures.clipped_samples, figures.scrubbed_samples];
    steps
        .map(|step| optional(step.map(|by| by.0)))
        .into_iter()
        .chain(counts.map(|count| Cow::Owned(count.to_string())))
        .chain([number(figures.coverage.share())])
}

fn file_cells(track: &TrackOutcome, nothing: &Measured) -> Vec<Cell> {
    let found = track.outcome.as_ref().ok();
    let mut cells = vec![Cow::Borrowed("file"), text(&name_of(&track.path)), Cow::Borrowed("")];
    cells.extend([found.map(|_| 0.0), found.map(|found| found.length_s)].map(optional));
    match found {
        Some(found) => {
            cells.extend(figures(&found.measured, found.layout));
            cells.extend(counts(&found.measured, [None, None]));
        }
        None => {
            cells.extend(figures(nothing, Layout::Stereo));
            cells.extend([""; AFTER_FIGURES.len()].map(Cow::Borrowed));
        }
    }
    match &track.outcome {
        Ok(found) => {
            cells.extend([Cow::Borrowed(status(found.status())), Cow::Borrowed("")]);
            cells.extend(facts(found));
            cells.extend(found.verdicts.iter().flat_map(target_cells));
        }
        Err(error) => cells.extend([Cow::Borrowed("not measured"), text(&error.to_string())]),
    }
    cells
}

fn facts(track: &Track) -> [Cell; 5] {
    let used_bits = track.delivery.bit_depth.used_bits;
    [
        Cow::Owned(track.rate.hz().to_string()),
        Cow::Owned(track.layout.channel_count().to_string()),
        used_bits.map_or(Cow::Borrowed(""), |bits| Cow::Owned(bits.to_string())),
        Cow::Owned(track.delivery.clipping.runs.to_string()),
        Cow::Owned(track.overs.len().to_string()),
    ]
}

fn target_cells(verdict: &TargetVerdict) -> [Cell; 6] {
    let distance = &verdict.distance;
    [
        text(&verdict.target.name),
        Cow::Borrowed(verdict_word(distance.verdict())),
        optional(distance.distance.map(|by| by.0)),
        optional(distance.gain_to_target.map(|gain| gain.0)),
        optional(distance.peak_at_target.map(|peak| peak.0)),
        optional(distance.playback_gain.map(|gain| gain.0)),
    ]
}

fn section_cells(path: &std::path::Path, entry: &LogEntry, layout: Layout) -> Vec<Cell> {
    let mut cells = vec![Cow::Borrowed("section"), text(&name_of(path)), text(&entry.name)];
    cells.extend([entry.range.start, entry.range.end].map(|hop| number(hop_seconds(hop))));
    cells.extend(figures(&entry.measured, layout));
    let louder_by = entry.louder_by.map(|by| Db(by.0));
    cells.extend(counts(&entry.measured, [louder_by, entry.wider_by]));
    cells
}

/// Its loudness is that of all blocks together, its peak the highest.
fn release_cells(release: &Release) -> Vec<Cell> {
    let mut cells = vec![Cow::Borrowed("release")];
    cells.extend([""; BEFORE_FIGURES.len() - 1].map(Cow::Borrowed));
    let keys = FigureSet::new(&Measured::default(), Layout::Stereo).entries();
    cells.extend(keys.map(|(key, _)| match key {
        "integrated_lufs" => optional(release.album_integrated.map(|v| v.0)),
        "max_true_peak_dbtp" => optional(release.max_true_peak.map(|v| v.0)),
        _ => Cow::Borrowed(""),
    }));
    cells
}
