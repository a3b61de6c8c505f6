//! How far each band lies above or below the references.

use super::super::super::fonts::semibold;
use super::super::super::{Look, text};
use super::super::bands::Chart;
use crate::meters::spectrum::bands::{BAND_COUNT, NOMINAL_HZ};
use crate::reference::{Difference, Stretch};
use crate::units::signed_one_decimal;
use egui::{Align2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2};

/// The chart reaches so far to either side at least, and grows in steps of this, dB. The project's own
/// choice, no source.
const STEP_DB: f64 = 6.0;
/// And so far at most, dB.
const MOST_DB: f64 = 24.0;

pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, stretch: &Stretch) {
    let palette = &look.palette;
    let small = look.sizes.small;
    let plot = Rect::from_min_max(
        pos2(rect.left() + small * 3.0, rect.top() + small * 0.6),
        pos2(rect.right(), rect.bottom() - small * 1.6),
    );
    if plot.height() < small * 2.0 {
        return;
    }
    let bands: Vec<(usize, Difference)> = (0..BAND_COUNT)
        .filter_map(|band| Some((band, stretch.ours.band(&stretch.theirs, band)?)))
        .collect();
    let farthest = bands.iter().map(|(_, one)| one.by().abs()).fold(0.0, f64::max);
    let reach_db = (((farthest + 1.5) / STEP_DB).ceil() * STEP_DB).clamp(2.0 * STEP_DB, MOST_DB);
    let chart = Chart { plot, top_db: reach_db, span_db: 2.0 * reach_db };
    let painter = ui.painter();
    let within = |db: f64| db.clamp(-reach_db, reach_db);

    for (band, one) in &bands {
        let about = |level: f64| within(level - one.theirs.mean);
        let fill = |low: f64, high: f64, color: egui::Color32| {
            painter.rect_filled(chart.column(*band, high, low), 0.0, color);
        };
        if let Some([low, high]) = stretch.theirs.spread.get(*band).copied().flatten() {
            fill(about(low), about(high), palette.over_paper(palette.ink, 0.07));
        }
        if stretch.theirs.count > 1 {
            let [low, high] = [one.theirs.lowest, one.theirs.highest].map(about);
            fill(low, high, palette.over_paper(palette.ink, 0.18));
        }
    }
    for (band, one) in &bands {
        let by = within(one.by());
        let column = chart.column(*band, by.max(0.0), by.min(0.0));
        painter.rect_filled(column, 0.0, palette.water.gamma_multiply(0.38));
    }
    chart.lines(painter, look, STEP_DB);
    chart.axis(painter, look);
    let zero = painter.round_to_pixel_center(chart.y(0.0));
    painter.hline(plot.x_range(), zero, Stroke::new(1.5, palette.ink));
    let mut line = Vec::new();
    for (band, one) in &bands {
        let y = chart.y(within(one.by()));
        line.extend([pos2(chart.x(*band), y), pos2(chart.x(*band + 1), y)]);
    }
    painter.add(Shape::line(line, Stroke::new(2.0, palette.water)));
    for (bands, by_db) in stretch.band_runs() {
        dimension(ui, look, &chart, stretch, bands, by_db);
    }

    let response = ui.interact(rect, ui.scope_id().with("reference bands"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, text::REFERENCE_BANDS_HINT));
    let over = chart.band_at(&response);
    let hint = bands.iter().find(|(band, _)| Some(*band) == over).and_then(|(band, one)| {
        let spread = stretch.theirs.spread.get(*band).copied().flatten();
        Some(text::reference_band(*NOMINAL_HZ.get(*band)?, one, spread))
    });
    response.on_hover_text(hint.unwrap_or_else(|| text::REFERENCE_BANDS_HINT.to_owned()));
}

/// A dimension line along bands that differ, with by how much.
fn dimension(
    ui: &Ui,
    look: &Look,
    chart: &Chart,
    stretch: &Stretch,
    bands: [usize; 2],
    by_db: f64,
) {
    let palette = &look.palette;
    let [first, last] = bands;
    let is_above = by_db > 0.0;
    let levels = (first..=last).filter_map(|band| stretch.ours.band(&stretch.theirs, band));
    let outermost = levels.map(|one| one.by());
    let outermost = outermost.fold(0.0, if is_above { f64::max } else { f64::min });
    let away = look.sizes.small * 0.55;
    let painter = ui.painter();
    let y = chart.y(outermost) + if is_above { -away } else { away };
    let y = painter.round_to_pixel_center(y);
    let ink = Stroke::new(1.0, palette.ink);
    let ends = [chart.x(first) + 1.0, chart.x(last + 1) - 1.0];
    let [left, right] = ends;
    painter.hline(left..=right, y, ink);
    for x in ends {
        painter.vline(painter.round_to_pixel_center(x), y - 3.0..=y + 3.0, ink);
    }
    let (align, by) =
        if is_above { (Align2::CENTER_BOTTOM, -2.0) } else { (Align2::CENTER_TOP, 2.0) };
    let at = pos2((left + right) / 2.0, y + by);
    painter.text(at, align, signed_one_decimal(by_db), semibold(look.sizes.body), palette.ink);
}
