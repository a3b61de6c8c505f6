//! The head of the references: which, what is measured, and what is held against what.

use super::super::super::dialog::{Dialog, Question};
use super::super::super::model::{Action, Model, ReferenceEdit};
use super::super::super::view::{Leaf, ViewState};
use super::super::super::{Look, button, text};
use super::super::table::Rows;
use crate::listening::MatchTo;
use crate::reference::{Comparison, Reference, Stretch};
use crate::units::song_time;
use egui::{Label, Popup, PopupCloseBehavior, Rect, RichText, Ui, pos2, vec2};

#[expect(clippy::too_many_arguments, reason = "one head, drawn in one place")]
pub(in super::super) fn show(
    ui: &mut Ui,
    look: &Look,
    line: Rect,
    model: &Model,
    rows: &Rows,
    compared: Option<(&Comparison, &Stretch)>,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let right = super::super::buttons(ui, look, line, rows, view);
    let mut left = line.left();
    let mut place = |ui: &Ui, word: &str| {
        let size = vec2(button::width_pt(ui, look, &[word]), button::height_pt(look));
        let place = Rect::from_min_size(pos2(left, line.top()), size);
        left = place.right() + 6.0;
        place
    };
    let to_tone = place(ui, text::TONE);
    let response = button::at(ui, look, to_tone, text::TONE, text::BACK_TO_TONE);
    if response.on_hover_text(text::TONE_TOGGLE_HINT).clicked() {
        view.prefs.leaf = Leaf::Tone;
        ui.ctx().request_repaint();
    }
    let add = place(ui, text::ADD_REFERENCE);
    let response = button::at(ui, look, add, text::ADD_REFERENCE, text::ADD_REFERENCE);
    if response.on_hover_text(text::ADD_REFERENCE_HINT).clicked() {
        view.dialog = Some(Dialog::Ask(Question::AddReference, String::new()));
    }
    let list = &model.reference.list;
    let used = list.iter().filter(|reference| reference.is_used).count();
    let word = text::references(used, list.len());
    let chooser = place(ui, &word);
    let response = ui
        .add_enabled_ui(!list.is_empty(), |ui| button::at(ui, look, chooser, &word, &word))
        .inner
        .on_hover_text(text::REFERENCES_HINT);
    Popup::menu(&response)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .show(|ui| choose(ui, look, model, view, actions));
    let loudness = |reference: &Reference| reference.whole.figures.integrated_lufs;
    if list.iter().any(|reference| reference.is_input && loudness(reference).is_some()) {
        let is_on = model.matched.is_some_and(|matched| matched.to == MatchTo::Reference);
        let (word, name, action) = if is_on {
            (text::LISTEN_PLAIN, text::MATCH_LEVEL_OFF, Action::ListenPlain)
        } else {
            (text::MATCH_LEVEL, text::MATCH_LEVEL, Action::ListenLikeReference)
        };
        let place = place(ui, word);
        let response = button::at(ui, look, place, word, name);
        if response.on_hover_text(text::MATCH_LEVEL_HINT).clicked() {
            actions.push(action);
        }
    }
    if model.reference.measuring.is_some() {
        let call_off = place(ui, text::CALL_OFF);
        let response = button::at(ui, look, call_off, text::CALL_OFF, text::CALL_OFF);
        if response.clicked() {
            actions.push(Action::Reference(ReferenceEdit::CallOff));
        }
    }
    let said = match (&model.reference.measuring, compared) {
        (Some(measuring), _) => text::measuring(measuring),
        (None, Some((comparison, stretch))) => text::against(comparison, stretch),
        (None, None) => return,
    };
    let rest = line.with_min_x(left + look.sizes.body * 0.5).with_max_x(right - 10.0);
    super::super::sentence(ui, look, rest, &said);
}

/// All references, each with a tick, another name, and a way out.
fn choose(
    ui: &mut Ui,
    look: &Look,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    ui.set_width(look.sizes.body * 26.0);
    ui.weak(text::REFERENCES_MENU);
    for reference in &model.reference.list {
        let id = reference.id;
        ui.horizontal(|ui| {
            let mut is_used = reference.is_used;
            let length = song_time(reference.length_s, false);
            let name = text::reference_name(&reference.name, &length, &reference.whole);
            let tick = |ui: &mut Ui| ui.checkbox(&mut is_used, name);
            if button::with_frames(ui, look, tick).clicked() {
                actions.push(Action::Reference(ReferenceEdit::Use(id, is_used)));
            }
            if ui.small_button(text::RENAME_REFERENCE).clicked() {
                let question = Question::RenameReference(id);
                view.dialog = Some(Dialog::Ask(question, reference.name.clone()));
                ui.close();
            }
            let (word, hint) = if reference.is_input {
                (text::RESET_INPUT, text::RESET_INPUT_HINT)
            } else {
                (text::REMOVE_REFERENCE, text::REMOVE_REFERENCE_HINT)
            };
            if ui.small_button(word).on_hover_text(hint).clicked() {
                actions.push(Action::Reference(ReferenceEdit::Remove(id)));
                ui.close();
            }
        });
    }
    let state = RichText::new(text::input_state(model.reference.input)).weak();
    ui.add(Label::new(state).wrap());
}
