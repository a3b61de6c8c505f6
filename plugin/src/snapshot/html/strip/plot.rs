//! Where song time and loudness lie, and what one column shows.

use super::super::super::{Series, Snapshot};
use crate::loudness::HopRange;

/// Height of the scale, LU: that of EBU +9, −18 to +9 LU (EBU Tech 3341 §2.7).
const SPAN_LU: f64 = 27.0;
/// Top of EBU +9, LUFS (EBU Tech 3341 §2.7): kept unless something lies higher.
const EBU_TOP_LUFS: f64 = -14.0;
/// Steps in which the top moves, LU, and room over the loudest moment. Own choice.
const TOP_STEP_LU: f64 = 3.0;
const TOP_ROOM_LU: f64 = 1.0;

/// Sizes of a drawing, in its own pixels.
#[derive(Debug)]
pub(super) struct Form {
    /// Class and part of the ids.
    pub name: &'static str,
    pub width_px: f64,
    pub height_px: f64,
    /// Margins round the plot.
    pub left_px: f64,
    pub right_px: f64,
    pub top_px: f64,
    pub foot_px: f64,
    /// Between two figures of the loudness axis, LU.
    pub tick_lu: f64,
    /// Room that a figure of the time axis takes.
    pub tick_px: f64,
    /// Whether the right margin has room for figures.
    pub has_margin: bool,
}

impl Form {
    pub const WIDE: Self = Self {
        name: "wide",
        width_px: 960.0,
        height_px: 372.0,
        left_px: 42.0,
        right_px: 112.0,
        top_px: 32.0,
        foot_px: 44.0,
        tick_lu: 3.0,
        tick_px: 64.0,
        has_margin: true,
    };
    pub const NARROW: Self = Self {
        name: "narrow",
        width_px: 340.0,
        height_px: 290.0,
        left_px: 38.0,
        right_px: 4.0,
        top_px: 30.0,
        foot_px: 42.0,
        tick_lu: 6.0,
        tick_px: 54.0,
        has_margin: false,
    };

    /// Most columns that are drawn: one a pixel.
    pub fn columns(&self) -> usize {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the two widths above"
        )]
        let columns = (self.width_px - self.left_px - self.right_px) as usize;
        columns
    }
}

/// The drawing area with its two scales.
#[derive(Debug)]
pub(super) struct Plot {
    pub form: &'static Form,
    pub left_px: f64,
    pub right_px: f64,
    pub top_px: f64,
    pub bottom_px: f64,
    /// Song time at the left and right edge, hops.
    pub hops: HopRange,
    pub top_lufs: f64,
    pub bottom_lufs: f64,
}

impl Plot {
    pub fn new(form: &'static Form, snapshot: &Snapshot) -> Self {
        let (bottom_lufs, top_lufs) = loudness_span(snapshot);
        Self {
            form,
            left_px: form.left_px,
            right_px: form.width_px - form.right_px,
            top_px: form.top_px,
            bottom_px: form.height_px - form.foot_px,
            hops: time_span(snapshot),
            top_lufs,
            bottom_lufs,
        }
    }

    /// Place of a song time, held at the edges of the plot.
    pub fn x(&self, hop: i32) -> f64 {
        let share = f64::from(hop - self.hops.start) / f64::from(self.hops.end - self.hops.start);
        self.left_px + share.clamp(0.0, 1.0) * (self.right_px - self.left_px)
    }

    /// Place of a loudness, held at the edges of the plot; silence lies at the bottom.
    pub fn y(&self, lufs: f64) -> f64 {
        let share = (self.top_lufs - lufs) / (self.top_lufs - self.bottom_lufs);
        self.top_px + share.clamp(0.0, 1.0) * (self.bottom_px - self.top_px)
    }

    /// Whether a loudness lies on the scale.
    pub fn shows(&self, lufs: f64) -> bool {
        (self.bottom_lufs..=self.top_lufs).contains(&lufs)
    }
}

/// All that was measured and all sections.
fn time_span(snapshot: &Snapshot) -> HopRange {
    let extent = snapshot.extent.clone().unwrap_or(0..1);
    let first = snapshot.sections.first().map_or(extent.start, |first| first.entry.range.start);
    let last = snapshot.sections.last().map_or(extent.end, |last| last.entry.range.end);
    let start = extent.start.min(first);
    start..extent.end.max(last).max(start + 1)
}

fn loudness_span(snapshot: &Snapshot) -> (f64, f64) {
    let figures = &snapshot.whole.figures;
    let goal = snapshot.chosen_target().and_then(|chosen| chosen.target.integrated);
    let loudest = [
        figures.max_momentary.map(|value| value.0),
        figures.max_short_term.map(|value| value.0),
        goal.map(|goal| goal.loudness.0 + goal.above.0),
    ];
    let loudest =
        loudest.into_iter().flatten().filter(|value| value.is_finite()).fold(-99.0, f64::max);
    let top_lufs = if loudest <= EBU_TOP_LUFS {
        EBU_TOP_LUFS
    } else {
        ((loudest + TOP_ROOM_LU) / TOP_STEP_LU).ceil() * TOP_STEP_LU
    };
    (top_lufs - SPAN_LU, top_lufs)
}

/// What one column shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    /// Where it starts and ends, hops.
    pub start_hop: i32,
    pub end_hop: i32,
    /// Highest momentary and short-term loudness, LUFS; −∞ is silence.
    pub momentary: Option<f64>,
    pub short_term: Option<f64>,
    pub is_measured: bool,
    /// Whether a later playthrough was measured elsewhere.
    pub is_older: bool,
}

/// The series in at most `columns` columns.
pub(super) fn samples(series: &Series, columns: usize) -> Vec<Sample> {
    let per_column = series.points.len().div_ceil(columns.max(1)).max(1);
    let newest = series.newest_playthrough();
    let columns = series.points.chunks(per_column).enumerate();
    columns
        .map(|(index, points)| {
            let first = index * per_column;
            let playthrough = points.iter().filter_map(|point| point.playthrough).max();
            let highest = |values: &mut dyn Iterator<Item = f64>| values.reduce(f64::max);
            Sample {
                start_hop: series.hops(first).start,
                end_hop: series.hops(first + points.len() - 1).end,
                momentary: highest(&mut points.iter().filter_map(|p| Some(p.momentary?.0))),
                short_term: highest(&mut points.iter().filter_map(|p| Some(p.short_term?.0))),
                is_measured: playthrough.is_some(),
                is_older: playthrough.is_some() && playthrough < newest,
            }
        })
        .collect()
}

/// Whether some of the song is from an earlier playthrough.
pub(super) fn any_older(series: &Series) -> bool {
    let newest = series.newest_playthrough();
    series.points.iter().any(|point| point.playthrough.is_some() && point.playthrough < newest)
}
