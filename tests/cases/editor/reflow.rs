//! At every size nothing leaves the window and no two things lie over each other: read from the
//! rectangles of all labels and buttons, with the widest figures and words there are.

use crate::scenes;
use egui::{Rect, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use plimsoll::editor::model::{Model, Notice};
use plimsoll::editor::{self, Leaf, ViewState};
use plimsoll::target::Distance;
use plimsoll::units::{Dbtp, Lu, Lufs};

/// Rounding to pixels.
const SLACK_PT: f32 = 0.6;

/// Two-digit figures everywhere, every note, the longest built-in name.
fn widest() -> Model {
    let mut model = scenes::noted();
    let longest = model.targets.iter().enumerate().max_by_key(|(_, t)| t.name.chars().count());
    model.chosen_target = longest.map_or(0, |(index, _)| index);
    model.notices.push(Notice::NoSongPosition);
    model.bars = scenes::replayed().bars;
    model.now.momentary = Some(Lufs(-48.8));
    model.now.short_term = Some(Lufs(-48.8));
    model.now.true_peaks[0] = Some(Dbtp(-48.8));
    model.now.true_peaks[1] = Some(Dbtp(-48.8));
    model.figures.integrated = Some(Lufs(-48.8));
    model.figures.max_momentary = Some(Lufs(-28.8));
    model.figures.max_short_term = Some(Lufs(-28.8));
    model.figures.max_true_peak = Some(Dbtp(-28.8));
    model.figures.loudness_range = Some(Lu(28.8));
    model.figures.coverage.span_hops *= 2;
    model.distance = Some(Distance::new(&model.figures, &model.targets[0]));
    model
}

#[test]
fn nothing_is_cut_or_covered_at_any_size_or_scale() {
    let sectioned = || {
        let mut model = scenes::sectioned();
        model.song.refusal = Some("An edit was refused, and this says why.".to_owned());
        model.song.moved_edges = 3;
        model
    };
    holds_everything(widest, Leaf::None);
    holds_everything(sectioned, Leaf::None);
    holds_everything(sectioned, Leaf::Log);
    holds_everything(sectioned, Leaf::Peaks);
    holds_everything(scenes::destinations, Leaf::Targets);
    holds_everything(sectioned, Leaf::Tone);
}

fn holds_everything(model: fn() -> Model, leaf: Leaf) {
    let sizes =
        [[640.0, 400.0], [640.0, 1000.0], [900.0, 420.0], [1200.0, 700.0], [3840.0, 2160.0]];
    for size in sizes {
        for scale in [1.0, 1.5, 2.0, 3.0] {
            let model = model();
            let mut view = ViewState::default();
            view.prefs.leaf = leaf;
            let mut harness = Harness::builder()
                .with_size(egui::Vec2::from(size))
                .with_pixels_per_point(scale)
                .with_context_setup(editor::install)
                .build_ui_state(
                    move |ui, view: &mut ViewState| {
                        editor::draw(ui, &model, view, &mut Vec::new());
                    },
                    view,
                );
            harness.run();
            let window = Rect::from_min_size(egui::Pos2::ZERO, size.into()).expand(SLACK_PT);
            let mut seen: Vec<(String, Rect)> = Vec::new();
            for role in [Role::Label, Role::Button, Role::Image] {
                for node in harness.query_all_by_role(role) {
                    let name = node.value().or_else(|| node.accesskit_node().label());
                    let (name, rect) = (name.unwrap_or_default(), node.rect());
                    // The head of a table scrolls sideways with it.
                    if name.starts_with("Column ") {
                        continue;
                    }
                    assert!(window.contains_rect(rect), "{size:?} at {scale}: {name} {rect}");
                    assert!(rect.width() > 4.0 && rect.height() > 4.0, "{size:?}: {name} {rect}");
                    for (other, place) in &seen {
                        let shared = place.intersect(rect).shrink(SLACK_PT);
                        assert!(
                            !shared.is_positive(),
                            "{size:?} at {scale}: {name} {rect} over {other} {place}"
                        );
                    }
                    seen.push((name, rect));
                }
            }
            // Chooser, four buttons, the scale, the strip, six figures, four facts, notes.
            assert!(seen.len() >= 19, "{size:?} at {scale}: only {} things", seen.len());
        }
    }
}

#[test]
fn columns_that_have_no_room_stand_on_other_pages_of_the_log() {
    let model = scenes::sectioned();
    let mut view = ViewState::default();
    view.prefs.leaf = Leaf::Log;
    let mut harness = Harness::builder()
        .with_size(egui::vec2(640.0, 400.0))
        .with_context_setup(editor::install)
        .build_ui_state(
            move |ui, view: &mut ViewState| editor::draw(ui, &model, view, &mut Vec::new()),
            view,
        );
    harness.run();
    let columns = |harness: &Harness<'_, ViewState>| -> Vec<String> {
        let heads = harness.query_all_by_label_contains("Column ");
        heads
            .map(|head| {
                let rect = head.rect();
                assert!(rect.right() <= 640.0 && rect.left() >= 0.0, "{rect}");
                head.accesskit_node().label().unwrap()
            })
            .collect()
    };
    let first = columns(&harness);
    for name in ["Section", "Integrated", "Step", "Change", "True peak"] {
        assert!(first.contains(&format!("Column {name}")), "{first:?}");
    }
    let mut seen = first.clone();
    for _ in 0..8 {
        let Some(more) = harness.query_by_label_contains(" more") else { break };
        more.click();
        harness.run();
        let page = columns(&harness);
        assert_eq!(page[0], "Column Section", "whose figures they are");
        seen.extend(page.into_iter().skip(1));
    }
    // Each stands on one page.
    let all = seen.len();
    seen.sort();
    seen.dedup();
    assert_eq!((all, seen.len()), (21, 21), "{seen:?}");
    harness.get_by_label("Back").click();
    harness.run();
    assert_eq!(columns(&harness), first);
}
