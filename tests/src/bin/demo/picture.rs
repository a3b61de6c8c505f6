//! The editor's picture: the plugin's own drawing code, fed with what was measured and filled on
//! the CPU.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::vec2;
use plimsoll::audio::{BarPosition, Sources, Transport};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll::editor::{self, DEFAULT_SIZE, Leaf, ViewState};
use plimsoll::reference::Reference;
use plimsoll::shared::Shared;
use plimsoll::state::Song;
use plimsoll::target::Target;
use plimsoll::window::ModelReader;
use plimsoll_tests::raster;
use plimsoll_tests::song::BEATS_PER_BAR;

use crate::failure::Failure;

/// Draws the editor in both themes into `folder`; returns what was written.
pub fn write(
    folder: &Path,
    song: &Song,
    sources: &Sources,
    target: &Target,
    tempo_bpm: Option<f64>,
    references: &[Reference],
) -> Result<Vec<(&'static str, PathBuf)>, Failure> {
    let shared = Arc::new(Shared::default());
    shared.set_sources(sources.clone());
    shared.status.set_transport(Transport::Stopped);
    shared.status.set_bar(tempo_bpm.map(|tempo_bpm| BarPosition {
        start_s: 0.0,
        number: 1,
        bar_s: f64::from(BEATS_PER_BAR) * 60.0 / tempo_bpm,
        beats: BEATS_PER_BAR.cast_signed(),
    }));
    shared.edit_song(|present| *present = song.clone());
    shared.references.set(references.to_vec());
    shared.follow(false);
    shared.edit_settings(|settings| {
        let index = settings.targets().position(|known| known.name == target.name);
        settings.choose(index.unwrap_or(0));
    });
    let mut reader = ModelReader::new(shared);
    let charts = [
        ("the editor by day", "plimsoll-editor.png", ThemeChoice::Day, Leaf::None),
        ("the editor by night", "plimsoll-editor-night.png", ThemeChoice::Night, Leaf::None),
        ("the section log", "plimsoll-section-log.png", ThemeChoice::Day, Leaf::Log),
        ("the peak ledger", "plimsoll-peak-ledger.png", ThemeChoice::Night, Leaf::Peaks),
        ("tone and width", "plimsoll-tone.png", ThemeChoice::Day, Leaf::Tone),
        ("beside a reference", "plimsoll-reference.png", ThemeChoice::Day, Leaf::Reference),
    ];
    let [width_pt, height_pt] = DEFAULT_SIZE;
    let mut written = Vec::new();
    let charts =
        charts.into_iter().filter(|(.., leaf)| *leaf != Leaf::Reference || !references.is_empty());
    for (what, file, theme, leaf) in charts {
        let mut view = ViewState::default();
        view.set_theme(theme);
        view.prefs.leaf = leaf;
        let model = reader.refresh(&view.asked());
        // What a user would ask for; nobody is there to ask.
        let mut actions = Vec::new();
        let picture = raster::render(vec2(width_pt, height_pt), 1.0, editor::install, |ui| {
            editor::draw(ui, model, &mut view, &mut actions);
        });
        let path = folder.join(file);
        match picture.save(&path) {
            Ok(()) => written.push((what, path)),
            Err(source) => return Err(Failure::Picture { path, source }),
        }
    }
    Ok(written)
}
