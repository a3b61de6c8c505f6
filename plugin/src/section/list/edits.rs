//! The edits of the list.

use super::{Delete, Edit, Place, SectionError, Sections, Side, check_name};

/// A section that is still to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSection {
    /// Its name; `None` for the next default name.
    pub name: Option<String>,
    /// Where it starts.
    pub start: Place,
    /// Where it ends; `None`: where the next one starts, or with the song.
    pub end: Option<Place>,
}

impl Sections {
    /// A new section starts here: the section that `at` lies in ends, and the new one has the
    /// rest of it. Outside of any section the new one reaches to the start of the next, or, with
    /// none after it, is open and follows the song's end. Gives its id.
    ///
    /// # Errors
    /// A place outside of the record, or one that would leave a section shorter than
    /// [`MIN_SECTION_S`].
    pub fn mark(&mut self, at: Place) -> Result<u32, SectionError> {
        self.edit(Edit::Mark, |draft| draft.mark(at))
    }

    /// Makes a section of a range (dragged, or the host's loop); the new one wins: what it covers
    /// of other sections is cut off, a section that it lies inside of is split, and remains
    /// shorter than [`MIN_SECTION_S`] go. Of a split section the part before keeps id and name. An
    /// open section before the range ends where that starts.
    /// Gives the new id.
    ///
    /// # Errors
    /// A range shorter than [`MIN_SECTION_S`] or outside of the record, or a bad name.
    pub fn add_range(
        &mut self,
        start: Place,
        end: Place,
        name: Option<&str>,
    ) -> Result<u32, SectionError> {
        self.edit(Edit::AddRange, |draft| draft.add_range(start, end, name))
    }

    /// Gives a section another name; spaces at its ends are dropped.
    ///
    /// # Errors
    /// No such section, or a bad name.
    pub fn rename(&mut self, id: u32, name: &str) -> Result<(), SectionError> {
        self.edit(Edit::Rename, |draft| {
            let name = name.trim();
            check_name(name)?;
            name.clone_into(&mut draft.get_mut(id)?.name);
            Ok(())
        })
    }

    /// Moves an edge as near to `to` as the rules allow, and the neighbour that shares it with
    /// it. No section gets shorter than [`MIN_SECTION_S`], and no edge passes a neighbour's: over
    /// a gap it goes up to the neighbour, from where on the two share the edge. Moving the end
    /// of the open section closes it. Gives the place where the edge came to stand.
    ///
    /// Calls for the same edge in a row are one step of undo, until [`Self::end_drag`].
    ///
    /// # Errors
    /// No such section, or a place that is no number.
    pub fn move_edge(&mut self, id: u32, side: Side, to: Place) -> Result<Place, SectionError> {
        if self.dragged != Some((id, side)) {
            self.dragged = None;
        }
        let revision = self.revision;
        let place = self.edit(Edit::MoveEdge, |draft| draft.move_edge(id, side, to))?;
        if self.revision != revision {
            self.dragged = Some((id, side));
        }
        Ok(place)
    }

    /// The drag of an edge is over: the next move is a step of undo of its own.
    pub const fn end_drag(&mut self) {
        self.dragged = None;
    }

    /// Splits a section: the part before `at` keeps id and name. Gives the id of the part after.
    ///
    /// # Errors
    /// No such section, a place not inside of it, or a part shorter than [`MIN_SECTION_S`].
    pub fn split(&mut self, id: u32, at: Place) -> Result<u32, SectionError> {
        self.edit(Edit::Split, |draft| {
            let section = draft.get(id)?;
            if !section.contains(at.at_s) {
                return Err(SectionError::NotInside {
                    at_s: at.at_s,
                    start_s: section.start_s,
                    end_s: section.end_s,
                });
            }
            draft.split(id, at)
        })
    }

    /// Merges a section with the one after it, and with the gap between them. The first one's id
    /// and name stay.
    ///
    /// # Errors
    /// No such section, or none after it.
    pub fn merge_with_next(&mut self, id: u32) -> Result<(), SectionError> {
        self.edit(Edit::Merge, |draft| {
            let index = draft.index(id)?;
            let next = match draft.list.get(index + 1) {
                Some(next) => next.clone(),
                None => {
                    return Err(SectionError::NoNext { name: draft.get(id)?.name.clone() });
                }
            };
            draft.list.remove(index + 1);
            let section = draft.get_mut(id)?;
            section.set_end(next.end());
            section.open = next.open;
            Ok(())
        })
    }

    /// Deletes a section.
    ///
    /// # Errors
    /// No such section.
    pub fn delete(&mut self, id: u32, choice: Delete) -> Result<(), SectionError> {
        self.edit(Edit::Delete, |draft| {
            let index = draft.index(id)?;
            let gone = draft.list.remove(index);
            if choice == Delete::LeaveGap {
                return Ok(());
            }
            let before = index.checked_sub(1).and_then(|before| draft.list.get_mut(before));
            if let Some(before) = before.filter(|before| before.end_s == gone.start_s) {
                before.set_end(gone.end());
                before.open = gone.open;
            } else if let Some(after) = draft.list.get_mut(index)
                && after.start_s == gone.end_s
            {
                after.set_start(gone.start());
            }
            Ok(())
        })
    }

    /// Replaces all sections, as one step of undo. Of sections without an end each reaches to
    /// the next, and the last is open.
    ///
    /// # Errors
    /// The first rule that the new list breaks.
    pub fn replace_all(&mut self, edit: Edit, new: Vec<NewSection>) -> Result<(), SectionError> {
        self.edit(edit, |draft| draft.replace_all(new))
    }
}
