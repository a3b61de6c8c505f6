//! Soundings: the peaks that cost headroom, as small figures at their place over the chart.

use super::super::super::Snapshot;
use super::append;
use super::labels::{SMALL_PX, width_px};
use super::plot::Plot;
use crate::section::PeakEvent;
use crate::units::signed_one_decimal;
use std::fmt::Write;

/// Most soundings of peaks over the ceiling; as in the editor.
const MOST: usize = 8;
/// Most soundings of peaks that only the gain to the target would lift over it.
const MOST_PENDING: usize = 3;

/// Whether there is a peak to sound.
pub(super) fn any(snapshot: &Snapshot) -> bool {
    !snapshot.peaks.events().is_empty()
}

pub(super) fn put(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    if !any(snapshot) {
        return;
    }
    let ceiling = snapshot.chosen_target().and_then(|chosen| chosen.target.ceiling());
    let is_over = |event: &PeakEvent| ceiling.is_some_and(|ceiling| event.peak.0 > ceiling.0);
    let mut any_over = false;
    let baseline = plot.top_px - 11.0;
    let mut rightmost: f64 = 0.0;
    for event in picked(plot, snapshot) {
        let over = is_over(&event);
        any_over |= over;
        let class = if over { " signal" } else { "" };
        let x = plot.x(event.hop);
        let text = signed_one_decimal(event.peak.0);
        let half = width_px(&text, SMALL_PX) / 2.0;
        let text_x = x.clamp(plot.left_px + half + 2.0, plot.form.width_px - half);
        rightmost = rightmost.max(text_x + half);
        append!(
            out,
            "<line class=\"sounding{class}\" x1=\"{x:.1}\" y1=\"{:.1}\" x2=\"{x:.1}\" y2=\"{:.1}\"/>\
             <text class=\"small figure middle{class}\" x=\"{text_x:.1}\" y=\"{baseline:.1}\">{text}\
             </text>\n",
            plot.top_px - 7.0,
            plot.top_px + 3.0,
        );
    }
    let class = if any_over { " signal" } else { "" };
    append!(
        out,
        "<text class=\"small end{class}\" x=\"{:.1}\" y=\"{baseline:.1}\">dBTP</text>\n",
        plot.left_px - 4.0
    );
    if any_over && plot.form.has_margin && rightmost < plot.right_px + 18.0 {
        append!(
            out,
            "<text class=\"small signal\" x=\"{:.1}\" y=\"{baseline:.1}\">over ceiling</text>\n",
            plot.right_px + 20.0
        );
    }
}

/// The highest peak always, then the highest that stand clear of higher ones and are over the
/// ceiling, now or with the gain to the target.
fn picked(plot: &Plot, snapshot: &Snapshot) -> Vec<PeakEvent> {
    let chosen = snapshot.chosen_target();
    let ceiling = chosen.and_then(|chosen| chosen.target.ceiling()).map(|ceiling| ceiling.0);
    let gain = chosen.and_then(|chosen| chosen.distance.gain_to_target);
    let gain_db = gain.map_or(0.0, |gain| gain.0.max(0.0));
    let clear_px = width_px("+88.8", SMALL_PX) + 4.0;
    let mut picked: Vec<PeakEvent> = Vec::new();
    for event in snapshot.peaks.events() {
        let is_over = ceiling.is_some_and(|ceiling| event.peak.0 > ceiling);
        let is_pending = ceiling.is_some_and(|ceiling| event.peak.0 + gain_db > ceiling);
        let most = if is_over { MOST } else { MOST_PENDING };
        let wanted = picked.is_empty() || (is_pending && picked.len() < most);
        if !wanted {
            break;
        }
        let x = plot.x(event.hop);
        if picked.iter().all(|other| (plot.x(other.hop) - x).abs() >= clear_px) {
            picked.push(*event);
        }
    }
    picked
}
