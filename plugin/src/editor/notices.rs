//! What the user should know, one line each, between header and strip.

use super::fonts::{regular, semibold};
use super::layout::notice_line_pt;
use super::model::{Action, Model, SongEdit};
use super::view::ViewState;
use super::{Look, button, label, text};
use crate::snapshot::Export;
use egui::{Align2, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

/// Most lines that are shown; the rest is counted.
const MOST_LINES: usize = 3;
/// Likewise in a window lower than [`LOW_PT`].
const MOST_LINES_LOW: usize = 2;
/// A low window.
const LOW_PT: f32 = 520.0;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Note {
    sentence: String,
    kind: Kind,
    /// Sentences that there was no room for, behind the last line.
    hidden: Vec<String>,
}

impl Note {
    const fn new(sentence: String, kind: Kind) -> Self {
        Self { sentence, kind, hidden: Vec::new() }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// The output is not what comes in.
    Matched,
    /// Something keeps the measurement from being whole.
    Warning,
    /// How things are.
    Plain,
    /// The offer to undo a reset.
    UndoReset,
    /// The offer to follow the host's bars.
    BarsMoved,
    /// Why an edit was not done.
    Refused,
    /// A snapshot was saved.
    Saved,
    /// A snapshot could not be saved.
    NotSaved,
}

/// The lines for this frame.
pub(super) fn collect(model: &Model, view: &ViewState, window_height_pt: f32) -> Vec<Note> {
    use super::model::Notice;
    let mut notes = Vec::new();
    if let Some(matched) = &model.matched {
        notes.push(Note::new(text::matched(matched), Kind::Matched));
    }
    if model.can_undo_reset && !view.undo_declined {
        notes.push(Note::new(text::RESET_NOTE.to_owned(), Kind::UndoReset));
    }
    if let Some(refusal) = &model.song.refusal {
        notes.push(Note::new(refusal.clone(), Kind::Refused));
    }
    match &model.export {
        Export::None | Export::Writing => {}
        Export::Saved(paths) => notes.push(Note::new(text::saved(paths), Kind::Saved)),
        Export::Copied => notes.push(Note::new(text::COPIED.to_owned(), Kind::Saved)),
        Export::Failed(why) => notes.push(Note::new(text::not_saved(why), Kind::NotSaved)),
    }
    if model.song.moved_edges > 0 {
        notes.push(Note::new(text::tempo_map_moved(model.song.moved_edges), Kind::BarsMoved));
    }
    for &notice in &model.notices {
        let kind = match notice {
            Notice::NoSongPosition
            | Notice::Bypassed
            | Notice::ToneLost { .. }
            | Notice::OtherChannels { .. } => Kind::Plain,
            Notice::RecordFull | Notice::ScrubbedSamples { .. } | Notice::Unsupported => {
                Kind::Warning
            }
        };
        notes.push(Note::new(text::notice(notice), kind));
    }
    if !model.running {
        notes.push(Note::new(text::PAUSED_NOTE.to_owned(), Kind::Plain));
    }
    let most = if window_height_pt < LOW_PT { MOST_LINES_LOW } else { MOST_LINES };
    if notes.len() > most {
        let hidden = notes.split_off(most);
        if let Some(last) = notes.last_mut() {
            last.hidden = hidden.into_iter().map(|note| note.sentence).collect();
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

/// Buttons behind a note, and what they ask for; none is to keep things as they are.
fn offers(kind: Kind) -> Vec<(&'static str, Option<Action>)> {
    match kind {
        Kind::Warning | Kind::Plain => Vec::new(),
        Kind::Matched => vec![(text::LISTEN_PLAIN, Some(Action::ListenPlain))],
        Kind::UndoReset => vec![(text::UNDO_RESET, Some(Action::UndoReset)), (text::KEEP, None)],
        Kind::BarsMoved => vec![
            (text::FOLLOW_BARS, Some(Action::Song(SongEdit::FollowBars))),
            (text::KEEP_TIMES, Some(Action::Song(SongEdit::KeepTimes))),
        ],
        Kind::Refused => vec![(text::OK, Some(Action::ForgetRefusal))],
        Kind::Saved => vec![(text::OK, Some(Action::ForgetExport))],
        Kind::NotSaved => vec![(text::DROP_SNAPSHOT, Some(Action::ForgetExport))],
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
    let mark_size = vec2(mark_width, line.height() - 6.0);
    let mark = Rect::from_min_size(line.min + vec2(0.0, 3.0), mark_size);
    let warning = matches!(note.kind, Kind::Warning | Kind::Refused | Kind::NotSaved);
    let mark_color = if warning { palette.signal } else { palette.line };
    let is_matched = note.kind == Kind::Matched;
    let ink = if is_matched { palette.paper } else { palette.ink };
    if is_matched {
        // Not to be overlooked: what is heard is not what leaves the host.
        ui.painter().rect_filled(line.shrink2(vec2(0.0, 1.0)), 2.0, palette.ink);
    }
    ui.painter().rect_filled(mark, 0.0, mark_color);

    let mut x = mark.right() + 8.0;
    if warning {
        // Not by colour alone.
        let bang = semibold(look.sizes.body);
        let at = pos2(x, line.center().y);
        x = ui.painter().text(at, Align2::LEFT_CENTER, "!", bang, palette.signal).right() + 6.0;
    }
    let mut right = line.right();
    let offers = offers(note.kind);
    if !offers.is_empty() {
        let font = regular(look.sizes.body);
        let after = label::width(ui.painter(), &note.sentence, &font);
        let mut button_left = x + after + 10.0;
        for (name, action) in offers {
            let width = button::width_pt(ui, look, &[name]);
            let place = Rect::from_min_size(
                pos2(button_left, line.center().y - button::height_pt(look) / 2.0),
                vec2(width, button::height_pt(look)),
            );
            button_left += width + 6.0;
            if button::at(ui, look, place, name, name).clicked() {
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
    if !note.hidden.is_empty() {
        let more = text::more_notices(note.hidden.len());
        let at = pos2(right, line.center().y);
        let drawn = ui.painter().text(at, Align2::RIGHT_CENTER, more, font.clone(), palette.line);
        let all = note.hidden.join("\n");
        ui.interact(drawn, ui.scope_id().with("more notes"), Sense::hover()).on_hover_text(all);
        right = drawn.left() - look.sizes.body;
    }
    let room = right - x;
    label::cut(ui.painter(), at, Align2::LEFT_CENTER, &note.sentence, &font, ink, room);
    let id = ui.scope_id().with(("note", index));
    let response = ui.interact(line.with_max_x(right), id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &note.sentence));
    response.on_hover_text(&note.sentence);
}
