//! The host's bars over song time.

use super::Place;
use std::fmt;

/// One place where bar and time are both known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BarAnchor {
    /// Song time, seconds.
    pub at_s: f64,
    /// Bars from the first bar line of the song (which is 0.0); whole numbers are bar lines.
    pub bar: f64,
}

/// The bars of a song: straight lines between anchors, and the first and the last line run on.
/// So a steady tempo needs two anchors, and each change of tempo or metre one more.
#[derive(Debug, Clone, PartialEq)]
pub struct BarGrid {
    /// At least two, rising in both time and bar.
    anchors: Vec<BarAnchor>,
    /// Whether the bars before the first and after the last anchor are known to run on, and not
    /// only assumed to.
    runs_on: bool,
}

/// Anchors that make no grid, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GridError {
    /// One anchor or none.
    TooFew {
        /// How many there are.
        count: usize,
    },
    /// An anchor that does not lie after the one before it, in time and in bars.
    NotRising {
        /// The anchor before.
        before: BarAnchor,
        /// The anchor.
        after: BarAnchor,
    },
    /// An anchor, a tempo or a metre that is no number or not above zero.
    BadNumber {
        /// What it is.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

impl fmt::Display for GridError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew { count } => write!(f, "{count} anchors: a bar grid needs two or more"),
            Self::NotRising { before, after } => write!(
                f,
                "bar {} at {} s after bar {} at {} s: bars must rise with song time",
                after.bar, after.at_s, before.bar, before.at_s
            ),
            Self::BadNumber { what, value } => write!(f, "{what} {value}: no usable number"),
        }
    }
}

impl std::error::Error for GridError {}

impl BarGrid {
    /// A grid through `anchors`.
    ///
    /// # Errors
    /// Fewer than two, one that is no number, or one that does not rise in time and in bars.
    pub fn new(anchors: Vec<BarAnchor>) -> Result<Self, GridError> {
        if anchors.len() < 2 {
            return Err(GridError::TooFew { count: anchors.len() });
        }
        for anchor in &anchors {
            for (what, value) in [("anchor time", anchor.at_s), ("anchor bar", anchor.bar)] {
                if !value.is_finite() {
                    return Err(GridError::BadNumber { what, value });
                }
            }
        }
        for (&before, &after) in anchors.iter().zip(anchors.iter().skip(1)) {
            if after.at_s <= before.at_s || after.bar <= before.bar {
                return Err(GridError::NotRising { before, after });
            }
        }
        Ok(Self { anchors, runs_on: true })
    }

    /// A grid of one tempo and metre: bar line 0 at `bar_zero_s` seconds, `tempo_bpm` quarter
    /// notes a minute, `quarters_per_bar` quarter notes a bar (4.0 for 4/4, 3.0 for 6/8).
    ///
    /// # Errors
    /// A number that is not finite, or a tempo or metre not above zero.
    pub fn steady(
        bar_zero_s: f64,
        tempo_bpm: f64,
        quarters_per_bar: f64,
    ) -> Result<Self, GridError> {
        for (what, value) in [("tempo", tempo_bpm), ("quarter notes a bar", quarters_per_bar)] {
            if !value.is_finite() || value <= 0.0 {
                return Err(GridError::BadNumber { what, value });
            }
        }
        let bar_s = 60.0 / tempo_bpm * quarters_per_bar;
        Self::new(vec![
            BarAnchor { at_s: bar_zero_s, bar: 0.0 },
            BarAnchor { at_s: bar_zero_s + bar_s, bar: 1.0 },
        ])
    }

    /// The same grid, knowing only the bars between its anchors (see [`Self::knows`]).
    #[must_use]
    pub(super) fn known_between_anchors(self) -> Self {
        Self { runs_on: false, ..self }
    }

    /// Whether it is known, and not only assumed, where `bar` is.
    #[must_use]
    pub fn knows(&self, bar: f64) -> bool {
        let first = self.anchors.first().map_or(f64::INFINITY, |anchor| anchor.bar);
        let last = self.anchors.last().map_or(f64::NEG_INFINITY, |anchor| anchor.bar);
        self.runs_on || (first..=last).contains(&bar)
    }

    /// The bar at song time `at_s`, with its fraction; negative before the first bar line.
    #[must_use]
    pub fn bar_at(&self, at_s: f64) -> Option<f64> {
        self.along(at_s, |anchor| (anchor.at_s, anchor.bar))
    }

    /// Song time of `bar`, seconds.
    #[must_use]
    pub fn seconds_at(&self, bar: f64) -> Option<f64> {
        self.along(bar, |anchor| (anchor.bar, anchor.at_s))
    }

    /// The bar line nearest to `at_s`.
    #[must_use]
    pub fn snapped(&self, at_s: f64) -> Option<Place> {
        let bar = self.bar_at(at_s)?;
        // Nearest in time: where the tempo changes, the nearer in bars may be the farther.
        [bar.floor(), bar.ceil()]
            .into_iter()
            .filter_map(|bar| Some(Place { at_s: self.seconds_at(bar)?, bar: Some(bar) }))
            .min_by(|a, b| (a.at_s - at_s).abs().total_cmp(&(b.at_s - at_s).abs()))
    }

    /// The place at `at_s`, not moved, with its bar beside it.
    #[must_use]
    pub fn place(&self, at_s: f64) -> Place {
        Place { at_s, bar: self.bar_at(at_s) }
    }

    /// Walks from one scale to the other; `pick` gives (from, to) of an anchor.
    fn along(&self, value: f64, pick: impl Fn(&BarAnchor) -> (f64, f64)) -> Option<f64> {
        if !value.is_finite() {
            return None;
        }
        let after = self.anchors.partition_point(|anchor| pick(anchor).0 <= value);
        let left = after.saturating_sub(1).min(self.anchors.len().checked_sub(2)?);
        let (from_left, to_left) = pick(self.anchors.get(left)?);
        let (from_right, to_right) = pick(self.anchors.get(left + 1)?);
        let share = (value - from_left) / (from_right - from_left);
        let result = share.mul_add(to_right - to_left, to_left);
        result.is_finite().then_some(result)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_tempo_runs_on_at_both_ends() {
        // 120 quarters a minute in 4/4: a bar lasts 2 s.
        let grid = BarGrid::steady(1.0, 120.0, 4.0).unwrap();
        assert_eq!(grid.bar_at(1.0), Some(0.0));
        assert_eq!(grid.bar_at(-3.0), Some(-2.0));
        assert_eq!(grid.bar_at(22.0), Some(10.5));
        assert_eq!(grid.seconds_at(100.0), Some(201.0));
        assert_eq!(grid.bar_at(f64::NAN), None);
    }

    #[test]
    fn the_nearest_bar_line_is_nearest_in_time() {
        let grid = BarGrid::steady(0.0, 120.0, 4.0).unwrap();
        assert_eq!(grid.snapped(8.9), Some(Place { at_s: 8.0, bar: Some(4.0) }));
        assert_eq!(grid.snapped(9.1), Some(Place { at_s: 10.0, bar: Some(5.0) }));
        assert_eq!(grid.snapped(8.0), Some(Place { at_s: 8.0, bar: Some(4.0) }));
        assert_eq!(grid.snapped(-0.9), Some(Place { at_s: 0.0, bar: Some(0.0) }));
        // One second to the middle of the bar, four seconds for the other half: at 2.2 s the bar
        // is 0.8 through, but its start is nearer in time than its end.
        let grid = BarGrid::new(vec![
            BarAnchor { at_s: 0.0, bar: 0.0 },
            BarAnchor { at_s: 1.0, bar: 0.5 },
            BarAnchor { at_s: 5.0, bar: 1.0 },
        ])
        .unwrap();
        assert_eq!(grid.snapped(2.2), Some(Place { at_s: 0.0, bar: Some(0.0) }));
    }

    #[test]
    fn a_tempo_change_bends_the_grid() {
        let grid = BarGrid::new(vec![
            BarAnchor { at_s: 0.0, bar: 0.0 },
            BarAnchor { at_s: 20.0, bar: 10.0 },
            BarAnchor { at_s: 24.0, bar: 11.0 },
        ])
        .unwrap();
        assert_eq!(grid.seconds_at(5.0), Some(10.0));
        assert_eq!(grid.seconds_at(10.5), Some(22.0));
        assert_eq!(grid.seconds_at(12.0), Some(28.0));
        assert_eq!(grid.bar_at(28.0), Some(12.0));
    }

    #[test]
    fn anchors_that_make_no_grid_are_refused() {
        assert_eq!(BarGrid::new(vec![]), Err(GridError::TooFew { count: 0 }));
        let anchor = |at_s, bar| BarAnchor { at_s, bar };
        let falling = BarGrid::new(vec![anchor(0.0, 0.0), anchor(1.0, 0.0)]);
        assert_eq!(
            falling.map_err(|error| error.to_string()),
            Err("bar 0 at 1 s after bar 0 at 0 s: bars must rise with song time".to_owned())
        );
        assert!(BarGrid::new(vec![anchor(0.0, 0.0), anchor(f64::NAN, 1.0)]).is_err());
        assert!(BarGrid::steady(0.0, 0.0, 4.0).is_err());
        assert!(BarGrid::steady(0.0, 120.0, f64::INFINITY).is_err());
    }
}
