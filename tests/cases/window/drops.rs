//! Files dropped on the window, as a file manager does it.

use crate::desk::{Editor, SIZE, active_host, demo_song, keep};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::audio_file::write_wav_f32;
use plimsoll_tests::child;
use plimsoll_tests::display::Dragged;

#[test]
fn a_file_becomes_a_reference_and_nothing_else_is_taken() {
    child::on_a_screen("drops::a_file_becomes_a_reference_and_nothing_else_is_taken", || {
        let folder = std::env::temp_dir().join(format!("plimsoll-drop-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let song = folder.join("Lantern Tide, \u{e9}t\u{e9} 100 %.wav");
        write_wav_f32(&song, demo_song()).unwrap();
        let mut editor = Editor::open(active_host(), 1.0);
        editor.until_drawn(SIZE, ThemeChoice::Day);
        let drag = |editor: &Editor, what| editor.parent.drag_onto(what, &[&song]).unwrap();
        assert!(!drag(&editor, Dragged::Text));
        assert!(!drag(&editor, Dragged::FilesAndAway));
        editor.until_still();
        assert!(!editor.kept("references").to_string().contains("Lantern Tide"));
        assert!(drag(&editor, Dragged::Files));
        editor.until(60, "the reference to be measured", |editor| {
            editor.kept("references").to_string().contains("Lantern Tide, \u{e9}t\u{e9} 100 %")
        });
        editor.until_still();
        keep(&editor.picture(SIZE), "dropped");
        drop(editor.close());
        std::fs::remove_dir_all(&folder).unwrap();
    });
}
