//! The host's bars as they were seen while the song played.

use super::{BarAnchor, BarGrid, GridError};
use std::collections::BTreeMap;

/// Most bar lines that are kept: two hours of bars of a third of a second. The project's own
/// choice, no source.
const MAX_LINES: usize = 20_000;

/// Bar lines seen so far. A host tells one bar at a time; put together they are the tempo map,
/// as far as it was played.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BarMap {
    /// Song time of each bar line, seconds, by bars from the first bar line; rising.
    lines_s: BTreeMap<i32, f64>,
}

impl BarMap {
    /// Takes in what the host tells: the present bar's number, from 1, where it began, and how
    /// long bars are there, seconds. Lines that contradict it are of an older tempo map and are
    /// forgotten. Numbers that are no use are passed over. Gives whether it was anything new.
    pub fn see(&mut self, bar_number: i32, start_s: f64, bar_s: f64) -> bool {
        let Some(bar) = bar_number.checked_sub(1) else {
            return false;
        };
        let good = start_s.is_finite() && bar_s.is_finite() && bar_s > 0.0;
        // Nothing new: what the host tells in every block of a bar.
        if !good
            || self.lines_s.get(&bar) == Some(&start_s) && self.lines_s.contains_key(&(bar + 1))
        {
            return false;
        }
        self.put(bar, start_s);
        // Where the next one will be, until it is seen itself.
        if let Some(next) = bar.checked_add(1) {
            let next_s = start_s + bar_s;
            self.put(next, next_s);
        }
        true
    }

    fn put(&mut self, bar: i32, at_s: f64) {
        self.lines_s.retain(|&other, other_s| {
            if other < bar { *other_s < at_s } else { other > bar && *other_s > at_s }
        });
        if self.lines_s.len() < MAX_LINES {
            self.lines_s.insert(bar, at_s);
        }
    }

    /// The grid through the lines seen. It knows the bars between the first and the last of them;
    /// beyond, the first and the last bar's length run on.
    ///
    /// # Errors
    /// No bar was seen yet.
    pub fn grid(&self) -> Result<BarGrid, GridError> {
        let anchors =
            self.lines_s.iter().map(|(&bar, &at_s)| BarAnchor { at_s, bar: f64::from(bar) });
        Ok(BarGrid::new(anchors.collect())?.known_between_anchors())
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Place, Sections};
    use super::*;

    #[test]
    fn bars_seen_one_by_one_make_the_tempo_map() {
        let mut map = BarMap::default();
        assert!(map.grid().is_err());
        // Two bars of 2 s, then bars of 3 s.
        for (number, start_s, bar_s) in [(1, 0.0, 2.0), (2, 2.0, 2.0), (3, 4.0, 3.0), (4, 7.0, 3.0)]
        {
            map.see(number, start_s, bar_s);
            map.see(number, start_s, bar_s);
        }
        let grid = map.grid().unwrap();
        assert_eq!(grid.seconds_at(1.0), Some(2.0));
        assert_eq!(grid.seconds_at(2.5), Some(5.5));
        assert_eq!(grid.seconds_at(5.0), Some(13.0));
        assert!(grid.knows(0.0) && grid.knows(4.0) && !grid.knows(4.1) && !grid.knows(-0.1));
    }

    #[test]
    fn an_older_tempo_map_gives_way_to_what_is_seen_now() {
        let mut map = BarMap::default();
        for number in 1..=20 {
            map.see(number, f64::from(number - 1) * 2.0, 2.0);
        }
        // Half the tempo from the start: line 1 is now at 4 s, where line 2 was before.
        map.see(1, 0.0, 4.0);
        map.see(2, 4.0, 4.0);
        map.see(3, 8.0, 4.0);
        let grid = map.grid().unwrap();
        for bar in 0..=3 {
            assert_eq!(grid.seconds_at(f64::from(bar)), Some(f64::from(bar) * 4.0));
        }
        // Twice the old tempo, seen first at bar 11: lines before it that lie later are old.
        let mut jumped = BarMap::default();
        for number in 1..=20 {
            jumped.see(number, f64::from(number - 1) * 2.0, 2.0);
        }
        jumped.see(11, 10.0, 1.0);
        let grid = jumped.grid().unwrap();
        assert_eq!(grid.seconds_at(10.0), Some(10.0));
        assert_eq!(grid.seconds_at(11.0), Some(11.0));
        assert_eq!(grid.seconds_at(4.0), Some(8.0));
        // Rubbish changes nothing.
        let before = map.clone();
        map.see(i32::MIN, 0.0, 1.0);
        map.see(2, f64::NAN, 1.0);
        map.see(2, 1.0, 0.0);
        assert_eq!(map, before);
        map.see(i32::MAX, 1e9, 1.0);
    }

    #[test]
    fn edges_at_bars_that_were_not_played_are_not_said_to_have_moved() {
        let mut sections = Sections::default();
        let place = |at_s: f64, bar: f64| Place { at_s, bar: Some(bar) };
        sections.add_range(place(0.0, 0.0), place(20.0, 10.0), None).unwrap();
        sections.add_range(place(20.0, 10.0), place(60.0, 20.0), None).unwrap();
        let mut map = BarMap::default();
        for number in 1..=12 {
            map.see(number, f64::from(number - 1) * 2.0, 2.0);
        }
        // Bar 20 lies at 60 s by a slower tempo that this run did not reach.
        assert_eq!(sections.moved_edges(&map.grid().unwrap()), []);
        for number in 13..=22 {
            map.see(number, f64::from(number - 1) * 2.0, 2.0);
        }
        assert_eq!(sections.moved_edges(&map.grid().unwrap()).len(), 1);
    }
}
