//! The window's life: hidden, many at once, and what goes wrong in it.

use crate::desk::{Editor, SIZE, active_host, can_open, host_of, keep, measures_on, play};
use clack_extensions::gui::GuiSize;
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::display::{Like, ParentWindow};
use plimsoll_tests::host::{Library, built_bundle};

#[test]
fn five_are_open_at_once_and_each_shows_its_own() {
    let name = "life::five_are_open_at_once_and_each_shows_its_own";
    child::on_a_screen(name, || {
        let library = Library::load(&built_bundle()).unwrap();
        let size = GuiSize { width: 640, height: 400 };
        let places = [[0, 0], [640, 0], [1280, 0], [0, 400], [640, 400]];
        let mut editors: Vec<Editor> = places
            .map(|at| {
                let parent = ParentWindow::open_at(at, 640, 400).unwrap();
                Editor::open_in(host_of(&library), parent, size, 1.0)
            })
            .into();
        let blank: Vec<_> =
            editors.iter_mut().map(|editor| editor.until_drawn(size, ThemeChoice::Day)).collect();
        // Each plays another length of the song.
        for (index, editor) in editors.iter_mut().enumerate() {
            play(&mut editor.host, 6 + index);
        }
        for (editor, blank) in editors.iter_mut().zip(&blank) {
            editor.until(10, "the song to appear", |editor| {
                blank.difference(&editor.picture(size)).unwrap().pixels > 10_000
            });
        }
        keep(&ParentWindow::open(1, 1).unwrap().picture(1920, 800).unwrap(), "five");
        // One goes; the others stay.
        let mut closed = editors.remove(2).close();
        measures_on(&mut closed, 8);
        for (editor, seconds) in editors.iter_mut().zip([6, 7, 9, 10]) {
            let before = editor.picture(size);
            play(&mut editor.host, seconds + 20);
            editor.until(10, "the song to go on", |editor| {
                before.difference(&editor.picture(size)).unwrap().pixels > 1_000
            });
        }
        editors.into_iter().for_each(|editor| drop(editor.close()));
    });
}

#[test]
fn hidden_and_shown_again_it_is_drawn_anew() {
    child::on_a_screen("life::hidden_and_shown_again_it_is_drawn_anew", || {
        let mut editor = Editor::open(active_host(), 1.0);
        let empty = editor.until_drawn(SIZE, ThemeChoice::Day);
        for seconds in [5, 10, 15] {
            editor.hide();
            editor.until(5, "the editor to go", |editor| {
                empty.difference(&editor.picture(SIZE)).unwrap().pixels > 500_000
            });
            play(&mut editor.host, seconds);
            editor.show();
            let shown = editor.until_drawn(SIZE, ThemeChoice::Day);
            assert!(empty.difference(&shown).unwrap().pixels > 20_000, "the song is there");
        }
        measures_on(&mut editor.close(), 16);
    });
}

#[test]
fn a_panic_in_drawing_shows_a_message_and_the_host_lives() {
    let name = "life::a_panic_in_drawing_shows_a_message_and_the_host_lives";
    let environment = [("PLIMSOLL_FAIL_IN_EDITOR", "1")];
    let log = child::on_a_screen_like(name, Like::default(), &environment, || {
        // Only a build with debug assertions can be made to fail.
        let library = Library::linked(&plimsoll::clap_entry).unwrap();
        let mut host = host_of(&library);
        for opening in 0..2 {
            let mut editor = Editor::open(host, 1.0);
            let paper = ThemeChoice::Day.palette().paper.to_array();
            let ink = ThemeChoice::Day.palette().ink.to_array();
            editor.until(20, "the message", |editor| {
                let picture = editor.picture(SIZE);
                let count = |wanted| picture.pixels().filter(|&pixel| pixel == wanted).count();
                // Nothing but a message of some lines.
                count(paper) > 800_000 && (100..20_000).contains(&count(ink))
            });
            keep(&editor.picture(SIZE), "failed");
            play(&mut editor.host, 3 + opening);
            host = editor.close();
        }
        measures_on(&mut host, 5);
    });
    if let Some(log) = log {
        assert!(log.contains("the editor's drawing failed; metering goes on"), "{log}");
    }
}

/// The host of a plugin that cannot open its editor, however often it is asked.
fn without_an_editor() {
    let mut host = active_host();
    for _ in 0..3 {
        assert!(!can_open(&mut host));
    }
    measures_on(&mut host, 5);
}

fn says_so(log: Option<String>) {
    if let Some(log) = log {
        assert!(log.contains("Failed to open editor"), "{log}");
    }
}

#[test]
fn without_opengl_the_editor_is_refused_and_metering_goes_on() {
    let name = "life::without_opengl_the_editor_is_refused_and_metering_goes_on";
    let like = Like { has_gl: false, ..Like::default() };
    // Nor is there the other way to it, beside the X server.
    let environment = [("__EGL_VENDOR_LIBRARY_FILENAMES", "/dev/null")];
    says_so(child::on_a_screen_like(name, like, &environment, without_an_editor));
}

#[test]
fn without_a_screen_the_editor_is_refused_and_metering_goes_on() {
    let name = "life::without_a_screen_the_editor_is_refused_and_metering_goes_on";
    let nowhere = [("DISPLAY", ""), ("WAYLAND_DISPLAY", "")];
    says_so(child::run(name, &nowhere, without_an_editor));
}
