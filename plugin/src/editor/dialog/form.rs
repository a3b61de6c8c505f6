//! The form of a target of the user's own.

use super::super::model::{Action, Model};
use super::super::{Look, button, text};
use super::{Dialog, Draft, Next, heading, scrolled};
use crate::units::{Dbfs, Dbtp, Lu, Lufs};
use egui::{Grid, RichText, TextEdit, Ui, vec2};

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    height: f32,
    model: &Model,
    draft: &mut Draft,
    actions: &mut Vec<Action>,
) -> Next {
    let title = if draft.index.is_some() { text::EDIT_HEADING } else { text::NEW_HEADING };
    heading(ui, look, title);
    scrolled(ui, height - look.sizes.body * 3.0, |ui| fields(ui, look, draft));
    ui.weak(text::FORM_HINT);
    let parsed = draft.parse(&model.targets);
    // The line is always there, so that the buttons do not move.
    let problem = match &parsed {
        Ok(_) => " ".to_owned(),
        Err(error) => format!("! {error}"),
    };
    ui.label(RichText::new(problem).color(look.palette.signal));
    let (save, cancel) = ui
        .horizontal(|ui| {
            let save = ui
                .add_enabled_ui(parsed.is_ok(), |ui| button::add(ui, look, text::SAVE).clicked())
                .inner;
            (save, button::add(ui, look, text::CANCEL).clicked())
        })
        .inner;
    match parsed {
        Ok(target) if save => {
            actions.push(match draft.index {
                Some(index) => Action::ReplaceTarget(index, target),
                None => Action::AddTarget(target),
            });
            Next::Close
        }
        _ if cancel => Next::Show(Dialog::Targets),
        _ => Next::Stay,
    }
}

/// Name, what is typed, unit.
type Field<'a> = (&'static str, &'a mut String, &'static str);

fn fields(ui: &mut Ui, look: &Look, draft: &mut Draft) {
    let two_columns = ui.available_width() > look.sizes.body * 36.0;
    let wide = ui.available_width() - look.sizes.body * 10.0;
    Grid::new("target-words").num_columns(2).spacing(vec2(10.0, 6.0)).show(ui, |ui| {
        for (name, value) in
            [(text::FIELD_NAME, &mut draft.name), (text::FIELD_SOURCE, &mut draft.source)]
        {
            field(ui, name, value, wide.min(look.sizes.body * 30.0));
            ui.end_row();
        }
    });
    ui.add_space(look.sizes.body * 0.3);
    let rows: [[Option<Field<'_>>; 2]; 5] = [
        [
            Some((text::FIELD_INTEGRATED, &mut draft.integrated_lufs, Lufs::UNIT)),
            Some((text::FIELD_CEILING, &mut draft.ceiling_dbtp, Dbtp::UNIT)),
        ],
        [
            Some((text::FIELD_ABOVE, &mut draft.above_lu, Lu::UNIT)),
            Some((text::FIELD_MAX_SHORT_TERM, &mut draft.max_short_term_lufs, Lufs::UNIT)),
        ],
        [
            Some((text::FIELD_BELOW, &mut draft.below_lu, Lu::UNIT)),
            Some((text::FIELD_MAX_MOMENTARY, &mut draft.max_momentary_lufs, Lufs::UNIT)),
        ],
        [
            Some((text::FIELD_PEAK_LOWEST, &mut draft.peak_lowest_dbfs, Dbfs::UNIT)),
            Some((text::FIELD_MAX_RANGE, &mut draft.max_range_lu, Lu::UNIT)),
        ],
        [Some((text::FIELD_PEAK_HIGHEST, &mut draft.peak_highest_dbfs, Dbfs::UNIT)), None],
    ];
    Grid::new("target-figures").spacing(vec2(10.0, 6.0)).show(ui, |ui| {
        for row in rows {
            for (name, value, unit) in row.into_iter().flatten() {
                field(ui, name, value, look.sizes.body * 5.6);
                ui.weak(unit);
                if two_columns {
                    // An empty cell parts the two columns.
                    ui.label(" ");
                } else {
                    ui.end_row();
                }
            }
            if two_columns {
                ui.end_row();
            }
        }
    });
}

fn field(ui: &mut Ui, name: &str, value: &mut String, width: f32) {
    let label = ui.label(name);
    // A grid gives a cell no more than it asked for in the frame before: hence a least size.
    let edit = TextEdit::singleline(value).desired_width(width).min_size(vec2(width, 0.0));
    ui.add(edit).labelled_by(label.id);
}
