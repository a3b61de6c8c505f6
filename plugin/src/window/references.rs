//! What the user does with reference songs.

use super::EditorApp;
use crate::editor::model::ReferenceEdit;
use crate::reference::find;

impl EditorApp {
    /// Does it, or says why not.
    pub(super) fn edit_references(&mut self, edit: ReferenceEdit) {
        let references = &self.lasting.shared.references;
        let done = match edit {
            ReferenceEdit::Add(paths) => {
                references.add_files(paths);
                self.reader.set_refusal(None);
                return;
            }
            ReferenceEdit::CallOff => {
                references.cancel();
                return;
            }
            ReferenceEdit::Use(id, is_used) => references.edit(|list| {
                find(list, id)?.is_used = is_used;
                Ok(())
            }),
            ReferenceEdit::Rename(id, name) => {
                references.edit(|list| find(list, id)?.rename(&name))
            }
            ReferenceEdit::Remove(id) => references.edit(|list| {
                if find(list, id)?.is_input {
                    // Else it would be back with the next sound.
                    self.lasting.shared.input.forget();
                    self.lasting.shared.listening.stop_reference();
                }
                list.retain(|reference| reference.id != id);
                Ok(())
            }),
        };
        if done.is_ok() {
            self.mark_edited();
        }
        self.reader.set_refusal(done.err().map(|why| why.to_string()));
    }

    /// Tells what became of files that were measured.
    pub(super) fn follow_references(&mut self, ctx: &egui::Context) {
        if self.lasting.shared.references.take_added() {
            self.mark_edited();
            ctx.request_repaint();
        }
        if let Some(why) = self.lasting.shared.references.take_refusal() {
            self.reader.set_refusal(Some(why));
            ctx.request_repaint();
        }
        if self.lasting.shared.references.measuring().is_some() {
            ctx.request_repaint_after(super::LOOK_AGAIN);
        }
    }
}
