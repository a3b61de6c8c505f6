//! The water: short-term loudness as its surface, momentary as the ripple on it, and the shores
//! of what was measured.

use super::super::Look;
use super::geometry::Plot;
use super::samples::{Run, Sample};
use egui::epaint::{Mesh, Vertex, WHITE_UV};
use egui::{Color32, Painter, Pos2, Shape, Stroke, pos2};

/// How strongly water is laid over paper under the short-term surface: newest, older.
pub(in crate::editor) const BODY_SHARE: [f32; 2] = [0.34, 0.15];
/// Likewise under the momentary ripple.
const SPRAY_SHARE: [f32; 2] = [0.15, 0.07];
/// Likewise for the line of the ripple.
const RIPPLE_SHARE: [f32; 2] = [0.56, 0.3];
/// Likewise for the line of the surface.
const SURFACE_SHARE: [f32; 2] = [1.0, 0.78];

/// Width of the surface line.
const SURFACE_PT: f32 = 1.6;
/// Width of the ripple.
const RIPPLE_PT: f32 = 0.9;
/// Thickness of the bed that runs under all measured time.
const BED_PT: f32 = 2.0;

pub(super) fn paint(painter: &Painter, look: &Look, plot: &Plot, runs: &[Run]) {
    let water = look.palette.water;
    let of_age = |[new, older]: [f32; 2], run: &Run| {
        look.palette.over_paper(water, if run.is_older { older } else { new })
    };
    for run in runs {
        fill(painter, plot, run, |sample| sample.momentary, of_age(SPRAY_SHARE, run));
        fill(painter, plot, run, |sample| sample.short_term, of_age(BODY_SHARE, run));
    }
    for run in runs {
        let ripple = Stroke::new(RIPPLE_PT, of_age(RIPPLE_SHARE, run));
        line(painter, plot, run, |sample| sample.momentary, ripple);
        let surface = Stroke::new(SURFACE_PT, of_age(SURFACE_SHARE, run));
        line(painter, plot, run, |sample| sample.short_term, surface);
        let bed = egui::Rect::from_min_max(
            pos2(run.start_x, plot.rect.bottom() - BED_PT),
            pos2(run.end_x, plot.rect.bottom()),
        );
        painter.rect_filled(bed, 0.0, of_age(SURFACE_SHARE, run));
    }
}

/// Fills from the bottom of the plot to `level`, as one mesh.
fn fill(
    painter: &Painter,
    plot: &Plot,
    run: &Run,
    level: impl Fn(&Sample) -> Option<f64>,
    color: Color32,
) {
    let mut mesh = Mesh::default();
    let bottom = plot.rect.bottom();
    let mut before: Option<(f32, u32)> = None;
    for sample in &run.samples {
        let Some(lufs) = level(sample) else {
            before = None;
            continue;
        };
        let y = plot.y_inside(lufs);
        let Ok(at) = u32::try_from(mesh.vertices.len()) else { return };
        for y in [y, bottom] {
            mesh.vertices.push(Vertex { pos: pos2(sample.x, y), uv: WHITE_UV, color });
        }
        if let Some((_, last)) = before {
            mesh.add_triangle(last, last + 1, at);
            mesh.add_triangle(last + 1, at, at + 1);
        }
        before = Some((sample.x, at));
    }
    painter.add(Shape::mesh(mesh));
}

/// A line along `level`, broken where it is not measured.
fn line(
    painter: &Painter,
    plot: &Plot,
    run: &Run,
    level: impl Fn(&Sample) -> Option<f64>,
    stroke: Stroke,
) {
    let mut points: Vec<Pos2> = Vec::new();
    for sample in &run.samples {
        match level(sample) {
            Some(lufs) => points.push(pos2(
                sample.x,
                plot.y(lufs).clamp(plot.rect.top() - 4.0, plot.rect.bottom() + 4.0),
            )),
            None => flush(painter, &mut points, stroke),
        }
    }
    flush(painter, &mut points, stroke);
}

fn flush(painter: &Painter, points: &mut Vec<Pos2>, stroke: Stroke) {
    if points.len() > 1 {
        painter.add(Shape::line(std::mem::take(points), stroke));
    }
    points.clear();
}

/// Dotted shores where measured time begins and ends, but not under the playhead.
pub(super) fn paint_shores(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    runs: &[Run],
    playhead_x: Option<f32>,
) {
    let mut ends = Vec::new();
    for (index, run) in runs.iter().enumerate() {
        if !run.continues {
            ends.push(run.start_x);
        }
        if !runs.get(index + 1).is_some_and(|next| next.continues) {
            ends.push(run.end_x);
        }
    }
    for x in ends {
        // The frame of the plot is shore enough.
        let hidden = playhead_x.is_some_and(|playhead_x| (playhead_x - x).abs() < 2.5);
        if !hidden && x > plot.rect.left() + 1.5 && x < plot.rect.right() - 1.5 {
            let path = [pos2(x, plot.rect.top() + 3.0), pos2(x, plot.rect.bottom())];
            painter.extend(Shape::dotted_line(&path, look.palette.line, 5.0, 1.0));
        }
    }
}
