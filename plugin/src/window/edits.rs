//! What an edit of the song does.

use crate::editor::model::SongEdit;
use crate::record::hop_seconds;
use crate::section::{
    BarGrid, Edit, Marker, MarkerImport, NewSection, Place, PlaythroughError, Proposal,
    SectionError, read_aiff_markers, read_marker_list, read_wav_markers,
};
use crate::state::{Song, plain_name};
use std::fs::File;
use std::io::{Read, Seek};

/// What an edit may depend on, at the moment of the edit.
pub struct Context<'a> {
    /// The host's position, hops.
    pub playhead_hop: Option<i32>,
    /// The host's loop, seconds.
    pub loop_range_s: Option<(f64, f64)>,
    /// The host's bars.
    pub bars: Option<BarGrid>,
    /// Whether edges go to the nearest bar line.
    pub snap: bool,
    /// The proposal on screen.
    pub proposal: Option<&'a Proposal>,
}

impl Context<'_> {
    /// A place with its bar, moved to the nearest bar line if that is wanted and known.
    fn place(&self, at_s: f64) -> Place {
        match &self.bars {
            Some(bars) if self.snap => bars.snapped(at_s).unwrap_or(Place::at(at_s)),
            Some(bars) => bars.place(at_s),
            None => Place::at(at_s),
        }
    }

    /// A place with its bar, where it is.
    fn exact(&self, at_s: f64) -> Place {
        self.bars.as_ref().map_or(Place::at(at_s), |bars| bars.place(at_s))
    }
}

/// Whether an edit changes something that undo does not know.
pub const fn is_beside_the_sections(edit: &SongEdit) -> bool {
    matches!(edit, SongEdit::Pin(..) | SongEdit::Unpin(_) | SongEdit::NameSong(_))
}

/// Does `edit`; gives the section to select, if there is a new one.
///
/// # Errors
/// Why not, as a sentence with the value and the rule. Nothing is changed then.
pub fn apply(edit: &SongEdit, song: &mut Song, context: &Context) -> Result<Option<u32>, String> {
    let refused = |error: SectionError| error.to_string();
    let no_pin = |error: PlaythroughError| error.to_string();
    let sections = &mut song.sections;
    match edit {
        SongEdit::Mark => {
            let hop = context.playhead_hop.ok_or("The host tells no song position to mark.")?;
            sections.mark(context.place(hop_seconds(hop))).map(Some).map_err(refused)
        }
        SongEdit::AddRange(start_s, end_s) => sections
            .add_range(context.place(*start_s), context.place(*end_s), None)
            .map(Some)
            .map_err(refused),
        SongEdit::AddLoop => {
            let (start_s, end_s) = context.loop_range_s.ok_or("The host tells no loop.")?;
            // The host's own edges, wherever bars lie.
            sections
                .add_range(context.exact(start_s), context.exact(end_s), None)
                .map(Some)
                .map_err(refused)
        }
        SongEdit::Rename(id, name) => sections.rename(*id, name).map(|()| None).map_err(refused),
        SongEdit::MoveEdge(id, side, to_s) => {
            sections.move_edge(*id, *side, context.place(*to_s)).map(|_| None).map_err(refused)
        }
        SongEdit::EndDrag => {
            sections.end_drag();
            Ok(None)
        }
        SongEdit::Split(id, at_s) => {
            sections.split(*id, context.place(*at_s)).map(Some).map_err(refused)
        }
        SongEdit::MergeWithNext(id) => {
            sections.merge_with_next(*id).map(|()| None).map_err(refused)
        }
        SongEdit::Delete(id, choice) => {
            sections.delete(*id, *choice).map(|()| None).map_err(refused)
        }
        SongEdit::Undo => {
            sections.undo();
            Ok(None)
        }
        SongEdit::Redo => {
            sections.redo();
            Ok(None)
        }
        SongEdit::FollowBars | SongEdit::KeepTimes => {
            let Some(bars) = &context.bars else {
                return Err("The host tells no bars.".to_owned());
            };
            if *edit == SongEdit::FollowBars {
                sections.follow_bars(bars).map(|()| None).map_err(refused)
            } else {
                sections.keep_times(bars).map(|()| None).map_err(refused)
            }
        }
        SongEdit::TakeMarkers(markers) => {
            let import = MarkerImport::new(markers, 0.0);
            let new = import.sections.into_iter().map(|section| with_bars(section, context));
            sections.replace_all(Edit::TakeMarkers, new.collect()).map(|()| None).map_err(refused)
        }
        SongEdit::TakeProposal(least_sure) => {
            let new = context.proposal.map(|proposal| proposal.sections(*least_sure));
            sections
                .replace_all(Edit::TakeProposal, new.unwrap_or_default())
                .map(|()| None)
                .map_err(refused)
        }
        SongEdit::Pin(id, name) => song.playthroughs.pin(*id, name).map(|()| None).map_err(no_pin),
        SongEdit::Unpin(id) => song.playthroughs.unpin(*id).map(|()| None).map_err(no_pin),
        SongEdit::NameSong(name) => {
            song.name = plain_name(name);
            Ok(None)
        }
    }
}

/// The markers of a file: of a WAV or AIFF file, or of a list as text, told apart by how it begins.
///
/// # Errors
/// What is wrong, with the path.
pub fn read_markers(path: &str) -> Result<Vec<Marker>, String> {
    // As it comes from a file manager: in quotes, or with spaces at its ends.
    let path = path.trim().trim_matches(['"', '\'']);
    let told = |why: String| format!("“{path}”: {why}");
    let mut file = File::open(path).map_err(|error| told(error.to_string()))?;
    let mut head = [0; 4];
    // What is shorter is no sound: the head keeps its zeros.
    let _ = file.read_exact(&mut head);
    file.rewind().map_err(|error| told(error.to_string()))?;
    let markers = match &head {
        b"RIFF" | b"RF64" | b"BW64" => read_wav_markers(&mut file),
        b"FORM" => read_aiff_markers(&mut file),
        _ => read_marker_list(&file),
    };
    let markers = markers.map_err(|error| told(error.to_string()))?;
    if markers.is_empty() {
        return Err(told("there are no markers in it".to_owned()));
    }
    Ok(markers)
}

fn with_bars(section: NewSection, context: &Context) -> NewSection {
    NewSection {
        start: context.exact(section.start.at_s),
        end: section.end.map(|end| context.exact(end.at_s)),
        ..section
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section::Side;

    fn context(snap: bool) -> Context<'static> {
        Context {
            playhead_hop: Some(1_030),
            loop_range_s: Some((20.5, 30.25)),
            bars: BarGrid::steady(0.0, 120.0, 4.0).ok(),
            snap,
            proposal: None,
        }
    }

    #[test]
    fn a_mark_stands_at_the_playhead_or_on_the_nearest_bar() {
        let mut song = Song::default();
        let id = apply(&SongEdit::Mark, &mut song, &context(false)).unwrap().unwrap();
        assert_eq!(song.sections.get(id).unwrap().start_s, 10.3);
        let mut song = Song::default();
        let id = apply(&SongEdit::Mark, &mut song, &context(true)).unwrap().unwrap();
        let section = song.sections.get(id).unwrap();
        assert_eq!((section.start_s, section.start_bar), (10.0, Some(5.0)));
        let nowhere = Context { playhead_hop: None, ..context(false) };
        assert!(apply(&SongEdit::Mark, &mut song, &nowhere).unwrap_err().contains("position"));
    }

    #[test]
    fn the_hosts_loop_keeps_its_own_edges_and_an_edge_that_is_dragged_snaps() {
        let mut song = Song::default();
        let id = apply(&SongEdit::AddLoop, &mut song, &context(true)).unwrap().unwrap();
        let section = song.sections.get(id).unwrap();
        assert_eq!((section.start_s, section.end_s), (20.5, 30.25));
        assert_eq!(section.start_bar, Some(10.25));
        apply(&SongEdit::MoveEdge(id, Side::End, 32.9), &mut song, &context(true)).unwrap();
        assert_eq!(song.sections.get(id).unwrap().end_s, 32.0);
        apply(&SongEdit::Undo, &mut song, &context(true)).unwrap();
        assert_eq!(song.sections.get(id).unwrap().end_s, 30.25);
    }

    #[test]
    fn what_breaks_a_rule_says_which_and_changes_nothing() {
        let mut song = Song::default();
        apply(&SongEdit::Mark, &mut song, &context(false)).unwrap();
        let before = song.sections.as_slice().to_vec();
        let why = apply(&SongEdit::Rename(1, " ".to_owned()), &mut song, &context(false));
        assert!(why.is_err());
        let why = apply(&SongEdit::AddRange(3.0, 3.1), &mut song, &context(false)).unwrap_err();
        assert!(why.contains("0.4"), "{why}");
        assert!(apply(&SongEdit::Pin(7, "a".to_owned()), &mut song, &context(false)).is_err());
        assert_eq!(song.sections.as_slice(), before);
    }
}
