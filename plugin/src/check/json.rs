//! The report as JSON: every figure unrounded, the unit in every key. `null` is not measured,
//! silence, or no such limit. The figures of the plugin and of the demo have the same keys here.

use super::after_encode::AfterEncode;
use super::delivery::{BitDepth, Delivery, Dither, Twins};
use super::{CheckReport, Release, SecondReading, Status, TargetVerdict, Track, TrackOutcome};
use crate::meters::spectrum::bands::NOMINAL_HZ;
use crate::section::{LogEntry, Measured};
use crate::state::SavedFigures;
use crate::target::Verdict;
use plimsoll_reader::Coding;
use serde_json::{Map, Value, json};

/// Version of the layout.
const VERSION: u32 = 1;

/// The report as JSON, with a line break at its end.
#[must_use]
pub fn to_json(report: &CheckReport) -> String {
    let value = json!({
        "version": VERSION,
        "program": concat!("plimsoll ", env!("CARGO_PKG_VERSION")),
        "status": status(report.status()),
        "files": report.tracks.iter().map(outcome).collect::<Vec<_>>(),
        "release": report.release.as_ref().map(|release| self::release(release, report)),
    });
    format!("{value:#}\n")
}

pub(super) const fn status(status: Status) -> &'static str {
    match status {
        Status::Within => "within",
        Status::NotWithin => "not within",
        Status::NotMeasured => "not measured",
    }
}

pub(super) const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within",
        Verdict::NotWithin => "not within",
        Verdict::NotYet => "not measured",
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn outcome(track: &TrackOutcome) -> Value {
    let mut value = Map::new();
    value.insert(
        "song".to_owned(),
        json!(track.path.file_name().map(|name| name.to_string_lossy())),
    );
    value.insert("path".to_owned(), json!(track.path.to_string_lossy()));
    match &track.outcome {
        Ok(track) => {
            value.insert("status".to_owned(), json!(status(track.status())));
            value.insert("error".to_owned(), Value::Null);
            value.extend(measured(track));
        }
        Err(error) => {
            value.insert("status".to_owned(), json!(status(Status::NotMeasured)));
            value.insert("error".to_owned(), json!(error.to_string()));
        }
    }
    Value::Object(value)
}

fn measured(track: &Track) -> Map<String, Value> {
    let measured = &track.measured;
    let figures = &measured.figures;
    let saved = SavedFigures::new(figures, track.rate.hz(), track.layout.channel_count());
    // The saved figures are the plugin's own words, keys and all.
    let Ok(Value::Object(mut value)) = serde_json::to_value(saved) else {
        return Map::new();
    };
    let more = json!({
        "length_s": track.length_s,
        "coverage": figures.coverage.share(),
        "layout": track.layout,
        "loudness_range_stable": measured.loudness_range_stable,
        "peak_to_loudness_lu": measured.plr().and_then(|v| finite(v.0)),
        "min_peak_to_short_term_lu": measured.min_psr.and_then(|v| finite(v.0)),
        "correlation": measured.correlation,
        "lowest_correlation": measured.lowest_correlation,
        "side_to_mid_db": measured.side_to_mid.and_then(|v| finite(v.0)),
        "tone": tone(measured),
        "format": {
            "name": track.file.format,
            "coding": coding(track.file.coding),
            "bits": bits(track.file.coding),
        },
        "targets": track.verdicts.iter().map(verdict).collect::<Vec<_>>(),
        "second_reading": track.second.as_ref().map(second),
        "sections": track.sections.iter().map(section).collect::<Vec<_>>(),
        "delivery": delivery(&track.delivery),
        "after_encode": track.after_encode.iter().map(after_encode).collect::<Vec<_>>(),
        "inter_sample_overs": {
            "hops_over_0_dbtp": track.over_hops,
            "places": track.overs.iter().map(|over| json!({
                "at_s": over.at_s(),
                "true_peak_dbtp": over.peak,
            })).collect::<Vec<_>>(),
        },
        "warnings": track.warnings,
    });
    if let Value::Object(more) = more {
        value.extend(more);
    }
    value
}

const fn coding(coding: Coding) -> &'static str {
    match coding {
        Coding::Integer { .. } => "integer",
        Coding::Float { .. } => "float",
        Coding::Lossy => "lossy",
    }
}

const fn bits(coding: Coding) -> Option<u32> {
    match coding {
        Coding::Integer { bits } | Coding::Float { bits } => Some(bits),
        Coding::Lossy => None,
    }
}

fn verdict(verdict: &TargetVerdict) -> Value {
    let TargetVerdict { target, distance } = verdict;
    json!({
        "name": target.name,
        "source": target.source,
        "integrated_lufs": target.integrated.map(|goal| goal.loudness),
        "tolerance_above_lu": target.integrated.map(|goal| goal.above),
        "tolerance_below_lu": target.integrated.and_then(|goal| goal.below),
        "true_peak_ceiling_dbtp": target.true_peak_ceiling,
        "max_short_term_lufs": target.max_short_term,
        "max_momentary_lufs": target.max_momentary,
        "max_loudness_range_lu": target.max_loudness_range,
        "verdict": verdict_word(distance.verdict()),
        "distance": {
            "distance_lu": distance.distance,
            "gain_to_target_db": distance.gain_to_target,
            "peak_at_target_dbtp": distance.peak_at_target.and_then(|v| finite(v.0)),
            "peak_control_db": distance.peak_control,
            "headroom_db": distance.headroom.and_then(|v| finite(v.0)),
            "playback_gain_db": distance.playback_gain,
            "in_words": distance.to_string(),
        },
    })
}

fn second(second: &SecondReading) -> Value {
    let figures = second.figures.iter().map(|figure| {
        let value = json!({
            "ours": figure.ours.and_then(finite),
            "theirs": figure.theirs.and_then(finite),
            "difference": figure.difference,
            "explained_from": figure.explained.map(|(from, _)| from),
            "explained_to": figure.explained.map(|(_, to)| to),
            "unexplained": figure.is_unexplained(),
        });
        (figure.key.to_owned(), value)
    });
    json!({
        "library": "ebur128",
        "agrees": second.unexplained().next().is_none(),
        "figures": figures.collect::<Map<_, _>>(),
    })
}

fn section(entry: &LogEntry) -> Value {
    let figures = &entry.measured.figures;
    json!({
        "name": entry.name,
        "start_s": crate::record::hop_seconds(entry.range.start),
        "end_s": crate::record::hop_seconds(entry.range.end),
        "integrated_lufs": figures.integrated.and_then(|v| finite(v.0)),
        "loudness_range_lu": figures.loudness_range.and_then(|v| finite(v.0)),
        "max_momentary_lufs": figures.max_momentary.and_then(|v| finite(v.0)),
        "max_short_term_lufs": figures.max_short_term.and_then(|v| finite(v.0)),
        "max_true_peak_dbtp": figures.max_true_peak.and_then(|v| finite(v.0)),
        "louder_by_lu": entry.louder_by,
        "wider_by_db": entry.wider_by,
        "correlation": entry.measured.correlation,
        "side_to_mid_db": entry.measured.side_to_mid.and_then(|v| finite(v.0)),
        "tone": tone(&entry.measured),
    })
}

fn after_encode(one: &AfterEncode) -> Value {
    let (found, error) = match &one.outcome {
        Ok(found) => (Some(found), None),
        Err(error) => (None, Some(error)),
    };
    let figures = found.map(|found| &found.figures);
    json!({
        "format": one.encoding.format.name(),
        "stated_bit_rate_kbps": one.encoding.kbps,
        "error": error,
        "bit_rate_kbps": found.map(|found| found.kbps),
        "sample_rate_hz": found.map(|found| found.rate_hz),
        "integrated_lufs": figures.and_then(|f| f.integrated).and_then(|v| finite(v.0)),
        "integrated_change_lu": found.and_then(|found| found.integrated_change),
        "max_true_peak_dbtp": figures.and_then(|f| f.max_true_peak).and_then(|v| finite(v.0)),
        "true_peak_change_db": found.and_then(|found| found.true_peak_change),
        "resampled_true_peak_dbtp": found
            .and_then(|found| found.resampled_true_peak)
            .and_then(|v| finite(v.0)),
        "samples_clipped_before": found.map(|found| found.clipped_samples),
        "ceilings": found.map(|found| {
            let ceilings = found.ceilings.iter().map(|ceiling| json!({
                "target": ceiling.target,
                "true_peak_ceiling_dbtp": ceiling.ceiling,
                "over_db": finite(ceiling.over.0),
                "holds": ceiling.holds(),
            }));
            ceilings.collect::<Vec<_>>()
        }),
    })
}

/// Tone and width; `None` where no second counts. Within it null is silence, or mono of a width.
fn tone(measured: &Measured) -> Option<Value> {
    let tone = measured.tone.as_deref()?;
    let [low, middle, high] = tone.side_to_mid.map(|width| width.and_then(|v| finite(v.0)));
    Some(json!({
        "subsonic_db": finite(tone.subsonic.0),
        "low_end_db": finite(tone.low_end.0),
        "presence_db": finite(tone.presence.0),
        "air_db": finite(tone.air.0),
        "slope_db_per_octave": tone.slope_db_per_octave,
        "side_to_mid_low_db": low,
        "side_to_mid_middle_db": middle,
        "side_to_mid_high_db": high,
        "fold_down_loss_lu": finite(tone.fold_down_loss.0),
        "balance_db": measured.balance.and_then(|v| finite(v.0)),
        "midband_hz": NOMINAL_HZ,
        "band_levels_db": tone.both.mean_db.map(finite),
    }))
}

fn delivery(delivery: &Delivery) -> Value {
    let BitDepth { used_bits, .. } = delivery.bit_depth;
    let clipping = &delivery.clipping;
    let edges = &delivery.edges;
    let level = |level: Option<crate::units::Dbfs>| level.and_then(|v| finite(v.0));
    json!({
        "used_bits": used_bits,
        "is_padded": delivery.bit_depth.is_padded(),
        "silent_channels": delivery.channels.silent,
        "dc_offset_dbfs": delivery.channels.dc.iter()
            .map(|(name, level)| ((*name).to_owned(), json!(finite(level.0))))
            .collect::<Map<_, _>>(),
        "left_and_right": match delivery.channels.twins {
            Twins::Differ => "differ",
            Twins::Same => "same",
            Twins::TurnedOver => "turned over",
            Twins::LikelyTurnedOver => "likely turned over",
        },
        "clipped_runs": clipping.runs,
        "longest_clipped_run_frames": clipping.longest_frames,
        "clipped_places": clipping.places.iter().map(|run| json!({
            "at_s": run.at_s,
            "channel": run.channel,
            "length_frames": run.len_frames,
        })).collect::<Vec<_>>(),
        "flat_tops": clipping.flat_tops.map_or(0, |(count, _)| count),
        "flat_tops_dbfs": level(clipping.flat_tops.map(|(_, level)| level)),
        "digital_silence_inside": delivery.silence.gap_count,
        "digital_silence_places": delivery.silence.gaps.iter().map(|gap| json!({
            "at_s": gap.at_s,
            "length_s": gap.length_s,
        })).collect::<Vec<_>>(),
        "digital_silence_head_s": delivery.silence.head_s,
        "digital_silence_tail_s": delivery.silence.tail_s,
        "noise_floor_dbfs": level(delivery.noise_floor.map(|floor| floor.level)),
        "noise_floor_s": delivery.noise_floor.map(|floor| floor.at_s),
        "below_20_hz_db": delivery.subsonic_share.and_then(|v| finite(v.0)),
        "dither": match delivery.dither {
            Dither::NotNeeded => "not needed",
            Dither::CannotTell => "cannot tell",
            Dither::Present => "present",
            Dither::Truncated => "truncated",
        },
        "head_s": edges.head_s,
        "tail_s": edges.tail_s,
        "first_sample_dbfs": level(edges.first_sample),
        "last_sample_dbfs": level(edges.last_sample),
        "end_level_dbfs": level(edges.end_level),
        "starts_with_click": edges.starts_with_click(),
        "ends_with_click": edges.ends_with_click(),
        "tail_is_cut": edges.is_cut(),
    })
}

fn release(release: &Release, report: &CheckReport) -> Value {
    let name = |place: Option<(usize, crate::units::Lufs)>| {
        place
            .and_then(|(index, _)| report.tracks.get(index))
            .map(|track| track.path.file_name().unwrap_or_default().to_string_lossy().into_owned())
    };
    json!({
        "tracks": release.tracks,
        "album_integrated_lufs": release.album_integrated.and_then(|v| finite(v.0)),
        "loudest_song": name(release.loudest),
        "loudest_integrated_lufs": release.loudest.map(|(_, loudness)| loudness),
        "quietest_song": name(release.quietest),
        "quietest_integrated_lufs": release.quietest.map(|(_, loudness)| loudness),
        "spread_lu": release.spread,
        "max_true_peak_dbtp": release.max_true_peak.and_then(|v| finite(v.0)),
        "album_gain_db": release.album_gain,
        "peak_at_album_gain_dbtp": release.peak_at_album_gain.and_then(|v| finite(v.0)),
    })
}
