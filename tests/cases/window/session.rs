//! The real thing: the built plugin in a window, played and used as a user would, with a picture
//! of each step in `target/window-test`.

use crate::desk::{Editor, RATE_HZ, SIZE, keep};
use crate::user::User;
use clack_extensions::gui::GuiSize;
use plimsoll::editor::theme::{Palette, ThemeChoice};
use plimsoll_tests::child;
use plimsoll_tests::display::keysym;
use plimsoll_tests::transport::Step;

const fn play(seconds: usize) -> Step {
    Step::Play { len_frames: seconds * RATE_HZ }
}

fn keep_step(user: &mut User, name: &str) {
    user.editor.until_still();
    keep(&user.editor.picture(SIZE), name);
}

#[test]
fn a_song_is_played_marked_named_judged_and_looked_at() {
    child::on_a_screen("session::a_song_is_played_marked_named_judged_and_looked_at", || {
        let mut user = User::new();
        let empty = user.editor.until_drawn(SIZE, ThemeChoice::Day);
        keep_step(&mut user, "01-empty");

        // Half of the song, then what is left of it.
        user.run(&[play(46)]);
        keep_step(&mut user, "02-half");
        user.run(&[Step::Locate { frame: 46 * RATE_HZ as i64 }, play(46)]);
        user.editor.until(10, "the song to appear", |editor| {
            let picture = editor.picture(SIZE);
            let shown = empty.difference(&picture).unwrap().pixels;
            shown > 100_000 && picture.pixels().any(|pixel| pixel == Palette::DAY.water.to_array())
        });
        keep_step(&mut user, "03-played");

        choose_a_target(&mut user);
        mark_and_drag(&mut user);
        select_a_range(&mut user);
        name_the_song(&mut user);
        look_at_tables(&mut user);
        resize_and_rescale(&mut user);
        open_again(user);
    });
}

fn choose_a_target(user: &mut User) {
    let told = user.editor.host.calls().flush;
    let before = user.target();
    user.click("target: ");
    keep_step(user, "04-targets");
    let wanted = "AES music, track";
    assert_ne!(before, wanted);
    user.click(wanted);
    user.until("another target", |_, settings| {
        settings.chosen_target().is_some_and(|target| target.name == wanted)
    });
    // The host is told that its project changed.
    user.editor.until(5, "the host to be told", |editor| editor.host.calls().flush > told);
    keep_step(user, "05-target");
}

fn mark_and_drag(user: &mut User) {
    // The playhead stands at 25 s.
    user.run(&[Step::Locate { frame: 24 * RATE_HZ as i64 }, play(1)]);
    user.click("Mark: a new section starts at the playhead");
    user.until("a section", |song, _| song.sections.as_slice().len() == 1);
    let start_s = user.song().sections.as_slice()[0].start_s;
    assert!((24.0..=26.0).contains(&start_s), "the playhead stands at 25 s: {start_s}");
    keep_step(user, "06-marked");

    // To a place 30 s before it: the strip tells how wide a second is.
    let edge = user.place("start of ").center();
    let whole = user.place("Song strip");
    let at_x = |at_s: f32| whole.left() + whole.width() * at_s / 105.0;
    assert!((at_x(start_s as f32) - edge.x).abs() < 1.0, "92 s are shown on 105 s");
    let to = (at_x(10.0) as i16, edge.y as i16);
    user.editor.parent.drag((edge.x as i16, edge.y as i16), to).unwrap();
    user.until("the edge to have moved", |song, _| song.sections.as_slice()[0].start_s < 20.0);
    let moved_s = user.song().sections.as_slice()[0].start_s;
    // New edges go to the nearest bar, which lie 2 s apart.
    assert!((9.0..=11.0).contains(&moved_s), "{moved_s}");
    keep_step(user, "07-dragged");

    // One undo takes back all of the drag.
    user.click("Sections");
    keep_step(user, "08-menu");
    user.click("Undo: ");
    user.until("the edge to be back", |song, _| song.sections.as_slice()[0].start_s == start_s);
    keep_step(user, "09-undone");
}

fn select_a_range(user: &mut User) {
    let chart = user.place("Song strip");
    let at = |at_s: f32| ((chart.left() + chart.width() * at_s / 105.0) as i16, 300);
    user.drag(at(4.0), at(20.0));
    keep_step(user, "10-range");
    user.click("Make section");
    user.until("a second section", |song, _| song.sections.as_slice().len() == 2);
    let song = user.song();
    let first = &song.sections.as_slice()[0];
    assert!((3.0..=5.0).contains(&first.start_s) && (19.0..=21.0).contains(&first.end_s));
    keep_step(user, "11-second-section");
}

fn name_the_song(user: &mut User) {
    user.click("Song: Unnamed song");
    user.editor.parent.keys("lantern tide".chars().map(u32::from)).unwrap();
    keep_step(user, "12-typed");
    user.editor.parent.keys([keysym::RETURN]).unwrap();
    user.until("the song to be named", |song, _| song.name == "lantern tide");
}

fn look_at_tables(user: &mut User) {
    for leaf in ["Log", "Peaks", "Targets", "Tone"] {
        let before = user.editor.picture(SIZE);
        user.click(leaf);
        user.editor.until(5, leaf, |editor| {
            before.difference(&editor.picture(SIZE)).unwrap().pixels > 20_000
        });
        keep_step(user, &format!("13-{leaf}"));
        assert!(user.editor.view().contains(leaf));
    }
    user.click("Night");
    let night = user.editor.until_drawn(SIZE, ThemeChoice::Night);
    keep(&night, "14-night");
    user.editor.until(5, "the theme to be kept", |editor| editor.view().contains("Night"));
}

fn resize_and_rescale(user: &mut User) {
    let editor = &mut user.editor;
    for (width, height) in [(640, 400), (1600, 1000), (700, 1100), (900, 500)] {
        let size = GuiSize { width, height };
        editor.resize(size);
        let picture = editor.until_drawn(size, ThemeChoice::Night);
        keep(&picture, &format!("15-{width}x{height}"));
    }
    editor.rescale(2.0);
    let double = GuiSize { width: 1800, height: 1000 };
    assert_eq!(editor.size(), double);
    keep(&editor.until_drawn(double, ThemeChoice::Night), "16-scale-2");
}

/// In the size, theme and table that were left, at the scale that the host told.
fn open_again(user: User) {
    let mut editor = Editor::open_as_kept(user.editor.close());
    let size = GuiSize { width: 1800, height: 1000 };
    assert_eq!(editor.size(), size);
    keep(&editor.until_drawn(size, ThemeChoice::Night), "17-again");
    assert!(editor.view().contains("Tone"));
    drop(editor.close());
}
