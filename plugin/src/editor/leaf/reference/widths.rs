//! Two hulls in one: the song in water, the reference in ink.

use super::super::super::fonts::regular;
use super::super::super::{Look, cast, label, text};
use super::super::hull;
use crate::meters::spectrum::bands::{BAND_COUNT, edges_hz};
use crate::reference::{Pool, Stretch};
use crate::tone::WIDTH_BORDERS_HZ;
use crate::units::db_to_energy;
use egui::{Align2, Pos2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2};

pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, stretch: &Stretch) {
    let palette = &look.palette;
    let small = look.sizes.small;
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + small * 0.6),
        pos2(rect.right() - small * 3.4, rect.bottom() - small * 1.6),
    );
    if plot.height() < small * 2.0 || plot.width() < small {
        return;
    }
    let center = ui.painter().round_to_pixel_center(plot.center().x);
    let half = plot.width() / 2.0;
    let y =
        |bands: f64| plot.bottom() - plot.height() * cast::single(bands / cast::count(BAND_COUNT));
    let place = |share: f64, bands: f64| -> [Pos2; 2] {
        let by = half * cast::single(share);
        [pos2(center - by, y(bands)), pos2(center + by, y(bands))]
    };
    hull::fill(ui, look, &hull::outline_of(shares(&stretch.ours), place));
    let theirs = hull::outline_of(shares(&stretch.theirs), place);
    hull::sides_of(ui, &theirs, Stroke::new(1.0, palette.ink));
    let painter = ui.painter();
    let thin = Stroke::new(1.0, palette.over_paper(palette.line, 0.7));
    painter.vline(center, plot.y_range(), thin);

    let borders = WIDTH_BORDERS_HZ.map(|hz| 10.0 * (hz / edges_hz(0)[0]).log10());
    let [low, high] = borders;
    for bands in borders {
        let y = painter.round_to_pixel_center(y(bands));
        painter.hline(plot.left()..=rect.right(), y, Stroke::new(1.0, palette.hairline()));
    }
    let top = cast::count(BAND_COUNT);
    let middles = [low / 2.0, f64::midpoint(low, high), f64::midpoint(high, top)];
    let mut spoken = vec![text::HULL.to_owned()];
    for (range, bands) in middles.into_iter().enumerate() {
        let width =
            stretch.ours.difference(&stretch.theirs, |pool| pool.widths.get(range).copied()?);
        let figure = label::signed(width.map(|width| width.by()));
        let at = pos2(rect.right(), y(bands));
        let font = regular(look.sizes.body);
        painter.text(at, Align2::RIGHT_CENTER, &figure, font, palette.ink);
        spoken.push(figure);
    }
    let foot = pos2(rect.left(), plot.bottom() + small * 0.3);
    let font = regular(small);
    let room = rect.width();
    label::cut(painter, foot, Align2::LEFT_TOP, text::WIDTH_BESIDE, &font, palette.line, room);
    let response = ui.interact(rect, ui.scope_id().with("reference hull"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken.join(" ")));
    response.on_hover_text(text::REFERENCE_HULL_HINT);
}

/// The share of the side in every band.
fn shares(pool: &Pool) -> impl Iterator<Item = f64> {
    pool.band_widths.iter().map(|width| {
        let ratio = width.map_or(f64::NAN, |width| db_to_energy(width.mean));
        ratio / (1.0 + ratio)
    })
}
