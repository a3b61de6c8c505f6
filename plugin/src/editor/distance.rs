//! One sentence on what stands between the song and the target, and the figures of it.

use super::figures::baseline_text;
use super::fonts::{regular, semibold};
use super::label;
use super::model::Model;
use super::view::{Held, chosen};
use super::{Look, text};
use crate::target::Verdict;
use crate::units::{Db, Dbfs, Dbtp};
use egui::{Align2, Color32, Rect, Sense, Ui, WidgetInfo, Role, pos2};

/// One figure under the sentence.
struct Fact {
    name: &'static str,
    hint: &'static str,
    figure: String,
    unit: &'static str,
}

/// Below this width the facts stand in two rows.
const ONE_ROW_EM: f32 = 30.0;

fn sentence_pt(look: &Look, width_pt: f32) -> f32 {
    if is_narrow_block(width_pt, look) { look.sizes.strong * 0.94 } else { look.sizes.body * 1.04 }
}

/// Beside the figures the block is narrow and tall, under them wide and low.
fn is_narrow_block(width_pt: f32, look: &Look) -> bool {
    width_pt < look.sizes.body * ONE_ROW_EM * 1.45
}

/// Height that the block is given.
pub(super) fn height_pt(look: &Look, width_pt: f32) -> f32 {
    let lines = if is_narrow_block(width_pt, look) { 3.0 } else { 1.0 };
    sentence_pt(look, width_pt) * 1.28 * lines + facts_pt(look) + look.sizes.small * 0.5
}

fn facts_pt(look: &Look) -> f32 {
    look.sizes.small * 1.25 + look.sizes.strong * 1.3
}

pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, model: &Model, held: &Held) {
    let palette = &look.palette;
    let Some(distance) = &held.distance else { return };
    let sentence = distance.to_string();
    let facts_top = rect.bottom() - facts_pt(look);
    let place = Rect::from_min_max(rect.min, pos2(rect.right(), facts_top));

    let color = if distance.verdict() == Verdict::NotYet { palette.line } else { palette.ink };
    let mut size_pt = sentence_pt(look, rect.width());
    // A long sentence is set smaller rather than cut.
    let galley = loop {
        let font = semibold(size_pt);
        let galley = ui.painter().layout(sentence.clone(), font, color, place.width());
        if galley.size().y <= place.height() || size_pt <= 10.0 {
            break galley;
        }
        size_pt -= 0.5;
    };
    ui.painter().galley(place.min, galley, color);
    ui.interact(place, ui.scope_id().with("sentence"), Sense::hover())
        .widget_info(|| WidgetInfo::labeled(Role::Label, true, &sentence));

    let facts = facts(model, held);
    let column = rect.width() / super::cast::single(super::cast::count(facts.len().max(1)));
    for (index, fact) in facts.iter().enumerate() {
        let x = rect.left() + column * super::cast::single(super::cast::count(index));
        let place = Rect::from_min_max(pos2(x, facts_top), pos2(x + column, rect.bottom()));
        show_fact(ui, look, place, fact);
    }
}

fn show_fact(ui: &mut Ui, look: &Look, rect: Rect, fact: &Fact) {
    let palette = &look.palette;
    let small = regular(look.sizes.small);
    let painter = ui.painter();
    let name = painter.text(rect.min, Align2::LEFT_TOP, fact.name, small.clone(), palette.line);
    let figure_font = semibold(look.sizes.strong);
    // Right-aligned in the room of "+88.8", so that the figures do not move with their sign.
    let figure_width = label::width(painter, "+88.8", &figure_font);
    let baseline = name.bottom() + look.sizes.strong * 1.0;
    let right = rect.left() + figure_width;
    let ink: Color32 = palette.ink;
    baseline_text(painter, right, baseline, Align2::RIGHT_TOP, &fact.figure, &figure_font, ink);
    let unit_x = right + look.sizes.strong * 0.2;
    baseline_text(painter, unit_x, baseline, Align2::LEFT_TOP, fact.unit, &small, palette.line);
    let response = ui.interact(rect, ui.scope_id().with(("fact", fact.name)), Sense::hover());
    response.widget_info(|| {
        let spoken = format!("{} {} {}", fact.name, fact.figure, fact.unit);
        WidgetInfo::labeled(Role::Label, true, spoken)
    });
    response.on_hover_text(fact.hint);
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
        });
        facts.push(Fact {
            name: text::PEAK_AT_TARGET,
            hint: text::PEAK_AT_TARGET_HINT,
            figure: level(distance.peak_at_target.map(|peak| peak.0)),
            unit: Dbtp::UNIT,
        });
        if has_ceiling {
            facts.push(Fact {
                name: text::PEAK_CONTROL,
                hint: text::PEAK_CONTROL_HINT,
                figure: level(distance.peak_control.map(|control| control.0)),
                unit: Db::UNIT,
            });
        }
        facts.push(Fact {
            name: text::PLAYBACK_GAIN,
            hint: text::PLAYBACK_GAIN_HINT,
            figure: gain(distance.playback_gain),
            unit: Db::UNIT,
        });
    } else {
        if has_ceiling {
            facts.push(Fact {
                name: text::HEADROOM,
                hint: text::HEADROOM_HINT,
                figure: gain(distance.headroom),
                unit: Db::UNIT,
            });
        }
        facts.push(Fact {
            name: text::SAMPLE_PEAK,
            hint: text::SAMPLE_PEAK_HINT,
            figure: level(held.figures.sample_peak.map(|peak| peak.0)),
            unit: Dbfs::UNIT,
        });
    }
    facts
}
