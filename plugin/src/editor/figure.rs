//! What every figure on screen answers to: the pointer over it says what it is, a click or Enter
//! says the same and offers to copy it, and so does the copy key while it has the focus.

use super::Look;
use super::fonts::semibold;
use super::text;
use egui::{
    Align2, Button, Context, Event, Id, LayerId, Order, Popup, Rect, Response, RichText, Role,
    Sense, SetOpenCommand, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// How long a note that something was copied stands, seconds. Own choice.
const COPIED_S: f64 = 1.6;

/// Makes the figure drawn at `rect` answer. `spoken` is the figure with its name and unit: what
/// screen readers say, and what is copied.
pub(super) fn ask(ui: &Ui, look: &Look, rect: Rect, id: Id, spoken: &str, hint: &str) -> Response {
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, spoken));
    if response.has_focus() {
        let stroke = Stroke::new(1.5, look.palette.ink);
        ui.painter().rect_stroke(rect.expand2(vec2(3.0, 1.0)), 2.0, stroke, StrokeKind::Inside);
    }
    if wants_copy(ui, &response) {
        copy(ui.ctx(), rect, spoken.to_owned());
    }
    let open =
        (response.clicked() || response.secondary_clicked()).then_some(SetOpenCommand::Toggle);
    let card = Popup::menu(&response).open_memory(open).show(|ui| {
        ui.set_width(look.sizes.body * 22.0);
        ui.label(RichText::new(spoken).font(semibold(look.sizes.body)));
        ui.label(hint);
        if item(ui, text::COPY_FIGURE) {
            copy(ui.ctx(), rect, spoken.to_owned());
        }
    });
    if card.is_some() { response } else { response.on_hover_text(hint) }
}

/// A line of a menu that copies; whether it was clicked.
pub(super) fn item(ui: &mut Ui, name: &str) -> bool {
    let clicked = ui.add(Button::new(name).frame(false)).clicked();
    if clicked {
        ui.close();
    }
    clicked
}

/// Whether the copy key was pressed while `response` has the focus.
pub(super) fn wants_copy(ui: &Ui, response: &Response) -> bool {
    response.has_focus() && ui.input(|input| input.events.contains(&Event::Copy))
}

/// What was copied last.
#[derive(Clone)]
struct Copied {
    what: String,
    place: Rect,
    at_s: f64,
}

fn copied_id() -> Id {
    Id::unique("plimsoll-copied")
}

/// Copies `what`, and says so over `place`.
pub(super) fn copy(ctx: &Context, place: Rect, what: String) {
    let at_s = ctx.input(|input| input.time);
    ctx.copy_text(what.clone());
    // A table is said by its first line.
    let what = what.lines().next().unwrap_or_default().replace('\t', " · ");
    ctx.data_mut(|data| data.insert_temp(copied_id(), Copied { what, place, at_s }));
    ctx.request_repaint();
}

/// The note on what was copied, for a moment, over everything.
pub(super) fn show_copied(ui: &Ui, look: &Look) {
    let ctx = ui.ctx();
    let Some(copied) = ctx.data(|data| data.get_temp::<Copied>(copied_id())) else { return };
    let left_s = copied.at_s + COPIED_S - ctx.input(|input| input.time);
    if left_s <= 0.0 {
        ctx.data_mut(|data| data.remove::<Copied>(copied_id()));
        return;
    }
    ctx.request_repaint_after_secs(super::cast::single(left_s));
    let painter = ctx.layer_painter(LayerId::new(Order::Tooltip, copied_id()));
    let palette = &look.palette;
    let screen = ctx.content_rect().shrink(4.0);
    let note = text::copied(&copied.what);
    let mut job = egui::text::LayoutJob::simple_singleline(
        note.clone(),
        semibold(look.sizes.small),
        palette.paper,
    );
    job.wrap = egui::text::TextWrapping::truncate_at_width(screen.width() * 0.7);
    let galley = painter.layout_job(job);
    let size = galley.size() + vec2(12.0, 6.0);
    let anchor = pos2(copied.place.center().x, copied.place.top() - 4.0);
    let rect = Align2::CENTER_BOTTOM.anchor_size(anchor, size);
    let into = |low: f32, high: f32, least: f32, most: f32| {
        if low < least { least - low } else { (most - high).min(0.0) }
    };
    let rect = rect.translate(vec2(
        into(rect.left(), rect.right(), screen.left(), screen.right()),
        into(rect.top(), rect.bottom(), screen.top(), screen.bottom()),
    ));
    painter.rect_filled(rect, 2.0, palette.ink);
    painter.galley(rect.min + vec2(6.0, 3.0), galley, palette.paper);
    // For screen readers, at no place where the pointer could meet it.
    ui.interact(Rect::from_min_size(screen.min, egui::Vec2::ZERO), copied_id(), Sense::empty())
        .widget_info(|| WidgetInfo::labeled(Role::Label, true, &note));
}
