//! What the newest playthrough changed.

use crate::section::{FiguresChange, Playthrough, Playthroughs, SectionChange, compare};

/// The newest playthrough against an earlier one.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The earlier one: the newest of those that are pinned, else the one before the newest.
    pub before: Playthrough,
    /// The newest one.
    pub after: Playthrough,
    /// What changed in the figures of all that each of them played; nothing is told if that is not
    /// the same time of the song.
    pub whole: FiguresChange,
    /// What changed section by section.
    pub sections: Vec<SectionChange>,
}

impl Comparison {
    /// The comparison of what is kept; `None` with fewer than two playthroughs.
    #[must_use]
    pub fn of(playthroughs: &Playthroughs) -> Option<Self> {
        let (after, earlier) = playthroughs.as_slice().split_last()?;
        let pinned = earlier.iter().rfind(|playthrough| playthrough.pinned_as.is_some());
        let before = pinned.or(earlier.last())?;
        let range = |run: &Playthrough| (run.start_hop, run.end_hop);
        let same_time = range(before) == range(after);
        Some(Self {
            whole: if same_time {
                FiguresChange::new(&before.whole, &after.whole)
            } else {
                FiguresChange::default()
            },
            sections: compare(before, after),
            before: before.clone(),
            after: after.clone(),
        })
    }

    /// How a playthrough is called: by its pin, else by its number.
    #[must_use]
    pub fn label(playthrough: &Playthrough) -> String {
        match &playthrough.pinned_as {
            Some(name) => name.clone(),
            None => format!("playthrough {}", playthrough.id),
        }
    }
}
