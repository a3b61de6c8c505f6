//! The top line: the target and how it is chosen, what the instrument is doing, its buttons.

use super::dialog::Dialog;
use super::fonts::{regular, semibold};
use super::model::{Action, Model};
use super::theme::ThemeChoice;
use super::view::{Leaf, ViewState, chosen};
use super::{Look, button, label, text};
use egui::{Align2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

/// From this width on there is room for the name of the instrument.
const WORDMARK_FROM_PT: f32 = 800.0;
/// From this width on there is room for the name of the song.
const SONG_FROM_PT: f32 = 1040.0;
/// Most room that the name of the song gets, in multiples of the size of type.
const SONG_EM: f32 = 13.0;

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    model: &Model,
    view: &mut ViewState,
    actions: &mut Vec<Action>,
) {
    let mut left = wordmark(ui, look, rect);
    if rect.width() >= SONG_FROM_PT {
        left = song_name(ui, look, rect.with_min_x(left), &model.song.name, view);
    }
    let buttons = [
        text::LOG,
        text::PEAKS,
        text::TARGETS_LEAF,
        text::TONE,
        if model.running { text::PAUSE } else { text::CONTINUE },
        text::RESET,
        match view.prefs.theme {
            ThemeChoice::Day => text::TO_NIGHT,
            ThemeChoice::Night => text::TO_DAY,
        },
        text::CAUTIONS,
    ];
    // The state stands left of the buttons, at a place that does not move with its length. A narrow
    // window has no room for it; the notes say what matters of it.
    let has_status = rect.width() >= WORDMARK_FROM_PT;
    let status_width = if has_status { look.sizes.body * 7.4 } else { 0.0 };
    let gap = ui.spacing().item_spacing.x;
    let font = regular(look.sizes.body);
    let widths = [
        button::width_pt(ui, look, &[text::LOG]),
        button::width_pt(ui, look, &[text::PEAKS]),
        button::width_pt(ui, look, &[text::TARGETS_LEAF]),
        button::width_pt(ui, look, &[text::TONE]),
        button::width_pt(ui, look, &[text::PAUSE, text::CONTINUE]),
        button::width_pt(ui, look, &[text::RESET]),
        button::width_pt(ui, look, &[text::TO_NIGHT, text::TO_DAY]),
        button::width_pt(ui, look, &[text::CAUTIONS]),
    ];
    let cluster = widths.iter().sum::<f32>() + gap * 7.0;
    let row_height = button::height_pt(look);
    let top = rect.center().y - row_height / 2.0;

    let chooser = Rect::from_min_max(
        pos2(left, rect.top()),
        pos2(rect.right() - cluster - status_width - gap * 2.0, rect.bottom()),
    );
    target_chooser(ui, look, chooser, model, view);

    let status = text::status(model.source, model.transport, model.running, &model.notices);
    let status_at = pos2(rect.right() - cluster - gap * 2.0, rect.center().y);
    if has_status {
        ui.painter().text(status_at, Align2::RIGHT_CENTER, status, font, look.palette.line);
        let place = Align2::RIGHT_CENTER.anchor_size(status_at, vec2(status_width, row_height));
        ui.interact(place, ui.scope_id().with("status"), Sense::hover())
            .widget_info(|| WidgetInfo::labeled(Role::Label, true, status));
    }

    let mut x = rect.right() - cluster;
    let mut pressed = [false; 8];
    let hints = [
        text::LOG_TOGGLE_HINT,
        text::PEAKS_TOGGLE_HINT,
        text::TARGETS_TOGGLE_HINT,
        text::TONE_TOGGLE_HINT,
        if model.running { text::PAUSE_HINT } else { text::CONTINUE_HINT },
        text::RESET_HINT,
        text::THEME_HINT,
        text::CAUTION_TEXT.first().copied().unwrap_or_default(),
    ];
    for (((name, width), hint), pressed) in
        buttons.into_iter().zip(widths).zip(hints).zip(&mut pressed)
    {
        let place = Rect::from_min_size(pos2(x, top), vec2(width, row_height));
        let response = button::at(ui, look, place, name, name);
        if name == open_leaf(view) {
            let foot = place.shrink2(vec2(6.0, 0.0)).x_range();
            let line = Stroke::new(2.5, look.palette.ink);
            ui.painter().hline(foot, place.bottom() - 3.5, line);
        }
        *pressed = response.on_hover_text(hint).clicked();
        x += width + gap;
    }
    let [log, peaks, targets, tone, pause, reset, theme, cautions] = pressed;
    let leaves =
        [(Leaf::Log, log), (Leaf::Peaks, peaks), (Leaf::Targets, targets), (Leaf::Tone, tone)];
    for (leaf, pressed) in leaves {
        if pressed {
            view.prefs.leaf = if view.prefs.leaf == leaf { Leaf::None } else { leaf };
            ui.ctx().request_repaint();
        }
    }
    if pause {
        actions.push(if model.running { Action::Pause } else { Action::Continue });
    }
    if reset {
        view.undo_declined = false;
        view.window = None;
        actions.push(Action::Reset);
    }
    if theme {
        let other = view.prefs.theme.other();
        view.set_theme(other);
        actions.push(Action::SetTheme(other));
        ui.ctx().request_repaint();
    }
    if cautions {
        view.dialog = Some(Dialog::Cautions);
    }
}

/// The button of the table that is open.
const fn open_leaf(view: &ViewState) -> &'static str {
    match view.prefs.leaf {
        Leaf::None => "",
        Leaf::Log => text::LOG,
        Leaf::Peaks => text::PEAKS,
        Leaf::Targets => text::TARGETS_LEAF,
        Leaf::Tone => text::TONE,
        // It stands in the head of the tone: narrow windows have no room for another button.
        Leaf::Reference => text::TONE,
    }
}

/// The name, with the load line through it; returns where the next thing starts.
fn wordmark(ui: &Ui, look: &Look, rect: Rect) -> f32 {
    if rect.width() < WORDMARK_FROM_PT {
        return rect.left();
    }
    let font = semibold(look.sizes.strong);
    let at = pos2(rect.left(), rect.center().y);
    let name = ui.painter().text(at, Align2::LEFT_CENTER, text::WORDMARK, font, look.palette.water);
    let x = name.right() + look.sizes.body * 1.1;
    let stroke = Stroke::new(1.0, look.palette.hairline());
    ui.painter().vline(x, rect.y_range().shrink(3.0), stroke);
    x + look.sizes.body * 1.0
}

/// The name of the song, or that it has none: a click names it. Returns where the next thing
/// starts.
fn song_name(ui: &Ui, look: &Look, rect: Rect, name: &str, view: &mut ViewState) -> f32 {
    let palette = &look.palette;
    let (word, color) = match name {
        "" => (text::UNNAMED_SONG, palette.line),
        name => (name, palette.ink),
    };
    let font = regular(look.sizes.strong);
    let at = pos2(rect.left(), rect.center().y);
    let room = look.sizes.strong * SONG_EM;
    let drawn = label::cut(ui.painter(), at, Align2::LEFT_CENTER, word, &font, color, room);
    let place = drawn.expand2(vec2(6.0, 3.0));
    let response = ui.interact(place, ui.scope_id().with("song name"), Sense::click());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Button, true, format!("{}: {word}", text::SONG_SPOKEN))
    });
    let stroke = if response.has_focus() {
        Stroke::new(1.5, palette.ink)
    } else if response.hovered() {
        Stroke::new(1.0, palette.hairline())
    } else {
        Stroke::NONE
    };
    ui.painter().rect_stroke(place, 2.0, stroke, StrokeKind::Inside);
    if response.on_hover_text(text::NAME_SONG_HINT).clicked() {
        view.dialog = Some(Dialog::name_song(name));
    }
    let x = drawn.right() + look.sizes.body * 1.1;
    let stroke = Stroke::new(1.0, palette.hairline());
    ui.painter().vline(x, rect.y_range().shrink(3.0), stroke);
    x + look.sizes.body
}

fn target_chooser(ui: &mut Ui, look: &Look, place: Rect, model: &Model, view: &mut ViewState) {
    let target = chosen(model);
    let name = target.map_or(text::NO_TARGET, |target| target.name.as_str());
    let summary = target.map_or_else(String::new, crate::target::Target::summary);
    let palette = &look.palette;
    let pad = 8.0;
    let arrow = look.sizes.small * 0.75;
    let (name_font, summary_font) = (semibold(look.sizes.strong), regular(look.sizes.small));
    let wanted = (label::width(ui.painter(), name, &name_font) + arrow + 8.0).max(label::width(
        ui.painter(),
        &summary,
        &summary_font,
    ));
    let width = (wanted + pad * 2.0).min(place.width() + pad);
    // The text, not its frame, stands on the margin.
    let left_top = place.min - vec2(pad, 0.0);
    let rect = Rect::from_min_size(left_top, vec2(width, place.height()));
    let response = ui.interact(rect, ui.scope_id().with("chooser"), Sense::click());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Button, true, format!("{}: {name}", text::TARGET_NOTE))
    });

    let painter = ui.painter();
    if response.hovered() || response.has_focus() {
        let fill = palette.over_paper(palette.ink, 0.05);
        painter.rect_filled(rect, 2.0, fill);
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 2.0, Stroke::new(1.5, palette.ink), StrokeKind::Inside);
    }
    let inner = rect.shrink2(vec2(pad, 0.0));
    let name_at = pos2(inner.left(), rect.top());
    let room = inner.width() - arrow - 8.0;
    let drawn = label::cut(painter, name_at, Align2::LEFT_TOP, name, &name_font, palette.ink, room);
    let tip = pos2(drawn.right() + 8.0 + arrow / 2.0, drawn.center().y + arrow * 0.35);
    painter.add(down_triangle(tip, arrow, palette.line));
    let summary_at = pos2(inner.left(), drawn.bottom());
    let color = palette.line;
    let align = Align2::LEFT_TOP;
    // The last parts go as a whole: half a number says something else.
    let mut fitting = summary.as_str();
    while label::width(painter, fitting, &summary_font) > inner.width()
        && let Some((first, _)) = fitting.rsplit_once(" · ")
    {
        fitting = first;
    }
    label::cut(painter, summary_at, align, fitting, &summary_font, color, inner.width());

    let response = response.on_hover_ui(|ui| {
        if let Some(target) = target {
            ui.label(egui::RichText::new(&target.name).font(semibold(look.sizes.body)));
            ui.label(target.summary());
            ui.label(&target.source);
        }
        ui.weak(text::CHOOSER_HINT);
    });
    if response.clicked() {
        view.dialog = Some(Dialog::Targets);
    }
}

/// A small triangle that points down to `tip`: there is more to choose from.
pub(super) fn down_triangle(tip: egui::Pos2, width: f32, color: egui::Color32) -> Shape {
    let (half, height) = (width / 2.0, width * 0.6);
    let corners = vec![tip, tip + vec2(-half, -height), tip + vec2(half, -height)];
    Shape::convex_polygon(corners, color, Stroke::NONE)
}
