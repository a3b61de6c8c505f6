//! Where not all columns of a table have room, it is turned like a page: the ones that matter most
//! stand on the first, and the first column stands on each.

use super::super::super::{Look, button, text};
use super::{Column, GAP_PT};
use egui::{Id, Rect, Ui, vec2};

/// The columns of a table as they are laid out, and those of them that are shown.
pub(super) struct Shown<'a> {
    pub columns: &'a [Column],
    /// Of each of `columns`, points.
    pub widths: Vec<f32>,
    /// Indices of what is shown, from left to right.
    pub indices: Vec<usize>,
    /// Which page that is, and how many columns stand on later ones; `None` if there is but one.
    pub turn: Option<(Id, usize, usize)>,
}

impl<'a> Shown<'a> {
    /// The page that the user turned to, of as many as `ui` has room for.
    pub fn new(ui: &Ui, look: &Look, name: &str, columns: &'a [Column], widths: Vec<f32>) -> Self {
        let room = ui.available_width();
        let all: Vec<usize> = (0..columns.len()).collect();
        let mut shown = Self { columns, widths, indices: all, turn: None };
        if shown.total() <= room || columns.iter().all(|column| column.rank == 0) {
            return shown;
        }
        let ranks: Vec<u8> = columns.iter().map(|column| column.rank).collect();
        let pages = pages(&ranks, &shown.widths, room - turn_width_pt(ui, look));
        let id = ui.scope_id().with((name, "page"));
        let page = ui.data(|data| data.get_temp::<usize>(id)).unwrap_or(0) % pages.len().max(1);
        let later = pages.iter().skip(page + 1).map(|page| page.len() - 1).sum();
        if let Some(indices) = pages.into_iter().nth(page) {
            shown.indices = indices;
        }
        shown.turn = Some((id, page, later));
        shown
    }

    /// Index, column and width of each that is shown.
    pub fn iter(&self) -> impl Iterator<Item = (usize, &Column, f32)> {
        self.indices
            .iter()
            .filter_map(|&index| Some((index, self.columns.get(index)?, *self.widths.get(index)?)))
    }

    /// Width of all that is shown, with the room between, points.
    pub fn total(&self) -> f32 {
        self.iter().map(|(.., width)| width + GAP_PT).sum()
    }

    /// What room the button that turns the page takes, points; 0 if there is none.
    pub fn turn_pt(&self, ui: &Ui, look: &Look) -> f32 {
        if self.turn.is_some() { turn_width_pt(ui, look) } else { 0.0 }
    }

    /// The button that turns the page, at the right end of `head`.
    pub fn show_turn(&self, ui: &mut Ui, look: &Look, head: Rect) {
        let Some((id, page, later)) = self.turn else { return };
        let size = vec2(turn_width_pt(ui, look) - GAP_PT, button::height_pt(look));
        let place = Rect::from_min_size(head.right_top() - vec2(size.x, 0.0), size);
        let word =
            if later > 0 { text::more_columns(later) } else { text::FIRST_COLUMNS.to_owned() };
        let response = button::at(ui, look, place, &word, &word);
        if response.on_hover_text(text::MORE_COLUMNS_HINT).clicked() {
            let next = if later > 0 { page + 1 } else { 0 };
            ui.data_mut(|data| data.insert_temp(id, next));
            ui.ctx().request_repaint();
        }
    }
}

fn turn_width_pt(ui: &Ui, look: &Look) -> f32 {
    button::width_pt(ui, look, &[&text::more_columns(88), text::FIRST_COLUMNS]) + GAP_PT
}

/// Cuts columns into pages of `room_pt`: lower ranks first, each page in the order of the table and
/// with the first column. A page holds one other column at least.
fn pages(ranks: &[u8], widths: &[f32], room_pt: f32) -> Vec<Vec<usize>> {
    let needed = |index: usize| widths.get(index).map_or(0.0, |width| width + GAP_PT);
    let mut order: Vec<usize> = (1..ranks.len()).collect();
    order.sort_by_key(|&index| ranks.get(index).copied());
    let mut pages = Vec::new();
    let mut page = vec![0];
    let mut used = needed(0);
    for index in order {
        if used + needed(index) > room_pt && page.len() > 1 {
            pages.push(std::mem::replace(&mut page, vec![0]));
            used = needed(0);
        }
        used += needed(index);
        page.push(index);
    }
    pages.push(page);
    pages.iter_mut().for_each(|page| page.sort_unstable());
    pages
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_matters_most_stands_first_and_every_column_on_one_page() {
        let ranks = [0, 2, 0, 1, 1, 3];
        let widths = [50.0 - GAP_PT; 6];
        assert_eq!(pages(&ranks, &widths, 200.0), [vec![0, 2, 3, 4], vec![0, 1, 5]]);
        assert_eq!(pages(&ranks, &widths, 300.0), [vec![0, 1, 2, 3, 4, 5]]);
        // No room at all is no reason to show nothing.
        assert_eq!(pages(&ranks, &widths, 10.0).len(), 5);
    }
}
