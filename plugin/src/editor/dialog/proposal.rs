//! Proposed sections: how sure each border is, and which of them to take.

use super::super::fonts::regular;
use super::super::model::{Action, Model, SongEdit};
use super::super::{Look, button, text};
use super::{Next, heading, scrolled};
use crate::section::Border;
use egui::{Align2, Rect, Role, Sense, Slider, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Borders at least so sure are offered at first. The project's own choice, no source.
pub const FIRST_SURE: f64 = 0.3;

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    height: f32,
    model: &Model,
    least_sure: &mut f64,
    actions: &mut Vec<Action>,
) -> Next {
    heading(ui, look, text::PROPOSAL_HEADING);
    ui.label(text::PROPOSAL_HINT);
    let Some(proposal) = &model.song.proposal else {
        // It is computed between this frame and the next.
        return if button::add(ui, look, text::CLOSE).clicked() { Next::Close } else { Next::Stay };
    };
    ui.horizontal(|ui| {
        let name = ui.label(text::PROPOSAL_SURE);
        // The rail is drawn in the fill of a widget at rest, which elsewhere is paper.
        ui.visuals_mut().widgets.inactive.bg_fill = look.palette.over_paper(look.palette.line, 0.4);
        ui.spacing_mut().slider_width = look.sizes.body * 14.0;
        ui.add(Slider::new(least_sure, 0.1..=1.0).fixed_decimals(2).show_value(false))
            .labelled_by(name.id);
        ui.label(format!("{least_sure:.2}"));
    });
    let taken = proposal.sections(*least_sure).len();
    scrolled(ui, height - look.sizes.body * 9.0, |ui| {
        for border in &proposal.borders {
            row(ui, look, border, border.sure >= *least_sure);
        }
    });
    ui.weak(text::proposal_counted(taken));
    let (take, drop) = ui
        .horizontal(|ui| {
            let take = ui.add_enabled_ui(taken > 1, |ui| {
                button::add(ui, look, text::USE_PROPOSAL).clicked()
            });
            (take.inner, button::add(ui, look, text::DROP_PROPOSAL).clicked())
        })
        .inner;
    if take {
        actions.push(Action::Song(SongEdit::TakeProposal(*least_sure)));
    } else if drop {
        actions.push(Action::DropProposal);
    }
    if take || drop { Next::Close } else { Next::Stay }
}

/// One border: place, and how sure it is as a figure and as a line.
fn row(ui: &mut Ui, look: &Look, border: &Border, is_taken: bool) {
    let palette = &look.palette;
    let size = vec2(ui.available_width() - 10.0, look.sizes.body * 1.6);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let color = if is_taken { palette.ink } else { palette.line };
    let font = regular(look.sizes.body);
    let place = text::place(border.place.at_s, border.place.bar);
    let sure = format!("{:.2}", border.sure);
    let painter = ui.painter();
    painter.text(rect.left_center(), Align2::LEFT_CENTER, &place, font.clone(), color);
    let figure_x = rect.left() + look.sizes.body * 14.0;
    painter.text(pos2(figure_x, rect.center().y), Align2::RIGHT_CENTER, &sure, font.clone(), color);
    let line = Rect::from_x_y_ranges(
        figure_x + 10.0..=(rect.right() - look.sizes.body * 8.0).max(figure_x + 30.0),
        rect.y_range(),
    );
    let y = painter.round_to_pixel_center(line.center().y);
    painter.hline(line.x_range(), y, Stroke::new(1.0, palette.hairline()));
    let share = super::super::cast::single(border.sure.clamp(0.0, 1.0));
    let end = line.left() + line.width() * share;
    painter.hline(line.left()..=end, y, Stroke::new(3.0, color));
    let word = if is_taken { text::PROPOSAL_TAKEN } else { text::PROPOSAL_LEFT };
    painter.text(rect.right_center(), Align2::RIGHT_CENTER, word, font, color);
    response
        .widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{place}: {sure}, {word}")));
}
