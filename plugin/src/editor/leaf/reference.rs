//! The song beside its references: how far each band lies above or below them, the two hulls, and what
//! differs enough to be told.

mod chart;
mod head;
mod widths;

pub(super) use head::show as head;

use super::super::fonts::{regular, semibold};
use super::super::model::{InputState, Model, Source};
use super::super::view::ViewState;
use super::super::{Look, label, text};
use super::table::{Cell, Column, Row, Rows};
use crate::meters::spectrum::bands::NOMINAL_HZ;
use crate::reference::{Comparison, Difference, Pool, Span, Stretch};
use crate::units::{Db, Lu, Lufs};
use egui::{Rect, RichText, ScrollArea, Ui, UiBuilder, vec2};

/// From this width on there is room for the hulls.
const HULL_FROM_PT: f32 = 760.0;
/// Widths of hulls and words, as shares.
const HULL_SHARE: f32 = 0.18;
const WORDS_SHARE: f32 = 0.34;
/// Room between the parts.
const GAP_PT: f32 = 14.0;

/// What is looked at: the selected section, else the whole song.
pub(super) fn stretch<'a>(
    model: &'a Model,
    view: &ViewState,
) -> Option<(&'a Comparison, &'a Stretch)> {
    let comparison = model.reference.comparison.as_ref()?;
    Some((comparison, comparison.stretch(view.selected)))
}

/// What to do while there is nothing to show.
pub(super) const fn todo(model: &Model, is_used: bool) -> &'static str {
    match model.source {
        _ if model.reference.list.is_empty() => match model.reference.input {
            InputState::Silent => text::REFERENCE_EMPTY_INPUT,
            InputState::Arrives => text::REFERENCE_ARRIVES,
            InputState::Absent => text::REFERENCE_EMPTY,
        },
        _ if !is_used => text::REFERENCE_UNUSED,
        Source::Live => text::LOG_LIVE,
        Source::Song => text::REFERENCE_UNMEASURED,
    }
}

/// The bands as a table, to be copied.
pub(super) fn rows(stretch: Option<&Stretch>) -> Rows {
    let mut columns = vec![Column::figure(text::COLUMN_BAND, "Hz", "")];
    let titles = text::COLUMNS_OF_REFERENCE_BANDS;
    columns.extend(titles.map(|title| Column::figure(title, Db::UNIT, "")));
    let row = |stretch: &Stretch, band: usize, hz: f64| {
        let difference = stretch.ours.band(&stretch.theirs, band);
        let spread = stretch.theirs.spread.get(band).copied().flatten();
        let width =
            stretch.ours.difference(&stretch.theirs, |pool| pool.band_widths.get(band).copied()?);
        let of = |value: fn(&Difference) -> f64| difference.as_ref().map(value);
        let values = [
            of(|difference| difference.ours),
            of(|difference| difference.theirs.mean),
            of(Difference::by),
            of(|difference| difference.theirs.lowest),
            of(|difference| difference.theirs.highest),
            spread.map(|[low, _]| low),
            spread.map(|[_, high]| high),
            width.map(|width| width.by()),
        ];
        let mut cells = vec![Cell::figure(hz.to_string(), Some(hz))];
        cells.extend(values.map(|value| Cell::figure(label::decimal(value), value)));
        Row { id: 0, cells, is_older: false }
    };
    let bands = NOMINAL_HZ.iter().enumerate();
    let rows = stretch.map(|stretch| bands.map(|(band, &hz)| row(stretch, band, hz)).collect());
    Rows { columns, rows: rows.unwrap_or_default() }
}

pub(super) fn show(ui: &mut Ui, look: &Look, comparison: &Comparison, stretch: &Stretch) {
    let whole = ui.max_rect();
    let has_hull = whole.width() >= HULL_FROM_PT;
    let words_left = whole.right() - whole.width() * WORDS_SHARE;
    let hull_left = words_left - if has_hull { whole.width() * HULL_SHARE } else { 0.0 };
    chart::show(ui, look, whole.with_max_x(hull_left - GAP_PT), stretch);
    if has_hull {
        let hulls = whole.with_min_x(hull_left).with_max_x(words_left - GAP_PT);
        widths::show(ui, look, hulls, stretch);
    }
    words(ui, look, whole.with_min_x(words_left), comparison, stretch);
}

/// Figures beside each other, and what differs.
fn words(ui: &mut Ui, look: &Look, rect: Rect, comparison: &Comparison, stretch: &Stretch) {
    ui.scope_builder(UiBuilder::new().max_rect(rect), |ui| {
        ui.spacing_mut().item_spacing = vec2(look.sizes.body, look.sizes.small * 0.25);
        ScrollArea::vertical().id_salt("differs").auto_shrink([false, false]).show(ui, |ui| {
            let title = RichText::new(text::OBSERVATIONS).font(semibold(look.sizes.body));
            ui.label(title).on_hover_text(text::thresholds());
            if comparison.observations.is_empty() {
                ui.weak(text::NOTHING_DIFFERS).on_hover_text(text::thresholds());
            }
            for observation in &comparison.observations {
                ui.label(observation.to_string()).on_hover_text(text::thresholds());
            }
            ui.add_space(look.sizes.small * 0.5);
            figures(ui, look, stretch);
        });
    });
}

/// One figure: its name, unit and hint, and where it is.
type Figure = (&'static str, &'static str, &'static str, fn(&Pool) -> Option<Span>);

const FIGURES: [Figure; 8] = [
    (text::INTEGRATED, Lufs::UNIT, text::INTEGRATED_HINT, |pool| pool.integrated),
    (text::LOUDNESS_RANGE, Lu::UNIT, text::LOUDNESS_RANGE_HINT, |pool| pool.loudness_range),
    (text::PLR, Lu::UNIT, text::PLR_HINT, |pool| pool.plr),
    (text::COLUMN_PSR, Lu::UNIT, text::PSR_HINT, |pool| pool.min_psr),
    (text::LOW_END, Db::UNIT, text::LOW_END_HINT, |pool| pool.low_end),
    (text::PRESENCE, Db::UNIT, text::PRESENCE_HINT, |pool| pool.presence),
    (text::AIR, Db::UNIT, text::AIR_HINT, |pool| pool.air),
    (text::MONO_LOSS, Lu::UNIT, text::MONO_LOSS_HINT, |pool| pool.fold_down_loss),
];

fn figures(ui: &mut Ui, look: &Look, stretch: &Stretch) {
    let small = regular(look.sizes.small);
    egui::Grid::new("beside").num_columns(5).min_col_width(0.0).show(ui, |ui| {
        let [song, reference, difference] = text::COLUMNS_BESIDE;
        for head in ["", song, reference, difference, ""] {
            ui.label(RichText::new(head).font(small.clone()).color(look.palette.line));
        }
        ui.end_row();
        for (name, unit, hint, of) in FIGURES {
            let Some(difference) = stretch.ours.difference(&stretch.theirs, of) else { continue };
            let [ours, theirs, by] = text::beside(&difference);
            ui.label(name).on_hover_text(hint);
            for figure in [ours, theirs, by] {
                ui.label(figure).on_hover_text(hint);
            }
            ui.label(RichText::new(unit).font(small.clone()).color(look.palette.line));
            ui.end_row();
        }
    });
}
