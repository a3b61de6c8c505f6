//! Several destinations at once, used as a user does.

use crate::interaction::{actions, bench, click};
use crate::scenes;
use egui::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use plimsoll::editor::Leaf;
use plimsoll::editor::model::Action;
use plimsoll::target::{Distance, Verdict};

type Harness = egui_kittest::Harness<'static, crate::interaction::Bench>;

fn rows(harness: &Harness) -> Vec<String> {
    let rows = harness.query_all_by_role(Role::Row);
    rows.map(|row| row.accesskit_node().label().unwrap_or_default()).collect()
}

#[test]
fn each_destination_has_its_verdict_distance_gain_and_peak() {
    let mut harness = bench(scenes::destinations());
    click(&mut harness, "Targets");
    assert_eq!(harness.state().view.prefs.leaf, Leaf::Targets);
    let model = harness.state().model.clone();
    let rows = rows(&harness);
    assert_eq!(rows.len(), 6);
    let shown: Vec<_> =
        model.targets.iter().filter(|t| rows.iter().any(|r| r.contains(&t.name))).collect();
    assert_eq!(shown.len(), 6);
    for (row, target) in rows.iter().zip(shown) {
        let distance = Distance::new(&model.figures, target);
        let word = match distance.verdict() {
            Verdict::Within => "Verdict within,",
            Verdict::NotWithin => "Verdict not within,",
            Verdict::NotYet => "Verdict not yet,",
        };
        assert!(row.contains(&target.name) && row.contains(word), "{row}");
        assert!(row.ends_with(&distance.to_string()), "{row}");
    }
    // −15.3 LUFS, +0.6 dBTP against −16 +0.2 LUFS, ceiling −1 dBTP.
    let aes = rows.iter().find(|row| row.contains("AES music, track")).unwrap();
    assert!(aes.contains("Distance +0.7, Gain −0.7, Peak at target −0.1"), "{aes}");
    assert!(aes.contains("Peak control 0.9"), "{aes}");
    harness.get_by_label("Within none of 6 targets.");
}

#[test]
fn destinations_are_added_removed_and_made_the_chosen_one() {
    let mut model = scenes::song(0.0);
    model.beside = Vec::new();
    let mut harness = bench(model);
    click(&mut harness, "Targets");
    assert_eq!(rows(&harness).len(), 1);
    let todo = "Only the chosen target is shown. Add the others that the song goes to.";
    harness.get_by_label(todo);
    click(&mut harness, "Add or remove …");
    click(&mut harness, "Podcast, −16");
    let podcast = harness.state().model.targets.iter().position(|t| t.name == "Podcast, −16");
    let podcast = podcast.unwrap();
    assert_eq!(actions(&mut harness), [Action::ShowBeside(podcast, true)]);
    harness.state_mut().model.beside = vec![podcast];
    harness.run();
    // The menu stays open for more; a second click takes it away again.
    click(&mut harness, "Podcast, −16");
    assert_eq!(actions(&mut harness), [Action::ShowBeside(podcast, false)]);
    harness.key_press(egui::Key::Escape);
    harness.run();
    // A click on its row chooses it, and the one before stays in the table.
    harness.query_all_by_role(Role::Row).nth(1).unwrap().click();
    harness.run();
    let expected = [Action::ShowBeside(0, true), Action::ChooseTarget(podcast)];
    assert_eq!(actions(&mut harness), expected);
}

#[test]
fn nothing_measured_gives_no_verdict() {
    let mut model = scenes::empty();
    model.beside = vec![2, 4];
    let mut harness = bench(model);
    click(&mut harness, "Targets");
    let rows = rows(&harness);
    assert_eq!(rows.len(), 3);
    assert!(rows.iter().all(|row| row.contains("Verdict not yet, Distance –")), "{rows:?}");
    harness.get_by_label("Not measured enough for a verdict.");
}
