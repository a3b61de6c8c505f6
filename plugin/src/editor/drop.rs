//! Files that are dropped on the editor become references.

use super::model::{Action, ReferenceEdit};
use super::view::{Leaf, ViewState};
use egui::Context;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A file that was dropped, as egui is told of it.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

/// Tells egui of files that were dropped on a window whose library does not.
pub fn drop_files(ctx: &Context, paths: Vec<PathBuf>) {
    let files = paths.into_iter().map(|path| Arc::new(Dropped(path)) as _);
    ctx.input_mut(|input| input.raw.dropped_files.extend(files));
}

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
