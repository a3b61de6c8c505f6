//! The water, its bed, and the shores of what was measured.

use super::append;
use super::plot::{Plot, Sample};
use std::fmt::Write;

/// Thickness of the bed that runs under all measured time.
const BED_PX: f64 = 2.0;

pub(super) fn put(out: &mut String, plot: &Plot, samples: &[Sample]) {
    let mut before: Option<&Sample> = None;
    for run in samples.chunk_by(same_run) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else {
            continue;
        };
        if first.is_measured {
            // The surface of a run that goes on from another one meets it.
            let joint = before.filter(|before| before.is_measured);
            put_run(out, plot, joint, run);
        }
        before = Some(last);
    }
    put_shores(out, plot, samples);
}

fn same_run(a: &Sample, b: &Sample) -> bool {
    (a.is_measured, a.is_older) == (b.is_measured, b.is_older)
}

fn put_run(out: &mut String, plot: &Plot, joint: Option<&Sample>, run: &[Sample]) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return;
    };
    let class = if first.is_older { " class=\"older\"" } else { "" };
    append!(out, "<g{class}>");
    let momentary = lines(plot, joint, run, |sample| sample.momentary);
    let short_term = lines(plot, joint, run, |sample| sample.short_term);
    put_filled(out, plot, &momentary, "spray");
    put_filled(out, plot, &short_term, "body");
    put_lines(out, &momentary, "ripple");
    put_lines(out, &short_term, "surface");
    let (left, right) = (plot.x(first.start_hop), plot.x(last.end_hop));
    append!(
        out,
        "<rect class=\"bed\" x=\"{left:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{BED_PX}\"/></g>\n",
        plot.bottom_px - BED_PX,
        right - left
    );
}

/// A line of points, left to right.
pub(super) type Line = Vec<(f64, f64)>;

/// The lines of a level over a run: one for each stretch that has it.
pub(super) fn lines(
    plot: &Plot,
    joint: Option<&Sample>,
    run: &[Sample],
    level: impl Fn(&Sample) -> Option<f64>,
) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut is_open = false;
    for sample in joint.into_iter().chain(run) {
        let Some(lufs) = level(sample) else {
            is_open = false;
            continue;
        };
        let point = (plot.x(sample.end_hop), plot.y(lufs));
        match lines.last_mut() {
            Some(line) if is_open => line.push(point),
            _ => lines.push(vec![point]),
        }
        is_open = true;
    }
    lines
}

/// The area between lines and the bottom of the plot, as the data of a path.
pub(super) fn area(plot: &Plot, lines: &[Line]) -> String {
    let mut data = String::new();
    for line in lines {
        let (Some(first), Some(last)) = (line.first(), line.last()) else {
            continue;
        };
        append!(data, "M{:.1} {:.1}", first.0, plot.bottom_px);
        for (x, y) in line {
            append!(data, "L{x:.1} {y:.1}");
        }
        append!(data, "V{:.1}", plot.bottom_px);
        append!(data, "H{:.1}Z", last.0.min(first.0));
    }
    data
}

fn put_filled(out: &mut String, plot: &Plot, lines: &[Line], class: &str) {
    if !lines.is_empty() {
        append!(out, "<path class=\"{class}\" d=\"{}\"/>", area(plot, lines));
    }
}

fn put_lines(out: &mut String, lines: &[Line], class: &str) {
    let mut data = String::new();
    for line in lines {
        for (index, (x, y)) in line.iter().enumerate() {
            append!(data, "{}{x:.1} {y:.1}", if index == 0 { 'M' } else { 'L' });
        }
    }
    if !data.is_empty() {
        append!(out, "<path class=\"{class}\" d=\"{data}\"/>");
    }
}

/// Dotted, on both sides of all that was not measured.
fn put_shores(out: &mut String, plot: &Plot, samples: &[Sample]) {
    let mut shore = |hop: i32| {
        let x = plot.x(hop);
        append!(
            out,
            "<line class=\"shore\" x1=\"{x:.1}\" y1=\"{:.1}\" x2=\"{x:.1}\" y2=\"{:.1}\"/>\n",
            plot.top_px,
            plot.bottom_px
        );
    };
    let mut was_measured = false;
    for (index, sample) in samples.iter().enumerate() {
        let at_start = index == 0 && sample.start_hop <= plot.hops.start;
        if sample.is_measured != was_measured && !at_start {
            shore(sample.start_hop);
        }
        was_measured = sample.is_measured;
    }
    if let Some(last) = samples.last().filter(|last| last.is_measured)
        && last.end_hop < plot.hops.end
    {
        shore(last.end_hop);
    }
}
