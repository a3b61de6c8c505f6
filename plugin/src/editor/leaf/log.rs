//! The section log as a table, and what it is compared with.

use super::super::dialog::{Dialog, Question};
use super::super::fonts::regular;
use super::super::label::{self, LoudnessScale};
use super::super::model::{Action, Model, SongEdit};
use super::super::view::{ViewState, chosen};
use super::super::{Look, button, cast, text};
use super::table::{self, Cell, Column, Did, Row, Rows};
use crate::section::{LogEntry, Measured, Playthrough, SectionChange};
use crate::units::{Db, Dbtp, Lu, Lufs, signed_one_decimal};
use egui::{Popup, Rect, Ui, pos2, vec2};

/// The longest bar of a step from section to section, LU. The project's own choice, no source:
/// from a hushed bridge to a full chorus.
const LONGEST_STEP_LU: f64 = 8.0;
/// The longest bar of a change since a playthrough, LU or dB. The project's own choice, no source.
const LONGEST_CHANGE: f64 = 3.0;

/// What the table shows.
pub(super) fn rows(model: &Model, view: &ViewState) -> Rows {
    let goal = chosen(model).and_then(|target| target.integrated);
    let scale = LoudnessScale::new(view.prefs.reading, goal.map(|goal| goal.loudness));
    let unit = scale.unit();
    let figure = Column::figure;
    let mut columns = vec![
        Column::words(text::COLUMN_SECTION, text::SECTION_HINT),
        figure(text::COLUMN_TIME, "", text::TIME_HINT).ranked(2),
        figure(text::INTEGRATED, unit, text::INTEGRATED_HINT),
        figure(text::COLUMN_STEP, Lu::UNIT, text::STEP_HINT),
    ];
    if model.song.compared_with.is_some() {
        columns.extend([
            figure(text::COLUMN_CHANGE, Lu::UNIT, text::CHANGE_HINT).ranked(1),
            figure(text::COLUMN_PEAK_CHANGE, Db::UNIT, text::PEAK_CHANGE_HINT).ranked(3),
            figure(text::COLUMN_RANGE_CHANGE, Lu::UNIT, text::RANGE_CHANGE_HINT).ranked(7),
            figure(text::COLUMN_WIDTH_CHANGE, Db::UNIT, text::WIDTH_CHANGE_HINT).ranked(7),
        ]);
    }
    columns.extend([
        figure(text::COLUMN_MAX_S, unit, text::SHORT_TERM_HINT).ranked(2),
        figure(text::COLUMN_MAX_M, unit, text::MOMENTARY_HINT).ranked(4),
        figure(text::TRUE_PEAK, Dbtp::UNIT, text::TRUE_PEAK_HINT).ranked(1),
        figure(text::LOUDNESS_RANGE, Lu::UNIT, text::LOUDNESS_RANGE_HINT).ranked(3),
        figure(text::PLR, Lu::UNIT, text::PLR_HINT).ranked(2),
        figure(text::COLUMN_PSR, Lu::UNIT, text::PSR_HINT).ranked(4),
        figure(text::COLUMN_CORRELATION, "", text::CORRELATION_HINT).ranked(5),
        figure(text::COLUMN_LOWEST_CORRELATION, "", text::LOWEST_CORRELATION_HINT).ranked(6),
        figure(text::COLUMN_SIDE, Db::UNIT, text::SIDE_HINT).ranked(6),
        figure(text::COLUMN_WIDER, Db::UNIT, text::WIDER_HINT).ranked(5),
        figure(text::COLUMN_CLIPPED, text::SAMPLES, text::CLIPPED_HINT).ranked(6),
        figure(text::COLUMN_MEASURED, "%", text::MEASURED_HINT).ranked(4),
        Column::words(text::COLUMN_AGE, text::AGE_HINT).ranked(3),
    ]);
    let mut rows: Vec<Row> = model.song.log.iter().map(|entry| row(entry, model, scale)).collect();
    table::sort(&mut rows, view.log_order.filter(|(column, _)| *column < columns.len()));
    Rows { columns, rows }
}

fn row(entry: &LogEntry, model: &Model, scale: LoudnessScale) -> Row {
    let measured = &entry.measured;
    let figures = &measured.figures;
    let start_s = f64::from(entry.range.start) / 100.0;
    let ceiling = chosen(model).and_then(crate::target::Target::ceiling);
    let loudness = |value: Option<Lufs>| Cell::figure(scale.figure(value), value.map(|v| v.0));
    let plain = |value: Option<f64>| Cell::figure(label::decimal(value), value);
    let step = entry.louder_by.map(|by| by.0);
    let mut cells = vec![
        Cell::words(&entry.name),
        Cell::figure(text::song_time(start_s, false), Some(start_s)),
        loudness(figures.integrated),
        barred(step, LONGEST_STEP_LU),
    ];
    if model.song.compared_with.is_some() {
        let change = model.song.changes.iter().find(|change| change.id == entry.id);
        cells.extend(changes(change));
    }
    let peak = figures.max_true_peak.map(|peak| peak.0);
    let range = figures.loudness_range.map(|range| range.0);
    let share = figures.coverage.share();
    cells.extend([
        loudness(figures.max_short_term),
        loudness(figures.max_momentary),
        Cell {
            is_over: peak.zip(ceiling).is_some_and(|(peak, ceiling)| peak > ceiling.0),
            ..Cell::figure(label::signed(peak), peak)
        },
        Cell::figure(range_text(measured), range),
        plain(measured.plr().map(|plr| plr.0)),
        plain(measured.min_psr.map(|psr| psr.0)),
        hundredths(measured.correlation),
        hundredths(measured.lowest_correlation),
        Cell::figure(side_text(measured), measured.side_to_mid.map(|side| side.0)),
        Cell::figure(label::signed(entry.wider_by.map(|by| by.0)), entry.wider_by.map(|by| by.0)),
        Cell {
            is_over: figures.clipped_samples > 0,
            ..Cell::figure(
                figures.clipped_samples.to_string(),
                Some(cast::float(i64::try_from(figures.clipped_samples).unwrap_or(i64::MAX))),
            )
        },
        Cell::figure(text::whole_percent(share), Some(share)),
        Cell::words(text::age(measured, model.strip.newest_playthrough)),
    ]);
    let is_older = measured.newest_playthrough.is_some_and(|n| n < model.strip.newest_playthrough);
    Row { id: i64::from(entry.id), cells, is_older }
}

/// What changed since the playthrough that is compared with: loudness, peak, range, width.
fn changes(change: Option<&SectionChange>) -> [Cell; 4] {
    let by = change.and_then(|change| change.change).unwrap_or_default();
    let finite = |value: Option<f64>| value.filter(|value| value.is_finite());
    let cells = [
        barred(by.louder_by.map(|by| by.0), LONGEST_CHANGE),
        barred(finite(by.true_peak_by.map(|by| by.0)), LONGEST_CHANGE),
        plain_change(finite(by.loudness_range_by.map(|by| by.0))),
        plain_change(finite(by.wider_by.map(|by| by.0))),
    ];
    // In part a change of what was measured: in brackets, as a range that is not stable.
    let in_brackets = change.is_some_and(|change| !change.same_time);
    cells.map(|cell| match cell.value {
        Some(_) if in_brackets => Cell { text: format!("({})", cell.text), ..cell },
        _ => cell,
    })
}

fn plain_change(by: Option<f64>) -> Cell {
    Cell::figure(label::signed(by), by)
}

/// A change with its line.
fn barred(by: Option<f64>, longest: f64) -> Cell {
    let text = by.map_or_else(|| text::NOT_MEASURED.to_owned(), signed_one_decimal);
    Cell { bar: by.map(|by| by / longest), ..Cell::figure(text, by) }
}

fn hundredths(value: Option<f64>) -> Cell {
    Cell::figure(label::hundredths(value), value)
}

/// A section shorter than 3 s has no loudness range.
fn range_text(measured: &Measured) -> String {
    match measured.figures.loudness_range {
        Some(range) if measured.loudness_range_stable => label::decimal(Some(range.0)),
        Some(range) => format!("({})", label::decimal(Some(range.0))),
        None if measured.figures.frames > 0 => text::TOO_SHORT.to_owned(),
        None => text::NOT_MEASURED.to_owned(),
    }
}

fn side_text(measured: &Measured) -> String {
    match measured.side_to_mid {
        Some(side) if side.0 == f64::NEG_INFINITY => text::MONO.to_owned(),
        Some(side) if side.0 == f64::INFINITY => text::SIDE_ONLY.to_owned(),
        side => label::signed(side.map(|side| side.0)),
    }
}

pub(super) fn show(ui: &mut Ui, look: &Look, rows: Rows, view: &mut ViewState) {
    let mut order = view.log_order;
    let selected = view.selected.map(i64::from);
    let did = table::show(ui, look, "log", &rows.columns, &rows.rows, selected, Some(&mut order));
    view.log_order = order;
    match did {
        Some(Did::Selected(id)) => {
            let id = u32::try_from(id).ok();
            view.selected = id.filter(|_| view.selected != id);
        }
        Some(Did::Opened(id)) => {
            view.selected = u32::try_from(id).ok();
            let row = rows.rows.iter().find(|row| row.id == id);
            let name = row.and_then(|row| row.cells.first()).map(|cell| cell.text.clone());
            if let (Some(id), Some(name)) = (view.selected, name) {
                view.dialog = Some(Dialog::Ask(Question::Rename(id), name));
            }
        }
        None => {}
    }
}

/// What the log is compared with, and its buttons.
pub(super) fn head(
    ui: &mut Ui,
    look: &Look,
    line: Rect,
    model: &Model,
    rows: &Rows,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let right = super::buttons(ui, look, line, rows, view);
    let song = &model.song;
    let word = match song.playthroughs.iter().find(|p| Some(p.id) == song.compared_with) {
        Some(playthrough) => text::compared_with(playthrough),
        None if song.playthroughs.is_empty() => text::NO_PLAYTHROUGHS.to_owned(),
        None => text::COMPARE_WITH.to_owned(),
    };
    let width = button::width_pt(ui, look, &[&word]).min(right - line.left());
    let place = Rect::from_min_size(line.min, vec2(width, button::height_pt(look)));
    let enabled = !song.playthroughs.is_empty();
    let response = ui
        .add_enabled_ui(enabled, |ui| button::at(ui, look, place, &word, &word))
        .inner
        .on_hover_text(text::COMPARE_HINT);
    Popup::menu(&response).show(|ui| playthroughs(ui, look, model, view, actions));
    if song.playthroughs.is_empty() {
        let at = pos2(place.right() + 8.0, place.center().y);
        let room = right - at.x;
        let font = regular(look.sizes.small);
        let align = egui::Align2::LEFT_CENTER;
        let todo = text::PLAYTHROUGHS_TODO;
        label::cut(ui.painter(), at, align, todo, &font, look.palette.line, room);
    }
}

/// The playthroughs to compare with, newest first, each with its pin.
fn playthroughs(
    ui: &mut Ui,
    look: &Look,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    ui.set_width(look.sizes.body * 27.0);
    ui.weak(text::PLAYTHROUGHS_MENU);
    egui::ScrollArea::vertical().max_height(look.sizes.body * 20.0).show(ui, |ui| {
        for playthrough in model.song.playthroughs.iter().rev() {
            ui.horizontal(|ui| playthrough_row(ui, look, playthrough, model, view, actions));
        }
    });
}

fn playthrough_row(
    ui: &mut Ui,
    look: &Look,
    playthrough: &Playthrough,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let is_chosen = model.song.compared_with == Some(playthrough.id);
    let choice = |ui: &mut Ui| ui.radio(is_chosen, text::playthrough(playthrough));
    if button::with_frames(ui, look, choice).clicked() {
        view.compare_with = Some(playthrough.id);
        ui.close();
    }
    let pinned = playthrough.pinned_as.is_some();
    let word = if pinned { text::UNPIN } else { text::PIN };
    if ui.small_button(word).clicked() {
        if pinned {
            actions.push(Action::Song(SongEdit::Unpin(playthrough.id)));
        } else {
            view.dialog = Some(Dialog::Ask(Question::Pin(playthrough.id), String::new()));
        }
        ui.close();
    }
}
