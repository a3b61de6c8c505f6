//! Matched listening in the built plugin, switched on by a click: what comes out, and when nothing
//! but what came in does.

use crate::desk::{RATE_HZ, SIZE, demo_song, keep};
use crate::user::User;
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::host::{Buffers, Host, Library, SecondInput, built_bundle, field, with_field};
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use serde_json::Value;
use std::sync::Arc;

/// Plays five seconds from the start of the song; gives how many samples came out other than they
/// went in.
fn changed(user: &mut User) -> u64 {
    let steps = [Step::Locate { frame: 0 }, Step::Play { len_frames: 5 * RATE_HZ }];
    let telling = Telling::new(Tells::Everything);
    let blocks = Blocks::Fixed(512);
    let host = &mut user.editor.host;
    host.run(demo_song(), &steps, &telling, &blocks, Buffers::InPlace).unwrap().changed_samples
}

fn activate_anew(user: &mut User, is_offline: bool) {
    let host = &mut user.editor.host;
    host.deactivate();
    host.render_offline(is_offline).unwrap();
    host.activate(RATE_HZ as u32, 512).unwrap();
}

/// A user before the song, with the same song at half the level on the second input.
/// The target is one that the song is louder than: there is something to hear.
fn user() -> User {
    let mut host = Host::new(&Library::load(&built_bundle()).unwrap()).unwrap();
    host.select_layout_named("Stereo with a reference input").unwrap();
    let state = host.save_state().unwrap();
    let mut settings: Value = serde_json::from_str(&field(&state, "settings").unwrap()).unwrap();
    settings["target"] = "ARIB TR-B32".into();
    let state = with_field(&state, "settings", &settings.to_string()).unwrap();
    host.load_state(&state).unwrap();
    let song = demo_song();
    let reference = song.with_gain(0..song.len_frames(), 0.5);
    host.set_second_input(SecondInput::Song(Arc::new(reference)));
    host.activate(RATE_HZ as u32, 512).unwrap();
    User::of(host)
}

fn look(user: &mut User, name: &str) {
    user.editor.until_still();
    keep(&user.editor.picture(SIZE), &format!("listening-{name}"));
}

/// Plays all of the song and presses `button`: the sentences of matched listening, one after the other.
fn press(user: &mut User, button: &str) {
    user.run(&[Step::Play { len_frames: demo_song().len_frames() }]);
    user.editor.until_drawn(SIZE, ThemeChoice::Day);
    let figures = |user: &mut User| user.editor.host.measurement().unwrap().figures;
    let before = figures(user);
    assert_eq!(changed(user), 0, "off by default");
    user.editor.until_still();
    user.click(button);
    look(user, button);
    // All but what is zero.
    assert!(changed(user) > 8 * RATE_HZ as u64, "{button} does nothing");
    // The meters read before it.
    let after = figures(user);
    assert_eq!(after.max_true_peak_dbtp, before.max_true_peak_dbtp);
    let moved = after.integrated_lufs.unwrap() - before.integrated_lufs.unwrap();
    assert!(moved.abs() < 1e-6, "{moved}");
    // Nothing of it where the host renders, and it goes on after that.
    activate_anew(user, true);
    assert_eq!(changed(user), 0, "{button} offline");
    activate_anew(user, false);
    assert!(changed(user) > 8 * RATE_HZ as u64);
    // A reload takes it off; the first 25 ms are the way back.
    let state = user.editor.host.save_state().unwrap();
    user.editor.host.load_state(&state).unwrap();
    assert!(changed(user) < RATE_HZ as u64 / 10);
    assert_eq!(changed(user), 0, "{button} after a reload");
}

#[test]
fn the_playback_gain_is_heard_and_neither_measured_nor_rendered() {
    child::on_a_screen(
        "listening::the_playback_gain_is_heard_and_neither_measured_nor_rendered",
        || {
            press(&mut user(), "Listen");
        },
    );
}

#[test]
fn the_level_of_the_reference_input_is_heard_and_neither_measured_nor_rendered() {
    let name =
        "listening::the_level_of_the_reference_input_is_heard_and_neither_measured_nor_rendered";
    child::on_a_screen(name, || {
        let mut user = user();
        user.click("Tone");
        user.editor.until_still();
        user.click("Reference");
        look(&mut user, "nothing");
        press(&mut user, "Match level");
        user.click("1 reference");
        look(&mut user, "list");
    });
}
