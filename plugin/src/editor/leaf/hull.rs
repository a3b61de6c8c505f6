//! The stereo picture: a hull, seen from its bow. Its half-width at each band is the share of the
//! side, from the lowest band at the keel to the highest at the deck.

use super::super::fonts::regular;
use super::super::{Look, cast, label, text};
use super::tone::Subject;
use crate::meters::spectrum::bands::{BAND_COUNT, edges_hz};
use crate::tone::{Tone, WIDTH_BORDERS_HZ};
use crate::units::db_to_energy;
use egui::{Align2, Mesh, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2};

pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, subject: &Subject<'_>) {
    let palette = &look.palette;
    let small = look.sizes.small;
    let font = regular(small);
    let plot = Rect::from_min_max(
        pos2(rect.left(), rect.top() + small * 0.6),
        pos2(rect.right() - small * 4.2, rect.bottom() - small * 2.9),
    );
    if plot.height() < small * 2.0 {
        return;
    }
    let painter = ui.painter();
    let center = painter.round_to_pixel_center(plot.center().x);
    // All side is as wide as the plot, as much side as mid half of that.
    let half = plot.width() / 2.0;
    let y = |bands: f64| {
        let share = cast::single(bands / cast::count(BAND_COUNT));
        plot.bottom() - plot.height() * share
    };

    let sides = outline(subject.tone, |share, bands| {
        let by = half * cast::single(share);
        [pos2(center - by, y(bands)), pos2(center + by, y(bands))]
    });
    fill(ui, look, &sides);
    if let Some(before) = subject.before {
        let before = outline(before, |share, bands| {
            let by = half * cast::single(share);
            [pos2(center - by, y(bands)), pos2(center + by, y(bands))]
        });
        sides_of(ui, &before, Stroke::new(1.0, palette.ink));
    }
    let thin = Stroke::new(1.0, palette.over_paper(palette.line, 0.7));
    painter.vline(center, plot.y_range(), thin);
    for x in [center - half / 2.0, center + half / 2.0] {
        let ends = [pos2(x, plot.top()), pos2(x, plot.bottom())];
        painter.extend(Shape::dotted_line(&ends, palette.line, 5.0, 0.7));
    }
    // Decks: where the three ranges part, with what each is.
    let border = WIDTH_BORDERS_HZ.map(|hz| 10.0 * (hz / edges_hz(0)[0]).log10());
    let [low, high] = border;
    for bands in border {
        let y = painter.round_to_pixel_center(y(bands));
        painter.hline(plot.left()..=rect.right(), y, Stroke::new(1.0, palette.hairline()));
    }
    let middles =
        [low / 2.0, f64::midpoint(low, high), f64::midpoint(high, cast::count(BAND_COUNT))];
    for (width, bands) in subject.tone.side_to_mid.iter().zip(middles) {
        let figure = match width.map(|width| width.0) {
            Some(f64::NEG_INFINITY) => text::MONO.to_owned(),
            Some(f64::INFINITY) => text::SIDE_ONLY.to_owned(),
            width => label::signed(width),
        };
        let at = pos2(rect.right(), y(bands));
        painter.text(at, Align2::RIGHT_CENTER, figure, regular(look.sizes.body), palette.ink);
    }
    let foot = pos2(plot.left(), plot.bottom() + small * 0.3);
    let mut facts = vec![format!("{} in mono", text::mono_loss(subject.tone))];
    facts.extend(subject.measured.balance.map(|balance| text::balance(balance.0)));
    let spoken = format!("{}: {}", text::HULL, facts.join(", "));
    for (line, fact) in facts.iter().enumerate() {
        let at = foot + egui::vec2(0.0, small * 1.25 * cast::single(cast::count(line)));
        let room = rect.right() - at.x;
        label::cut(painter, at, Align2::LEFT_TOP, fact, &font, palette.ink, room);
    }
    let response = ui.interact(rect, ui.scope_id().with("hull"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &spoken));
    response.on_hover_text(text::HULL_HINT);
}

/// Both sides at the middle of every band that sounds, keel first; `place` takes the share of the
/// side, 0 to 1, and the height in bands.
fn outline(tone: &Tone, place: impl Fn(f64, f64) -> [Pos2; 2]) -> Vec<[Pos2; 2]> {
    let bands = tone.mid.mean_db.iter().zip(&tone.side.mean_db);
    let widths = bands.map(|(&mid_db, &side_db)| {
        let [mid, side] = [mid_db, side_db].map(db_to_energy);
        side / (mid + side)
    });
    outline_of(widths, place)
}

/// The same from the shares of the side in every band; what is no number does not sound.
pub(super) fn outline_of(
    shares: impl Iterator<Item = f64>,
    place: impl Fn(f64, f64) -> [Pos2; 2],
) -> Vec<[Pos2; 2]> {
    let bands = shares.enumerate().filter(|(_, share)| share.is_finite());
    bands.map(|(band, share)| place(share, cast::count(band) + 0.5)).collect()
}

/// A hull filled with water.
pub(super) fn fill(ui: &Ui, look: &Look, sides: &[[Pos2; 2]]) {
    let palette = &look.palette;
    // One mesh: polygons beside each other would show their seams.
    let mut fill = Mesh::default();
    for (pair, first) in sides.iter().zip((0_u32..).step_by(2)) {
        for &place in pair {
            fill.colored_vertex(place, palette.over_paper(palette.water, 0.38));
        }
        if let Some(before) = first.checked_sub(2) {
            fill.add_triangle(before, before + 1, first);
            fill.add_triangle(before + 1, first, first + 1);
        }
    }
    ui.painter().add(fill);
    sides_of(ui, sides, Stroke::new(2.0, palette.water));
}

/// Both sides of a hull as lines.
pub(super) fn sides_of(ui: &Ui, sides: &[[Pos2; 2]], stroke: Stroke) {
    ui.painter().add(Shape::line(sides.iter().map(|[left, _]| *left).collect(), stroke));
    ui.painter().add(Shape::line(sides.iter().map(|[_, right]| *right).collect(), stroke));
}
