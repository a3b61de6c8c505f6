//! One sentence on what stands between the song and the target, and the figures of it.

use super::figures::baseline_text;
use super::fonts::{regular, semibold};
use super::label;
use super::layout::Layout;
use super::model::{Action, Model};
use super::view::{Held, chosen};
use super::{Look, button, figure, text};
use crate::listening::MatchTo;
use crate::target::{Standing, Verdict};
use crate::units::{Db, Dbfs, Dbtp};
use egui::{Align2, Color32, Galley, Painter, Rect, Stroke, Ui, Vec2, pos2, vec2};
use std::sync::Arc;

/// One figure under the sentence.
struct Fact {
    name: &'static str,
    hint: &'static str,
    figure: String,
    unit: &'static str,
    /// What a press asks for.
    press: Option<Action>,
}

/// Share of the width that the sentence gets where its figures stand beside it.
const SENTENCE_SHARE: f32 = 0.54;
/// Smallest type of the sentence.
const SMALLEST_PT: f32 = 10.0;

/// Height that sentence and figures are given.
pub(super) fn height_pt(look: &Look, wide: bool) -> f32 {
    if wide { facts_pt(look) } else { look.sizes.body * 2.45 + facts_pt(look) }
}

fn facts_pt(look: &Look) -> f32 {
    look.sizes.small * 1.25 + look.sizes.strong * 1.3
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    layout: &Layout,
    model: &Model,
    held: &Held,
    actions: &mut Vec<Action>,
) {
    let palette = &look.palette;
    let Some(distance) = &held.distance else { return };
    let rect = layout.distance;
    // While nothing is measured the chart itself says what to do.
    let sentence = match distance.standing {
        Standing::NotMeasured => String::new(),
        _ => distance.to_string(),
    };
    let (place, facts_rect) = if layout.wide {
        let split = rect.left() + rect.width() * SENTENCE_SHARE;
        (rect.with_max_x(split - look.sizes.body * 2.0), rect.with_min_x(split))
    } else {
        let split = rect.bottom() - facts_pt(look);
        (rect.with_max_y(split - 2.0), rect.with_min_y(split))
    };

    let color = if distance.verdict() == Verdict::NotYet { palette.line } else { palette.ink };
    let size_pt = if layout.wide { look.sizes.strong } else { look.sizes.body + 0.5 };
    let galley = fitted(ui.painter(), &sentence, size_pt, color, place.size());
    let top = if layout.wide { place.top() } else { place.center().y - galley.size().y / 2.0 };
    let galley_size = galley.size();
    ui.painter().galley(pos2(place.left(), top), galley, color);
    if !sentence.is_empty() {
        let drawn = Rect::from_min_size(pos2(place.left(), top), galley_size);
        let id = ui.scope_id().with("sentence");
        figure::ask(ui, look, drawn, id, &sentence, text::STANDING_HINT);
    }

    let facts = facts(model, held);
    // Side by side they end at the right margin; under the sentence they share the width.
    let widths: Vec<f32> = facts.iter().map(|fact| fact_width_pt(ui, look, fact)).collect();
    let gaps = super::cast::single(super::cast::count(facts.len().saturating_sub(1).max(1)));
    let spare = facts_rect.width() - widths.iter().sum::<f32>();
    let gap = (spare / gaps).min(look.sizes.body * 4.0);
    let mut x = facts_rect.left();
    if layout.wide {
        x = facts_rect.right() - widths.iter().sum::<f32>() - gap * gaps;
    }
    for (fact, width) in facts.into_iter().zip(widths) {
        let place =
            Rect::from_min_max(pos2(x, facts_rect.top()), pos2(x + width, facts_rect.bottom()));
        show_fact(ui, look, place, &fact, actions);
        x += width + gap;
    }
}

/// `text` in `size`: set smaller rather than cut, and its lines equally long.
fn fitted(
    painter: &Painter,
    text: &str,
    mut size_pt: f32,
    color: Color32,
    size: Vec2,
) -> Arc<Galley> {
    // A figure and its unit stay on one line (dB and dBTP, LU and LUFS).
    let text = text.replace(" dB", "\u{a0}dB").replace(" LU", "\u{a0}LU");
    let set =
        |size_pt: f32, width: f32| painter.layout(text.clone(), semibold(size_pt), color, width);
    let mut galley = set(size_pt, size.x);
    while galley.size().y > size.y + 1.0 && size_pt > SMALLEST_PT {
        size_pt -= 0.5;
        galley = set(size_pt, size.x);
    }
    let lines = galley.rows.len();
    let mut width = size.x;
    while lines > 1 && width > size.x * 0.5 {
        width -= size_pt;
        let narrower = set(size_pt, width);
        if narrower.rows.len() > lines {
            break;
        }
        galley = narrower;
    }
    galley
}

fn fact_width_pt(ui: &Ui, look: &Look, fact: &Fact) -> f32 {
    let small = regular(look.sizes.small);
    let figure = figure_width_pt(ui, look) + look.sizes.strong * 0.26;
    let unit = label::width(ui.painter(), fact.unit, &small);
    let listen = match fact.press {
        Some(_) => listen_width_pt(ui, look) + look.sizes.strong * 0.5,
        None => 0.0,
    };
    label::width(ui.painter(), fact.name, &small).max(figure + unit + listen)
}

fn listen_width_pt(ui: &Ui, look: &Look) -> f32 {
    button::width_pt(ui, look, &[text::LISTEN])
}

/// Room of "+88.8", so that the figures do not move with their sign.
fn figure_width_pt(ui: &Ui, look: &Look) -> f32 {
    label::width(ui.painter(), "+88.8", &semibold(look.sizes.strong))
}

fn show_fact(ui: &mut Ui, look: &Look, rect: Rect, fact: &Fact, actions: &mut Vec<Action>) {
    let palette = &look.palette;
    let small = regular(look.sizes.small);
    let painter = ui.painter();
    let name = painter.text(rect.min, Align2::LEFT_TOP, fact.name, small.clone(), palette.line);
    let figure_font = semibold(look.sizes.strong);
    let baseline = name.bottom() + look.sizes.strong * 1.0;
    let right = rect.left() + figure_width_pt(ui, look);
    let ink: Color32 = palette.ink;
    baseline_text(painter, right, baseline, Align2::RIGHT_TOP, &fact.figure, &figure_font, ink);
    let unit_x = right + look.sizes.strong * 0.26;
    baseline_text(painter, unit_x, baseline, Align2::LEFT_TOP, fact.unit, &small, palette.line);
    let id = ui.scope_id().with(("fact", fact.name));
    let spoken = format!("{} {} {}", fact.name, fact.figure, fact.unit);
    let Some(press) = &fact.press else {
        figure::ask(ui, look, rect, id, &spoken, fact.hint);
        return;
    };
    let size = vec2(listen_width_pt(ui, look), rect.bottom() - name.bottom());
    let place = Rect::from_min_size(rect.right_bottom() - size, size);
    figure::ask(ui, look, rect.with_max_x(place.left()), id, &spoken, fact.hint);
    let response = button::at(ui, look, place, text::LISTEN, text::LISTEN);
    if *press == Action::ListenPlain {
        let foot = place.shrink2(vec2(6.0, 0.0)).x_range();
        ui.painter().hline(foot, place.bottom() - 2.5, Stroke::new(2.0, palette.ink));
    }
    if response.on_hover_text(text::LISTEN_HINT).clicked() {
        actions.push(press.clone());
    }
}

/// A target with a loudness has a gain to it; a target for peaks has headroom.
fn facts(model: &Model, held: &Held) -> Vec<Fact> {
    let Some(distance) = held.distance else { return Vec::new() };
    let target = chosen(model);
    let has_ceiling = target.is_some_and(|target| target.ceiling().is_some());
    let gain = |gain: Option<Db>| label::signed(gain.map(|gain| gain.0));
    let level = |value: Option<f64>| label::decimal(value);
    let mut facts = Vec::new();
    if target.is_some_and(|target| target.integrated.is_some()) {
        facts.push(Fact {
            name: text::GAIN_TO_TARGET,
            hint: text::GAIN_TO_TARGET_HINT,
            figure: gain(distance.gain_to_target),
            unit: Db::UNIT,
            press: None,
        });
        facts.push(Fact {
            name: text::PEAK_AT_TARGET,
            hint: text::PEAK_AT_TARGET_HINT,
            figure: label::signed(distance.peak_at_target.map(|peak| peak.0)),
            unit: Dbtp::UNIT,
            press: None,
        });
        if has_ceiling {
            facts.push(Fact {
                name: text::PEAK_CONTROL,
                hint: text::PEAK_CONTROL_HINT,
                figure: level(distance.peak_control.map(|control| control.0)),
                unit: Db::UNIT,
                press: None,
            });
        }
        facts.push(Fact {
            name: text::PLAYBACK_GAIN,
            hint: text::PLAYBACK_GAIN_HINT,
            figure: gain(distance.playback_gain),
            unit: Db::UNIT,
            press: distance.playback_gain.map(|_| match model.matched {
                Some(matched) if matched.to == MatchTo::Playback => Action::ListenPlain,
                // Off, or on for the reference input: the press changes over.
                _ => Action::ListenMatched,
            }),
        });
    } else {
        if has_ceiling {
            facts.push(Fact {
                name: text::HEADROOM,
                hint: text::HEADROOM_HINT,
                figure: gain(distance.headroom),
                unit: Db::UNIT,
                press: None,
            });
        }
        facts.push(Fact {
            name: text::SAMPLE_PEAK,
            hint: text::SAMPLE_PEAK_HINT,
            figure: level(held.figures.sample_peak.map(|peak| peak.0)),
            unit: Dbfs::UNIT,
            press: None,
        });
    }
    facts
}
