//! The load line, what lies over it, the steps of the sections, and the margin that measures the
//! gap.

use super::super::super::Snapshot;
use super::append;
use super::labels::{FIGURE_PX, Labels, SMALL_PX, width_px};
use super::plot::{Plot, Sample};
use super::water::{area, lines};
use crate::target::{IntegratedGoal, Standing};
use crate::units::{Lu, Lufs, one_decimal};
use std::fmt::Write;

/// From here on the gap has room for a dimension line with arrows.
const DIMENSION_FROM_PX: f64 = 8.0;
/// Height of a note of two lines in the margin.
const NOTE_PX: f64 = 33.0;

fn goal(snapshot: &Snapshot) -> Option<IntegratedGoal> {
    snapshot.chosen_target()?.target.integrated
}

fn integrated(snapshot: &Snapshot) -> Option<f64> {
    Some(snapshot.whole.figures.integrated?.0).filter(|lufs| lufs.is_finite())
}

fn is_too_loud(snapshot: &Snapshot) -> bool {
    let standing = snapshot.chosen_target().map(|chosen| chosen.distance.standing);
    matches!(standing, Some(Standing::TooLoud { .. }))
}

/// The tolerance of the target, as a pale band.
pub(super) fn put_band(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    let Some(goal) = goal(snapshot) else { return };
    let top = plot.y(goal.loudness.0 + goal.above.0);
    let bottom = plot.y(goal.loudness.0 - goal.below.map_or(0.0, |below| below.0));
    append!(
        out,
        "<rect class=\"band\" x=\"{:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\n",
        plot.left_px,
        plot.right_px - plot.left_px,
        bottom - top
    );
}

/// One fine line across.
pub(super) fn put_load_line(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    let Some(goal) = goal(snapshot).filter(|goal| plot.shows(goal.loudness.0)) else { return };
    let reach = if plot.form.has_margin { 8.0 } else { 0.0 };
    let y = plot.y(goal.loudness.0);
    append!(
        out,
        "<line class=\"loadline\" x1=\"{:.1}\" y1=\"{y:.1}\" x2=\"{:.1}\" y2=\"{y:.1}\"/>\n",
        plot.left_px - 4.0,
        plot.right_px + reach
    );
}

/// What the load line asks for, where there is no margin to say it in.
pub(super) fn put_target(out: &mut String, plot: &Plot, snapshot: &Snapshot, labels: &mut Labels) {
    let goal = goal(snapshot).filter(|goal| plot.shows(goal.loudness.0));
    let Some(goal) = goal.filter(|_| !plot.form.has_margin) else { return };
    let text = format!("target {}", one_decimal(goal.loudness.0));
    let (y, width) = (plot.y(goal.loudness.0), width_px(&text, SMALL_PX) + 6.0);
    let columns = ((plot.right_px - plot.left_px) / width).floor();
    let mut places = Vec::new();
    let mut column = 0.0;
    while column < columns {
        let x = plot.left_px + (column + 0.5) * width;
        places.extend([(x, y - 5.0), (x, y + FIGURE_PX + 1.0)]);
        column += 1.0;
    }
    places.retain(|&(_, y)| y > plot.top_px + FIGURE_PX && y < plot.bottom_px);
    if let Some((x, y)) = labels.place(&places, width) {
        append!(out, "<text class=\"small halo middle\" x=\"{x:.1}\" y=\"{y:.1}\">{text}</text>\n");
    }
}

/// The line that water must not rise over, and whether it is a limit of the target that does not
/// hold; else loud parts are levelled by quiet ones.
fn over_line(snapshot: &Snapshot) -> Option<(f64, bool)> {
    let chosen = snapshot.chosen_target()?;
    let goal = chosen.target.integrated?;
    let above = goal.loudness.0 + goal.above.0;
    match (chosen.distance.standing, chosen.target.max_short_term) {
        (Standing::ShortTermOver { .. }, Some(limit)) => Some((limit.0, true)),
        (Standing::TooLoud { .. }, _) => Some((above, true)),
        _ => Some((above, false)),
    }
}

/// Hatched where the water stands over the line.
pub(super) fn put_hatch(
    out: &mut String,
    plot: &Plot,
    snapshot: &Snapshot,
    samples: &[Sample],
    id: &str,
) {
    let Some((line_lufs, is_signal)) = over_line(snapshot) else { return };
    let is_over = |sample: &Sample| sample.short_term.is_some_and(|lufs| lufs > line_lufs);
    if !samples.iter().any(is_over) || !plot.shows(line_lufs) {
        return;
    }
    let (name, class) = (plot.form.name, if is_signal { " signal" } else { "" });
    let data = area(plot, &lines(plot, None, samples, |sample| sample.short_term));
    append!(
        out,
        "<defs><pattern id=\"{id}hatch-{name}\" width=\"6\" height=\"6\" \
         patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
         <line class=\"hatch{class}\" x1=\"3\" y1=\"0\" x2=\"3\" y2=\"6\"/></pattern>\
         <clipPath id=\"{id}water-{name}\"><path d=\"{data}\"/></clipPath></defs>\n\
         <rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" \
         fill=\"url(#{id}hatch-{name})\" clip-path=\"url(#{id}water-{name})\"/>\n",
        plot.left_px,
        plot.top_px,
        plot.right_px - plot.left_px,
        plot.y(line_lufs) - plot.top_px,
    );
}

/// The word in the hatch, where a limit does not hold.
pub(super) fn put_over(
    out: &mut String,
    plot: &Plot,
    snapshot: &Snapshot,
    samples: &[Sample],
    labels: &mut Labels,
) {
    let Some((line_lufs, true)) = over_line(snapshot) else { return };
    let width = width_px("over", FIGURE_PX) + 8.0;
    let line_y = plot.y(line_lufs);
    let is_over = |sample: &Sample| sample.short_term.is_some_and(|lufs| lufs > line_lufs);
    // Left, right and top of each hatch, the highest first.
    let mut hatches: Vec<(f64, f64, f64)> = samples
        .chunk_by(|a, b| is_over(a) == is_over(b))
        .filter_map(|run| {
            let (first, last) = (run.first().filter(|sample| is_over(sample))?, run.last()?);
            let loudest = run.iter().filter_map(|sample| sample.short_term).reduce(f64::max)?;
            Some((plot.x(first.end_hop), plot.x(last.end_hop), plot.y(loudest)))
        })
        .collect();
    hatches.sort_by(|a, b| a.2.total_cmp(&b.2));
    // In the middle of a hatch that has room for the word, else over the highest.
    let middle = |left: f64, right: f64| {
        ((left + right) / 2.0).clamp(plot.left_px + width / 2.0, plot.right_px - width / 2.0)
    };
    let roomy = hatches
        .iter()
        .filter(|(left, right, top)| right - left > width && line_y - top > FIGURE_PX * 1.6);
    let mut places: Vec<(f64, f64)> = roomy
        .map(|&(left, right, top)| (middle(left, right), (line_y + top) / 2.0 + FIGURE_PX * 0.35))
        .collect();
    places.extend(hatches.first().map(|&(left, right, top)| {
        (middle(left, right), (top - 6.0).max(plot.top_px + FIGURE_PX))
    }));
    let Some((x, y)) = labels.place(&places, width).or(places.last().copied()) else { return };
    append!(
        out,
        "<text class=\"figure signal halo middle\" x=\"{x:.1}\" y=\"{y:.1}\">over</text>\n"
    );
}

/// The integrated loudness of each section as a step with its figure; without sections that of
/// the song.
pub(super) fn put_plateaus(
    out: &mut String,
    plot: &Plot,
    snapshot: &Snapshot,
    samples: &[Sample],
    labels: &mut Labels,
) {
    if snapshot.sections.is_empty() {
        put_whole(out, plot, snapshot, samples);
        return;
    }
    let mut before: Option<(i32, f64)> = None;
    let mut figures = Vec::new();
    for section in &snapshot.sections {
        let range = &section.entry.range;
        let level = section.entry.measured.figures.integrated.filter(|lufs| lufs.0.is_finite());
        let Some(Lufs(lufs)) = level else {
            before = None;
            continue;
        };
        let (left, right, y) = (plot.x(range.start), plot.x(range.end), plot.y(lufs));
        if let Some((_, before_y)) = before.filter(|&(end, _)| end == range.start) {
            append!(out, "<path class=\"step\" d=\"M{left:.1} {before_y:.1}V{y:.1}\"/>");
        }
        append!(out, "<path class=\"plateau\" d=\"M{left:.1} {y:.1}H{right:.1}\"/>\n");
        before = Some((range.end, y));
        figures.push(((left, right), y, one_decimal(lufs)));
    }
    for ((left, right), y, text) in figures {
        let width = width_px(&text, FIGURE_PX);
        let middle = ((left + right) / 2.0).clamp(plot.left_px + width / 2.0, plot.form.width_px);
        let fits = width <= (right - left) + 8.0;
        let places = [(middle, y - 6.0), (middle, y + FIGURE_PX + 3.0)];
        if let Some((x, y)) = fits.then(|| labels.place(&places, width)).flatten() {
            append!(
                out,
                "<text class=\"figure halo middle\" x=\"{x:.1}\" y=\"{y:.1}\">{text}</text>\n"
            );
        }
    }
}

fn put_whole(out: &mut String, plot: &Plot, snapshot: &Snapshot, samples: &[Sample]) {
    let Some(lufs) = integrated(snapshot) else { return };
    let y = plot.y(lufs);
    for run in samples.chunk_by(|a, b| a.is_measured == b.is_measured) {
        if let (Some(first), Some(last)) = (run.first().filter(|s| s.is_measured), run.last()) {
            let (left, right) = (plot.x(first.start_hop), plot.x(last.end_hop));
            append!(out, "<path class=\"plateau\" d=\"M{left:.1} {y:.1}H{right:.1}\"/>\n");
        }
    }
}

/// What the load line and the integrated loudness are, and the gap between them, measured.
pub(super) fn put_margin(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    if !plot.form.has_margin {
        return;
    }
    let x = plot.right_px + 10.0;
    let mut notes: Vec<(f64, String, String, bool)> = Vec::new();
    if let Some(goal) = goal(snapshot) {
        notes.push((plot.y(goal.loudness.0), goal.loudness.to_string(), tolerance(&goal), false));
    }
    if let Some(lufs) = integrated(snapshot) {
        let y = plot.y(lufs);
        let word = if plot.shows(lufs) { "integrated" } else { "integrated, off scale" };
        notes.push((y, Lufs(lufs).to_string(), word.to_owned(), false));
        append!(
            out,
            "<line class=\"step\" x1=\"{:.1}\" y1=\"{y:.1}\" x2=\"{:.1}\" y2=\"{y:.1}\"/>\n",
            plot.right_px - 10.0,
            x + 5.0
        );
        if let Some(goal) = goal(snapshot) {
            let (target_y, lu) = (plot.y(goal.loudness.0), lufs - goal.loudness.0);
            put_dimension(out, x, target_y, y, is_too_loud(snapshot));
            let figure = one_decimal(lu.abs());
            if figure != "0.0" {
                let word = if lu > 0.0 { "above target" } else { "below target" };
                let at = (target_y + y) / 2.0;
                let text = format!("{figure} {}", Lu::UNIT);
                notes.push((at, text, word.to_owned(), is_too_loud(snapshot)));
            }
        }
    }
    notes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wanted: Vec<f64> = notes.iter().map(|note| note.0).collect();
    let places = spread(&wanted, plot.top_px + 2.0, plot.bottom_px + 16.0);
    for ((_, figure, word, is_signal), y) in notes.iter().zip(places) {
        let class = if *is_signal { " signal" } else { "" };
        append!(
            out,
            "<text class=\"figure{class}\" x=\"{0:.1}\" y=\"{1:.1}\">{figure}</text>\
             <text class=\"small{class}\" x=\"{0:.1}\" y=\"{2:.1}\">{word}</text>\n",
            x + 10.0,
            y + 4.5,
            y + 19.0,
        );
    }
}

fn tolerance(goal: &IntegratedGoal) -> String {
    let above = one_decimal(goal.above.0);
    match goal.below.map(|below| one_decimal(below.0)) {
        Some(below) if below == above => format!("target ±{above} LU"),
        Some(below) => format!("+{above} −{below} LU"),
        None => format!("target +{above} LU"),
    }
}

/// Moves notes apart so that each has [`NOTE_PX`], from `top` to `bottom`, each as little as it
/// can; keeps their order.
fn spread(wanted: &[f64], top: f64, bottom: f64) -> Vec<f64> {
    // Groups that touch: how many notes, and the place of the first that suits all of them best.
    let mut groups: Vec<(f64, f64)> = Vec::new();
    for &place in wanted {
        let (mut count, mut first) = (1.0, place);
        while let Some(&(before_count, before_first)) = groups.last() {
            if before_first + before_count * NOTE_PX <= first {
                break;
            }
            groups.pop();
            let mine = first - before_count * NOTE_PX;
            first = (before_first * before_count + mine * count) / (before_count + count);
            count += before_count;
        }
        groups.push((count, first));
    }
    let mut places = Vec::new();
    for (count, first) in groups {
        let mut index = 0.0;
        while index < count {
            places.push(index.mul_add(NOTE_PX, first));
            index += 1.0;
        }
    }
    let mut edge = top;
    for place in &mut places {
        *place = place.max(edge);
        edge = *place + NOTE_PX;
    }
    let mut edge = bottom;
    for place in places.iter_mut().rev() {
        edge -= NOTE_PX;
        *place = place.min(edge);
        edge = *place;
    }
    places
}

/// Arrows from the load line to the integrated loudness, as on a drawing.
fn put_dimension(out: &mut String, x: f64, target_y: f64, level_y: f64, is_too_loud: bool) {
    let gap = (level_y - target_y).abs();
    if gap < DIMENSION_FROM_PX {
        return;
    }
    let (top, bottom) = (target_y.min(level_y), target_y.max(level_y));
    let class = if is_too_loud { " class=\"too-loud\"" } else { "" };
    let (half, height) = (2.8, 6.5_f64.min(gap / 2.0));
    append!(out, "<g{class}><path class=\"dimension\" d=\"M{x:.1} {top:.1}V{bottom:.1}\"/>");
    for (tip, base) in [(top, top + height), (bottom, bottom - height)] {
        append!(
            out,
            "<polygon class=\"tip\" points=\"{x:.1},{tip:.1} {:.1},{base:.1} {:.1},{base:.1}\"/>",
            x + half,
            x - half
        );
    }
    out.push_str("</g>\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_move_apart_as_little_as_they_can_and_keep_their_order() {
        assert_eq!(spread(&[100.0, 200.0], 0.0, 400.0), [100.0, 200.0]);
        // Three at one place: one stays, the others make room on both sides.
        assert_eq!(spread(&[100.0; 3], 0.0, 400.0), [67.0, 100.0, 133.0]);
        assert_eq!(spread(&[10.0; 3], 5.0, 400.0), [5.0, 38.0, 71.0]);
        assert_eq!(spread(&[390.0; 2], 0.0, 400.0), [334.0, 367.0]);
    }
}
