//! The right margin: what the load line and the plateau stand for, and the dimension line that
//! measures the gap between them.

use super::super::fonts::{regular, semibold};
use super::super::label::{LoudnessScale, spread};
use super::super::model::Model;
use super::super::view::{Held, chosen};
use super::super::{Look, figure, text};
use super::geometry::Plot;
use super::samples::Run;
use crate::target::{IntegratedGoal, Standing};
use crate::units::{Lu, one_decimal};
use egui::{Align2, Color32, Painter, Rect, Shape, Stroke, Ui, pos2, vec2};

/// Width of the plateau of the integrated level.
const PLATEAU_PT: f32 = 2.6;
/// From here on the gap has room for a dimension line with arrows.
const DIMENSION_FROM_PT: f32 = 7.0;

/// Two lines of text at one height.
struct Note {
    /// Where it belongs.
    y: f32,
    figure: String,
    word: String,
    color: Color32,
    hint: &'static str,
}

/// A figure of the margin where it was drawn.
pub(super) struct Placed {
    rect: Rect,
    spoken: String,
    hint: &'static str,
}

/// The figures answer to pointer and keys.
pub(super) fn show(ui: &Ui, look: &Look, placed: &[Placed]) {
    for note in placed {
        let id = ui.scope_id().with(("margin", note.hint));
        figure::ask(ui, look, note.rect, id, &note.spoken, note.hint);
    }
}

pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    scale: LoudnessScale,
    model: &Model,
    held: &Held,
    runs: &[Run],
) -> Vec<Placed> {
    let goal = chosen(model).and_then(|target| target.integrated);
    let palette = &look.palette;
    let integrated = held.figures.integrated.filter(|integrated| integrated.0.is_finite());
    let dimension_x = painter.round_to_pixel_center(plot.rect.right() + look.sizes.small * 0.8);
    let mut notes = Vec::new();
    if let Some(goal) = goal {
        notes.push(Note {
            y: plot.y_inside(goal.loudness.0),
            figure: scale.with_unit(Some(goal.loudness)),
            word: tolerance(goal),
            color: palette.ink,
            hint: text::LOAD_LINE_HINT,
        });
    }
    if let Some(integrated) = integrated {
        let y = plot.y(integrated.0);
        let inside = y.clamp(plot.rect.top(), plot.rect.bottom());
        let word = if y < plot.rect.top() {
            text::ABOVE_SCALE
        } else if y > plot.rect.bottom() {
            text::BELOW_SCALE
        } else {
            text::INTEGRATED_NOTE
        };
        // Where sections have levels of their own, the song's stands back.
        let width_pt = if model.song.log.is_empty() { PLATEAU_PT } else { 1.0 };
        plateau(painter, look, plot, runs, inside, dimension_x, width_pt);
        notes.push(Note {
            y: inside,
            figure: scale.with_unit(Some(integrated)),
            word: word.to_owned(),
            color: palette.ink,
            hint: text::INTEGRATED_HINT,
        });
        if let Some(goal) = goal {
            let target_y = plot.y_inside(goal.loudness.0);
            let lu = (integrated - goal.loudness).0;
            let is_over =
                held.distance.is_some_and(|d| matches!(d.standing, Standing::TooLoud { .. }));
            let color = if is_over { palette.signal } else { palette.ink };
            dimension(painter, dimension_x, target_y, inside, color);
            let figure = one_decimal(lu.abs());
            if figure != "0.0" {
                let word = if lu > 0.0 { text::ABOVE_TARGET } else { text::BELOW_TARGET };
                // Between the two if there is room, else behind the level.
                let room = (inside - target_y).abs() >= 2.0 * note_height(look);
                let beyond = if lu > 0.0 { -0.1 } else { 0.1 };
                notes.push(Note {
                    y: if room { (target_y + inside) / 2.0 } else { inside + beyond },
                    figure: format!("{figure} {}", Lu::UNIT),
                    word: word.to_owned(),
                    color,
                    hint: text::DISTANCE_HINT,
                });
            }
        }
    }
    place_notes(painter, look, plot, dimension_x, notes)
}

/// The word for the load line, with its tolerance where there is room for both.
fn tolerance(goal: IntegratedGoal) -> String {
    let (above, unit) = (one_decimal(goal.above.0), Lu::UNIT);
    match goal.below.map(|below| one_decimal(below.0)) {
        Some(below) if below == above => format!("{} ±{above} {unit}", text::TARGET_NOTE),
        Some(below) => format!("+{above} −{below} {unit}"),
        None => format!("{} +{above} {unit}", text::TARGET_NOTE),
    }
}

/// The integrated level as a thick line over the measured time, a fine one on to the margin.
fn plateau(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    runs: &[Run],
    y: f32,
    dimension_x: f32,
    width_pt: f32,
) {
    let ink = look.palette.ink;
    let inside = painter.with_clip_rect(plot.rect.expand(PLATEAU_PT));
    for run in runs {
        let (start, end) = (run.start_x.max(plot.rect.left()), run.end_x.min(plot.rect.right()));
        if end > start {
            inside.hline(start..=end, y, Stroke::new(width_pt, ink));
        }
    }
    let last = runs.last().map_or(plot.rect.right(), |run| run.end_x.min(plot.rect.right()));
    painter.hline(last..=dimension_x + 4.0, y, Stroke::new(0.8, ink));
}

/// Arrows from the load line to the plateau, as on a drawing.
fn dimension(painter: &Painter, x: f32, target_y: f32, level_y: f32, color: Color32) {
    let gap = (level_y - target_y).abs();
    if gap < DIMENSION_FROM_PT {
        return;
    }
    let (top, bottom) = (target_y.min(level_y), target_y.max(level_y));
    painter.vline(x, top..=bottom, Stroke::new(1.0, color));
    let (half, height) = (2.6, 6.0_f32.min(gap / 2.0));
    for (tip, down) in [(pos2(x, top), 1.0), (pos2(x, bottom), -1.0)] {
        let corners = vec![tip, tip + vec2(half, height * down), tip + vec2(-half, height * down)];
        painter.add(Shape::convex_polygon(corners, color, Stroke::NONE));
    }
}

/// Height of two lines of text.
fn note_height(look: &Look) -> f32 {
    look.sizes.body * 1.2 + look.sizes.small * 1.25 + 2.0
}

fn place_notes(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    dimension_x: f32,
    mut notes: Vec<Note>,
) -> Vec<Placed> {
    // Signal notes and all others alike stand in the order of what they name.
    notes.sort_by(|a, b| a.y.total_cmp(&b.y));
    let figure_font = semibold(look.sizes.body);
    let word_font = regular(look.sizes.small);
    let height = note_height(look);
    let range =
        egui::Rangef::new(plot.rect.top() - 3.0, plot.rect.bottom() + look.sizes.small * 0.6);
    // The figure stands level with its line, the word under it.
    let below = height / 2.0 - look.sizes.body * 0.62;
    let wanted = notes.iter().map(|note| (note.y + below, height)).collect();
    let x = dimension_x + look.sizes.small * 0.75;
    let mut placed = Vec::new();
    for (note, centre) in notes.iter().zip(spread(wanted, range)) {
        let top = centre - height / 2.0;
        let figure = painter.text(
            pos2(x, top),
            Align2::LEFT_TOP,
            &note.figure,
            figure_font.clone(),
            note.color,
        );
        let is_signal = note.color == look.palette.signal;
        let color = if is_signal { note.color } else { look.palette.line };
        let at = figure.left_bottom();
        let word = painter.text(at, Align2::LEFT_TOP, &note.word, word_font.clone(), color);
        placed.push(Placed {
            rect: figure.union(word),
            spoken: format!("{} {}", note.figure, note.word),
            hint: note.hint,
        });
    }
    placed
}
