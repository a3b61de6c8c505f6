//! The editor: a tide chart of the song against its load line.
//!
//! Pure egui, no framework: everything is a function of a [`model::Model`] and a
//! [`view::ViewState`], and what the user does comes back as [`model::Action`]s. One widget per
//! file. From top to bottom of the window: header, notices, strip, figures, distance.

mod button;
mod cast;
mod corner;
mod dialog;
mod distance;
mod drop;
mod figure;
mod figures;
mod fonts;
mod header;
mod label;
mod layout;
mod leaf;
pub mod model;
mod notices;
mod pointer;
mod strip;
pub mod text;
pub mod theme;
pub mod view;

pub use dialog::{Dialog, Draft, Question};
pub use drop::drop_files;
pub use view::{
    DEFAULT_SIZE, Leaf, MIN_SIZE, Reading, ScaleChoice, ViewPrefs, ViewState, ZOOM_RANGE,
};

use layout::Layout;
use model::{Action, Model};
use theme::{Palette, ThemeChoice};

/// Colours and sizes of type of one frame.
#[derive(Debug, Clone, Copy)]
struct Look {
    choice: ThemeChoice,
    palette: Palette,
    sizes: fonts::Sizes,
}

/// Hands fonts and style to egui. Call once, before the first frame.
pub fn install(ctx: &egui::Context) {
    fonts::install(ctx);
    // Keys of that kind are the host's; the corner has a menu for it.
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    ctx.all_styles_mut(|style| {
        theme::set_spacing(style);
        // Antialiased text looks alike on paper and on dark: raw coverage, no gamma boost.
        style.text_styles = fonts::Sizes::for_window(egui::vec2(1200.0, 700.0)).text_styles();
    });
}

/// Draws the whole editor into `ui`; what the user asked for is added to `actions`.
pub fn draw(ui: &mut egui::Ui, model: &Model, view: &mut ViewState, actions: &mut Vec<Action>) {
    let choice = view.prefs.theme;
    let size = ui.available_size();
    let look = Look { choice, palette: choice.palette(), sizes: fonts::Sizes::for_window(size) };
    let ctx = ui.ctx().clone();
    drop::take(&ctx, view, actions);
    set_style(&ctx, &look);
    ui.set_style(ctx.global_style());

    let frame = egui::Frame::NONE.fill(look.palette.paper);
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        let held = view.hold(&ctx, model);
        let notes = notices::collect(model, view, size.y);
        let leaf = view.prefs.leaf != Leaf::None;
        let layout = Layout::new(ui.max_rect(), &look, notes.len(), model.bars.is_some(), leaf);
        header::show(ui, &look, layout.header, model, view, actions);
        notices::show(ui, &look, layout.notices, &notes, view, actions);
        strip::show(ui, &look, layout.strip, model, &held, view, actions);
        leaf::show(ui, &look, layout.leaf, model, &held, view, actions);
        figures::show(ui, &look, &layout, model, &held, view.prefs.reading);
        distance::show(ui, &look, &layout, model, &held, actions);
        corner::show(ui, &look, view);
    });
    dialog::show(&ctx, &look, model, view, actions);
    figure::show_copied(ui, &look);
}

/// egui's own widgets, menus and tooltips in the colours and sizes of this frame.
fn set_style(ctx: &egui::Context, look: &Look) {
    let egui_theme = match look.choice {
        ThemeChoice::Day => egui::Theme::Light,
        ThemeChoice::Night => egui::Theme::Dark,
    };
    let text_styles = look.sizes.text_styles();
    let current = ctx.global_style();
    // Only on a change: a new style throws away what egui has laid out.
    if ctx.theme() != egui_theme
        || current.text_styles != text_styles
        || current.visuals.panel_fill != look.palette.paper
    {
        ctx.set_theme(egui_theme);
        ctx.all_styles_mut(|style| {
            style.text_styles = text_styles.clone();
            style.visuals = look.palette.visuals(look.choice);
        });
    }
}

/// What is drawn instead, if drawing failed: metering goes on, and the log says why.
pub fn draw_failure(ui: &mut egui::Ui) {
    let palette = Palette::DAY;
    let frame = egui::Frame::NONE.fill(palette.paper).inner_margin(20.0);
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        let message = egui::RichText::new(text::FAILURE).color(palette.ink).size(14.0);
        ui.label(message);
    });
}
