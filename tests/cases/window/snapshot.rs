//! A snapshot, written by clicks.

use crate::desk::{Editor, SIZE, active_host, keep, play};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll::snapshot::Document;
use plimsoll_tests::child;
use plimsoll_tests::host::{TRACK_NAME, field, with_field};

/// Where the form of a snapshot has its button.
const SAVE: (i16, i16) = (400, 460);

/// The snapshot as it is written by a click, against the host's own track name and against what the
/// state holds unrounded, which `check` of the same song gives too (`check/same_as_plugin.rs`).
#[test]
fn a_snapshot_has_the_hosts_track_and_the_figures_of_the_state() {
    child::on_a_screen(
        "snapshot::a_snapshot_has_the_hosts_track_and_the_figures_of_the_state",
        || {
            let folder =
                std::env::temp_dir().join(format!("plimsoll-window-{}", std::process::id()));
            std::fs::create_dir_all(&folder).unwrap();
            let mut host = active_host();
            let state = host.save_state().unwrap();
            let mut song: serde_json::Value =
                serde_json::from_str(&field(&state, "song").unwrap()).unwrap();
            song["folder"] = folder.to_str().unwrap().into();
            host.load_state(&with_field(&state, "song", &song.to_string()).unwrap()).unwrap();
            play(&mut host, 92);
            let mut editor = Editor::open(host, 1.0);
            let chart = editor.until_drawn(SIZE, ThemeChoice::Day);
            editor.until(5, "the host to be asked for its track", |editor| {
                editor.host.calls().track_info > 0
            });
            // The button at the right of the axes, then Save.
            editor.parent.click(1144, 503).unwrap();
            editor.until(5, "the form of the snapshot", |editor| {
                chart.difference(&editor.picture(SIZE)).unwrap().pixels > 20_000
            });
            keep(&editor.picture(SIZE), "snapshot");
            editor.parent.click(SAVE.0, SAVE.1).unwrap();
            let written = |folder: &std::path::Path| {
                let names = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
                names
                    .into_iter()
                    .find(|path| path.extension().is_some_and(|ending| ending == "json"))
            };
            editor.until(20, "the snapshot to be written", |_| written(&folder).is_some());
            let text = std::fs::read(written(&folder).unwrap()).unwrap();
            let document: Document = serde_json::from_slice(&text).unwrap();
            assert_eq!(document.track.as_deref(), Some(TRACK_NAME));
            let figures = editor.host.measurement().unwrap().figures;
            let found = document.figures;
            assert_eq!(found.integrated_lufs, figures.integrated_lufs);
            assert_eq!(found.loudness_range_lu, figures.loudness_range_lu);
            assert_eq!(found.max_momentary_lufs, figures.max_momentary_lufs);
            assert_eq!(found.max_short_term_lufs, figures.max_short_term_lufs);
            assert_eq!(found.max_true_peak_dbtp, figures.max_true_peak_dbtp);
            assert_eq!(found.sample_peak_dbfs, figures.sample_peak_dbfs);
            std::fs::remove_dir_all(&folder).unwrap();
            drop(editor.close());
        },
    );
}
