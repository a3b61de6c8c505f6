//! The snapshot as it is written by a click, against the host's own track name and against what the
//! state holds unrounded, which `check` of the same song gives too (`check/same_as_plugin.rs`).

use crate::desk::{Editor, SIZE, keep};
use crate::user::User;
use plimsoll::editor::theme::ThemeChoice;
use plimsoll::snapshot::Document;
use plimsoll_tests::child;
use plimsoll_tests::host::{TRACK_NAME, field, with_field};
use plimsoll_tests::transport::Step;
use std::path::{Path, PathBuf};

/// Half a minute of the demo song.
const PLAYED: Step = Step::Play { len_frames: 30 * crate::desk::RATE_HZ };

/// The snapshot's JSON, once it is there.
fn written(folder: &Path) -> Option<PathBuf> {
    let mut names = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    names.find(|path| path.extension().is_some_and(|ending| ending == "json"))
}

/// Has the project keep snapshots in `folder`.
fn keep_in(editor: &mut Editor, folder: &Path) {
    let state = editor.host.save_state().unwrap();
    let mut song: serde_json::Value =
        serde_json::from_str(&field(&state, "song").unwrap()).unwrap();
    song["folder"] = folder.to_str().unwrap().into();
    let state = with_field(&state, "song", &song.to_string()).unwrap();
    editor.host.load_state(&state).unwrap();
}

#[test]
fn it_has_the_hosts_track_and_the_figures_of_the_state() {
    child::on_a_screen("snapshot::it_has_the_hosts_track_and_the_figures_of_the_state", || {
        let folder = std::env::temp_dir().join(format!("plimsoll-window-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let mut user = User::new();
        keep_in(&mut user.editor, &folder);
        user.run(&[PLAYED]);
        user.editor.until_drawn(SIZE, ThemeChoice::Day);
        user.editor.until(5, "the host to be asked for its track", |editor| {
            editor.host.calls().track_info > 0
        });
        user.click("Snapshot");
        user.editor.until_still();
        keep(&user.editor.picture(SIZE), "snapshot");
        user.click("Save");
        user.editor.until(20, "the snapshot to be written", |_| written(&folder).is_some());
        let text = std::fs::read(written(&folder).unwrap()).unwrap();
        let document: Document = serde_json::from_slice(&text).unwrap();
        assert_eq!(document.track.as_deref(), Some(TRACK_NAME));
        let figures = user.editor.host.measurement().unwrap().figures;
        let found = document.figures;
        assert_eq!(found.integrated_lufs, figures.integrated_lufs);
        assert_eq!(found.loudness_range_lu, figures.loudness_range_lu);
        assert_eq!(found.max_momentary_lufs, figures.max_momentary_lufs);
        assert_eq!(found.max_short_term_lufs, figures.max_short_term_lufs);
        assert_eq!(found.max_true_peak_dbtp, figures.max_true_peak_dbtp);
        assert_eq!(found.sample_peak_dbfs, figures.sample_peak_dbfs);
        std::fs::remove_dir_all(&folder).unwrap();
        drop(user.editor.close());
    });
}
