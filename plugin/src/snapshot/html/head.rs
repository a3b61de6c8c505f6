//! What the reader sees first: what was measured, the verdict, the figures.

use super::super::reason::FigureSet;
use super::super::text::{one_line, shown, shown_signed, verdict};
use super::super::{Snapshot, Source, TargetResult};
use super::append;
use super::escape::esc;
use crate::target::{Distance, Verdict};
use crate::units::song_time;
use std::fmt::Write;

/// What was measured, and when.
pub(crate) fn put_header(out: &mut String, snapshot: &Snapshot) {
    let title = snapshot.title();
    let what = match snapshot.about.source {
        Source::File => "check of a file",
        Source::Song | Source::Live => "loudness snapshot",
    };
    append!(
        out,
        "<header>\n<p class=\"mark\"><b>Plimsoll</b> {what}</p>\n\
         <h1><bdi>{}</bdi></h1>\n<p class=\"facts\">{} · {} · {}",
        esc(&title),
        snapshot.about.taken.in_words(),
        esc(&snapshot.measured_time()),
        esc(&snapshot.format()),
    );
    let track = snapshot.about.track.as_deref().map(one_line).unwrap_or_default();
    if !track.is_empty() && track != title {
        append!(out, " · track <bdi>{}</bdi>", esc(&track));
    }
    let whole = &snapshot.whole.figures;
    for (count, what) in [
        (whole.clipped_samples, "at or beyond full scale"),
        (whole.scrubbed_samples, "that were no numbers"),
    ] {
        if count > 0 {
            let samples = if count == 1 { "sample" } else { "samples" };
            append!(out, " · <span class=\"over\">{count} {samples} {what}</span>");
        }
    }
    out.push_str("</p>\n</header>\n");
}

pub(super) fn put_verdict(out: &mut String, snapshot: &Snapshot, figures: &FigureSet, id: &str) {
    match snapshot.chosen_target() {
        Some(chosen) => put_target(out, chosen, id),
        None => append!(
            out,
            "<section class=\"verdict none\" aria-labelledby=\"{id}verdict\">\n\
             <h2 id=\"{id}verdict\">No target chosen</h2>\n\
             <p class=\"sentence\">The figures stand for themselves.</p>\n</section>\n",
        ),
    }
    let peak_at = figures
        .max_true_peak_s
        .map_or_else(|_| String::new(), |at_s| format!("at {}", song_time(at_s, true)));
    let stable = match figures.loudness_range_lu {
        Ok(_) if !snapshot.whole.loudness_range_stable => "under 60 s: not stable",
        _ => "",
    };
    out.push_str("<dl class=\"figures\">\n");
    let mut figure = |name: &str, value: String, unit: &str, note: &str| {
        append!(out, "<div><dt>{name}</dt><dd><b>{value}</b> {unit}");
        if !note.is_empty() {
            append!(out, " <span class=\"note\">{note}</span>");
        }
        out.push_str("</dd></div>\n");
    };
    figure("Integrated", shown(figures.integrated_lufs), "LUFS", "");
    figure("True peak, highest", shown_signed(figures.max_true_peak_dbtp), "dBTP", &peak_at);
    figure("Loudness range", shown(figures.loudness_range_lu), "LU", stable);
    figure("Short-term, highest", shown(figures.max_short_term_lufs), "LUFS", "");
    figure("Momentary, highest", shown(figures.max_momentary_lufs), "LUFS", "");
    figure("Peak to loudness", shown(figures.plr_lu), "LU", "");
    out.push_str("</dl>\n");
}

fn put_target(out: &mut String, TargetResult { target, distance }: &TargetResult, id: &str) {
    let class = match distance.verdict() {
        Verdict::Within => "within",
        Verdict::NotWithin => "not",
        Verdict::NotYet => "none",
    };
    append!(
        out,
        "<section class=\"verdict {class}\" aria-labelledby=\"{id}verdict\">\n\
         <h2 id=\"{id}verdict\">{}</h2>\n<p class=\"sentence\">{}</p>\n\
         <p class=\"target\">Target: <b><bdi>{}</bdi></b>, {}. \
         <span class=\"note\">Source: <bdi>{}</bdi></span></p>\n</section>\n",
        verdict(distance.verdict()),
        esc(&sentence(distance)),
        esc(&one_line(&target.name)),
        esc(&target.summary()),
        esc(one_line(&target.source).trim_end_matches('.')),
    );
}

/// The distance in words, without the verdict that stands above it.
fn sentence(distance: &Distance) -> String {
    let words = distance.to_string();
    match words.strip_prefix("Within target, ") {
        Some(rest) => {
            let mut letters = rest.chars();
            letters
                .next()
                .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
        }
        None => words.strip_prefix("Within target. ").map_or(words.clone(), str::to_owned),
    }
}

/// Who wrote it, when, and of which record.
pub(crate) fn put_foot(out: &mut String, snapshot: &Snapshot) {
    let about = &snapshot.about;
    append!(out, "<footer><p>Plimsoll {} · {}", esc(about.plugin_version), about.taken);
    if let Some(hash) = about.fingerprint {
        append!(out, " · record {hash:016x}");
    }
    out.push_str("</p></footer>\n");
}
