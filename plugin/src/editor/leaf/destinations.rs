//! Several destinations at once: what the song measures against each target that was chosen, with
//! a verdict in words.

use super::super::label;
use super::super::model::{Action, Model};
use super::super::view::{Held, ViewState};
use super::super::{Look, button, text};
use super::table::{self, Cell, Column, Did, Row, Rows};
use crate::target::{Distance, Standing, Target, Verdict};
use crate::units::{Db, Dbtp, Lu, signed_one_decimal};
use egui::{Popup, PopupCloseBehavior, Rect, ScrollArea, Ui, vec2};

/// The longest bar of a distance, LU. The project's own choice, no source: beyond it, more is only
/// more.
const LONGEST_DISTANCE_LU: f64 = 6.0;

/// Indices of the targets that are shown, in the order of the list: the chosen one and those beside
/// it.
pub(in super::super) fn shown(model: &Model) -> impl Iterator<Item = (usize, &Target)> {
    let is_shown = |index: &usize| *index == model.chosen_target || model.beside.contains(index);
    model.targets.iter().enumerate().filter(move |(index, _)| is_shown(index))
}

/// What the table shows.
pub(super) fn rows(model: &Model, held: &Held) -> Rows {
    let figure = Column::figure;
    let columns = vec![
        Column::words(text::COLUMN_TARGET, text::TARGET_HINT),
        Column::words(text::COLUMN_VERDICT, text::VERDICT_HINT),
        figure(text::COLUMN_DISTANCE, Lu::UNIT, text::DISTANCE_HINT),
        figure(text::COLUMN_GAIN, Db::UNIT, text::GAIN_TO_TARGET_HINT).ranked(3),
        figure(text::PEAK_AT_TARGET, Dbtp::UNIT, text::PEAK_AT_TARGET_HINT).ranked(2),
        figure(text::PEAK_CONTROL, Db::UNIT, text::PEAK_CONTROL_HINT).ranked(2),
        figure(text::PLAYBACK_GAIN, Db::UNIT, text::PLAYBACK_GAIN_HINT).ranked(3),
        Column { grows: true, ..Column::words(text::COLUMN_STANDING, text::STANDING_HINT) }
            .ranked(1),
    ];
    let rows = shown(model).map(|(index, target)| {
        row(i64::try_from(index).unwrap_or(-1), target, &Distance::new(&held.figures, target))
    });
    let rows = rows.collect();
    Rows { columns, rows }
}

fn row(id: i64, target: &Target, distance: &Distance) -> Row {
    let signed = |value: Option<f64>| Cell::figure(label::signed(value), value);
    let verdict = distance.verdict();
    let is_over = matches!(
        distance.standing,
        Standing::TooLoud { .. }
            | Standing::PeaksOver { .. }
            | Standing::ShortTermOver { .. }
            | Standing::MomentaryOver { .. }
            | Standing::RangeOver { .. }
            | Standing::PeakAboveWindow { .. }
    );
    let lu = distance.distance.map(|lu| lu.0);
    let band = target.integrated.map(|goal| {
        // Where quieter is allowed, the band goes on.
        let below = goal.below.map_or(-1.0, |below| -below.0 / LONGEST_DISTANCE_LU);
        [below, goal.above.0 / LONGEST_DISTANCE_LU]
    });
    let control = distance.peak_control.map(|control| control.0);
    let cells = vec![
        Cell::words(&target.name),
        Cell { is_over, ..Cell::words(text::verdict(verdict)) },
        Cell {
            bar: lu.map(|lu| lu / LONGEST_DISTANCE_LU),
            band,
            ..Cell::figure(lu.map_or_else(|| label::signed(None), signed_one_decimal), lu)
        },
        signed(distance.gain_to_target.map(|gain| gain.0)),
        signed(distance.peak_at_target.map(|peak| peak.0)),
        Cell::figure(label::decimal(control), control),
        signed(distance.playback_gain.map(|gain| gain.0)),
        Cell::words(distance.to_string()),
    ];
    // Nothing can be said yet: it stands back.
    Row { id, cells, is_older: verdict == Verdict::NotYet }
}

/// How many are within, and the menu that adds and removes.
#[expect(clippy::too_many_arguments, reason = "one head, drawn in one place")]
pub(super) fn head(
    ui: &mut Ui,
    look: &Look,
    line: Rect,
    model: &Model,
    held: &Held,
    rows: &Rows,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let right = super::buttons(ui, look, line, rows, view);
    let word = text::CHOOSE_DESTINATIONS;
    let size = vec2(button::width_pt(ui, look, &[word]), button::height_pt(look));
    let place = Rect::from_min_size(line.min, size);
    let response =
        button::at(ui, look, place, word, word).on_hover_text(text::CHOOSE_DESTINATIONS_HINT);
    Popup::menu(&response)
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .show(|ui| choose(ui, look, model, actions));
    let distances = shown(model).map(|(_, target)| Distance::new(&held.figures, target));
    let verdicts: Vec<Verdict> = distances.map(|distance| distance.verdict()).collect();
    let of = |wanted: Verdict| verdicts.iter().filter(|verdict| **verdict == wanted).count();
    let said = if verdicts.len() < 2 {
        text::ONE_DESTINATION.to_owned()
    } else {
        text::within_of(of(Verdict::Within), of(Verdict::NotYet), verdicts.len())
    };
    let rest = line.with_min_x(place.right() + look.sizes.body).with_max_x(right - 10.0);
    super::sentence(ui, look, rest, &said);
}

/// All targets, each with a tick; the chosen one is always shown.
fn choose(ui: &mut Ui, look: &Look, model: &Model, actions: &mut Vec<Action>) {
    ui.set_width(look.sizes.body * 24.0);
    ui.weak(text::DESTINATIONS_MENU);
    ScrollArea::vertical().max_height(look.sizes.body * 20.0).show(ui, |ui| {
        for (index, target) in model.targets.iter().enumerate() {
            let is_chosen = index == model.chosen_target;
            let mut is_shown = is_chosen || model.beside.contains(&index);
            let tick = egui::Checkbox::new(&mut is_shown, &target.name);
            let response = ui.add_enabled(!is_chosen, tick).on_hover_text(target.summary());
            if response.clicked() {
                actions.push(Action::ShowBeside(index, is_shown));
            }
        }
    });
}

/// A click on a row chooses its target; the one before stays beside it.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rows: &Rows,
    model: &Model,
    actions: &mut Vec<Action>,
) {
    let chosen = i64::try_from(model.chosen_target).ok();
    let did = table::show(ui, look, "destinations", &rows.columns, &rows.rows, chosen, None);
    if let Some(Did::Selected(id) | Did::Opened(id)) = did
        && Some(id) != chosen
        && let Ok(index) = usize::try_from(id)
    {
        actions.push(Action::ShowBeside(model.chosen_target, true));
        actions.push(Action::ChooseTarget(index));
    }
}
