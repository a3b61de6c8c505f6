//! The snapshot of what was measured, in every form that the plugin writes.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use plimsoll::section::BarGrid;
use plimsoll::snapshot::{Existing, Format, Moment, Snapshot, Source, UtcTime};
use plimsoll::state;
use plimsoll::target::{Target, built_in_targets};
use plimsoll::units::SampleRate;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::song::BEATS_PER_BAR;

use crate::failure::Failure;
use crate::song::Song;

/// What the files are called, before their endings.
const NAME: &str = "snapshot";

/// The forms, and what they are.
const FORMS: [(&str, Format); 5] = [
    ("the snapshot as a page", Format::Html),
    ("… for programs", Format::Json),
    ("… its section log", Format::SectionsCsv),
    ("… its loudness series", Format::LoudnessCsv),
    ("… in short", Format::Text),
];

/// Writes the snapshot into `folder`; returns what was written.
pub fn write(
    folder: &Path,
    song: &Song,
    saved: &state::Song,
    direct: &Direct,
    target: &Target,
) -> Result<Vec<(&'static str, PathBuf)>, Failure> {
    let snapshot = take(song, saved, direct, target);
    // Files of the demo's own, made anew each time like all others that it writes.
    let paths = snapshot
        .write_all(folder, NAME, &FORMS.map(|(_, format)| format), Existing::Replace)
        .map_err(Failure::Snapshot)?;
    Ok(FORMS.map(|(what, _)| what).into_iter().zip(paths).collect())
}

/// What the editor would take with what the project holds.
fn take(song: &Song, saved: &state::Song, direct: &Direct, target: &Target) -> Snapshot {
    let bars = song
        .tempo_bpm
        .and_then(|tempo_bpm| BarGrid::steady(0.0, tempo_bpm, f64::from(BEATS_PER_BAR)).ok());
    let targets = built_in_targets();
    Snapshot::take(Moment {
        analysis: &mut direct.analysis(),
        source: Source::Song,
        rate: SampleRate::new(song.audio.rate_hz).ok(),
        sections: &saved.sections,
        bars: bars.as_ref(),
        playthroughs: &saved.playthroughs,
        chosen: targets.iter().position(|known| known.name == target.name),
        references: &song.references,
        targets: &targets,
        song: &song.name,
        track: None,
        taken: UtcTime::from_system(SystemTime::now()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Report;
    use plimsoll::state::Measurement;
    use plimsoll::target::Distance;
    use plimsoll_tests::audio_file::Audio;
    use plimsoll_tests::noise::white;
    use serde_json::Value;

    #[test]
    fn the_snapshot_holds_every_figure_of_the_demo_under_the_same_key() {
        let song = Song {
            name: "noise.wav".to_owned(),
            audio: Audio {
                rate_hz: 48_000,
                channels: [1, 2].map(|seed| white(seed, 200_000, 0.1)).into(),
            },
            tempo_bpm: None,
            sections: Default::default(),
            references: Vec::new(),
            tweak: None,
        };
        let direct = Direct::measure(&song.audio);
        let measurement = Measurement::of(&direct.sources().song, 48_000).unwrap();
        let figures = direct.analysis().song_figures();
        let target = built_in_targets().remove(0);
        let report = Report {
            song: &song,
            measurement: &measurement,
            figures: &figures,
            target: &target,
            distance: &Distance::new(&figures, &target),
        };
        let demo: Value = serde_json::from_str(&report.json()).unwrap();
        let snapshot = take(&song, &state::Song::default(), &direct, &target);
        let snapshot: Value = serde_json::from_str(&snapshot.json()).unwrap();
        let mut shared = 0;
        for (key, value) in demo.as_object().unwrap() {
            // The length of the file, which a host does not tell: a snapshot has `span_s`.
            if key == "length_s" {
                continue;
            }
            match value.as_object() {
                None => assert_eq!(&snapshot[key], value, "{key}"),
                Some(object) => {
                    for (inner, value) in object {
                        assert_eq!(&snapshot[key][inner], value, "{key}.{inner}");
                    }
                }
            }
            shared += 1;
        }
        assert!(shared >= 18, "{shared}");
    }
}
