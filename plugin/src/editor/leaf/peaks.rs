//! The peak ledger as a table, with the curve of what taming frees.

use super::super::label;
use super::super::model::Model;
use super::super::view::{Held, TimeWindow, ViewState, chosen};
use super::super::{Look, cast, text};
use super::curve;
use super::table::{self, Cell, Column, Did, Row, Rows};
use crate::record::hop_seconds;
use crate::section::PeakLedger;
use crate::target::Target;
use crate::units::{Db, Dbtp, Lu};
use egui::{Rect, Ui, UiBuilder};

/// Most places in the table; the curve knows all. The project's own choice, no source.
const MOST_ROWS: usize = 200;
/// From this width on there is room for the curve beside the table.
const CURVE_FROM_PT: f32 = 760.0;
/// Width of the curve.
const CURVE_PT: f32 = 300.0;
/// Seconds on either side of a place that is shown.
const AROUND_S: f64 = 5.0;

/// What the table shows.
pub(super) fn rows(model: &Model, held: &Held) -> Rows {
    let target = chosen(model);
    let ceiling = target.and_then(Target::ceiling);
    let gain = held.distance.and_then(|distance| distance.gain_to_target);
    let figure = Column::figure;
    let mut columns = vec![
        figure(text::COLUMN_RANK, "", text::RANK_HINT),
        Column::words(text::COLUMN_PLACE, text::PLACE_HINT),
        Column::words(text::COLUMN_SECTION, text::PEAK_SECTION_HINT),
        figure(text::TRUE_PEAK, Dbtp::UNIT, text::TRUE_PEAK_HINT),
        figure(text::COLUMN_ABOVE, Lu::UNIT, text::ABOVE_HINT),
    ];
    if ceiling.is_some() {
        columns.push(figure(text::COLUMN_OVER_NOW, Db::UNIT, text::OVER_NOW_HINT));
        if gain.is_some() {
            columns.push(figure(text::COLUMN_OVER_AT_TARGET, Db::UNIT, text::OVER_AT_TARGET_HINT));
        }
    }
    let events = model.song.ledger.as_ref().map(PeakLedger::events).unwrap_or_default();
    let rows = events.iter().zip(1_i32..).take(MOST_ROWS).map(|(event, rank)| {
        let at_s = event.at_s();
        let bar = model.bars.as_ref().and_then(|bars| event.bar(bars));
        let section = event.section.and_then(|id| model.song.sections.iter().find(|s| s.id == id));
        let name = section.map_or(text::NO_SECTION, |section| section.name.as_str());
        let above = event.above_section.map(|above| above.0);
        let mut cells = vec![
            Cell::figure(rank.to_string(), Some(f64::from(rank))),
            Cell {
                value: Some(at_s),
                ..Cell::words(text::beat_place(at_s, bar, model.beats_per_bar))
            },
            Cell::words(name),
            Cell::figure(label::signed(Some(event.peak.0)), Some(event.peak.0)),
            Cell::figure(label::decimal(above), above),
        ];
        if let Some(ceiling) = ceiling {
            let over = |peak: f64| {
                let over = peak - ceiling.0;
                let shown = Some(over).filter(|over| *over > 0.0);
                Cell { is_over: shown.is_some(), ..Cell::figure(label::signed(shown), Some(over)) }
            };
            cells.push(over(event.peak.0));
            if let Some(gain) = gain {
                // With the gain to target it is not over yet: no signal.
                cells.push(Cell { is_over: false, ..over(event.peak.0 + gain.0) });
            }
        }
        Row { id: i64::from(event.hop), cells, is_older: false }
    });
    Rows { columns, rows: rows.collect() }
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    ledger: &PeakLedger,
    rows: Rows,
    model: &Model,
    view: &mut ViewState,
) {
    let whole = ui.max_rect();
    let (list, side) = if whole.width() >= CURVE_FROM_PT {
        let split = whole.right() - CURVE_PT;
        let (list, side) = whole.split_left_right_at_x(split);
        (list.with_max_x(split - 16.0), Some(side))
    } else {
        (whole, None)
    };
    let selected = view.shown_peak.map(i64::from);
    let did = ui
        .scope_builder(UiBuilder::new().max_rect(list), |ui| {
            table::show(ui, look, "peaks", &rows.columns, &rows.rows, selected, None)
        })
        .inner;
    if let Some(side) = side {
        curve::show(ui, look, side, ledger, tamed(ledger, model, view));
    }
    if let Some(Did::Selected(id) | Did::Opened(id)) = did
        && let Ok(hop) = i32::try_from(id)
    {
        show_place(hop, view);
        ui.ctx().request_repaint();
    }
}

/// The strip goes to a place, and marks it.
fn show_place(hop: i32, view: &mut ViewState) {
    if view.shown_peak == Some(hop) {
        (view.shown_peak, view.window) = (None, None);
        return;
    }
    view.shown_peak = Some(hop);
    let at_s = hop_seconds(hop);
    view.window = Some(TimeWindow {
        start_hop: (at_s - AROUND_S) * 100.0,
        end_hop: (at_s + AROUND_S) * 100.0,
    });
}

/// How many places are tamed: down to the one that is looked at, else all that are over the
/// ceiling with the gain to target, else one.
fn tamed(ledger: &PeakLedger, model: &Model, view: &ViewState) -> usize {
    let events = ledger.events();
    let looked_at = view.shown_peak.and_then(|hop| events.iter().position(|e| e.hop == hop));
    if let Some(index) = looked_at {
        return index + 1;
    }
    let ceiling = chosen(model).and_then(Target::ceiling);
    let over =
        |gain: Db| ceiling.map_or(0, |ceiling| ledger.over_ceiling(ceiling, gain).places.len());
    let gain = model.distance.and_then(|distance| distance.gain_to_target);
    over(gain.unwrap_or(Db(0.0))).clamp(1, events.len().max(1))
}

/// What is over, and what taming frees, in one sentence; and the buttons.
pub(super) fn head(
    ui: &mut Ui,
    look: &Look,
    line: Rect,
    model: &Model,
    held: &Held,
    rows: &Rows,
    view: &mut ViewState,
) {
    let right = super::buttons(ui, look, line, rows, view);
    let Some(ledger) = model.song.ledger.as_ref().filter(|l| !l.events().is_empty()) else {
        return;
    };
    let mut sentences = Vec::new();
    if let Some(ceiling) = chosen(model).and_then(Target::ceiling) {
        let gain = held.distance.and_then(|distance| distance.gain_to_target);
        let now = ledger.over_ceiling(ceiling, Db(0.0)).places.len();
        let then = gain.map(|gain| ledger.over_ceiling(ceiling, gain).places.len());
        sentences.push(text::over_ceiling(now, then, ceiling));
    }
    let events = tamed(ledger, model, view);
    let taming = ledger.curve().nth(events - 1);
    sentences.extend(taming.map(|taming| text::taming(&taming)));
    super::sentence(ui, look, line.with_max_x(right - 10.0), &sentences.join(" "));
}

/// Number of places as a float, for the curve.
pub(super) fn places(count: usize) -> f32 {
    cast::single(cast::count(count))
}
