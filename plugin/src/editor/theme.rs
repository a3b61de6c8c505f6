//! The two charts, day and night: five roles of colour each, named by role.
//!
//! Every other colour on screen is one of the roles laid thinly over paper, so that the contrast
//! of the roles (tested in `theme/tests.rs`) decides about all of them.

use crate::palette::Rgb;
use egui::{Color32, CornerRadius, Margin, Shadow, Stroke, Visuals};
use serde::{Deserialize, Serialize};

#[cfg(test)]
mod tests;

/// Which chart is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum ThemeChoice {
    /// Warm paper, dark ink.
    #[default]
    Day,
    /// The same roles, dark.
    Night,
}

impl ThemeChoice {
    /// The other chart.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Day => Self::Night,
            Self::Night => Self::Day,
        }
    }

    /// The colours of this chart.
    #[must_use]
    pub const fn palette(self) -> Palette {
        match self {
            Self::Day => Palette::DAY,
            Self::Night => Palette::NIGHT,
        }
    }
}

/// The five roles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Palette {
    /// What everything is drawn on.
    pub paper: Color32,
    /// Text, the load line, plateaus, the playhead.
    pub ink: Color32,
    /// Axes, dotted shores, units and labels: text and lines that stand back.
    pub line: Color32,
    /// The measured loudness.
    pub water: Color32,
    /// Over a limit; always with a word or a hatch as well.
    pub signal: Color32,
}

impl Palette {
    /// The day chart.
    pub const DAY: Self = Self::of(&crate::palette::DAY);

    /// The night chart.
    pub const NIGHT: Self = Self::of(&crate::palette::NIGHT);

    const fn of(roles: &crate::palette::Roles) -> Self {
        const fn color(Rgb([r, g, b]): Rgb) -> Color32 {
            Color32::from_rgb(r, g, b)
        }
        Self {
            paper: color(roles.paper),
            ink: color(roles.ink),
            line: color(roles.line),
            water: color(roles.water),
            signal: color(roles.signal),
        }
    }

    /// `role` laid over paper; 0 is paper, 1 the role itself.
    #[must_use]
    pub fn over_paper(&self, role: Color32, share: f32) -> Color32 {
        let [r, g, b] = rgb(role).over(rgb(self.paper), share).0;
        Color32::from_rgb(r, g, b)
    }

    /// Hairlines of the grid and of frames: decoration that no meaning hangs on.
    #[must_use]
    pub fn hairline(&self) -> Color32 {
        self.over_paper(self.line, 0.28)
    }

    /// What egui's own widgets (buttons, fields, menus, tooltips) look like.
    #[must_use]
    pub fn visuals(&self, choice: ThemeChoice) -> Visuals {
        let mut visuals = match choice {
            ThemeChoice::Day => Visuals::light(),
            ThemeChoice::Night => Visuals::dark(),
        };
        let edge = Stroke::new(1.0, self.over_paper(self.line, 0.55));
        let radius = CornerRadius::same(2);
        let widgets = &mut visuals.widgets;
        for (state, fill, stroke, text) in [
            (&mut widgets.noninteractive, 0.0, Stroke::new(1.0, self.hairline()), self.ink),
            (&mut widgets.inactive, 0.0, edge, self.ink),
            (&mut widgets.hovered, 0.08, Stroke::new(1.0, self.ink), self.ink),
            (&mut widgets.active, 0.16, Stroke::new(1.5, self.ink), self.ink),
            (&mut widgets.open, 0.08, Stroke::new(1.0, self.ink), self.ink),
        ] {
            state.bg_fill = self.over_paper(self.ink, fill);
            state.weak_bg_fill = state.bg_fill;
            state.bg_stroke = stroke;
            state.fg_stroke = Stroke::new(1.0, text);
            state.corner_radius = radius;
            state.expansion = 0.0;
        }
        visuals.selection.bg_fill = self.over_paper(self.water, 0.35);
        visuals.selection.stroke = Stroke::new(1.5, self.ink);
        visuals.override_text_color = None;
        visuals.weak_text_color = Some(self.line);
        visuals.hyperlink_color = self.water;
        visuals.faint_bg_color = self.over_paper(self.ink, 0.04);
        visuals.extreme_bg_color = self.over_paper(self.ink, 0.03);
        visuals.text_edit_bg_color = Some(self.over_paper(self.ink, 0.04));
        visuals.panel_fill = self.paper;
        visuals.window_fill = self.paper;
        visuals.window_stroke = edge;
        visuals.window_corner_radius = radius;
        visuals.menu_corner_radius = radius;
        visuals.window_shadow = Shadow::NONE;
        visuals.popup_shadow = Shadow::NONE;
        visuals.warn_fg_color = self.signal;
        visuals.error_fg_color = self.signal;
        visuals
    }
}

const fn rgb(color: Color32) -> Rgb {
    Rgb([color.r(), color.g(), color.b()])
}

/// Spacing of egui's own widgets, the same in both charts.
pub fn set_spacing(style: &mut egui::Style) {
    style.spacing.button_padding = egui::vec2(8.0, 3.0);
    style.spacing.item_spacing = egui::vec2(6.0, 6.0);
    style.spacing.menu_margin = Margin::same(8);
    style.spacing.window_margin = Margin::same(14);
    style.spacing.tooltip_width = 320.0;
    style.interaction.tooltip_delay = 0.35;
    style.interaction.selectable_labels = false;
    style.animation_time = 0.0;
}
