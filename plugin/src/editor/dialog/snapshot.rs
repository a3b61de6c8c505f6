//! A snapshot to be saved: whose it is, where to, and in which forms.

use super::super::fonts::regular;
use super::super::model::{Action, Model};
use super::super::{Look, button, text};
use super::{Next, heading};
use crate::snapshot::{Export, Format, SnapshotOrder};
use crate::state::MAX_SONG_NAME_CHARS;
use egui::{Checkbox, RichText, TextEdit, Ui, vec2};

/// What is being asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SnapshotForm {
    song: String,
    folder: String,
    formats: [bool; Format::ALL.len()],
}

impl SnapshotForm {
    /// As it was last time; at first the user's own folder, and every form.
    #[must_use]
    pub fn new(model: &Model) -> Self {
        let home = || std::env::home_dir().map(|home| home.display().to_string());
        let folder = Some(model.song.folder.clone()).filter(|folder| !folder.is_empty());
        Self {
            song: model.song.name.clone(),
            folder: folder.or_else(home).unwrap_or_default(),
            formats: [true; Format::ALL.len()],
        }
    }

    fn order(&self) -> SnapshotOrder {
        let wanted = Format::ALL.into_iter().zip(self.formats);
        SnapshotOrder {
            song: self.song.trim().to_owned(),
            folder: self.folder.trim().to_owned(),
            formats: wanted.filter_map(|(format, wanted)| wanted.then_some(format)).collect(),
            copy: false,
        }
    }
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    model: &Model,
    form: &mut SnapshotForm,
    actions: &mut Vec<Action>,
) -> Next {
    heading(ui, look, text::SNAPSHOT_HEADING);
    ui.label(text::SNAPSHOT_EXPLAINED);
    let width = ui.available_width() - 8.0;
    for (name, value, most) in [
        (text::SNAPSHOT_SONG, &mut form.song, MAX_SONG_NAME_CHARS),
        (text::SNAPSHOT_FOLDER, &mut form.folder, usize::MAX),
    ] {
        let label = ui.label(name);
        let field = TextEdit::singleline(value)
            .font(regular(look.sizes.body))
            .char_limit(most)
            .desired_width(width)
            .min_size(vec2(width, 0.0));
        ui.add(field).labelled_by(label.id);
    }
    ui.horizontal_wrapped(|ui| {
        for (format, wanted) in Format::ALL.into_iter().zip(&mut form.formats) {
            ui.add(Checkbox::new(wanted, text::format(format)));
        }
    });
    if let Export::Failed(why) = &model.export {
        ui.label(RichText::new(format!("! {why}")).color(look.palette.signal));
    }
    let order = form.order();
    let can_save = !order.folder.is_empty() && !order.formats.is_empty();
    let (save, copy, cancel) = ui
        .horizontal(|ui| {
            let save =
                ui.add_enabled_ui(can_save, |ui| button::add(ui, look, text::SAVE).clicked()).inner;
            let copy = button::add(ui, look, text::COPY_SUMMARY)
                .on_hover_text(text::COPY_SUMMARY_HINT)
                .clicked();
            (save, copy, button::add(ui, look, text::CANCEL).clicked())
        })
        .inner;
    if save {
        actions.push(Action::Snapshot(order));
    } else if copy {
        let order = SnapshotOrder { formats: Vec::new(), copy: true, ..order };
        actions.push(Action::Snapshot(order));
    }
    if save || copy || cancel { Next::Close } else { Next::Stay }
}
