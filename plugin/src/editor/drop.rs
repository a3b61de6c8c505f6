//! Files that are dropped on the editor become references.

use super::model::{Action, ReferenceEdit};
use super::view::{Leaf, ViewState};
use egui::Context;
use std::path::PathBuf;

/// Takes what was dropped since the last frame, and shows the references.
pub(super) fn take(ctx: &Context, view: &mut ViewState, actions: &mut Vec<Action>) {
    let dropped = ctx.input(|input| {
        let files = input.raw.dropped_files.iter();
        files.map(|file| file.path().to_owned()).collect::<Vec<PathBuf>>()
    });
    if !dropped.is_empty() {
        view.prefs.leaf = Leaf::Reference;
        actions.push(Action::Reference(ReferenceEdit::Add(dropped)));
    }
}
