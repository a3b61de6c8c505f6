//! The dialogs: targets to choose and to edit, what the sections need typed, and the cautions.

mod draft;
mod form;
mod list;
mod proposal;
mod snapshot;
mod song;

pub use draft::Draft;
pub(super) use proposal::FIRST_SURE;
pub use snapshot::SnapshotForm;

use super::fonts::semibold;
use super::model::{Action, Model};
use super::view::ViewState;
use super::{Look, button, text};
use crate::section::Section;
use egui::{Context, Frame, Id, Modal, Response, RichText, ScrollArea, Ui};

/// An open dialog.
#[derive(Debug, Clone, PartialEq)]
pub enum Dialog {
    /// The list of targets.
    Targets,
    /// A target as it is being typed.
    Form(Box<Draft>),
    /// What the figures do not say.
    Cautions,
    /// One line of text.
    Ask(Question, String),
    /// Markers, as a list that is typed or pasted, and the path of a file to read instead.
    Markers {
        /// The list.
        list: String,
        /// The path.
        path: String,
    },
    /// A snapshot to be saved.
    Snapshot(Box<SnapshotForm>),
    /// Proposed sections.
    Proposal {
        /// Borders less sure than this are not taken, 0 to 1.
        least_sure: f64,
    },
}

/// What a line of text is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Question {
    /// The name of a section.
    Rename(u32),
    /// A name to pin a playthrough under.
    Pin(u32),
    /// The name of the song.
    NameSong,
    /// The path of a file to measure as a reference.
    AddReference,
    /// The name of a reference.
    RenameReference(u32),
}

impl Dialog {
    /// Asks for another name of `section`.
    #[must_use]
    pub fn rename(section: &Section) -> Self {
        Self::Ask(Question::Rename(section.id), section.name.clone())
    }

    /// Asks for the name of the song, which is `name` now.
    #[must_use]
    pub fn name_song(name: &str) -> Self {
        Self::Ask(Question::NameSong, name.to_owned())
    }
}

/// What a dialog wants next.
enum Next {
    Stay,
    Close,
    Show(Dialog),
}

pub(super) fn show(
    ctx: &Context,
    look: &Look,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let Some(mut dialog) = view.dialog.take() else {
        view.dialog_frames = 0;
        return;
    };
    // A dialog is measured in its first frame and laid out in the second.
    let is_new = view.dialog_frames < 2;
    view.dialog_frames = view.dialog_frames.saturating_add(1);
    let screen = ctx.content_rect();
    let palette = &look.palette;
    let frame = Frame::popup(&ctx.global_style()).inner_margin(look.sizes.body);
    let response = Modal::new(Id::unique("plimsoll-dialog"))
        .frame(frame)
        .backdrop_color(palette.ink.gamma_multiply(0.25))
        .show(ctx, |ui| {
            let width = (screen.width() - look.sizes.body * 4.0).min(look.sizes.body * 46.0);
            ui.set_width(width);
            let height = screen.height() - look.sizes.body * 7.5;
            match &mut dialog {
                Dialog::Targets => list::show(ui, look, height, model, is_new, actions),
                Dialog::Form(draft) => form::show(ui, look, height, model, draft, actions),
                Dialog::Cautions => cautions(ui, look, height),
                Dialog::Ask(question, answer) => {
                    song::ask(ui, look, *question, answer, is_new, actions)
                }
                Dialog::Markers { list, path } => {
                    song::markers(ui, look, height, list, path, actions)
                }
                Dialog::Snapshot(form) => snapshot::show(ui, look, model, form, actions),
                Dialog::Proposal { least_sure } => {
                    proposal::show(ui, look, height, model, least_sure, actions)
                }
            }
        });
    // It is put in the middle by the size that it had: once more where that changed.
    let size = response.response.rect.size();
    if is_new || size != view.dialog_size {
        view.dialog_size = size;
        ctx.request_repaint();
    }
    view.dialog = match response.inner {
        Next::Show(next) => {
            view.dialog_frames = 0;
            ctx.request_repaint();
            Some(next)
        }
        Next::Close => None,
        Next::Stay if response.should_close() => None,
        Next::Stay => Some(dialog),
    };
}

fn heading(ui: &mut Ui, look: &Look, text: &str) -> Response {
    ui.label(RichText::new(text).font(semibold(look.sizes.strong)))
}

/// The part of a dialog that scrolls when the window is low.
fn scrolled<R>(ui: &mut Ui, height: f32, contents: impl FnOnce(&mut Ui) -> R) -> R {
    ScrollArea::vertical()
        .max_height(height)
        // Or it would grow into its place over several frames.
        .min_scrolled_height(height)
        .auto_shrink([false, true])
        .show(ui, contents)
        .inner
}

fn cautions(ui: &mut Ui, look: &Look, height: f32) -> Next {
    heading(ui, look, text::CAUTIONS);
    scrolled(ui, height, |ui| {
        for caution in text::CAUTION_TEXT {
            ui.label(*caution);
        }
    });
    ui.add_space(look.sizes.body * 0.3);
    if button::add(ui, look, text::CLOSE).clicked() { Next::Close } else { Next::Stay }
}
