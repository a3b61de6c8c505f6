//! What stands under the strip: the section log, the peak ledger, the destinations, tone and
//! width, or the song beside its references.

mod bands;
mod curve;
mod destinations;
mod hull;
mod log;
mod peaks;
mod reference;
mod table;
mod tone;

pub(super) use destinations::shown as destinations_shown;

use super::model::{Action, Model, Source};
use super::view::{Held, Leaf, ViewState};
use super::{Look, button, figure, fonts, label, text};
use egui::{Align2, Rect, Role, Sense, Ui, UiBuilder, WidgetInfo, pos2, vec2};

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    model: &Model,
    held: &Held,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    if rect.height() < 20.0 {
        return;
    }
    let head_pt = button::height_pt(look) + look.sizes.small * 0.7;
    let (head, body) = rect.split_top_bottom_at_y(rect.top() + head_pt);
    let head = head.with_min_y(head.top() + look.sizes.small * 0.2);
    let body = body.with_max_y(body.bottom() - 2.0);
    match view.prefs.leaf {
        Leaf::None => {}
        Leaf::Log => {
            let rows = log::rows(model, view);
            log::head(ui, look, head, model, &rows, view, actions);
            if model.song.log.is_empty() {
                empty(ui, look, body, log_todo(model));
            } else {
                inside(ui, body, |ui| log::show(ui, look, rows, view));
            }
        }
        Leaf::Targets => {
            let rows = destinations::rows(model, held);
            destinations::head(ui, look, head, model, held, &rows, view, actions);
            inside(ui, body, |ui| destinations::show(ui, look, &rows, model, actions));
        }
        Leaf::Peaks => {
            let rows = peaks::rows(model, held);
            peaks::head(ui, look, head, model, held, &rows, view);
            match &model.song.ledger {
                Some(ledger) if !ledger.events().is_empty() => inside(ui, body, |ui| {
                    peaks::show(ui, look, ledger, rows, model, view);
                }),
                _ => empty(ui, look, body, peaks_todo(model)),
            }
        }
        Leaf::Tone => {
            let subject = tone::subject(model, view);
            let rows = tone::rows(subject.as_ref());
            let right = buttons(ui, look, head, &rows, view);
            let left = tone::to_reference(ui, look, head, view);
            match &subject {
                Some(subject) => {
                    let rest = head.with_min_x(left).with_max_x(right - 10.0);
                    sentence(ui, look, rest, &tone::sentence(subject));
                    inside(ui, body, |ui| tone::show(ui, look, subject));
                }
                None => empty(ui, look, body, tone_todo(model)),
            }
        }
        Leaf::Reference => {
            let compared = reference::stretch(model, view);
            let rows = reference::rows(compared.map(|(_, stretch)| stretch));
            reference::head(ui, look, head, model, &rows, compared, view, actions);
            match compared {
                Some((comparison, stretch)) => {
                    inside(ui, body, |ui| reference::show(ui, look, comparison, stretch));
                }
                None => {
                    let is_used = model.reference.list.iter().any(|reference| reference.is_used);
                    empty(ui, look, body, reference::todo(model, is_used));
                }
            }
        }
    }
}

fn log_todo(model: &Model) -> &'static str {
    match model.source {
        Source::Live => text::LOG_LIVE,
        Source::Song => text::LOG_EMPTY,
    }
}

fn peaks_todo(model: &Model) -> &'static str {
    match model.source {
        Source::Live => text::LOG_LIVE,
        Source::Song => text::PEAKS_EMPTY,
    }
}

fn tone_todo(model: &Model) -> &'static str {
    match model.source {
        Source::Live => text::LOG_LIVE,
        Source::Song => text::TONE_EMPTY,
    }
}

fn inside<R>(ui: &mut Ui, rect: Rect, contents: impl FnOnce(&mut Ui) -> R) -> R {
    ui.scope_builder(UiBuilder::new().max_rect(rect), contents).inner
}

/// What to do while the table is empty.
fn empty(ui: &mut Ui, look: &Look, rect: Rect, todo: &str) {
    let font = fonts::regular(look.sizes.body);
    let painter = ui.painter();
    let galley = painter.layout(todo.to_owned(), font, look.palette.line, rect.width() * 0.8);
    let at = Align2::CENTER_CENTER.anchor_size(rect.center(), galley.size());
    painter.galley(at.min, galley, look.palette.line);
    ui.interact(at, ui.scope_id().with("leaf is empty"), Sense::hover())
        .widget_info(|| WidgetInfo::labeled(Role::Label, true, todo));
}

/// The buttons that every table has, at the right end of its head; gives where the next thing must
/// end.
fn buttons(ui: &mut Ui, look: &Look, line: Rect, rows: &table::Rows, view: &mut ViewState) -> f32 {
    let mut right = line.right();
    let mut add = |name: &str, hint: &str, enabled: bool| {
        let width = button::width_pt(ui, look, &[name]);
        let size = vec2(width, button::height_pt(look));
        let place = Rect::from_min_size(pos2(right - width, line.top()), size);
        right = place.left() - 6.0;
        let response = ui.add_enabled_ui(enabled, |ui| button::at(ui, look, place, name, name));
        response.inner.on_hover_text(hint).clicked()
    };
    let close = add(text::CLOSE_LEAF, text::CLOSE_LEAF_HINT, true);
    let copy = add(text::COPY, text::COPY_HINT, !rows.rows.is_empty());
    if close {
        view.prefs.leaf = Leaf::None;
    }
    if copy {
        figure::copy(ui.ctx(), line.with_min_x(right), table::as_text(&rows.columns, &rows.rows));
    }
    right
}

/// A sentence in the head of a table, cut to its room, whole on hover.
fn sentence(ui: &mut Ui, look: &Look, line: Rect, sentence: &str) {
    let font = fonts::semibold(look.sizes.body);
    let at = pos2(line.left(), line.top() + button::height_pt(look) / 2.0);
    let room = line.width();
    let painter = ui.painter();
    let drawn =
        label::cut(painter, at, Align2::LEFT_CENTER, sentence, &font, look.palette.ink, room);
    let response = ui.interact(drawn, ui.scope_id().with("leaf sentence"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, sentence));
    response.on_hover_text(sentence);
}
