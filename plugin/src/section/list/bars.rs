//! Times and the bars beside them: what to do when the host's tempo map moved.

use super::super::BarGrid;
use super::{Edit, Place, Section, SectionError, Sections, Side};

/// How far an edge may stand from where its bar is before the tempo map is said to have moved,
/// seconds. The project's own choice, no source: more than a song position that was rounded to a
/// host's block of 2 048 frames at 44.1 kHz (46 ms), far less than a beat.
const SAME_BAR_S: f64 = 0.05;

/// An edge that no longer stands where its bar is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MovedEdge {
    /// The section.
    pub id: u32,
    /// Which of its edges.
    pub side: Side,
    /// Where the edge stands, seconds.
    pub at_s: f64,
    /// The bar beside it.
    pub bar: f64,
    /// Where that bar is now, seconds.
    pub bar_at_s: f64,
}

impl Sections {
    /// The edges whose bars are elsewhere in `grid`: if there are any, the host's tempo map
    /// moved, and [`Self::follow_bars`] and [`Self::keep_times`] are the two answers to it. Bars
    /// that the grid does not know are passed over.
    #[must_use]
    pub fn moved_edges(&self, grid: &BarGrid) -> Vec<MovedEdge> {
        let edges = self.list.iter().flat_map(|section| {
            [(section, Side::Start, section.start()), (section, Side::End, section.end())]
        });
        edges
            .filter_map(|(section, side, place)| {
                let bar = place.bar.filter(|bar| grid.knows(*bar))?;
                let bar_at_s = grid.seconds_at(bar)?;
                let moved = (bar_at_s - place.at_s).abs() > SAME_BAR_S;
                moved.then_some(MovedEdge { id: section.id, side, at_s: place.at_s, bar, bar_at_s })
            })
            .collect()
    }

    /// Moves every edge to where its bar is in `grid`. An edge without a bar moves with those
    /// around it: between two it keeps its share of the way, before the first and after the last
    /// it moves as far as that one. An open section ends with the song as before.
    ///
    /// # Errors
    /// Bars that do not rise with song time, or a section that would get too short or leave the
    /// record's range; nothing is moved then.
    pub fn follow_bars(&mut self, grid: &BarGrid) -> Result<(), SectionError> {
        self.edit(Edit::FollowBars, |draft| {
            let known = known_moves(&draft.list, grid)?;
            for section in &mut draft.list {
                let start_s = moved(&known, section.start_s);
                section.set_start(Place { at_s: start_s, bar: section.start_bar });
                let end_s = moved(&known, section.end_s);
                section.set_end(Place { at_s: end_s, bar: section.end_bar });
            }
            Ok(())
        })
    }

    /// Writes the bars of `grid` beside every edge that has one; the times stay.
    ///
    /// # Errors
    /// None with a grid that covers song time.
    pub fn keep_times(&mut self, grid: &BarGrid) -> Result<(), SectionError> {
        self.edit(Edit::KeepTimes, |draft| {
            for section in &mut draft.list {
                if section.start_bar.is_some() {
                    section.set_start(grid.place(section.start_s));
                }
                if section.end_bar.is_some() {
                    section.set_end(grid.place(section.end_s));
                }
            }
            Ok(())
        })
    }
}

/// Times before and after, in song order, of the edges that have a bar.
fn known_moves(list: &[Section], grid: &BarGrid) -> Result<Vec<(f64, f64)>, SectionError> {
    let mut known: Vec<(f64, f64, f64)> = Vec::new();
    for place in list.iter().flat_map(|section| [section.start(), section.end()]) {
        let Some((bar, to_s)) = place.bar.and_then(|bar| Some((bar, grid.seconds_at(bar)?))) else {
            continue;
        };
        match known.last() {
            // A shared edge: the bar of the section before counts.
            Some(&(_, at_s, _)) if at_s == place.at_s => continue,
            Some(&(before, _, before_s)) if to_s <= before_s => {
                return Err(SectionError::BarsOutOfOrder { bar: before, next_bar: bar });
            }
            _ => known.push((bar, place.at_s, to_s)),
        }
    }
    Ok(known.into_iter().map(|(_, at_s, to_s)| (at_s, to_s)).collect())
}

/// Where `at_s` goes when the `known` places move.
fn moved(known: &[(f64, f64)], at_s: f64) -> f64 {
    let after = known.partition_point(|&(from_s, _)| from_s <= at_s);
    let right = known.get(after);
    let left = after.checked_sub(1).and_then(|left| known.get(left));
    match (left, right) {
        (Some(&(from_s, to_s)), _) if from_s == at_s => to_s,
        (Some(&(left_s, left_to_s)), Some(&(right_s, right_to_s))) => {
            let share = (at_s - left_s) / (right_s - left_s);
            left_to_s + share * (right_to_s - left_to_s)
        }
        (Some(&(from_s, to_s)), None) | (None, Some(&(from_s, to_s))) => at_s + (to_s - from_s),
        (None, None) => at_s,
    }
}
