//! Hands on the window: keys, its corner, scale and size.

use crate::desk::{Editor, SIZE, active_host, keep, play};
use crate::user::User;
use clack_extensions::gui::GuiSize;
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::display::{Like, ParentWindow, keysym};

/// The keys of a text, none of them capital.
fn keys(text: &str) -> impl Iterator<Item = u32> {
    // X11 names the keys of Latin letters by their code.
    text.chars().map(u32::from)
}

#[test]
fn keys_reach_the_host_unless_a_text_field_has_the_focus() {
    child::on_a_screen("hands::keys_reach_the_host_unless_a_text_field_has_the_focus", || {
        let mut user = User::new();
        user.editor.until_drawn(SIZE, ThemeChoice::Day);
        let press = |user: &mut User, text: &str| {
            user.editor.until_still();
            user.editor.parent.keys_that_came().unwrap();
            user.editor.parent.keys(keys(text)).unwrap();
            user.editor.until_still();
            user.editor.parent.keys_that_came().unwrap()
        };
        // Only pointed at, then clicked into.
        user.editor.parent.point(600, 300).unwrap();
        assert_eq!(press(&mut user, " a1"), 3, "with the pointer over the editor");
        user.editor.parent.click(600, 300).unwrap();
        assert_eq!(press(&mut user, " a1"), 3, "after a click into the chart");
        // A text field takes them, and gives them back when it is done.
        user.click("Song: Unnamed song");
        assert_eq!(press(&mut user, "lantern tide"), 0, "a text field has the focus");
        user.editor.parent.keys([keysym::RETURN]).unwrap();
        user.until("the song to be named", |song, _| song.name == "lantern tide");
        assert_eq!(press(&mut user, " a1"), 3, "after the text field");
        drop(user.editor.close());
    });
}

#[test]
fn its_own_corner_resizes_it_and_draws_it_larger() {
    child::on_a_screen("hands::its_own_corner_resizes_it_and_draws_it_larger", || {
        let mut editor = Editor::open(active_host(), 1.0);
        editor.until_drawn(SIZE, ThemeChoice::Day);
        let asked = editor.host.calls().resize;
        editor.parent.drag((1194, 694), (1494, 794)).unwrap();
        let large = GuiSize { width: 1500, height: 800 };
        editor.until(10, "the size that was dragged", |editor| editor.size() == large);
        editor.until_drawn(large, ThemeChoice::Day);
        editor.until(5, "the host to be asked", |editor| editor.host.calls().resize > asked);
        let kept = editor.kept("view");
        assert_eq!((kept["width"].as_f64(), kept["height"].as_f64()), (Some(1500.0), Some(800.0)));
        // Not smaller than what can be read.
        editor.parent.drag((1494, 794), (200, 100)).unwrap();
        let least = GuiSize { width: 640, height: 400 };
        editor.until(10, "the least size", |editor| editor.size() == least);
        keep(&editor.until_drawn(least, ThemeChoice::Day), "corner-least");
        // A click opens the list of magnifications; the fourth is 200 %.
        editor.parent.click(632, 392).unwrap();
        editor.until_still();
        let menu = editor.picture(least);
        keep(&menu, "corner-menu");
        editor.parent.click(560, 348).unwrap();
        editor.until(10, "200 %", |editor| editor.kept("view")["zoom"] == 2.0);
        let double = GuiSize { width: 1280, height: 800 };
        editor.until(10, "a window twice as large", |editor| editor.size() == double);
        keep(&editor.until_drawn(double, ThemeChoice::Day), "zoom-2");
        // It is kept, and the next window opens with it.
        let mut editor = Editor::open_as_kept(editor.close());
        assert_eq!(editor.size(), double);
        editor.until_drawn(double, ThemeChoice::Day);
        drop(editor.close());
    });
}

#[test]
fn scale_3_and_a_screen_of_3840_by_2160_are_honoured() {
    let like = Like { size: [3840, 2160], has_gl: true };
    child::on_a_screen_like(
        "hands::scale_3_and_a_screen_of_3840_by_2160_are_honoured",
        like,
        &[],
        || {
            let mut host = active_host();
            play(&mut host, 92);
            for (size, scale, name) in [
                (GuiSize { width: 1280, height: 720 }, 3.0, "scale-3"),
                (GuiSize { width: 3840, height: 2160 }, 1.0, "scale-1"),
                (GuiSize { width: 1200, height: 700 }, 1.5, "scale-1.5"),
            ] {
                let parent = ParentWindow::open(3840, 2160).unwrap();
                let mut editor = Editor::open_in(host, parent, size, scale);
                let scaled = |points: u32| (f64::from(points) * scale).round() as u32;
                let pixels = GuiSize { width: scaled(size.width), height: scaled(size.height) };
                assert_eq!(editor.size(), pixels);
                let picture = editor.until_drawn(pixels, ThemeChoice::Day);
                keep(&picture, &format!("{name}-{}x{}", pixels.width, pixels.height));
                host = editor.close();
            }
        },
    );
}
