//! From the points of the model to what one frame draws: runs of measured time, with at most
//! one sample a column of the plot, however long the song is.

use super::super::cast::{count, index, single};
use super::super::model::{StripData, StripPoint};
use super::geometry::Plot;

/// Width of a column, logical points. Half a point shows what a screen of scale 2 can.
const COLUMN_PT: f32 = 1.0;

/// What one column shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    /// Place across.
    pub x: f32,
    /// Highest short-term loudness, LUFS.
    pub short_term: Option<f64>,
    /// Highest momentary loudness, LUFS.
    pub momentary: Option<f64>,
}

/// A stretch without a gap, all of it older or all of it newest.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    /// Where it starts, across.
    pub start_x: f32,
    /// Where it ends, across.
    pub end_x: f32,
    /// Whether a later playthrough has been measured elsewhere.
    pub is_older: bool,
    /// Whether the run before ends where this one starts.
    pub continues: bool,
    /// One sample a column, left to right.
    pub samples: Vec<Sample>,
}

/// The runs that lie in the plot's window.
pub(super) fn runs(strip: &StripData, plot: &Plot) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    if strip.step_hops <= 0 {
        return runs;
    }
    let step = f64::from(strip.step_hops);
    let first = f64::from(strip.first_hop);
    let before = ((plot.window.start_hop - first) / step).floor() - 1.0;
    let after = ((plot.window.end_hop - first) / step).ceil() + 1.0;
    let from = index(single(before)).min(strip.points.len());
    let to = index(single(after)).min(strip.points.len());
    let mut in_run = false;
    for (offset, point) in strip.points.iter().enumerate().take(to).skip(from) {
        let Some(point) = point else {
            in_run = false;
            continue;
        };
        let start = first + count(offset) * step;
        let (start_x, end_x) = (plot.x(start), plot.x(start + step));
        let is_older = point.playthrough < strip.newest_playthrough;
        match runs.last_mut() {
            Some(run) if in_run && run.is_older == is_older => extend(run, end_x, point),
            last => {
                // The surface of a run that goes on from another one meets it.
                let joint = last.filter(|_| in_run).and_then(|run| run.samples.last().copied());
                let mut run = Run {
                    start_x,
                    end_x: start_x,
                    is_older,
                    continues: in_run,
                    samples: joint.into_iter().collect(),
                };
                extend(&mut run, end_x, point);
                runs.push(run);
            }
        }
        in_run = true;
    }
    runs
}

fn extend(run: &mut Run, end_x: f32, point: &StripPoint) {
    run.end_x = end_x;
    let sample = Sample {
        x: end_x,
        short_term: point.short_term.map(|value| value.0),
        momentary: point.momentary.map(|value| value.0),
    };
    match run.samples.last_mut() {
        Some(last)
            if (last.x / COLUMN_PT).floor() == (end_x / COLUMN_PT).floor()
                && last.short_term.is_some() == sample.short_term.is_some() =>
        {
            last.short_term = highest(last.short_term, sample.short_term);
            last.momentary = highest(last.momentary, sample.momentary);
        }
        _ => run.samples.push(sample),
    }
}

fn highest(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::view::TimeWindow;
    use crate::units::Lufs;
    use egui::{Rect, pos2};

    fn plot(end_hop: f64) -> Plot {
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(100.0, 100.0));
        let window = TimeWindow { start_hop: 0.0, end_hop };
        Plot {
            rect,
            outer: rect,
            lane: rect,
            window,
            whole: window,
            top_lufs: -5.0,
            bottom_lufs: -32.0,
            is_ebu: false,
        }
    }

    fn point(lufs: f64, playthrough: u32) -> Option<StripPoint> {
        Some(StripPoint {
            short_term: Some(Lufs(lufs)),
            momentary: Some(Lufs(lufs)),
            true_peak: None,
            playthrough,
        })
    }

    fn strip(points: Vec<Option<StripPoint>>) -> StripData {
        StripData { first_hop: 0, step_hops: 10, points, newest_playthrough: 2 }
    }

    #[test]
    fn a_gap_parts_two_runs_and_so_does_age() {
        let points = vec![point(-20.0, 1), point(-20.0, 2), None, point(-20.0, 2)];
        let runs = runs(&strip(points), &plot(40.0));
        let ages: Vec<_> = runs.iter().map(|run| (run.is_older, run.continues)).collect();
        assert_eq!(ages, vec![(true, false), (false, true), (false, false)]);
        assert_eq!(runs.last().map(|run| (run.start_x, run.end_x)), Some((75.0, 100.0)));
    }

    #[test]
    fn a_long_song_gives_one_sample_a_column_and_keeps_its_loudest_moment() {
        let mut points = vec![point(-20.0, 2); 20_000];
        points[12_345] = point(-9.0, 2);
        let runs = runs(&strip(points), &plot(200_000.0));
        let samples: usize = runs.iter().map(|run| run.samples.len()).sum();
        assert!(samples <= 102, "{samples} samples on 100 columns");
        let loudest = runs
            .iter()
            .flat_map(|run| &run.samples)
            .filter_map(|sample| sample.short_term)
            .fold(f64::NEG_INFINITY, f64::max);
        assert_eq!(loudest, -9.0);
    }
}
