//! The list of sections: in song order, never overlapping, gaps allowed.
//!
//! Every edit is checked as a whole and either done or refused without a trace; what is done can
//! be undone. Two sections that touch share one edge: moving it moves both.

mod bars;
mod draft;
mod edits;

#[cfg(test)]
mod tests;

pub use bars::MovedEdge;
pub use edits::NewSection;

use super::history::{Edit, History};
use super::{
    END_S, FIRST_S, MAX_NAME_CHARS, MAX_SECTIONS, MIN_SECTION_S, Place, SAME_TIME_S, SectionError,
    nearest_hop,
};
use crate::loudness::HopRange;
use draft::Draft;
use serde::{Deserialize, Serialize};

/// A named range of song time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Number that tells it from all others of the song; stays the same through every edit.
    pub id: u32,
    /// Name, 1 to [`MAX_NAME_CHARS`] characters; need not be the only one of its kind.
    pub name: String,
    /// Start, seconds of song time, −60 to 7 200.
    pub start_s: f64,
    /// End, exclusive, seconds of song time, at least [`MIN_SECTION_S`] after the start.
    pub end_s: f64,
    /// The start in bars, 0.0 = the first bar line; `None` where no bar was known.
    #[serde(default)]
    pub start_bar: Option<f64>,
    /// The end in bars; `None` where no bar was known.
    #[serde(default)]
    pub end_bar: Option<f64>,
    /// Whether its end follows the end of the song (see [`Sections::follow_song_end`]). Only the
    /// last section may.
    #[serde(default)]
    pub open: bool,
}

impl Section {
    /// The hops that it is measured over: its edges, each at the nearest hop border.
    #[must_use]
    pub fn hops(&self) -> HopRange {
        nearest_hop(self.start_s)..nearest_hop(self.end_s)
    }

    /// Whether song time `at_s` lies in it.
    #[must_use]
    pub fn contains(&self, at_s: f64) -> bool {
        self.start_s <= at_s && at_s < self.end_s
    }

    const fn start(&self) -> Place {
        Place { at_s: self.start_s, bar: self.start_bar }
    }

    const fn end(&self) -> Place {
        Place { at_s: self.end_s, bar: self.end_bar }
    }

    const fn set_start(&mut self, place: Place) {
        self.start_s = place.at_s;
        self.start_bar = place.bar;
    }

    const fn set_end(&mut self, place: Place) {
        self.end_s = place.at_s;
        self.end_bar = place.bar;
    }
}

/// One of the two edges of a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The edge where it starts.
    Start,
    /// The edge where it ends.
    End,
}

/// What becomes of the time of a deleted section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delete {
    /// The section before takes it over if the two touch, else the section after if those touch;
    /// with no neighbour that touches it becomes a gap.
    NeighbourTakesOver,
    /// It belongs to no section.
    LeaveGap,
}

/// The sections of a song, with undo and redo.
#[derive(Debug, Clone, Default)]
pub struct Sections {
    /// In song order; keeps every rule of [`check`].
    list: Vec<Section>,
    history: History,
    /// Higher than every id ever given, so that an id means one section, also through undo.
    next_id: u32,
    /// Grows with every change, undo and redo.
    revision: u64,
    /// The edge that is being dragged: its moves are one edit.
    dragged: Option<(u32, Side)>,
    /// End of the song as far as it is known, seconds.
    song_end_s: Option<f64>,
}

impl Sections {
    /// The sections that were saved, with nothing to undo.
    ///
    /// # Errors
    /// The first rule that is broken, with its value.
    pub fn from_saved(mut saved: Vec<Section>) -> Result<Self, SectionError> {
        saved.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        check(&saved)?;
        Ok(Self {
            next_id: saved.iter().map(|section| section.id).max().unwrap_or(0).saturating_add(1),
            list: saved,
            ..Self::default()
        })
    }

    /// All of them, in song order. This is what to save.
    #[must_use]
    pub fn as_slice(&self) -> &[Section] {
        &self.list
    }

    /// The section with this id.
    #[must_use]
    pub fn get(&self, id: u32) -> Option<&Section> {
        self.list.iter().find(|section| section.id == id)
    }

    /// The section that song time `at_s` lies in.
    #[must_use]
    pub fn at(&self, at_s: f64) -> Option<&Section> {
        self.list.iter().find(|section| section.contains(at_s))
    }

    /// Grows with every change.
    #[must_use]
    pub const fn revision(&self) -> u64 {
        self.revision
    }

    /// What [`Self::undo`] would undo.
    #[must_use]
    pub fn next_undo(&self) -> Option<Edit> {
        self.history.next_undo()
    }

    /// What [`Self::redo`] would do again.
    #[must_use]
    pub fn next_redo(&self) -> Option<Edit> {
        self.history.next_redo()
    }

    /// Takes back the last edit; gives what it was.
    pub fn undo(&mut self) -> Option<Edit> {
        let edit = self.history.undo(&mut self.list)?;
        self.after_a_step();
        Some(edit)
    }

    /// Does again what was undone last; gives what it was.
    pub fn redo(&mut self) -> Option<Edit> {
        let edit = self.history.redo(&mut self.list)?;
        self.after_a_step();
        Some(edit)
    }

    fn after_a_step(&mut self) {
        self.dragged = None;
        self.revision += 1;
        stretch_open(&mut self.list, self.song_end_s);
    }

    /// Tells how far the song is known to reach, seconds; `None` if nothing is known. An open
    /// section ends there. It is no edit: nothing to undo, and no reason to call the project
    /// changed. Returns whether a section's end moved.
    pub fn follow_song_end(&mut self, song_end_s: Option<f64>) -> bool {
        self.song_end_s = song_end_s.filter(|end_s| end_s.is_finite());
        let moved = stretch_open(&mut self.list, self.song_end_s);
        self.revision += u64::from(moved);
        moved
    }

    /// Does `change` to a copy, checks the result, and takes it over as one step of history.
    fn edit<R>(
        &mut self,
        edit: Edit,
        change: impl FnOnce(&mut Draft) -> Result<R, SectionError>,
    ) -> Result<R, SectionError> {
        let mut draft = Draft {
            list: self.list.clone(),
            next_id: self.next_id.max(1),
            song_end_s: self.song_end_s,
        };
        let result = change(&mut draft)?;
        stretch_open(&mut draft.list, self.song_end_s);
        check(&draft.list)?;
        self.next_id = draft.next_id;
        if draft.list != self.list {
            let before = std::mem::replace(&mut self.list, draft.list);
            // The later moves of one drag belong to its first.
            if edit != Edit::MoveEdge || self.dragged.is_none() {
                self.history.note(edit, before);
            }
            self.revision += 1;
        }
        if edit != Edit::MoveEdge {
            self.dragged = None;
        }
        Ok(result)
    }
}

/// Lets an open section end where the song is known to. Gives whether its end moved.
fn stretch_open(list: &mut [Section], song_end_s: Option<f64>) -> bool {
    let (Some(song_end_s), Some(last)) = (song_end_s, list.last_mut()) else {
        return false;
    };
    let end_s = song_end_s.min(END_S).max(last.start_s + MIN_SECTION_S);
    if !last.open || last.end_s == end_s {
        return false;
    }
    last.set_end(Place::at(end_s));
    true
}

/// Checks every rule of a list: count, ids, names, times, order, lengths, open only at the end.
fn check(list: &[Section]) -> Result<(), SectionError> {
    if list.len() > MAX_SECTIONS {
        return Err(SectionError::TooMany { count: list.len() });
    }
    let mut ids: Vec<u32> = list.iter().map(|section| section.id).collect();
    ids.sort_unstable();
    if let Some((&id, _)) = ids.iter().zip(ids.iter().skip(1)).find(|(a, b)| a == b) {
        return Err(SectionError::SameId { id });
    }
    for section in list {
        check_name(&section.name)?;
        check_place("start", section.start())?;
        check_place("end", section.end())?;
        check_length(section.start_s, section.end_s)?;
    }
    for (before, after) in list.iter().zip(list.iter().skip(1)) {
        if after.start_s < before.end_s {
            return Err(SectionError::Overlap {
                name: after.name.clone(),
                start_s: after.start_s,
                end_before_s: before.end_s,
            });
        }
        if before.open {
            return Err(SectionError::OpenInside { name: before.name.clone() });
        }
    }
    Ok(())
}

fn check_name(name: &str) -> Result<(), SectionError> {
    if name.trim().is_empty() {
        return Err(SectionError::NoName);
    }
    let chars = name.chars().count();
    if chars > MAX_NAME_CHARS {
        return Err(SectionError::NameTooLong { chars });
    }
    match name.chars().find(|found| found.is_control()) {
        Some(found) => Err(SectionError::NameControl { found }),
        None => Ok(()),
    }
}

fn check_place(what: &'static str, place: Place) -> Result<(), SectionError> {
    if !(FIRST_S..=END_S).contains(&place.at_s) {
        return Err(SectionError::OutOfRange { what, at_s: place.at_s });
    }
    match place.bar {
        Some(bar) if !bar.is_finite() => Err(SectionError::BarNotFinite { bar }),
        _ => Ok(()),
    }
}

fn check_length(start_s: f64, end_s: f64) -> Result<(), SectionError> {
    let length_s = end_s - start_s;
    if length_s < MIN_SECTION_S - SAME_TIME_S {
        return Err(SectionError::TooShort { length_s });
    }
    Ok(())
}
