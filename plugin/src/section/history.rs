//! Undo and redo: whole lists, as they were before each edit.

use super::list::Section;
use std::collections::VecDeque;
use std::fmt;

/// Edits that can be undone; older ones are forgotten. The project's own choice, no source.
pub const HISTORY_STEPS: usize = 100;

/// What an edit did, for a menu: "undo" + this.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edit {
    /// A new section was marked while the song played.
    Mark,
    /// A range became a section.
    AddRange,
    /// A name was changed.
    Rename,
    /// An edge was moved.
    MoveEdge,
    /// A section was split in two.
    Split,
    /// A section was merged with the next.
    Merge,
    /// A section was deleted.
    Delete,
    /// The sections were moved to where their bars are now.
    FollowBars,
    /// The bars were written anew beside the times.
    KeepTimes,
    /// The sections were replaced by the markers of a file.
    TakeMarkers,
    /// The sections were replaced by a proposal.
    TakeProposal,
}

impl fmt::Display for Edit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Mark => "mark section",
            Self::AddRange => "add section",
            Self::Rename => "rename",
            Self::MoveEdge => "move edge",
            Self::Split => "split",
            Self::Merge => "merge",
            Self::Delete => "delete",
            Self::FollowBars => "follow bars",
            Self::KeepTimes => "keep times",
            Self::TakeMarkers => "take markers",
            Self::TakeProposal => "take proposal",
        })
    }
}

/// The lists behind and ahead of the present one.
#[derive(Debug, Clone, Default)]
pub(super) struct History {
    /// What was done, and the list from before it; oldest first.
    done: VecDeque<(Edit, Vec<Section>)>,
    /// What was undone, and the list from after it; the next to redo last.
    undone: Vec<(Edit, Vec<Section>)>,
}

impl History {
    /// Notes that `edit` replaced `before`. What was undone can no longer be redone.
    pub fn note(&mut self, edit: Edit, before: Vec<Section>) {
        self.undone.clear();
        if self.done.len() == HISTORY_STEPS {
            self.done.pop_front();
        }
        self.done.push_back((edit, before));
    }

    /// Steps back: gives what was undone and changes `list`.
    pub fn undo(&mut self, list: &mut Vec<Section>) -> Option<Edit> {
        let (edit, before) = self.done.pop_back()?;
        self.undone.push((edit, std::mem::replace(list, before)));
        Some(edit)
    }

    /// Steps forward: gives what was redone and changes `list`.
    pub fn redo(&mut self, list: &mut Vec<Section>) -> Option<Edit> {
        let (edit, after) = self.undone.pop()?;
        self.done.push_back((edit, std::mem::replace(list, after)));
        Some(edit)
    }

    pub fn next_undo(&self) -> Option<Edit> {
        self.done.back().map(|&(edit, _)| edit)
    }

    pub fn next_redo(&self) -> Option<Edit> {
        self.undone.last().map(|&(edit, _)| edit)
    }
}
