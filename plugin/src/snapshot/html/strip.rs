//! The song strip as inline SVG: a tide chart. Short-term loudness is the water's surface, with
//! the momentary loudness as the ripple on it; each section's integrated loudness is a step; the
//! load line lies across with its tolerance; soundings are the peaks that matter.
//!
//! Drawn twice, for a wide and for a narrow screen: text keeps its size, and the style sheet shows
//! one of the two.

mod axes;
mod labels;
mod marks;
mod plot;
mod soundings;
mod water;

use super::super::Snapshot;
use super::super::reason::FigureSet;
use super::super::text::{one_line, shown};
use super::append;
use super::escape::esc;
use crate::units::{Lu, one_decimal, song_time};
use labels::Labels;
use plot::{Form, Plot, samples};
use std::fmt::Write;

pub(super) fn put(out: &mut String, snapshot: &Snapshot, id: &str) {
    out.push_str("<figure class=\"strip\">\n");
    if snapshot.extent.is_some() {
        for form in [&Form::WIDE, &Form::NARROW] {
            draw(out, snapshot, form, id);
        }
    }
    append!(out, "<figcaption>{}</figcaption>\n</figure>\n", esc(&caption(snapshot)));
}

fn draw(out: &mut String, snapshot: &Snapshot, form: &'static Form, id: &str) {
    let plot = Plot::new(form, snapshot);
    let name = form.name;
    append!(
        out,
        "<svg class=\"{name}\" viewBox=\"0 0 {} {}\" role=\"img\" \
         aria-labelledby=\"{id}strip-{name}-title {id}strip-{name}-desc\">\n\
         <title id=\"{id}strip-{name}-title\">Song strip: loudness over song time</title>\n\
         <desc id=\"{id}strip-{name}-desc\">{}</desc>\n",
        form.width_px,
        form.height_px,
        esc(&described(snapshot)),
    );
    let samples = samples(&snapshot.series, form.columns());
    axes::put_grid(out, &plot);
    marks::put_band(out, &plot, snapshot);
    water::put(out, &plot, &samples);
    marks::put_hatch(out, &plot, snapshot, &samples, id);
    marks::put_load_line(out, &plot, snapshot);
    let mut labels = Labels::default();
    marks::put_plateaus(out, &plot, snapshot, &samples, &mut labels);
    marks::put_over(out, &plot, snapshot, &samples, &mut labels);
    marks::put_target(out, &plot, snapshot, &mut labels);
    axes::put(out, &plot, snapshot);
    soundings::put(out, &plot, snapshot);
    marks::put_margin(out, &plot, snapshot);
    out.push_str("</svg>\n");
}

/// What the signs of the strip are, and its two levels.
fn caption(snapshot: &Snapshot) -> String {
    if snapshot.extent.is_none() {
        return "Nothing was measured: there is no strip to draw.".to_owned();
    }
    let mut text = String::new();
    if let Some(levels) = levels(snapshot) {
        text.push_str(&levels);
        text.push(' ');
    }
    text.push_str("Water: short-term loudness (3 s), with the momentary (400 ms) as its ripple.");
    if snapshot.sections.is_empty() {
        text.push_str(" Thick line: integrated loudness.");
    } else {
        text.push_str(" Thick steps: integrated loudness of each section.");
    }
    if soundings::any(snapshot) {
        text.push_str(" Figures on top: true peaks, dBTP.");
    }
    if snapshot.series.points.iter().any(|point| point.true_peak.is_none()) {
        text.push_str(" Blank between dotted shores: not measured.");
    }
    if plot::any_older(&snapshot.series) {
        text.push_str(" Paler: from an earlier playthrough.");
    }
    text
}

/// The load line and the integrated loudness, in words.
fn levels(snapshot: &Snapshot) -> Option<String> {
    let chosen = snapshot.chosen_target()?;
    let goal = chosen.target.integrated?;
    let set = FigureSet::new(&snapshot.whole, snapshot.about.layout);
    let below = match goal.below {
        Some(below) if below == goal.above => format!("±{}", one_decimal(below.0)),
        Some(below) => format!("+{} −{}", one_decimal(goal.above.0), one_decimal(below.0)),
        None => format!("+{}", one_decimal(goal.above.0)),
    };
    let distance =
        chosen.distance.in_words().map_or_else(String::new, |words| format!(", {words}"));
    Some(format!(
        "Load line: {} {below} {}. Integrated: {} LUFS{distance}.",
        goal.loudness,
        Lu::UNIT,
        shown(set.integrated_lufs)
    ))
}

/// The strip for those who cannot see it.
fn described(snapshot: &Snapshot) -> String {
    let extent = snapshot.extent.clone().unwrap_or_default();
    let mut text = format!(
        "Short-term loudness from {} to {}.",
        song_time(crate::record::hop_seconds(extent.start), false),
        song_time(crate::record::hop_seconds(extent.end), false),
    );
    if let Some(levels) = levels(snapshot) {
        append!(text, " {levels}");
    }
    for section in &snapshot.sections {
        let set = FigureSet::new(&section.entry.measured, snapshot.about.layout);
        append!(
            text,
            " {} from {}: {} LUFS.",
            one_line(&section.section.name),
            song_time(section.section.start_s, false),
            shown(set.integrated_lufs)
        );
    }
    text
}
