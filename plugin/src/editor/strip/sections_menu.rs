//! The menus of the sections: of the song, and of one section.

use super::super::dialog::{Dialog, SnapshotForm};
use super::super::model::{Action, Model, SongEdit};
use super::super::view::{TimeWindow, ViewState};
use super::super::{Look, button, text};
use super::geometry::Plot;
use crate::record::hop_seconds;
use crate::section::{Delete, Section};
use crate::snapshot::Export;
use egui::{Button, Popup, Rect, Ui, pos2, vec2};

/// Room around a section that is zoomed to, as a share of its length.
const ZOOM_MARGIN: f64 = 0.06;

/// The button at the right of the axes: a snapshot.
pub(super) fn snapshot(ui: &mut Ui, look: &Look, plot: &Plot, model: &Model, view: &mut ViewState) {
    let size = vec2(button::width_pt(ui, look, &[text::SNAPSHOT]), button::height_pt(look));
    let foot = if plot.lane.height() < 1.0 { plot.outer.bottom() } else { plot.lane.top() };
    let place = Rect::from_min_size(pos2(plot.outer.right() - size.x, foot - size.y - 1.0), size);
    let can = model.figures.sample_peak.is_some() && model.export != Export::Writing;
    let response = ui.add_enabled_ui(can, |ui| {
        button::at(ui, look, place, text::SNAPSHOT, text::SNAPSHOT)
            .on_hover_text(text::SNAPSHOT_HINT)
    });
    if response.inner.clicked() {
        view.dialog = Some(Dialog::Snapshot(Box::new(SnapshotForm::new(model))));
    }
}

/// The two buttons at the ends of the lane: mark, and the menu.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    plot: &Plot,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    if plot.lane.height() < 1.0 {
        return;
    }
    let height = plot.lane.height() - 4.0;
    let left = Rect::from_min_max(
        pos2(plot.outer.left(), plot.lane.bottom() - 1.0 - height),
        pos2(plot.lane.left() - 6.0, plot.lane.bottom() - 1.0),
    );
    ui.add_enabled_ui(model.playhead_hop.is_some(), |ui| {
        if button::at(ui, look, left, text::MARK, text::MARK_SPOKEN)
            .on_hover_text(text::MARK_HINT)
            .clicked()
        {
            actions.push(Action::Song(SongEdit::Mark));
        }
    });
    let width = button::width_pt(ui, look, &[text::SECTIONS_MENU]);
    let right =
        Rect::from_min_size(pos2(plot.outer.right() - width, left.top()), vec2(width, height));
    let response = button::at(ui, look, right, text::SECTIONS_MENU, text::SECTIONS_MENU)
        .on_hover_text(text::SECTIONS_MENU_HINT);
    Popup::menu(&response).show(|ui| of_song(ui, look, model, view, actions));
}

fn item(ui: &mut Ui, name: &str, enabled: bool) -> bool {
    let clicked = ui.add_enabled(enabled, Button::new(name).frame(false)).clicked();
    if clicked {
        ui.close();
    }
    clicked
}

fn of_song(
    ui: &mut Ui,
    look: &Look,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    ui.set_width(look.sizes.body * 21.0);
    ui.spacing_mut().item_spacing.y = 3.0;
    let song = &model.song;
    let mut push = |edit: SongEdit| actions.push(Action::Song(edit));
    if let Some(edit) = song.next_undo {
        if item(ui, &text::undo(edit), true) {
            push(SongEdit::Undo);
        }
    } else {
        item(ui, text::UNDO, false);
    }
    if let Some(edit) = song.next_redo {
        if item(ui, &text::redo(edit), true) {
            push(SongEdit::Redo);
        }
    } else {
        item(ui, text::REDO, false);
    }
    ui.separator();
    if item(ui, text::MARK_HERE, model.playhead_hop.is_some()) {
        push(SongEdit::Mark);
    }
    if item(ui, text::ADD_LOOP, song.loop_range_s.is_some()) {
        push(SongEdit::AddLoop);
    }
    if item(ui, text::ADD_RANGE, view.range_s.is_some())
        && let Some((start_s, end_s)) = view.range_s.take()
    {
        push(SongEdit::AddRange(start_s, end_s));
    }
    if item(ui, text::MARKERS, true) {
        view.dialog = Some(Dialog::Markers { list: String::new(), path: String::new() });
    }
    if item(ui, text::PROPOSE, model.figures.integrated.is_some()) {
        actions.push(Action::Propose);
        view.dialog = Some(Dialog::Proposal { least_sure: super::super::dialog::FIRST_SURE });
    }
    ui.separator();
    if item(ui, text::NAME_SONG, true) {
        view.dialog = Some(Dialog::name_song(&song.name));
    }
    if item(ui, text::TRIM, model.playhead_hop.is_some() && model.figures.sample_peak.is_some()) {
        view.undo_declined = false;
        actions.push(Action::Trim);
    }
    ui.separator();
    ui.add_enabled(
        model.bars.is_some(),
        egui::Checkbox::new(&mut view.prefs.snap_to_bars, text::SNAP),
    );
    let selected = song.sections.iter().find(|section| Some(section.id) == view.selected);
    if let Some(section) = selected {
        ui.separator();
        ui.weak(&section.name);
        of_section(ui, look, section, model, view, actions);
    }
}

/// What can be done with one section.
pub(super) fn of_section(
    ui: &mut Ui,
    look: &Look,
    section: &Section,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    ui.set_min_width(look.sizes.body * 16.0);
    ui.spacing_mut().item_spacing.y = 3.0;
    let id = section.id;
    let mut push = |edit: SongEdit| actions.push(Action::Song(edit));
    if item(ui, text::RENAME, true) {
        view.dialog = Some(Dialog::rename(section));
    }
    let at_s = model.playhead_hop.map(hop_seconds).filter(|&at_s| section.contains(at_s));
    if item(ui, text::SPLIT, at_s.is_some())
        && let Some(at_s) = at_s
    {
        push(SongEdit::Split(id, at_s));
    }
    let is_last = model.song.sections.last().is_some_and(|last| last.id == id);
    if item(ui, text::MERGE, !is_last) {
        push(SongEdit::MergeWithNext(id));
    }
    if item(ui, text::DELETE_JOIN, true) {
        push(SongEdit::Delete(id, Delete::NeighbourTakesOver));
    }
    if item(ui, text::DELETE_GAP, true) {
        push(SongEdit::Delete(id, Delete::LeaveGap));
    }
    if item(ui, text::SHOW_SECTION, true) {
        let margin = (section.end_s - section.start_s) * ZOOM_MARGIN;
        view.window = Some(TimeWindow {
            start_hop: (section.start_s - margin) * 100.0,
            end_hop: (section.end_s + margin) * 100.0,
        });
    }
}
