//! What the user should know, one line each, between header and strip.

use super::fonts::{regular, semibold};
use super::layout::notice_line_pt;
use super::model::{Action, Model};
use super::view::ViewState;
use super::{Look, label, text};
use egui::{Align2, Button, Rect, Sense, Ui, WidgetInfo, Role, pos2, vec2};

/// Most lines that are shown; the rest is counted.
const MOST_LINES: usize = 3;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Note {
    sentence: String,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Something keeps the measurement from being whole.
    Warning,
    /// How things are.
    Plain,
    /// The offer to undo a reset.
    UndoReset,
}

/// The lines for this frame.
pub(super) fn collect(model: &Model, view: &ViewState) -> Vec<Note> {
    use super::model::Notice;
    let mut notes = Vec::new();
    if model.can_undo_reset && !view.undo_declined {
        notes.push(Note { sentence: text::RESET_NOTE.to_owned(), kind: Kind::UndoReset });
    }
    for &notice in &model.notices {
        let kind = match notice {
            Notice::NoSongPosition | Notice::Bypassed => Kind::Plain,
            Notice::RecordFull | Notice::ScrubbedSamples { .. } | Notice::Unsupported => {
                Kind::Warning
            }
        };
        notes.push(Note { sentence: text::notice(notice), kind });
    }
    if !model.running {
        notes.push(Note { sentence: text::PAUSED_NOTE.to_owned(), kind: Kind::Plain });
    }
    if notes.len() > MOST_LINES {
        let hidden = notes.split_off(MOST_LINES);
        if let Some(last) = notes.last_mut() {
            last.sentence = format!("{} … {}", last.sentence, text::more_notices(hidden.len()));
        }
    }
    notes
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    notes: &[Note],
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let line_pt = notice_line_pt(look);
    for (index, note) in notes.iter().enumerate() {
        let top = rect.top() + line_pt * super::cast::single(super::cast::count(index));
        let line = Rect::from_min_size(pos2(rect.left(), top), vec2(rect.width(), line_pt));
        show_line(ui, look, line, note, index, view, actions);
    }
}

fn show_line(
    ui: &mut Ui,
    look: &Look,
    line: Rect,
    note: &Note,
    index: usize,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let palette = &look.palette;
    let mark_width = 3.0;
    let mark = Rect::from_min_size(line.min + vec2(0.0, 3.0), vec2(mark_width, line.height() - 6.0));
    let warning = note.kind == Kind::Warning;
    let mark_color = if warning { palette.signal } else { palette.line };
    ui.painter().rect_filled(mark, 0.0, mark_color);

    let mut x = mark.right() + 8.0;
    if warning {
        // Not by colour alone.
        let bang = semibold(look.sizes.body);
        let at = pos2(x, line.center().y);
        x = ui.painter().text(at, Align2::LEFT_CENTER, "!", bang, palette.signal).right() + 6.0;
    }
    let mut right = line.right();
    if note.kind == Kind::UndoReset {
        let font = regular(look.sizes.body);
        let padding = ui.spacing().button_padding.x * 2.0;
        let after = label::width(ui.painter(), &note.sentence, &font);
        let mut button_left = x + after + 10.0;
        for (name, action) in [(text::UNDO_RESET, Some(Action::UndoReset)), (text::KEEP, None)] {
            let width = label::width(ui.painter(), name, &font) + padding;
            let place = Rect::from_min_size(
                pos2(button_left, line.top() + 1.5),
                vec2(width, line.height() - 3.0),
            );
            button_left += width + 6.0;
            if ui.put(place, Button::new(name)).clicked() {
                match action {
                    Some(action) => actions.push(action),
                    None => view.undo_declined = true,
                }
            }
        }
        right = x + after + 1.0;
    }
    let at = pos2(x, line.center().y);
    let font = regular(look.sizes.body);
    let room = right - x;
    label::cut(ui.painter(), at, Align2::LEFT_CENTER, &note.sentence, &font, palette.ink, room);
    let response = ui.interact(line.with_max_x(right), ui.scope_id().with(("note", index)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &note.sentence));
    response.on_hover_text(&note.sentence);
}
