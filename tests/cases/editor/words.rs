//! Every figure carries its unit, and every state says what to do: read from what the editor
//! tells screen readers.

use crate::scenes;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use plimsoll::editor::model::{Model, Notice, TransportState};
use plimsoll::editor::{self, Reading, ViewState};
use plimsoll::target::Distance;
use plimsoll::units::{Dbtp, Lu, Lufs};

fn shown(model: Model, reading: Reading) -> Harness<'static, ViewState> {
    let mut view = ViewState::default();
    view.prefs.reading = reading;
    let mut harness = Harness::builder()
        .with_size(egui::vec2(900.0, 500.0))
        .with_context_setup(editor::install)
        .build_ui_state(
            move |ui, view: &mut ViewState| {
                let mut actions = Vec::new();
                editor::draw(ui, &model, view, &mut actions);
            },
            view,
        );
    harness.run();
    harness
}

#[test]
fn figures_read_with_unit_and_maximum() {
    let mut model = scenes::song(0.0);
    model.now.momentary = Some(Lufs(-9.95));
    model.now.short_term = Some(Lufs(f64::NEG_INFINITY));
    model.now.true_peaks[0] = Some(Dbtp(0.25));
    model.now.true_peaks[1] = None;
    model.figures.max_momentary = Some(Lufs(-8.0));
    model.figures.max_short_term = Some(Lufs(-10.5));
    model.figures.max_true_peak = Some(Dbtp(0.3));
    model.figures.integrated = Some(Lufs(-14.04));
    model.figures.loudness_range = Some(Lu(7.25));
    model.distance = Some(Distance::new(&model.figures, &model.targets[0]));
    let harness = shown(model, Reading::Absolute);
    harness.get_by_label("Momentary −9.9 LUFS max −8.0 LUFS");
    harness.get_by_label("Short-term −∞ LUFS max −10.5 LUFS");
    harness.get_by_label("True peak L +0.2 R – dBTP max, over +0.3 dBTP");
    harness.get_by_label_contains("Integrated −14.0 LUFS");
    harness.get_by_label_contains("LRA 7.2 LU");
    harness.get_by_label_contains("PLR 14.3 LU");
    harness.get_by_label("Gain to target 0.0 dB");
    harness.get_by_label("Peak at target +0.3 dBTP");
    harness.get_by_label("Peak control 1.3 dB");
}

#[test]
fn relative_readings_carry_lu() {
    let mut model = scenes::song(0.0);
    model.now.momentary = Some(Lufs(-20.0));
    model.figures.max_momentary = Some(Lufs(-8.0));
    let harness = shown(model.clone(), Reading::RelativeToEbu);
    harness.get_by_label("Momentary +3.0 LU max +15.0 LU");
    let harness = shown(model, Reading::RelativeToTarget);
    harness.get_by_label("Momentary −6.0 LU max +6.0 LU");
}

#[test]
fn loudness_range_is_marked_below_sixty_seconds_only() {
    let harness = shown(scenes::begun(0.0, 59), Reading::Absolute);
    assert!(harness.query_by_label_contains("not yet stable").is_some());
    let harness = shown(scenes::begun(0.0, 60), Reading::Absolute);
    assert!(harness.query_by_label_contains("not yet stable").is_none());
}

#[test]
fn each_state_says_what_to_do() {
    let empty = shown(scenes::empty(), Reading::Absolute);
    empty.get_by_label("Nothing measured yet");
    empty.get_by_label_contains("Play the song from its start");

    let mut paused = scenes::empty();
    paused.running = false;
    shown(paused, Reading::Absolute).get_by_label_contains("Press Continue");

    let mut unsupported = scenes::empty();
    unsupported.notices = vec![Notice::Unsupported];
    let unsupported = shown(unsupported, Reading::Absolute);
    unsupported.get_by_label_contains("Change the host's rate or channels");
    unsupported.get_by_label("Not measuring");

    let mut full = scenes::song(0.0);
    full.notices = vec![Notice::RecordFull];
    shown(full, Reading::Absolute).get_by_label_contains("Reset to start anew");

    let mut stopped = scenes::song(0.0);
    stopped.transport = TransportState::Stopped;
    shown(stopped, Reading::Absolute).get_by_label("Stopped");
}

#[test]
fn figures_of_an_earlier_session_say_so() {
    let mut model = scenes::empty();
    model.last_session = Some(scenes::song(0.0).figures);
    let harness = shown(model, Reading::Absolute);
    harness.get_by_label_contains("below are from an earlier session");
    harness.get_by_label_contains("Integrated −15.3 LUFS earlier session");
}

#[test]
fn a_target_for_peaks_shows_headroom_and_no_gain() {
    let mut model = scenes::song(-8.0);
    scenes::choose(&mut model, "Mix hand-off to mastering");
    let harness = shown(model, Reading::Absolute);
    harness.get_by_label("Headroom +4.4 dB");
    harness.get_by_label("Sample peak −7.6 dBFS");
    assert!(harness.query_by_label_contains("Gain to target").is_none());
}
