//! Dialogs of the song: a name, and a list of markers.

use super::super::fonts::regular;
use super::super::model::{Action, ReferenceEdit, SongEdit};
use super::super::{Look, button, text};
use super::{Next, Question, heading};
use crate::section::{MAX_NAME_CHARS, Marker, MarkerImport, parse_marker_list};
use crate::state::MAX_SONG_NAME_CHARS;
use egui::{Key, RichText, TextEdit, Ui, vec2};

/// One line of text.
pub(super) fn ask(
    ui: &mut Ui,
    look: &Look,
    question: Question,
    answer: &mut String,
    is_new: bool,
    actions: &mut Vec<Action>,
) -> Next {
    let (title, hint, most) = match question {
        Question::Rename(_) => (text::RENAME_HEADING, "", MAX_NAME_CHARS),
        Question::Pin(_) => (text::PIN_HEADING, text::PIN_HINT, MAX_NAME_CHARS),
        Question::NameSong => (text::NAME_SONG_HEADING, text::NAME_SONG_HINT, MAX_SONG_NAME_CHARS),
        Question::AddReference => {
            (text::ADD_REFERENCE_HEADING, text::ADD_REFERENCE_EXPLAINED, usize::MAX)
        }
        Question::RenameReference(_) => (text::RENAME_REFERENCE_HEADING, "", MAX_SONG_NAME_CHARS),
    };
    let done = if question == Question::AddReference { text::MEASURE } else { text::SAVE };
    let title = heading(ui, look, title);
    if !hint.is_empty() {
        ui.weak(hint);
    }
    let width = ui.available_width() - 8.0;
    let field = TextEdit::singleline(answer)
        .font(regular(look.sizes.body))
        .char_limit(most)
        .desired_width(width)
        .min_size(vec2(width, 0.0));
    let field = ui.add(field).labelled_by(title.id);
    if is_new {
        field.request_focus();
    }
    let can_save = !answer.trim().is_empty() || question == Question::NameSong;
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    let (save, cancel) = ui
        .horizontal(|ui| {
            let save = ui.add_enabled_ui(can_save, |ui| button::add(ui, look, done).clicked());
            (save.inner, button::add(ui, look, text::CANCEL).clicked())
        })
        .inner;
    if can_save && (save || entered) {
        let answer = answer.trim().to_owned();
        actions.push(match question {
            Question::Rename(id) => Action::Song(SongEdit::Rename(id, answer)),
            Question::Pin(id) => Action::Song(SongEdit::Pin(id, answer)),
            Question::NameSong => Action::Song(SongEdit::NameSong(answer)),
            // As it comes from a file manager: in quotes.
            Question::AddReference => {
                Action::Reference(ReferenceEdit::Add(vec![answer.trim_matches(['"', '\'']).into()]))
            }
            Question::RenameReference(id) => Action::Reference(ReferenceEdit::Rename(id, answer)),
        });
        return Next::Close;
    }
    if cancel { Next::Close } else { Next::Stay }
}

/// A list of markers, typed or pasted, or a file to read them from.
pub(super) fn markers(
    ui: &mut Ui,
    look: &Look,
    height: f32,
    list: &mut String,
    path: &mut String,
    actions: &mut Vec<Action>,
) -> Next {
    heading(ui, look, text::MARKERS_HEADING);
    let hint = ui.label(text::MARKERS_HINT);
    let width = ui.available_width() - 8.0;
    let rows = (height / (look.sizes.body * 1.5) - 6.0).clamp(3.0, 10.0);
    egui::ScrollArea::vertical().max_height(rows * look.sizes.body * 1.5).show(ui, |ui| {
        let field = TextEdit::multiline(list)
            .font(regular(look.sizes.body))
            .hint_text(text::MARKERS_EXAMPLE)
            .desired_rows(super::super::cast::index(rows))
            .desired_width(width)
            .min_size(vec2(width, 0.0));
        ui.add(field).labelled_by(hint.id);
    });
    let or_file = ui.label(text::MARKERS_FILE);
    let field = TextEdit::singleline(path)
        .font(regular(look.sizes.body))
        .hint_text(text::MARKERS_PATH)
        .desired_width(width)
        .min_size(vec2(width, 0.0));
    ui.add(field).labelled_by(or_file.id);
    let parsed = parse_marker_list(list);
    let (line, is_error) = match &parsed {
        Ok(_) if !path.trim().is_empty() => (text::MARKERS_FROM_FILE.to_owned(), false),
        Ok(markers) if markers.is_empty() => (" ".to_owned(), false),
        Ok(markers) => (counted(markers), false),
        Err(error) => (format!("! {error}"), true),
    };
    let color = if is_error { look.palette.signal } else { look.palette.line };
    ui.label(RichText::new(line).color(color));
    let from_file = !path.trim().is_empty();
    let can_take = from_file || parsed.as_ref().is_ok_and(|markers| !markers.is_empty());
    let (take, cancel) = ui
        .horizontal(|ui| {
            let take = ui
                .add_enabled_ui(can_take, |ui| button::add(ui, look, text::USE_MARKERS).clicked());
            (take.inner, button::add(ui, look, text::CANCEL).clicked())
        })
        .inner;
    match parsed {
        _ if take && from_file => actions.push(Action::ReadMarkers(path.clone())),
        Ok(markers) if take => actions.push(Action::Song(SongEdit::TakeMarkers(markers))),
        _ => {}
    }
    if take || cancel { Next::Close } else { Next::Stay }
}

/// What the list would make, and what it would leave out.
fn counted(markers: &[Marker]) -> String {
    let import = MarkerImport::new(markers, 0.0);
    text::markers_counted(import.sections.len(), import.left_out.len())
}
