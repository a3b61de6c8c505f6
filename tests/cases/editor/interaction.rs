//! Using the editor as a user does; what it asks for is compared.

use crate::scenes;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use plimsoll::editor::model::{Action, Model};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll::editor::{self, Reading, ScaleChoice, ViewState};
use plimsoll::units::Lufs;

pub struct Bench {
    pub model: Model,
    pub view: ViewState,
    pub actions: Vec<Action>,
}

pub fn bench(model: Model) -> Harness<'static, Bench> {
    let bench = Bench { model, view: ViewState::default(), actions: Vec::new() };
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1200.0, 700.0))
        .with_context_setup(editor::install)
        .build_ui_state(
            |ui, bench: &mut Bench| {
                editor::draw(ui, &bench.model, &mut bench.view, &mut bench.actions);
            },
            bench,
        );
    harness.run();
    harness
}

pub fn click(harness: &mut Harness<'static, Bench>, label: &str) {
    harness.get_by_label(label).click();
    harness.run();
}

pub fn actions(harness: &mut Harness<'static, Bench>) -> Vec<Action> {
    std::mem::take(&mut harness.state_mut().actions)
}

/// Replaces what a text field holds.
pub fn retype(harness: &mut Harness<'static, Bench>, label: &str, text: &str) {
    harness.get_by_role_and_label(egui::Role::TextInput, label).focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness.get_by_role_and_label(egui::Role::TextInput, label).type_text(text);
    harness.run();
}

#[test]
fn pause_and_continue() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "Pause");
    assert_eq!(actions(&mut harness), [Action::Pause]);
    harness.state_mut().model.running = false;
    harness.run();
    assert!(harness.query_by_label("Pause").is_none());
    click(&mut harness, "Continue");
    assert_eq!(actions(&mut harness), [Action::Continue]);
}

#[test]
fn the_playback_gain_is_heard_at_a_press_and_said_as_long_as_it_is_on() {
    use plimsoll::listening::{MatchTo, Matched};
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "Listen");
    assert_eq!(actions(&mut harness), [Action::ListenMatched]);
    let gain = plimsoll::units::Db(-1.4);
    let to = MatchTo::Playback;
    harness.state_mut().model.matched =
        Some(Matched { to, gain, held_back: false, rendering: false });
    harness.run();
    harness.get_by_label_contains("output turned down 1.4 dB");
    click(&mut harness, "Switch off");
    click(&mut harness, "Listen");
    assert_eq!(actions(&mut harness), [Action::ListenPlain, Action::ListenPlain]);
    harness.state_mut().model.matched = None;
    harness.run();
    assert!(harness.query_by_label_contains("Matched listening").is_none());

    // Nothing measured: there is no gain to hear.
    assert!(bench(scenes::empty()).query_by_label("Listen").is_none());
}

#[test]
fn a_reset_can_be_undone_or_kept() {
    let mut harness = bench(scenes::song(0.0));
    assert!(harness.query_by_label("Bring it back").is_none());
    click(&mut harness, "Reset");
    assert_eq!(actions(&mut harness), [Action::Reset]);
    harness.state_mut().model = scenes::empty();
    harness.state_mut().model.can_undo_reset = true;
    harness.run();
    click(&mut harness, "Bring it back");
    assert_eq!(actions(&mut harness), [Action::UndoReset]);

    click(&mut harness, "Keep it so");
    assert!(harness.query_by_label("Bring it back").is_none());
    assert_eq!(actions(&mut harness), []);
    // The next reset is offered anew.
    click(&mut harness, "Reset");
    assert!(harness.query_by_label("Bring it back").is_some());
}

#[test]
fn another_target_is_chosen_from_the_list() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "target: Music streaming, −14");
    click(&mut harness, "Podcast, −16");
    let index = harness.state().model.targets.iter().position(|t| t.name == "Podcast, −16");
    assert_eq!(actions(&mut harness), [Action::ChooseTarget(index.unwrap())]);
    assert!(harness.query_by_label("New target").is_none(), "the list closes");
}

#[test]
fn built_in_targets_can_be_duplicated_but_not_edited_or_deleted() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "target: Music streaming, −14");
    assert!(harness.query_by_label("Edit Podcast, −16").is_none());
    assert!(harness.query_by_label("Delete Podcast, −16").is_none());
    click(&mut harness, "Duplicate Podcast, −16");
    click(&mut harness, "Save");
    let mut copy = harness.state().model.targets.iter().find(|t| t.name == "Podcast, −16").cloned();
    copy.as_mut().unwrap().name = "Podcast, −16 (own)".to_owned();
    assert_eq!(actions(&mut harness), [Action::AddTarget(copy.unwrap())]);
}

#[test]
fn an_own_target_is_edited_and_a_wrong_figure_is_said_and_not_saved() {
    let mut model = scenes::song(0.0);
    let mut own = model.targets[0].clone();
    own.name = "For the record label".to_owned();
    model.targets.push(own.clone());
    let index = model.targets.len() - 1;
    model.chosen_target = index;
    let mut harness = bench(model);
    click(&mut harness, "target: For the record label");
    click(&mut harness, "Edit For the record label");

    retype(&mut harness, "Integrated", "14");
    harness.get_by_label("! integrated loudness 14 LUFS: must lie from -60 to 0 LUFS");
    click(&mut harness, "Save");
    assert_eq!(actions(&mut harness), []);

    retype(&mut harness, "Integrated", "-12,5");
    click(&mut harness, "Save");
    own.integrated.as_mut().unwrap().loudness = Lufs(-12.5);
    assert_eq!(actions(&mut harness), [Action::ReplaceTarget(index, own)]);
}

#[test]
fn an_own_target_is_deleted() {
    let mut model = scenes::song(0.0);
    let mut own = model.targets[0].clone();
    own.name = "Old one".to_owned();
    model.targets.push(own);
    let index = model.targets.len() - 1;
    model.chosen_target = index;
    let mut harness = bench(model);
    click(&mut harness, "target: Old one");
    click(&mut harness, "Delete Old one");
    assert_eq!(actions(&mut harness), [Action::DeleteTarget(index)]);
}

#[test]
fn a_dialog_closes_with_escape_and_asks_for_nothing() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "Cautions");
    assert!(harness.state().view.dialog.is_some());
    harness.key_press(Key::Escape);
    harness.run();
    assert!(harness.state().view.dialog.is_none());
    assert_eq!(actions(&mut harness), []);
}

#[test]
fn the_theme_changes_at_once_and_is_told() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "Night");
    assert_eq!(actions(&mut harness), [Action::SetTheme(ThemeChoice::Night)]);
    assert_eq!(harness.state().view.prefs.theme, ThemeChoice::Night);
    assert!(harness.query_by_label("Day").is_some());
}

#[test]
fn scale_and_reading_are_chosen_in_the_menu() {
    let mut harness = bench(scenes::song(0.0));
    click(&mut harness, "Scale: LUFS");
    click(&mut harness, "EBU +18: −59 to −5 LUFS");
    assert_eq!(harness.state().view.prefs.scale, ScaleChoice::EbuPlus18);
    click(&mut harness, "Scale: LUFS");
    click(&mut harness, "Relative to −23 LUFS, in LU");
    assert_eq!(harness.state().view.prefs.reading, Reading::RelativeToEbu);
    assert!(harness.query_by_label("Scale: LU").is_some());
}

#[test]
fn every_control_is_reached_by_keyboard_and_works() {
    let mut harness = bench(scenes::song(0.0));
    // Tab until the pause button has the focus; there are few controls.
    for _ in 0..10 {
        harness.key_press(Key::Tab);
        harness.run();
        if harness.get_by_label("Pause").is_focused() {
            break;
        }
    }
    assert!(harness.get_by_label("Pause").is_focused());
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(actions(&mut harness), [Action::Pause]);
}

#[test]
fn a_still_model_asks_for_no_further_frame() {
    let mut harness = bench(scenes::song(0.0));
    for _ in 0..5 {
        harness.step();
    }
    let wanted = harness.output().viewport_output[&egui::ViewportId::ROOT].repaint_delay;
    assert_eq!(wanted, std::time::Duration::MAX);
}

#[test]
fn the_wheel_zooms_and_a_double_click_shows_the_whole_song() {
    let mut harness = bench(scenes::song(0.0));
    harness.hover_at(egui::pos2(600.0, 300.0));
    harness.run();
    harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, 200.0),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: Modifiers::NONE,
    });
    // egui spreads one turn of the wheel over some frames.
    harness.run_steps(10);
    let window = harness.state().view.window.expect("zoomed in");
    let span = window.end_hop - window.start_hop;
    assert!(span < 10_500.0 / 2.0, "{span} hops");
    click(&mut harness, "Whole song");
    assert_eq!(harness.state().view.window, None);
}
