//! What the editor looks like in a few states, sizes, scales and both charts.

use crate::scenes;
use egui::vec2;
use plimsoll::editor::model::Model;
use plimsoll::editor::theme::ThemeChoice;
use plimsoll::editor::{self, Leaf, ViewState};
use plimsoll::shared::Measuring;
use plimsoll_tests::raster::{self, Picture};
use std::path::{Path, PathBuf};

/// Share of the pixels that may differ noticeably: the edges of a few glyphs, where another
/// processor rounds otherwise. A word that moves by a pixel changes more.
const MOST_DIFFERENT_SHARE: f64 = 0.0002;

fn drawn(model: &Model, theme: ThemeChoice, size_pt: [f32; 2], scale: f32) -> Picture {
    drawn_with(model, ViewState::default(), theme, size_pt, scale)
}

fn drawn_with(
    model: &Model,
    mut view: ViewState,
    theme: ThemeChoice,
    size_pt: [f32; 2],
    scale: f32,
) -> Picture {
    view.set_theme(theme);
    let mut actions = Vec::new();
    let picture = raster::render(vec2(size_pt[0], size_pt[1]), scale, editor::install, |ui| {
        editor::draw(ui, model, &mut view, &mut actions);
    });
    assert!(actions.is_empty(), "drawing alone asks for nothing: {actions:?}");
    picture
}

fn compare(name: &str, picture: &Picture) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("images").join(format!("{name}.png"));
    if std::env::var_os("UPDATE_IMAGES").is_some() {
        picture.save(&path).unwrap();
        return;
    }
    let kept = Picture::load(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let seen: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}.png"));
    let Some(difference) = kept.difference(picture) else {
        picture.save(&seen).unwrap();
        panic!("{name}: {picture:?}, kept is {kept:?}; see {}", seen.display());
    };
    let share = difference.pixels as f64 / (kept.width() * kept.height()) as f64;
    if share > MOST_DIFFERENT_SHARE {
        picture.save(&seen).unwrap();
        panic!(
            "{name}: {} pixels differ ({:.3} %), by up to {} of 255; see {}",
            difference.pixels,
            share * 100.0,
            difference.largest,
            seen.display()
        );
    }
}

#[test]
fn over_the_load_line_by_day() {
    let model = scenes::song(5.5);
    compare("over-day-1200x700", &drawn(&model, ThemeChoice::Day, [1200.0, 700.0], 1.0));
}

#[test]
fn replayed_with_a_gap_by_night() {
    let model = scenes::replayed();
    compare("replayed-night-1200x700", &drawn(&model, ThemeChoice::Night, [1200.0, 700.0], 1.0));
}

#[test]
fn the_smallest_window_with_notes() {
    compare("notes-day-640x400", &drawn(&scenes::noted(), ThemeChoice::Day, [640.0, 400.0], 1.0));
}

#[test]
fn nothing_measured_at_scale_one_and_a_half() {
    let model = scenes::empty();
    compare("empty-day-640x400-at-1.5", &drawn(&model, ThemeChoice::Day, [640.0, 400.0], 1.5));
}

#[test]
fn a_quiet_song_at_scale_two_by_night() {
    let model = scenes::song(-8.0);
    compare("quiet-night-640x400-at-2", &drawn(&model, ThemeChoice::Night, [640.0, 400.0], 2.0));
}

fn with_leaf(leaf: Leaf) -> ViewState {
    let mut view = ViewState::default();
    view.prefs.leaf = leaf;
    view
}

#[test]
fn sections_and_their_log_by_day() {
    let mut view = with_leaf(Leaf::Log);
    view.selected = Some(5);
    let size = [1200.0, 700.0];
    let picture = drawn_with(&scenes::sectioned(), view, ThemeChoice::Day, size, 1.0);
    compare("sections-log-day-1200x700", &picture);
}

#[test]
fn sections_and_the_peak_ledger_by_night() {
    let size = [900.0, 600.0];
    let picture =
        drawn_with(&scenes::sectioned(), with_leaf(Leaf::Peaks), ThemeChoice::Night, size, 1.5);
    compare("sections-peaks-night-900x600-at-1.5", &picture);
}

#[test]
fn several_destinations_by_day() {
    let mut model = scenes::destinations();
    model.song.name = "Lantern Tide".to_owned();
    let size = [1200.0, 700.0];
    let picture = drawn_with(&model, with_leaf(Leaf::Targets), ThemeChoice::Day, size, 1.0);
    compare("destinations-day-1200x700", &picture);
}

#[test]
fn tone_of_a_chorus_against_the_verse_before_by_day() {
    let mut view = with_leaf(Leaf::Tone);
    view.selected = Some(7);
    let picture = drawn_with(&scenes::sectioned(), view, ThemeChoice::Day, [1200.0, 700.0], 1.0);
    compare("tone-day-1200x700", &picture);
}

#[test]
fn tone_of_the_whole_song_by_night() {
    let view = with_leaf(Leaf::Tone);
    let size = [900.0, 600.0];
    let picture = drawn_with(&scenes::sectioned(), view, ThemeChoice::Night, size, 1.5);
    compare("tone-night-900x600-at-1.5", &picture);
}

#[test]
fn a_verse_beside_a_reference_by_day() {
    let mut view = with_leaf(Leaf::Reference);
    view.selected = Some(2);
    let picture = drawn_with(&scenes::beside(1), view, ThemeChoice::Day, [1200.0, 700.0], 1.0);
    compare("reference-day-1200x700", &picture);
}

#[test]
fn the_song_beside_three_references_by_night() {
    let view = with_leaf(Leaf::Reference);
    let picture = drawn_with(&scenes::beside(3), view, ThemeChoice::Night, [900.0, 600.0], 2.0);
    compare("reference-night-900x600-at-2", &picture);
}

#[test]
fn a_reference_in_the_smallest_window() {
    let view = with_leaf(Leaf::Reference);
    let picture = drawn_with(&scenes::beside(1), view, ThemeChoice::Day, [640.0, 400.0], 1.0);
    compare("reference-day-640x400", &picture);
}

#[test]
fn without_a_reference_it_says_what_to_do() {
    let mut model = scenes::sectioned();
    model.reference.measuring =
        Some(Measuring { name: "copper-weather.flac".to_owned(), share: 0.42, waiting: 1 });
    let view = with_leaf(Leaf::Reference);
    let picture = drawn_with(&model, view, ThemeChoice::Day, [900.0, 600.0], 1.0);
    // Files are dropped on the window where it takes them; elsewhere nothing is promised.
    let takes_drops = cfg!(target_os = "linux");
    let kept = if takes_drops { "reference-empty-day" } else { "reference-empty-no-drops-day" };
    compare(&format!("{kept}-900x600"), &picture);
}

#[test]
fn the_comparison_notices_a_figure_that_changed() {
    let model = scenes::song(0.0);
    let mut other = model.clone();
    other.now.momentary = other.now.momentary.map(|m| plimsoll::units::Lufs(m.0 - 0.1));
    let size = [640.0, 400.0];
    let a = drawn(&model, ThemeChoice::Day, size, 1.0);
    let b = drawn(&other, ThemeChoice::Day, size, 1.0);
    let difference = a.difference(&b).unwrap();
    let share = difference.pixels as f64 / (a.width() * a.height()) as f64;
    assert!(share > MOST_DIFFERENT_SHARE, "one digit of one figure: {share}");
}

#[test]
fn what_is_not_chosen_in_a_menu_has_its_circle_too() {
    let (mut view, model) = (ViewState::default(), scenes::sectioned());
    view.resizable = true;
    let window = vec2(640.0, 400.0);
    let mut stage = raster::Stage::new(window, 1.0, editor::install);
    let at = (window - vec2(6.0, 6.0)).to_pos2();
    let press = |pressed| egui::Event::PointerButton {
        pos: at,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: egui::Modifiers::NONE,
    };
    for events in
        [vec![egui::Event::PointerMoved(at)], vec![press(true)], vec![press(false)], vec![], vec![]]
    {
        stage.frame(events, |ui| editor::draw(ui, &model, &mut view, &mut Vec::new()));
    }
    let picture = stage.picture();
    // Down the middle of the circles, left of all words but the title: each is crossed twice.
    let [paper, line] = [ThemeChoice::Day.palette().paper, ThemeChoice::Day.palette().line];
    let is_line = |x: usize, y: usize| {
        let [red, ..] = picture.pixel(x, y).unwrap();
        red.abs_diff(line.r()) < red.abs_diff(paper.r())
    };
    let crossings = |x: usize| (220..390).filter(|&y| is_line(x, y) && !is_line(x, y - 1)).count();
    let most = (486..500).map(crossings).max().unwrap();
    assert!(most >= 2 * 5, "five circles: {most}");
}
