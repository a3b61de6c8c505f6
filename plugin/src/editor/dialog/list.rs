//! The list of targets: each with its limits and its source in sight.

use super::super::fonts::{regular, semibold};
use super::super::model::{Action, Model};
use super::super::{Look, button, label, text};
use super::{Dialog, Draft, Next, heading, scrolled};
use crate::target::Target;
use egui::{Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    height: f32,
    model: &Model,
    is_new: bool,
    actions: &mut Vec<Action>,
) -> Next {
    heading(ui, look, text::TARGETS);
    let next = scrolled(ui, height, |ui| {
        let mut next = Next::Stay;
        for (index, target) in model.targets.iter().enumerate() {
            if let Some(wanted) = row(ui, look, model, index, target, is_new, actions) {
                next = wanted;
            }
        }
        next
    });
    ui.add_space(look.sizes.body * 0.3);
    let buttons = ui.horizontal(|ui| {
        let new = button::add(ui, look, text::NEW_TARGET).clicked();
        let close = button::add(ui, look, text::CLOSE).clicked();
        (new, close)
    });
    match buttons.inner {
        (true, _) => Next::Show(Dialog::Form(Box::new(Draft::new(&model.targets)))),
        (_, true) => Next::Close,
        _ => next,
    }
}

fn row(
    ui: &mut Ui,
    look: &Look,
    model: &Model,
    index: usize,
    target: &Target,
    is_new: bool,
    actions: &mut Vec<Action>,
) -> Option<Next> {
    let palette = &look.palette;
    let is_own = index >= model.built_in_count;
    let is_chosen = index == model.chosen_target;
    let (name_font, small) = (semibold(look.sizes.body), regular(look.sizes.small));
    let names: &[&str] =
        if is_own { &[text::EDIT, text::DUPLICATE, text::DELETE] } else { &[text::DUPLICATE] };
    let gap = ui.spacing().item_spacing.x;
    let buttons_width: f32 =
        names.iter().map(|name| button::width_pt(ui, look, &[name]) + gap).sum();

    let full = ui.available_width() - 10.0;
    let text_width = full - buttons_width - 16.0;
    let painter = ui.painter().clone();
    let summary = painter.layout(target.summary(), small.clone(), palette.ink, text_width);
    let source = painter.layout(target.source.clone(), small.clone(), palette.line, text_width);
    let name_height = look.sizes.body * 1.3;
    let height = name_height + summary.size().y + source.size().y + 8.0;
    let (rect, _) = ui.allocate_exact_size(vec2(full, height), Sense::hover());

    let choose = Rect::from_min_max(rect.min, pos2(rect.right() - buttons_width, rect.bottom()));
    let response = ui.interact(choose, ui.scope_id().with(("target", index)), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, is_chosen, &target.name));
    if response.hovered() || response.has_focus() {
        painter.rect_filled(choose, 2.0, palette.over_paper(palette.ink, 0.06));
    }
    if response.has_focus() {
        painter.rect_stroke(choose, 2.0, Stroke::new(1.5, palette.ink), StrokeKind::Inside);
    }
    if is_chosen && is_new {
        response.scroll_to_me(Some(egui::Align::Center));
    }
    if is_chosen {
        // The load line through the chosen one, and the word.
        let bar = Rect::from_min_size(choose.min, vec2(3.0, choose.height()));
        painter.rect_filled(bar, 0.0, palette.ink);
    }
    let mut y = choose.top() + 4.0;
    let x = choose.left() + 12.0;
    let mark = match (is_chosen, is_own) {
        (true, true) => format!("{}, {}", text::CHOSEN, text::OWN),
        (true, false) => text::CHOSEN.to_owned(),
        (false, true) => text::OWN.to_owned(),
        (false, false) => String::new(),
    };
    let mark_width = label::width(&painter, &mark, &small);
    let name_room = text_width - mark_width - 10.0;
    let left_top = egui::Align2::LEFT_TOP;
    let (ink, at) = (palette.ink, pos2(x, y));
    let name = label::cut(&painter, at, left_top, &target.name, &name_font, ink, name_room);
    let mark_at = pos2(name.right() + 10.0, name.bottom() - 1.0);
    painter.text(mark_at, egui::Align2::LEFT_BOTTOM, mark, small, palette.line);
    y += name_height;
    let summary_height = summary.size().y;
    painter.galley(pos2(x, y), summary, palette.ink);
    painter.galley(pos2(x, y + summary_height), source, palette.line);

    let mut pressed = None;
    let mut left = choose.right() + gap;
    for &name in names {
        let size = vec2(button::width_pt(ui, look, &[name]), button::height_pt(look));
        let place = Rect::from_min_size(pos2(left, rect.top() + 4.0), size);
        left += size.x + gap;
        let spoken = format!("{name} {}", target.name);
        if button::at(ui, look, place, name, &spoken).clicked() {
            pressed = Some(name);
        }
    }
    if response.clicked() {
        actions.push(Action::ChooseTarget(index));
        return Some(Next::Close);
    }
    match pressed {
        Some(text::EDIT) => Some(Next::Show(Dialog::Form(Box::new(Draft::edit(index, target))))),
        Some(text::DUPLICATE) => {
            let mut draft = Draft::edit(index, target);
            draft.index = None;
            draft.name = text::copy_of(&target.name);
            Some(Next::Show(Dialog::Form(Box::new(draft))))
        }
        Some(text::DELETE) => {
            actions.push(Action::DeleteTarget(index));
            None
        }
        _ => None,
    }
}
