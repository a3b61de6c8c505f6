//! Reference songs, used as a user does.

use crate::interaction::{actions, bench, click, retype};
use crate::scenes;
use egui_kittest::kittest::Queryable as _;
use plimsoll::editor::Leaf;
use plimsoll::editor::model::{Action, InputState, ReferenceEdit};
use plimsoll::listening::{MatchTo, Matched};
use plimsoll::shared::Measuring;
use std::path::PathBuf;

type Harness = egui_kittest::Harness<'static, crate::interaction::Bench>;

fn opened(count: usize) -> Harness {
    let mut harness = bench(scenes::beside(count));
    click(&mut harness, "Tone");
    click(&mut harness, "Reference");
    assert_eq!(harness.state().view.prefs.leaf, Leaf::Reference);
    harness
}

#[test]
fn a_file_is_measured_by_its_path_and_called_off() {
    let mut harness = opened(0);
    harness.get_by_label_contains("No reference yet.");
    click(&mut harness, "Add …");
    retype(&mut harness, "Measure a file as a reference", "\"/music/copper weather.flac\"");
    click(&mut harness, "Measure");
    let path = PathBuf::from("/music/copper weather.flac");
    assert_eq!(actions(&mut harness), [Action::Reference(ReferenceEdit::Add(vec![path]))]);
    harness.state_mut().model.reference.measuring =
        Some(Measuring { name: "copper weather.flac".to_owned(), share: 0.42, waiting: 1 });
    harness.run();
    harness.get_by_label("Measuring copper weather.flac … 42 %, 1 more");
    click(&mut harness, "Call off");
    assert_eq!(actions(&mut harness), [Action::Reference(ReferenceEdit::CallOff)]);
}

#[test]
fn references_are_ticked_renamed_and_removed() {
    let mut harness = opened(1);
    click(&mut harness, "1 reference");
    click(&mut harness, "Copper Weather, 2:51");
    assert_eq!(actions(&mut harness), [Action::Reference(ReferenceEdit::Use(1, false))]);
    click(&mut harness, "Rename …");
    retype(&mut harness, "Name of the reference", "Rain");
    click(&mut harness, "Save");
    let renamed = ReferenceEdit::Rename(1, "Rain".to_owned());
    assert_eq!(actions(&mut harness), [Action::Reference(renamed)]);
    click(&mut harness, "1 reference");
    click(&mut harness, "Remove");
    assert_eq!(actions(&mut harness), [Action::Reference(ReferenceEdit::Remove(1))]);
    for reference in &mut harness.state_mut().model.reference.list {
        reference.is_used = false;
    }
    harness.state_mut().model.reference.comparison = None;
    harness.run();
    harness.get_by_label("No reference is chosen. Tick one in the list.");
    harness.get_by_label("0 of 1 references");
}

#[test]
fn what_to_do_for_the_reference_input_is_said_where_nothing_comes_over_it() {
    let mut harness = opened(0);
    assert!(harness.query_by_label_contains("second input").is_none());
    harness.state_mut().model.reference.input = InputState::Silent;
    harness.run();
    harness.get_by_label_contains("send the track of a reference song to the second input");
    harness.state_mut().model.reference.input = InputState::Arrives;
    harness.run();
    harness.get_by_label_contains("The reference input is being measured.");
    // Beside other references it stands in their list.
    let mut harness = opened(1);
    click(&mut harness, "1 reference");
    harness.get_by_label_contains(
        "The reference input is off: choose “Stereo with a reference input”",
    );
    harness.state_mut().model.reference.input = InputState::Silent;
    harness.run();
    harness.get_by_label_contains("Nothing comes over the reference input.");
}

#[test]
fn the_song_is_heard_as_loud_as_the_reference_input_at_a_press_and_the_input_is_reset() {
    let mut harness = opened(2);
    assert!(harness.query_by_label("Match level").is_none(), "there is no reference input");
    harness.state_mut().model.reference.list[1].is_input = true;
    harness.state_mut().model.reference.input = InputState::Arrives;
    harness.run();
    click(&mut harness, "Match level");
    assert_eq!(actions(&mut harness), [Action::ListenLikeReference]);
    let gain = plimsoll::units::Db(-2.3);
    let to = MatchTo::Reference;
    harness.state_mut().model.matched =
        Some(Matched { to, gain, held_back: false, rendering: false });
    harness.run();
    harness.get_by_label_contains("to the reference input: output turned down 2.3 dB");
    click(&mut harness, "Match level, switch off");
    assert_eq!(actions(&mut harness), [Action::ListenPlain]);
    // The gain of playback is another one: a press on either changes over.
    click(&mut harness, "Listen");
    assert_eq!(actions(&mut harness), [Action::ListenMatched]);
    let to = MatchTo::Playback;
    harness.state_mut().model.matched =
        Some(Matched { to, gain, held_back: false, rendering: false });
    harness.run();
    click(&mut harness, "Match level");
    assert_eq!(actions(&mut harness), [Action::ListenLikeReference]);
    harness.state_mut().model.reference.list[1].whole.figures.coverage = 0.419;
    harness.run();
    click(&mut harness, "2 of 2 references");
    harness.get_by_label("Nine Small Boats, 2:51, 41 % measured");
    harness.get_by_label("Copper Weather, 2:51");
    harness.get_by_label_contains("measured as you play");
    click(&mut harness, "Measure anew");
    assert_eq!(actions(&mut harness), [Action::Reference(ReferenceEdit::Remove(2))]);
}

#[test]
fn the_selected_section_is_held_against_theirs_and_the_song_against_all() {
    let mut harness = opened(2);
    harness.get_by_label("Whole song against Copper Weather, Nine Small Boats, at equal loudness");
    let told = harness.state().model.reference.comparison.clone().unwrap().observations;
    assert!(!told.is_empty());
    for observation in &told {
        harness.get_by_label(&observation.to_string());
    }
    harness.state_mut().view.selected = Some(7);
    harness.run();
    harness.get_by_label(
        "Last chorus against Chorus 2 of Copper Weather, Chorus 2 of Nine Small Boats, \
         at equal loudness",
    );
    // There is no bridge in either.
    harness.state_mut().view.selected = Some(6);
    harness.run();
    harness.get_by_label(
        "Bridge against the whole of Copper Weather, Nine Small Boats, at equal loudness",
    );
    click(&mut harness, "Back to tone");
    assert_eq!(harness.state().view.prefs.leaf, Leaf::Tone);
}

#[test]
fn the_bands_can_be_copied() {
    let mut harness = opened(1);
    harness.get_by_label("Copy").click();
    harness.step();
    let copied =
        harness.output().platform_output.commands.iter().find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        });
    let copied = copied.unwrap();
    let lines: Vec<&str> = copied.lines().collect();
    assert_eq!(lines.len(), 32);
    assert!(lines[0].starts_with("Band (Hz)\tSong (dB)\tReference (dB)\tDifference (dB)"));
}

#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &std::path::Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Err("nobody asks for it".to_owned())
    }
}

#[test]
fn files_dropped_anywhere_become_references() {
    let mut harness = bench(scenes::beside(0));
    let paths = ["/music/a.wav", "/music/b.flac"].map(PathBuf::from);
    let files = paths.iter().map(|path| std::sync::Arc::new(Dropped(path.clone())) as _);
    harness.input_mut().dropped_files = files.collect();
    harness.run();
    let expected = Action::Reference(ReferenceEdit::Add(paths.to_vec()));
    assert_eq!(actions(&mut harness), [expected]);
    assert_eq!(harness.state().view.prefs.leaf, Leaf::Reference);
}
