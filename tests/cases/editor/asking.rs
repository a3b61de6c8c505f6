//! Every figure answers: the pointer over it says what it is, and it can be copied as text.

use crate::interaction::{Bench, bench, click};
use crate::scenes;
use egui::{Event, OutputCommand, Pos2, Rect, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use plimsoll::editor::Leaf;
use plimsoll::editor::model::Model;
use plimsoll::section::Measured;

/// What is copied within the next frames: a click takes some.
fn copied(harness: &mut Harness<'_, Bench>) -> Option<String> {
    (0..4).find_map(|_| {
        harness.step();
        harness.output().platform_output.commands.iter().find_map(|command| match command {
            OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        })
    })
}

fn names_and_places(harness: &Harness<'_, Bench>, role: Role) -> Vec<(String, Rect)> {
    let nodes = harness.query_all_by_role(role);
    nodes
        .map(|node| {
            let name = node.value().or_else(|| node.accesskit_node().label());
            (name.unwrap_or_default(), node.rect())
        })
        .collect()
}

/// Whether a name reads like a figure: a unit stands in it as a word of its own.
fn is_figure(name: &str) -> bool {
    let units = ["LUFS", "LU", "dBTP", "dBFS", "dB", "%"];
    let spoken = name.split([' ', ',']).any(|word| units.contains(&word));
    spoken && !name.starts_with("Scale: ") && !name.starts_with("target: ")
}

/// What the pointer over `at` makes appear, in one text.
fn said_at(harness: &mut Harness<'static, Bench>, at: Pos2) -> String {
    harness.hover_at(egui::pos2(1.0, 1.0));
    harness.run();
    let before: Vec<String> =
        names_and_places(harness, Role::Label).into_iter().map(|(name, _)| name).collect();
    harness.hover_at(at);
    // The pointer has to rest for a while.
    harness.run_steps(8);
    let now = names_and_places(harness, Role::Label).into_iter().map(|(name, _)| name);
    let said = now.filter(|name| !before.contains(name)).collect::<Vec<_>>().join(" ");
    // Behind an empty line stands what a press does.
    said.split("\n\n").next().unwrap_or_default().to_owned()
}

fn scenes() -> Vec<(&'static str, Model, Leaf, bool)> {
    let mut peaks_only = scenes::song(-8.0);
    scenes::choose(&mut peaks_only, "Mix hand-off to mastering");
    vec![
        ("song", scenes::song(0.0), Leaf::None, true),
        ("peaks only", peaks_only, Leaf::None, false),
        ("destinations", scenes::destinations(), Leaf::Targets, false),
    ]
}

#[test]
fn every_figure_says_what_it_is_in_two_sentences_with_unit_and_source() {
    for (scene, model, leaf, has_range) in scenes() {
        let mut harness = bench(model);
        harness.state_mut().view.prefs.leaf = leaf;
        if has_range {
            let view = &mut harness.state_mut().view;
            view.range_s = Some((20.0, 40.0));
            let asked = view.asked().range.unwrap();
            let figures = harness.state().model.figures;
            let measured = Measured { figures, ..Measured::default() };
            harness.state_mut().model.song.range = Some((asked, measured));
        }
        harness.run();
        let figures = names_and_places(&harness, Role::Button);
        let figures: Vec<_> = figures.into_iter().filter(|(name, _)| is_figure(name)).collect();
        // Six large figures, four or two under the sentence, those of the margin and soundings.
        assert!(figures.len() >= 9, "{scene}: {figures:?}");
        for (name, place) in figures {
            let said = said_at(&mut harness, place.center());
            two_sentences(&said, &format!("{scene}, {name}"));
            let unit = ["LUFS", "LU", "dBTP", "dBFS", "dB", "%"];
            assert!(unit.iter().any(|unit| said.contains(unit)) || is_sentence(&name), "{said}");
        }
    }
}

/// What stands in the way is a sentence with figures in it, and explained as such.
fn is_sentence(name: &str) -> bool {
    name.ends_with('.')
}

fn two_sentences(said: &str, of: &str) {
    assert!(!said.is_empty(), "{of}: nothing is said");
    let ends = said.matches(". ").count() + usize::from(said.ends_with('.'));
    assert_eq!(ends, 2, "{of}: {said}");
}

#[test]
fn every_column_says_what_it_is_in_two_sentences() {
    let leaves = [
        (scenes::sectioned(), Leaf::Log, 21),
        (scenes::sectioned(), Leaf::Peaks, 7),
        (scenes::destinations(), Leaf::Targets, 8),
    ];
    for (model, leaf, count) in leaves {
        let mut harness = bench(model);
        harness.set_size(egui::vec2(2200.0, 900.0));
        harness.state_mut().view.prefs.leaf = leaf;
        harness.run();
        let roles = [Role::Button, Role::Label].map(|role| names_and_places(&harness, role));
        let columns: Vec<_> =
            roles.concat().into_iter().filter(|(name, _)| name.starts_with("Column ")).collect();
        assert_eq!(columns.len(), count, "{leaf:?}: {columns:?}");
        for (name, place) in columns {
            let said = said_at(&mut harness, place.center());
            two_sentences(&said, &name);
        }
        // And so does every cell of the first row.
        let (_, row) = names_and_places(&harness, Role::Row).remove(0);
        for share in [0.02, 0.2, 0.4] {
            let at = egui::pos2(row.left() + row.width() * share, row.center().y);
            let said = said_at(&mut harness, at);
            assert!(said.contains(": ") && said.ends_with('.'), "{leaf:?} at {share}: {said}");
        }
    }
}

#[test]
fn a_figure_is_copied_by_its_menu_and_by_the_copy_key_and_that_is_said() {
    let mut harness = bench(scenes::song(0.0));
    let name = names_and_places(&harness, Role::Button)
        .into_iter()
        .find(|(name, _)| name.starts_with("Integrated"))
        .unwrap()
        .0;
    click(&mut harness, &name);
    harness.get_by_label("Copy it with name and unit").click();
    let text = copied(&mut harness).unwrap();
    assert_eq!(text, name);
    assert!(text.contains("LUFS"), "{text}");
    harness.step();
    harness.get_by_label(&format!("Copied: {name}"));
    // It goes by itself, and then nothing moves any more.
    harness.run_steps(12);
    assert!(harness.query_by_label_contains("Copied: ").is_none());

    harness.get_by_label("Gain to target +1.3 dB").focus();
    harness.run();
    harness.event(Event::Copy);
    assert_eq!(copied(&mut harness).as_deref(), Some("Gain to target +1.3 dB"));
}

#[test]
fn a_row_of_a_table_is_copied_with_its_headings() {
    let mut harness = bench(scenes::sectioned());
    harness.state_mut().view.prefs.leaf = Leaf::Log;
    harness.run();
    harness.query_all_by_role(Role::Row).nth(2).unwrap().focus();
    harness.run();
    harness.event(Event::Copy);
    let text = copied(&mut harness).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 2);
    assert!(lines[0].starts_with("Section\tFrom\tIntegrated (LUFS)"), "{text}");
    assert!(lines[1].starts_with("Chorus 1\t0:24\t−17.0"), "{text}");
    // One figure of it, with the other button.
    let row = names_and_places(&harness, Role::Row)[2].1;
    let column = names_and_places(&harness, Role::Button)
        .into_iter()
        .find(|(name, _)| name == "Column Integrated")
        .unwrap()
        .1;
    let at = egui::pos2(column.right() - 4.0, row.center().y);
    harness.hover_at(at);
    harness.run();
    for pressed in [true, false] {
        harness.event(Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Secondary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
        harness.run();
    }
    harness.get_by_label("Copy “Chorus 1: Integrated −17.0 LUFS”").click();
    assert_eq!(copied(&mut harness).as_deref(), Some("Chorus 1: Integrated −17.0 LUFS"));
}
