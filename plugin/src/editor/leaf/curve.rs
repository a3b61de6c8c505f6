//! The curve of headroom freed against the number of places tamed.

use super::super::fonts::regular;
use super::super::{Look, cast, text};
use super::peaks::places;
use crate::section::PeakLedger;
use crate::units::{Db, one_decimal};
use egui::{Align2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Most places on the curve.
const MOST: usize = 60;

/// Draws the curve, with a mark where `tamed` places are.
pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, ledger: &PeakLedger, tamed: usize) {
    let palette = &look.palette;
    let font = regular(look.sizes.small);
    let curve: Vec<_> = ledger.curve().take(MOST.max(tamed)).collect();
    let Some(last) = curve.last() else { return };
    let plot = Rect::from_min_max(
        pos2(rect.left() + look.sizes.small * 3.0, rect.top() + look.sizes.small * 1.8),
        pos2(rect.right() - look.sizes.small, rect.bottom() - look.sizes.small * 1.7),
    );
    if plot.height() < 24.0 {
        return;
    }
    let highest_db = last.frees.0.max(1.0);
    let x = |count: usize| plot.left() + plot.width() * places(count) / places(curve.len().max(1));
    let y = |freed: Db| plot.bottom() - plot.height() * cast::single(freed.0 / highest_db);
    let painter = ui.painter();
    let axis = Stroke::new(1.0, palette.over_paper(palette.line, 0.7));
    painter.hline(plot.x_range(), painter.round_to_pixel_center(plot.bottom()), axis);
    painter.vline(painter.round_to_pixel_center(plot.left()), plot.y_range(), axis);
    let title = pos2(rect.left(), rect.top());
    painter.text(title, Align2::LEFT_TOP, text::CURVE_TITLE, font.clone(), palette.line);
    // Steps: so much is free once so many are tamed.
    let mut line = vec![pos2(plot.left(), plot.bottom())];
    for taming in &curve {
        let at = pos2(x(taming.events), y(taming.frees));
        line.extend(line.last().map(|before| pos2(at.x, before.y)));
        line.push(at);
    }
    painter.add(Shape::line(line, Stroke::new(1.6, palette.water)));
    let figure = |value: f64| one_decimal(value);
    let left = plot.left() - 5.0;
    let color = palette.line;
    painter.text(
        pos2(left, plot.top()),
        Align2::RIGHT_CENTER,
        figure(highest_db),
        font.clone(),
        color,
    );
    painter.text(pos2(left, plot.bottom()), Align2::RIGHT_BOTTOM, Db::UNIT, font.clone(), color);
    let foot = plot.bottom() + 3.0;
    let count = curve.len().to_string();
    painter.text(pos2(plot.right(), foot), Align2::RIGHT_TOP, count, font.clone(), color);
    painter.text(
        pos2(plot.left(), foot),
        Align2::LEFT_TOP,
        text::CURVE_PLACES,
        font.clone(),
        color,
    );
    let spoken = curve.get(tamed.saturating_sub(1)).map(text::taming).unwrap_or_default();
    if let Some(here) = curve.get(tamed.saturating_sub(1)) {
        let at = pos2(x(here.events), y(here.frees));
        let ink = Stroke::new(1.0, palette.ink);
        painter.line_segment([at, pos2(at.x, plot.bottom())], ink);
        painter.circle_filled(at, 3.5, palette.ink);
        let label = format!("{} {}", one_decimal(here.frees.0), Db::UNIT);
        // The curve rises to the right: below it on that side there is room, above it on the other.
        let (align, by) = if at.x > plot.center().x {
            (Align2::RIGHT_BOTTOM, vec2(-6.0, -3.0))
        } else {
            (Align2::LEFT_TOP, vec2(7.0, 2.0))
        };
        let place = at + by;
        painter.text(place, align, label, regular(look.sizes.body), palette.ink);
    }
    let response = ui.interact(rect, ui.scope_id().with("curve"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &spoken));
    response.on_hover_text(text::CURVE_HINT);
}
