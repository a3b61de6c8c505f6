//! Tone as water in one-third-octave bands: the average is the surface, the tenth and ninetieth
//! percentile are low and high water.

use super::super::fonts::regular;
use super::super::label;
use super::super::model::Model;
use super::super::view::{Leaf, ViewState};
use super::super::{Look, button, cast, text};
use super::bands::Chart;
use super::hull;
use super::table::{Cell, Column, Row, Rows};
use crate::meters::spectrum::bands::{BAND_COUNT, NOMINAL_HZ, edges_hz};
use crate::section::Measured;
use crate::tone::Tone;
use crate::units::{Db, one_decimal};
use egui::{Align2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

/// From this width on there is room for the stereo picture beside the bands.
const HULL_FROM_PT: f32 = 600.0;
/// Width of the stereo picture, as a share.
const HULL_SHARE: f32 = 0.3;
/// Height of the chart, dB. The project's own choice, no source.
const SPAN_DB: f64 = 60.0;
/// Distance of the lines of the chart, dB.
const LINE_DB: f64 = 12.0;
/// What is looked at, and what it is compared with.
pub(super) struct Subject<'a> {
    name: &'a str,
    pub measured: &'a Measured,
    pub tone: &'a Tone,
    before_name: Option<&'a str>,
    pub before: Option<&'a Tone>,
}

/// The selected section against the one before it, the first one against the song; else the song.
pub(super) fn subject<'a>(model: &'a Model, view: &ViewState) -> Option<Subject<'a>> {
    let whole = model.song.whole.as_ref();
    let log = &model.song.log;
    let index = log.iter().position(|entry| Some(entry.id) == view.selected);
    let entry = index.and_then(|index| log.get(index)).filter(|e| e.measured.tone.is_some());
    let Some(entry) = entry else {
        let (measured, name) = (whole?, text::WHOLE_SONG);
        let tone = measured.tone.as_deref()?;
        return Some(Subject { name, measured, tone, before_name: None, before: None });
    };
    let before = index.and_then(|index| log.get(index.checked_sub(1)?));
    let before = before.map(|before| (before.name.as_str(), &before.measured));
    let before = before.or_else(|| Some((text::WHOLE_SONG, whole?)));
    let before = before.and_then(|(name, measured)| Some((name, measured.tone.as_deref()?)));
    Some(Subject {
        name: &entry.name,
        measured: &entry.measured,
        tone: entry.measured.tone.as_deref()?,
        before_name: before.map(|(name, _)| name),
        before: before.map(|(_, tone)| tone),
    })
}

/// The way to the references; gives where the next thing starts.
pub(super) fn to_reference(ui: &mut Ui, look: &Look, line: Rect, view: &mut ViewState) -> f32 {
    let size = vec2(button::width_pt(ui, look, &[text::REFERENCE]), button::height_pt(look));
    let place = Rect::from_min_size(line.min, size);
    let response = button::at(ui, look, place, text::REFERENCE, text::REFERENCE);
    if response.on_hover_text(text::REFERENCE_TOGGLE_HINT).clicked() {
        view.prefs.leaf = Leaf::Reference;
        ui.ctx().request_repaint();
    }
    place.right() + look.sizes.body
}

/// The readings in one sentence.
pub(super) fn sentence(subject: &Subject<'_>) -> String {
    text::tone_sentence(&text::tone_heading(subject.name, subject.before_name), subject.tone)
}

/// The bands as a table, to be copied.
pub(super) fn rows(subject: Option<&Subject<'_>>) -> Rows {
    let column = |title| Column::figure(title, Db::UNIT, "");
    let mut columns = vec![Column::figure(text::COLUMN_BAND, "Hz", "")];
    columns.extend(text::COLUMNS_OF_BANDS.map(column));
    let row = |tone: &Tone, band: usize, hz: f64| {
        let [low, median, high] = &tone.both.percentiles_db;
        let levels = [&tone.both.mean_db, low, median, high, &tone.mid.mean_db, &tone.side.mean_db];
        let mut cells = vec![Cell::figure(hz.to_string(), Some(hz))];
        cells.extend(levels.map(|levels| {
            let level = levels.get(band).copied();
            Cell::figure(label::decimal(level), level)
        }));
        Row { id: 0, cells, is_older: false }
    };
    let bands = NOMINAL_HZ.iter().enumerate();
    let rows =
        subject.map(|subject| bands.map(|(band, &hz)| row(subject.tone, band, hz)).collect());
    Rows { columns, rows: rows.unwrap_or_default() }
}

pub(super) fn show(ui: &mut Ui, look: &Look, subject: &Subject<'_>) {
    let whole = ui.max_rect();
    let has_hull = whole.width() >= HULL_FROM_PT;
    let split = whole.right() - if has_hull { whole.width() * HULL_SHARE } else { 0.0 };
    let (bands, side) = whole.split_left_right_at_x(split);
    show_bands(ui, look, bands.with_max_x(split - if has_hull { 12.0 } else { 0.0 }), subject);
    if has_hull {
        hull::show(ui, look, side, subject);
    }
}

fn show_bands(ui: &mut Ui, look: &Look, rect: Rect, subject: &Subject<'_>) {
    let palette = &look.palette;
    let small = look.sizes.small;
    let plot = Rect::from_min_max(
        pos2(rect.left() + small * 3.0, rect.top() + small * 0.6),
        pos2(rect.right(), rect.bottom() - small * 2.9),
    );
    if plot.height() < small * 2.0 {
        return;
    }
    let both = &subject.tone.both;
    let [low, _, high] = &both.percentiles_db;
    let levels =
        high.iter().chain(&both.mean_db).chain(subject.before.iter().flat_map(|b| &b.both.mean_db));
    let highest_db = levels.copied().fold(f64::NEG_INFINITY, f64::max);
    let top_db = if highest_db.is_finite() { (highest_db / 6.0).ceil() * 6.0 } else { 0.0 };
    let chart = Chart { plot, top_db, span_db: SPAN_DB };
    let painter = ui.painter();

    let bottom_db = top_db - SPAN_DB;
    for (band, ((&low, &high), &mean)) in low.iter().zip(high).zip(&both.mean_db).enumerate() {
        let shares = [(high, low, 0.16), (mean.min(low), bottom_db, 0.38)];
        for (top, bottom, share) in shares {
            if top > bottom {
                let column = chart.column(band, top, bottom);
                painter.rect_filled(column, 0.0, palette.over_paper(palette.water, share));
            }
        }
    }
    chart.lines(painter, look, LINE_DB);
    painter.add(Shape::line(chart.steps(&both.mean_db), Stroke::new(2.0, palette.water)));
    if let Some(before) = subject.before {
        let ink = Stroke::new(1.0, palette.ink);
        painter.add(Shape::line(chart.steps(&before.both.mean_db), ink));
    }
    chart.axis(painter, look);
    show_ranges(ui, look, &chart, subject.tone);

    let response = ui.interact(rect, ui.scope_id().with("bands"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, text::TONE_HINT));
    let band = chart.band_at(&response);
    let named = band.and_then(|band| Some((band, *NOMINAL_HZ.get(band)?)));
    let hint = named.map(|(band, hz)| text::band(hz, subject.tone, band));
    response.on_hover_text(hint.unwrap_or_else(|| text::TONE_HINT.to_owned()));
}

/// Low end, presence and air under the axis, each as wide as its range.
fn show_ranges(ui: &Ui, look: &Look, chart: &Chart, tone: &Tone) {
    let palette = &look.palette;
    let small = look.sizes.small;
    let x = |hz: f64| {
        let bands = 10.0 * (hz / edges_hz(0)[0]).log10();
        chart.plot.left() + chart.plot.width() * cast::single(bands / cast::count(BAND_COUNT))
    };
    let y = chart.plot.bottom() + small * 1.55;
    // From the right: what is wider than its range moves to the left, and the next one with it.
    let mut right_end = chart.plot.right();
    for (name, share, from_hz, to_hz) in [
        (text::AIR, tone.air, 10_000.0, edges_hz(BAND_COUNT - 1)[1]),
        (text::PRESENCE, tone.presence, edges_hz(20)[0], edges_hz(24)[1]),
        (text::LOW_END, tone.low_end, 20.0, 120.0),
    ] {
        let (left, right) = (x(from_hz), x(to_hz));
        let painter = ui.painter();
        let line = Stroke::new(1.5, palette.line);
        painter.hline(left + 1.0..=right - 1.0, painter.round_to_pixel_center(y), line);
        let figure = format!("{name} {} {}", one_decimal(share.0), Db::UNIT);
        let font = regular(small);
        let width = label::width(painter, &figure, &font);
        let middle = ((left + right) / 2.0).min(right_end - width / 2.0);
        let at = pos2(middle.max(chart.plot.left() + width / 2.0), y + small * 0.2);
        painter.text(at, Align2::CENTER_TOP, figure, font, palette.ink);
        right_end = at.x - width / 2.0 - small;
    }
}
