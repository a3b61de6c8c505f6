//! Two versions of a file as JSON: every figure unrounded, the unit in every key.

use super::{VERSION, bits, coding, finite};
use crate::check::compare::{Comparison, Null, Pair, Through, seconds};
use crate::meters::spectrum::bands::NOMINAL_HZ;
use crate::record::hop_seconds;
use serde_json::{Map, Value, json};

/// The comparison as JSON, with a line break at its end. `null` is not measured, or silence.
#[must_use]
pub fn compared_to_json(comparison: &Comparison) -> String {
    let [old, new] = &comparison.files;
    let findings = comparison.findings();
    let pairs: Vec<Value> = comparison.pairs.iter().map(pair).collect();
    let value = json!({
        "version": VERSION,
        "program": concat!("plimsoll ", env!("CARGO_PKG_VERSION")),
        "status": if findings.is_empty() { "same" } else { "differs" },
        "findings": findings.iter().map(|finding| json!({
            "kind": finding.kind,
            "in_words": finding.words,
        })).collect::<Vec<_>>(),
        "old": file(&comparison.paths[0].to_string_lossy(), old),
        "new": file(&comparison.paths[1].to_string_lossy(), new),
        "alignment": alignment(comparison),
        "null": comparison.null.as_ref().zip(comparison.rate_hz).map(|(one, hz)| remainder(one, hz)),
        "song": pairs.first(),
        "sections": pairs.get(1..).unwrap_or_default(),
        "warnings": comparison.warnings,
    });
    format!("{value:#}\n")
}

fn file(path: &str, file: &Through) -> Value {
    json!({
        "path": path,
        "format": {
            "name": file.facts.format,
            "coding": coding(file.facts.coding),
            "bits": bits(file.facts.coding),
        },
        "sample_rate_hz": file.facts.rate_hz,
        "layout": file.layout,
        "length_s": file.length_s(),
        "used_bits": file.bit_depth.used_bits,
        "warnings": file.warnings,
    })
}

fn alignment(comparison: &Comparison) -> Option<Value> {
    let (alignment, rate_hz) = comparison.alignment.as_ref().zip(comparison.rate_hz)?;
    let ends = comparison.ends?;
    let [together, all] = alignment.stretches;
    Some(json!({
        "compared_rate_hz": rate_hz,
        "offset_frames": alignment.lag_frames,
        "offset_part_frame": alignment.part_frame,
        "offset_s": seconds(alignment.lag_frames, rate_hz)
            + alignment.part_frame / f64::from(rate_hz),
        "is_swapped": alignment.swapped,
        "mean_correlation": alignment.correlation,
        "stretches_together": together,
        "stretches": all,
        "edits": alignment.moved.iter().map(|moved| json!({
            "from_s": seconds(moved.frames.start, rate_hz),
            "to_s": seconds(moved.frames.end, rate_hz),
            "offset_s": seconds(moved.by_frames, rate_hz),
        })).collect::<Vec<_>>(),
        "more_at_start_s": seconds(ends.head_frames, rate_hz),
        "more_at_start_sounds": ends.head_sounds,
        "more_at_end_s": seconds(ends.tail_frames, rate_hz),
        "more_at_end_sounds": ends.tail_sounds,
    }))
}

fn remainder(left: &Null, rate_hz: u32) -> Value {
    let at = |frame: i64| seconds(frame, rate_hz);
    json!({
        "is_same_to_the_bit": left.is_same,
        "is_nothing": left.is_nothing(),
        "depth_db": finite(left.depth.0),
        "level_dbfs": finite(left.level.0),
        "limit_dbfs": finite(left.limit.0),
        "gain_db": finite(left.gain.0),
        "channel_gains_db": left.channel_gains.as_ref().map(|gains| {
            gains.iter().map(|gain| finite(gain.0)).collect::<Vec<_>>()
        }),
        "turned_over_channels": left.turned_over,
        "lost_channels": left.gone,
        "different_places": left.stretches.iter().map(|stretch| json!({
            "from_s": at(stretch.frames.start),
            "to_s": at(stretch.frames.end),
            "depth_db": finite(stretch.depth.0),
            "level_alone_by_db": stretch.level_by.and_then(|by| finite(by.0)),
        })).collect::<Vec<_>>(),
        "loudest_places": left.loudest.iter().map(|place| json!({
            "at_s": at(place.frame),
            "level_dbfs": finite(place.level.0),
        })).collect::<Vec<_>>(),
    })
}

fn pair(pair: &Pair) -> Value {
    let [old, new] = pair.peaks_at_the_ceiling;
    let figures = pair.rows().into_iter().map(|row| {
        let value = json!({
            "old": row.old.and_then(finite),
            "new": row.new.and_then(finite),
            "change": row.by(),
        });
        (row.key.to_owned(), value)
    });
    let mut value: Map<String, Value> = figures.collect();
    let more = json!({
        "name": pair.name,
        "start_s": hop_seconds(pair.range.start),
        "end_s": hop_seconds(pair.range.end),
        "hops_at_the_ceiling": { "old": old, "new": new },
        "midband_hz": NOMINAL_HZ,
        "band_changes_at_equal_loudness_db": pair.bands_by.map(|by| by.map(|by| by.0)),
    });
    if let Value::Object(more) = more {
        value.extend(more);
    }
    Value::Object(value)
}
