//! Soundings: the true peaks that cost headroom, as small figures at their place over the chart.

use super::super::fonts::{regular, semibold};
use super::super::label;
use super::super::model::Model;
use super::super::view::{Held, chosen};
use super::super::{Look, figure, text};
use super::geometry::Plot;
use super::samples::Run;
use crate::units::{Dbtp, signed_one_decimal};
use egui::{Align2, Painter, Rect, Stroke, Ui, pos2};

/// Most soundings of peaks over the ceiling.
const MOST: usize = 8;
/// Most soundings of peaks that only the gain to target would lift over it.
const MOST_PENDING: usize = 3;
/// How far the figures stand over the plot.
const LIFT_PT: f32 = 7.0;
/// Peaks nearer than this to a higher one belong to it, hops (200 ms).
const MERGE_HOPS: f64 = 20.0;

/// One peak at its place.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sounding {
    /// Middle of the stretch that it was found in, hops.
    hop: f64,
    dbtp: f64,
}

pub(super) fn paint(
    painter: &Painter,
    look: &Look,
    plot: &Plot,
    model: &Model,
    held: &Held,
    runs: &[Run],
) -> Vec<(Rect, String)> {
    let palette = &look.palette;
    let font = semibold(look.sizes.small);
    let lane_bottom = plot.rect.top();
    let mut placed = Vec::new();
    if runs.is_empty() {
        return placed;
    }
    let ceiling = chosen(model).and_then(crate::target::Target::ceiling);
    // Peaks that are over the ceiling now, and those that would be after the gain to target.
    let gain = held.distance.and_then(|d| d.gain_to_target).map_or(0.0, |gain| gain.0.max(0.0));
    let width_pt = label::width(painter, "−88.8", &font) + 6.0;
    let hops_per_pt = (plot.window.end_hop - plot.window.start_hop) / f64::from(plot.rect.width());
    let apart_hops = MERGE_HOPS.max(f64::from(width_pt) * hops_per_pt);
    let ceiling_dbtp = ceiling.map(|ceiling| ceiling.0);
    let found = pick(in_window(model, plot), ceiling_dbtp, gain, apart_hops);
    for sounding in &found {
        let x = plot.x(sounding.hop).clamp(plot.rect.left(), plot.rect.right());
        let is_over = ceiling.is_some_and(|ceiling| sounding.dbtp > ceiling.0);
        let color = if is_over { palette.signal } else { palette.line };
        let mark_x = painter.round_to_pixel_center(x);
        painter.vline(mark_x, lane_bottom - 6.0..=lane_bottom + 3.0, Stroke::new(1.4, color));
        let half = width_pt / 2.0 - 3.0;
        let text_x = x.clamp(plot.rect.left() + half, plot.outer.right() - half);
        let figure = signed_one_decimal(sounding.dbtp);
        let at = pos2(text_x, lane_bottom - LIFT_PT);
        let drawn = painter.text(at, Align2::CENTER_BOTTOM, &figure, font.clone(), color);
        let time = text::song_time(sounding.hop / 100.0, true);
        placed.push((drawn, text::sounding_spoken(&figure, &time)));
    }
    // The unit of the lane, with the word if a peak is over the ceiling.
    let any_over = found.iter().any(|s| ceiling.is_some_and(|ceiling| s.dbtp > ceiling.0));
    let (unit_color, small) =
        (if any_over { palette.signal } else { palette.line }, regular(look.sizes.small));
    let at = pos2(plot.rect.left() - 7.0, lane_bottom - LIFT_PT);
    painter.text(at, Align2::RIGHT_BOTTOM, Dbtp::UNIT, small.clone(), unit_color);
    if any_over {
        let taken = found.iter().map(|s| plot.x(s.hop) + width_pt / 2.0).fold(0.0, f32::max);
        let at = pos2(plot.rect.right() + look.sizes.small * 1.55, lane_bottom - LIFT_PT);
        if taken < at.x {
            painter.text(at, Align2::LEFT_BOTTOM, text::OVER_CEILING, small, unit_color);
        }
    }
    placed
}

/// The figures answer to pointer and keys.
pub(super) fn show(ui: &Ui, look: &Look, placed: &[(Rect, String)]) {
    for (index, (rect, spoken)) in placed.iter().enumerate() {
        let id = ui.scope_id().with(("sounding", index));
        figure::ask(ui, look, *rect, id, spoken, text::SOUNDING_HINT);
    }
}

/// The peaks in view, one a stretch.
fn in_window<'a>(model: &'a Model, plot: &'a Plot) -> impl Iterator<Item = Sounding> + 'a {
    let strip = &model.strip;
    let step = f64::from(strip.step_hops);
    strip.points.iter().enumerate().filter_map(move |(index, point)| {
        let start = f64::from(strip.first_hop) + super::super::cast::count(index) * step;
        let hop = start + step / 2.0;
        let dbtp = point.as_ref()?.true_peak?.0;
        let in_view = hop >= plot.window.start_hop && hop <= plot.window.end_hop;
        (in_view && dbtp.is_finite()).then_some(Sounding { hop, dbtp })
    })
}

/// The highest peak always, then the highest that stand clear of higher ones and are over the
/// ceiling, now or with `gain_db`.
fn pick(
    peaks: impl Iterator<Item = Sounding>,
    ceiling_dbtp: Option<f64>,
    gain_db: f64,
    apart_hops: f64,
) -> Vec<Sounding> {
    let threshold_dbtp = ceiling_dbtp.map(|ceiling| ceiling - gain_db);
    // Local maxima first: one peak per `apart_hops` of time, which bounds the list by the width.
    let mut tops: Vec<Sounding> = Vec::new();
    let mut highest: Option<Sounding> = None;
    for peak in peaks {
        if highest.is_none_or(|highest| peak.dbtp > highest.dbtp) {
            highest = Some(peak);
        }
        if threshold_dbtp.is_none_or(|threshold| peak.dbtp <= threshold) {
            continue;
        }
        match tops.last_mut() {
            Some(last) if peak.hop - last.hop < apart_hops / 2.0 => {
                if peak.dbtp > last.dbtp {
                    *last = peak;
                }
            }
            _ => tops.push(peak),
        }
    }
    tops.sort_by(|a, b| b.dbtp.total_cmp(&a.dbtp));
    let mut chosen: Vec<Sounding> = highest.into_iter().collect();
    for top in tops {
        let is_over = ceiling_dbtp.is_some_and(|ceiling| top.dbtp > ceiling);
        if chosen.len() >= if is_over { MOST } else { MOST_PENDING } {
            break;
        }
        if chosen.iter().all(|other| (other.hop - top.hop).abs() >= apart_hops) {
            chosen.push(top);
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peaks(list: &[(f64, f64)]) -> impl Iterator<Item = Sounding> + '_ {
        list.iter().map(|&(hop, dbtp)| Sounding { hop, dbtp })
    }

    #[test]
    fn the_highest_peak_is_always_there_and_neighbours_are_merged_into_it() {
        let list = [(0.0, -6.0), (10.0, -3.0), (20.0, -4.0), (500.0, -9.0)];
        let picked = pick(peaks(&list), Some(-1.0), 0.0, MERGE_HOPS);
        assert_eq!(picked, vec![Sounding { hop: 10.0, dbtp: -3.0 }]);
        let picked = pick(peaks(&list), Some(-1.0), 9.0, MERGE_HOPS);
        let hops: Vec<_> = picked.iter().map(|sounding| sounding.hop).collect();
        assert_eq!(hops, vec![10.0, 500.0]);
    }

    #[test]
    fn there_are_never_more_than_eight_and_three_that_are_not_over_yet() {
        let list: Vec<_> = (0..100).map(|i| (f64::from(i) * 100.0, 0.5)).collect();
        assert_eq!(pick(peaks(&list), Some(-1.0), 0.0, MERGE_HOPS).len(), MOST);
        assert_eq!(pick(peaks(&list), Some(1.0), 3.0, MERGE_HOPS).len(), MOST_PENDING);
    }
}
