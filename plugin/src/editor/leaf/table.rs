//! A table: a head that sorts, rows that can be selected, figures aligned at the right.

mod pages;

use super::super::fonts::{regular, semibold};
use super::super::{Look, cast, figure, label, text};
use egui::{
    Align2, Color32, Popup, Rangef, Rect, Response, Role, ScrollArea, Sense, Stroke, StrokeKind,
    Ui, Vec2, WidgetInfo, pos2, vec2,
};
use pages::Shown;

/// What a column holds.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its heading.
    pub title: &'static str,
    /// Unit of its figures, set small under the heading.
    pub unit: &'static str,
    /// What it is, in two sentences.
    pub hint: &'static str,
    /// Whether it holds figures: aligned right, and in order of value.
    pub is_figure: bool,
    /// Whether it takes the room that is left over.
    pub grows: bool,
    /// Where there is no room for all columns, those of a higher rank go first. A table without
    /// ranks is moved sideways instead.
    pub rank: u8,
}

impl Column {
    /// A column of figures.
    pub const fn figure(title: &'static str, unit: &'static str, hint: &'static str) -> Self {
        Self { title, unit, hint, is_figure: true, grows: false, rank: 0 }
    }

    /// A column of words.
    pub const fn words(title: &'static str, hint: &'static str) -> Self {
        Self { title, unit: "", hint, is_figure: false, grows: false, rank: 0 }
    }

    /// The same column, of this rank.
    pub const fn ranked(self, rank: u8) -> Self {
        Self { rank, ..self }
    }

    /// A figure of it with its name and unit.
    fn spoken(&self, cell: &Cell) -> String {
        format!("{} {} {}", self.title, cell.text, self.unit).trim().to_owned()
    }
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cell {
    /// What stands in it.
    pub text: String,
    /// What it is ordered by; cells without stand last.
    pub value: Option<f64>,
    /// A line beside the figure, from the middle, in units of its longest: −1 to 1.
    pub bar: Option<f64>,
    /// What is still within tolerance on that line, left and right of the middle.
    pub band: Option<[f64; 2]>,
    /// Whether it is over a limit.
    pub is_over: bool,
}

impl Cell {
    /// Words.
    pub fn words(text: impl Into<String>) -> Self {
        Self { text: text.into(), ..Self::default() }
    }

    /// A figure, and what it is ordered by.
    pub fn figure(text: String, value: Option<f64>) -> Self {
        Self { text, value, ..Self::default() }
    }
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is the row of.
    pub id: i64,
    /// One cell per column.
    pub cells: Vec<Cell>,
    /// Whether it is measured from an older playthrough: drawn lighter.
    pub is_older: bool,
}

/// A table's columns, and its rows in the order in which they are shown.
pub struct Rows {
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

/// What the user did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Did {
    /// Clicked a row.
    Selected(i64),
    /// Clicked a row twice.
    Opened(i64),
}

/// Room between columns.
const GAP_PT: f32 = 12.0;
/// Names stand in from the bar of the selected row.
const NAME_INDENT_PT: f32 = 6.0;
/// Length of the longest bar.
const BAR_PT: f32 = 20.0;
/// Room between bar and figure.
const BAR_GAP_PT: f32 = 7.0;

/// Sorts `rows` by the order that the user chose.
pub fn sort(rows: &mut [Row], order: Option<(usize, bool)>) {
    let Some((column, highest_first)) = order else { return };
    let value = |row: &Row| row.cells.get(column).and_then(|cell| cell.value);
    let name = |row: &Row| row.cells.get(column).map(|cell| cell.text.clone());
    rows.sort_by(|a, b| match (value(a), value(b)) {
        (Some(a), Some(b)) if highest_first => b.total_cmp(&a),
        (Some(a), Some(b)) => a.total_cmp(&b),
        // What is not measured stands last either way.
        (a, b) if a.is_some() != b.is_some() => b.is_some().cmp(&a.is_some()),
        _ if highest_first => name(b).cmp(&name(a)),
        _ => name(a).cmp(&name(b)),
    });
}

/// The table as text: tabs between columns, a line a row, units in the head.
pub fn as_text(columns: &[Column], rows: &[Row]) -> String {
    let head = columns.iter().map(|column| match column.unit {
        "" => column.title.to_owned(),
        unit => format!("{} ({unit})", column.title),
    });
    let mut lines = vec![head.collect::<Vec<_>>().join("\t")];
    lines.extend(
        rows.iter().map(|row| {
            row.cells.iter().map(|cell| cell.text.as_str()).collect::<Vec<_>>().join("\t")
        }),
    );
    lines.join("\n") + "\n"
}

/// Draws the table into what room `ui` has.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    name: &str,
    columns: &[Column],
    rows: &[Row],
    selected: Option<i64>,
    order: Option<&mut Option<(usize, bool)>>,
) -> Option<Did> {
    let mut shown = Shown::new(ui, look, name, columns, widths(ui, look, columns, rows));
    let spare = (ui.available_width() - shown.total() - shown.turn_pt(ui, look)).max(0.0);
    // What is left over goes to the column that grows, else to the first one of words.
    let grows = shown.iter().find(|(_, column, _)| column.grows).map(|(index, ..)| index);
    let wordy = grows.or_else(|| columns.iter().position(|column| !column.is_figure));
    let most = if grows.is_some() { f32::INFINITY } else { 120.0 };
    if let Some(width) = wordy.and_then(|at| shown.widths.get_mut(at)) {
        *width += spare.min(most);
    }
    let total = shown.total();
    let mut did = None;
    ScrollArea::horizontal().id_salt(name).auto_shrink([false, false]).show(ui, |ui| {
        ui.spacing_mut().item_spacing = Vec2::ZERO;
        head(ui, look, &shown, order);
        let row_pt = look.sizes.body * 1.55;
        // Whole rows: none is cut where the table ends.
        let room_pt = (ui.available_height() / row_pt).floor() * row_pt;
        let rows_area = ScrollArea::vertical().id_salt((name, "rows")).max_height(room_pt);
        rows_area.auto_shrink([false, false]).show_rows(ui, row_pt, rows.len(), |ui, in_view| {
            for row in rows.get(in_view).unwrap_or_default() {
                let size = vec2(total.max(ui.available_width()), row_pt);
                let (rect, response) = ui.allocate_exact_size(size, Sense::click());
                let is_selected = selected == Some(row.id);
                draw_row(ui, look, rect, &response, &shown, row, is_selected);
                answer(ui, look, &response, &shown, row);
                if response.double_clicked() {
                    did = Some(Did::Opened(row.id));
                } else if response.clicked() {
                    did = Some(Did::Selected(row.id));
                }
            }
        });
    });
    did
}

fn widths(ui: &Ui, look: &Look, columns: &[Column], rows: &[Row]) -> Vec<f32> {
    let (font, small) = (regular(look.sizes.body), regular(look.sizes.small));
    let name_font = semibold(look.sizes.body);
    let painter = ui.painter();
    let name = |cell: &Cell| label::width(painter, &cell.text, &name_font) + NAME_INDENT_PT;
    let cell = |cell: &Cell| {
        let bar = if cell.bar.is_some() { BAR_PT.mul_add(2.0, BAR_GAP_PT) } else { 0.0 };
        label::width(painter, &cell.text, &font) + bar
    };
    columns
        .iter()
        .enumerate()
        .map(|(index, column)| {
            let head = label::width(painter, column.title, &small).max(label::width(
                painter,
                column.unit,
                &small,
            ));
            // Figures that come and go must not move the columns.
            let least =
                if column.is_figure { label::width(painter, "−88.8", &font) } else { 0.0 };
            let cells = rows.iter().filter_map(|row| row.cells.get(index));
            let cells = cells.map(|at| if index == 0 { name(at) } else { cell(at) });
            let most = match (column.is_figure, column.grows) {
                (true, _) => f32::INFINITY,
                (false, false) => look.sizes.body * 16.0,
                (false, true) => look.sizes.body * 14.0,
            };
            cells.fold(head.max(least), f32::max).min(most).ceil()
        })
        .collect()
}

fn head(ui: &mut Ui, look: &Look, shown: &Shown<'_>, order: Option<&mut Option<(usize, bool)>>) {
    let palette = &look.palette;
    let small = regular(look.sizes.small);
    let size = vec2(shown.total().max(ui.available_width()), look.sizes.small * 2.75);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let mut x = rect.left();
    let sorted = order.as_ref().and_then(|order| **order);
    let mut chosen = None;
    for (index, column, width) in shown.iter() {
        let place = Rect::from_min_size(pos2(x, rect.top()), vec2(width, rect.height()));
        let sense = if order.is_some() { Sense::click() } else { Sense::hover() };
        let response = ui.interact(place, ui.scope_id().with(("head", index)), sense);
        response.widget_info(|| {
            let role = if order.is_some() { Role::Button } else { Role::Label };
            WidgetInfo::labeled(role, true, text::column_spoken(column.title))
        });
        let (align, at_x) = if column.is_figure {
            (Align2::RIGHT_TOP, place.right())
        } else {
            (Align2::LEFT_TOP, place.left())
        };
        let active = response.hovered() && order.is_some() || response.has_focus();
        let color = if active { palette.ink } else { palette.line };
        let painter = ui.painter();
        let title =
            painter.text(pos2(at_x, place.top()), align, column.title, small.clone(), color);
        let unit_at = pos2(at_x, title.bottom() - 1.0);
        painter.text(unit_at, align, column.unit, small.clone(), palette.line);
        if response.has_focus() {
            let stroke = Stroke::new(1.5, palette.ink);
            painter.rect_stroke(place.expand(2.0), 2.0, stroke, StrokeKind::Inside);
        }
        if let Some((_, highest_first)) = sorted.filter(|(column, _)| *column == index) {
            // A line under the heading, at the end that stands first.
            let y = title.bottom() + 1.0;
            let mark = if highest_first { y } else { title.top() };
            painter.hline(title.x_range(), mark, Stroke::new(1.5, palette.ink));
        }
        if response.on_hover_text(column.hint).clicked() {
            chosen = Some(index);
        }
        x += width + GAP_PT;
    }
    shown.show_turn(ui, look, rect);
    let line = Stroke::new(1.0, palette.hairline());
    ui.painter().hline(rect.x_range(), ui.painter().round_to_pixel_center(rect.bottom()), line);
    if let (Some(order), Some(index)) = (order, chosen) {
        // Highest first, then lowest first, then song order again.
        *order = match *order {
            Some((column, true)) if column == index => Some((index, false)),
            Some((column, false)) if column == index => None,
            _ => Some((index, true)),
        };
        ui.ctx().request_repaint();
    }
}

fn draw_row(
    ui: &Ui,
    look: &Look,
    rect: Rect,
    response: &Response,
    shown: &Shown<'_>,
    row: &Row,
    is_selected: bool,
) {
    let palette = &look.palette;
    let painter = ui.painter();
    let fill = if is_selected {
        0.14
    } else if response.hovered() {
        0.06
    } else {
        0.0
    };
    if fill > 0.0 {
        painter.rect_filled(rect, 0.0, palette.over_paper(palette.ink, fill));
    }
    if is_selected {
        let bar = Rect::from_min_size(rect.min, vec2(3.0, rect.height()));
        painter.rect_filled(bar, 0.0, palette.ink);
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 0.0, Stroke::new(1.5, palette.ink), StrokeKind::Inside);
    }
    response.widget_info(|| {
        let words = row.cells.iter().zip(shown.columns);
        let words: Vec<String> =
            words.map(|(cell, column)| format!("{} {}", column.title, cell.text)).collect();
        WidgetInfo::selected(Role::Row, true, is_selected, words.join(", "))
    });
    let mut x = rect.left();
    for (index, column, width) in shown.iter() {
        let Some(cell) = row.cells.get(index) else { continue };
        let place = Rect::from_min_size(pos2(x, rect.top()), vec2(width, rect.height()));
        let color = match (cell.is_over, row.is_older) {
            (true, _) => palette.signal,
            (false, true) => palette.line,
            (false, false) => palette.ink,
        };
        let font = if index == 0 { semibold(look.sizes.body) } else { regular(look.sizes.body) };
        if column.is_figure {
            let at = place.right_center();
            painter.text(at, Align2::RIGHT_CENTER, &cell.text, font, color);
        } else {
            let indent = if index == 0 { NAME_INDENT_PT } else { 0.0 };
            let at = place.left_center() + vec2(indent, 0.0);
            let room = width - indent;
            label::cut(painter, at, Align2::LEFT_CENTER, &cell.text, &font, color, room);
        }
        if let Some(bar) = cell.bar {
            draw_bar(painter, look, place, bar, cell.band, color);
        }
        x += width + GAP_PT;
    }
}

/// A line from the middle of its room: right is more, left is less.
fn draw_bar(
    painter: &egui::Painter,
    look: &Look,
    place: Rect,
    bar: f64,
    band: Option<[f64; 2]>,
    color: Color32,
) {
    let middle = painter.round_to_pixel_center(place.left() + BAR_PT);
    let at = |share: f64| BAR_PT.mul_add(cast::single(share.clamp(-1.0, 1.0)), middle);
    let end = at(bar);
    let y = place.center().y;
    if let Some([below, above]) = band {
        let within = Rect::from_x_y_ranges(at(below)..=at(above), Rangef::point(y).expand(6.0));
        // Seen on a selected row as well.
        painter.rect_filled(within, 0.0, look.palette.ink.gamma_multiply(0.16));
    }
    let axis = Stroke::new(1.0, look.palette.hairline());
    painter.vline(middle, y - 6.0..=y + 6.0, axis);
    painter.hline(middle.min(end)..=middle.max(end), y, Stroke::new(4.0, color));
}

/// A row answers cell by cell: what the figure is, and copying it or the whole row.
fn answer(ui: &Ui, look: &Look, response: &Response, shown: &Shown<'_>, row: &Row) {
    let name = row.cells.first().map(|cell| cell.text.clone()).unwrap_or_default();
    let whole = || as_text(shown.columns, std::slice::from_ref(row));
    if figure::wants_copy(ui, response) {
        figure::copy(ui.ctx(), response.rect, whole());
    }
    let mut right = response.rect.left();
    let ends: Vec<(usize, f32)> = shown
        .iter()
        .map(|(index, _, width)| {
            right += width + GAP_PT;
            (index, right)
        })
        .collect();
    let under = |x: f32| ends.iter().find(|(_, end)| x < *end).map(|(index, _)| *index);
    let said = |index: usize| {
        let (column, cell) = shown.columns.get(index).zip(row.cells.get(index))?;
        Some((column, format!("{name}: {}", column.spoken(cell))))
    };
    // The cell that was pointed at when the menu was opened.
    let asked_id = response.id.with("asked");
    if response.secondary_clicked()
        && let Some(index) = response.interact_pointer_pos().and_then(|at| under(at.x))
    {
        ui.ctx().data_mut(|data| data.insert_temp(asked_id, index));
    }
    let menu = Popup::context_menu(response).show(|ui| {
        ui.set_min_width(look.sizes.body * 14.0);
        let asked = ui.ctx().data(|data| data.get_temp::<usize>(asked_id));
        if let Some((_, spoken)) = asked.and_then(said)
            && figure::item(ui, &text::copy_this(&spoken))
        {
            figure::copy(ui.ctx(), response.rect, spoken);
        }
        if figure::item(ui, text::COPY_ROW) {
            figure::copy(ui.ctx(), response.rect, whole());
        }
    });
    if menu.is_some() {
        return;
    }
    if let Some((column, spoken)) = response.hover_pos().and_then(|at| under(at.x)).and_then(said) {
        egui::Tooltip::for_enabled(response).at_pointer().gap(14.0).show(|ui| {
            ui.label(egui::RichText::new(spoken).font(semibold(look.sizes.body)));
            ui.label(column.hint);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows() -> Vec<Row> {
        [("Verse", Some(-18.0)), ("Chorus", Some(-12.0)), ("Outro", None), ("Bridge", Some(-20.0))]
            .into_iter()
            .zip(0..)
            .map(|((name, value), id)| Row {
                id,
                cells: vec![
                    Cell::words(name),
                    Cell::figure(value.map_or_else(|| "–".to_owned(), |v| v.to_string()), value),
                ],
                is_older: false,
            })
            .collect()
    }

    fn names(rows: &[Row]) -> Vec<&str> {
        rows.iter().map(|row| row.cells[0].text.as_str()).collect()
    }

    #[test]
    fn what_is_not_measured_stands_last_in_either_order() {
        let mut sorted = rows();
        sort(&mut sorted, Some((1, true)));
        assert_eq!(names(&sorted), ["Chorus", "Verse", "Bridge", "Outro"]);
        sort(&mut sorted, Some((1, false)));
        assert_eq!(names(&sorted), ["Bridge", "Verse", "Chorus", "Outro"]);
        sort(&mut sorted, Some((0, false)));
        assert_eq!(names(&sorted), ["Bridge", "Chorus", "Outro", "Verse"]);
        let mut kept = rows();
        sort(&mut kept, None);
        assert_eq!(names(&kept), ["Verse", "Chorus", "Outro", "Bridge"]);
    }

    #[test]
    fn as_text_it_has_a_head_with_units_and_a_line_a_row() {
        let column = |title, unit| Column { unit, ..Column::words(title, "") };
        let text = as_text(&[column("Section", ""), column("Integrated", "LUFS")], &rows());
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "Section\tIntegrated (LUFS)");
        assert_eq!((lines[1], lines.len()), ("Verse\t-18", 5));
    }
}
