//! All of the editor by keyboard alone: everything that can be used is reached, its focus is seen,
//! and the strip is read, zoomed and marked with keys.

use crate::interaction::{Bench, actions, bench};
use crate::scenes;
use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use plimsoll::editor::Leaf;
use plimsoll::editor::model::{Action, Model};
use std::collections::BTreeSet;

/// What can be used.
const ROLES: [Role; 6] =
    [Role::Button, Role::RadioButton, Role::CheckBox, Role::Slider, Role::Row, Role::Image];

/// Everything on screen that can be used, by what it is called, and what has the focus of it.
fn usable(harness: &Harness<'_, Bench>) -> (BTreeSet<String>, Option<String>) {
    let mut all = BTreeSet::new();
    let mut focused = None;
    for role in ROLES {
        for node in harness.query_all_by_role(role) {
            let inner = node.accesskit_node();
            let name = inner.label().or_else(|| inner.value()).unwrap_or_default();
            // The curve is looked at, no more.
            if inner.is_disabled() || (role == Role::Image && name != "Song strip") {
                continue;
            }
            let name = format!("{role:?} {name}");
            if node.is_focused() {
                focused = Some(name.clone());
            }
            all.insert(name);
        }
    }
    (all, focused)
}

fn is_reached(model: Model, leaf: Leaf) {
    let mut harness = bench(model);
    harness.state_mut().view.prefs.leaf = leaf;
    harness.run();
    let (wanted, _) = usable(&harness);
    assert!(wanted.len() > 20, "{leaf:?}: {wanted:?}");
    let plain = harness.output().shapes.clone();
    let mut seen = BTreeSet::new();
    for _ in 0..wanted.len() * 2 + 10 {
        harness.key_press(Key::Tab);
        harness.run();
        let (_, Some(name)) = usable(&harness) else { continue };
        // Something is drawn that was not there without the focus.
        assert!(harness.output().shapes != plain, "{leaf:?}: the focus on {name} is not seen");
        seen.insert(name);
    }
    let missed: Vec<_> = wanted.difference(&seen).collect();
    assert!(missed.is_empty(), "{leaf:?}: never reached: {missed:?}");
    assert!(wanted.iter().all(|name| !name.ends_with(' ')), "without a name: {wanted:?}");
}

#[test]
fn everything_is_reached_with_the_tabulator_and_its_focus_is_seen() {
    is_reached(scenes::sectioned(), Leaf::Log);
    is_reached(scenes::sectioned(), Leaf::Peaks);
    is_reached(scenes::destinations(), Leaf::Targets);
}

fn on_the_strip(playhead_hop: i32) -> Harness<'static, Bench> {
    let mut harness = bench(Model { playhead_hop: Some(playhead_hop), ..scenes::sectioned() });
    harness.get_by_label("Song strip").focus();
    harness.run();
    harness
}

#[test]
fn the_strip_is_read_and_marked_with_arrow_keys() {
    let mut harness = on_the_strip(3_000);
    harness.key_press(Key::ArrowRight);
    harness.run();
    assert!(harness.get_by_label("Song strip").is_focused(), "arrows stay on the strip");
    assert!(harness.query_by_label("Chorus 1: Integrated −17.0 LUFS").is_some());
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
        harness.run();
    }
    let (start_s, end_s) = harness.state().view.range_s.expect("a range");
    // The song takes 105 s of the chart; a key moves by a fiftieth of it.
    assert!((start_s - 32.1).abs() < 0.02 && (end_s - 38.4).abs() < 0.05, "{start_s} {end_s}");
    assert_eq!(actions(&mut harness), []);
}

#[test]
fn the_strip_is_zoomed_with_keys_about_the_hair_and_home_shows_all_of_it() {
    let mut harness = on_the_strip(8_350);
    for _ in 0..4 {
        harness.key_press(Key::ArrowUp);
        harness.run();
    }
    let window = harness.state().view.window.expect("zoomed");
    let playhead = f64::from(harness.state().model.playhead_hop.unwrap());
    assert!(window.start_hop < playhead && playhead < window.end_hop);
    let span = window.end_hop - window.start_hop;
    assert!((10_500.0 / span - 1.5_f64.powi(4)).abs() < 0.01, "{span}");
    harness.key_press(Key::Home);
    harness.run();
    assert_eq!(harness.state().view.window, None);
}

#[test]
fn a_target_is_chosen_with_keys_alone() {
    let mut harness = bench(scenes::song(0.0));
    harness.get_by_label("target: Music streaming, −14").focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    harness.get_by_label("Podcast, −16").focus();
    harness.run();
    harness.key_press(Key::Space);
    harness.run();
    let index = harness.state().model.targets.iter().position(|t| t.name == "Podcast, −16");
    assert_eq!(actions(&mut harness), [Action::ChooseTarget(index.unwrap())]);
}
