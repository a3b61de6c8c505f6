//! Loudness, time, and the lane of the sections.

use super::super::super::Snapshot;
use super::super::super::text::one_line;
use super::super::escape::esc;
use super::append;
use super::labels::{SMALL_PX, width_px};
use super::plot::Plot;
use crate::record::HOPS_PER_SECOND;
use crate::units::song_time;
use std::fmt::Write;

/// Steps of the time axis, seconds.
const STEPS_S: [i32; 12] = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800];

/// Lines across, one for each figure of the loudness axis.
pub(super) fn put_grid(out: &mut String, plot: &Plot) {
    let mut lufs = (plot.top_lufs / plot.form.tick_lu).floor() * plot.form.tick_lu;
    while lufs >= plot.bottom_lufs {
        let y = plot.y(lufs);
        append!(
            out,
            "<line class=\"grid\" x1=\"{:.1}\" y1=\"{y:.1}\" x2=\"{:.1}\" y2=\"{y:.1}\"/>\n",
            plot.left_px,
            plot.right_px,
        );
        // The lowest figure keeps clear of the unit below it.
        if y < plot.bottom_px - SMALL_PX {
            append!(
                out,
                "<text class=\"small end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>\n",
                plot.left_px - 6.0,
                y + 4.0,
                format!("{lufs:.0}").replace('-', "−"),
            );
        }
        lufs -= plot.form.tick_lu;
    }
}

pub(super) fn put(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    append!(
        out,
        "<path class=\"axis\" d=\"M{:.1} {:.1}V{:.1}H{:.1}\"/>\
         <text class=\"small end\" x=\"{:.1}\" y=\"{:.1}\">LUFS</text>\n",
        plot.left_px,
        plot.top_px,
        plot.bottom_px,
        plot.right_px,
        plot.left_px - 6.0,
        plot.bottom_px + 15.0,
    );
    put_times(out, plot);
    put_names(out, plot, snapshot);
}

fn put_times(out: &mut String, plot: &Plot) {
    let hops = f64::from(plot.hops.end - plot.hops.start);
    let per_s = (plot.right_px - plot.left_px) / hops * f64::from(HOPS_PER_SECOND);
    let fits = |step_s: &&i32| f64::from(**step_s) * per_s >= plot.form.tick_px;
    let step_s = STEPS_S.iter().find(fits).copied().unwrap_or(3_600);
    let mut at_s = plot.hops.start.div_euclid(HOPS_PER_SECOND * step_s) * step_s;
    while at_s * HOPS_PER_SECOND <= plot.hops.end {
        let hop = at_s * HOPS_PER_SECOND;
        if hop >= plot.hops.start {
            let x = plot.x(hop);
            let text = song_time(f64::from(at_s), false);
            let half = width_px(&text, SMALL_PX) / 2.0;
            // The first figure keeps clear of the unit beside it.
            let text_x = x.clamp(plot.left_px + half + 2.0, plot.form.width_px - half);
            append!(
                out,
                "<line class=\"axis\" x1=\"{x:.1}\" y1=\"{0:.1}\" x2=\"{x:.1}\" y2=\"{1:.1}\"/>\
                 <text class=\"small middle\" x=\"{text_x:.1}\" y=\"{2:.1}\">{text}</text>\n",
                plot.bottom_px,
                plot.bottom_px + 4.0,
                plot.bottom_px + 16.0,
            );
        }
        at_s += step_s;
    }
}

/// The names of the sections, or their numbers in the log where the names do not fit.
fn put_names(out: &mut String, plot: &Plot, snapshot: &Snapshot) {
    let (top, baseline) = (plot.bottom_px + 22.0, plot.bottom_px + 35.0);
    for (index, section) in snapshot.sections.iter().enumerate() {
        let range = &section.entry.range;
        let (left, right) = (plot.x(range.start), plot.x(range.end));
        append!(
            out,
            "<path class=\"axis\" d=\"M{left:.1} {0:.1}V{1:.1}M{right:.1} {0:.1}V{1:.1}\"/>",
            top,
            baseline + 4.0
        );
        let name = one_line(&section.section.name);
        let number = (index + 1).to_string();
        let fitting = [name, number];
        let fitting = fitting.iter().find(|text| width_px(text, SMALL_PX) + 6.0 <= right - left);
        if let Some(text) = fitting {
            append!(
                out,
                "<text class=\"small middle\" x=\"{:.1}\" y=\"{baseline:.1}\">{}</text>\n",
                (left + right) / 2.0,
                esc(text)
            );
        }
    }
}
