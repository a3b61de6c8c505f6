//! Temporary stand-in while the drawing is written.
#[path = "editor/model.rs"]
pub mod model;
/// x
pub mod theme {
    /// x
    #[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize, Default)]
    pub enum ThemeChoice {
        /// x
        #[default]
        Day,
        /// x
        Night,
    }
}
use model::{Action, Model};
/// x
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ViewPrefs {
    /// x
    pub theme: theme::ThemeChoice,
    /// x
    pub width: f32,
    /// x
    pub height: f32,
}
impl Default for ViewPrefs {
    fn default() -> Self {
        Self { theme: theme::ThemeChoice::Day, width: 1000.0, height: 640.0 }
    }
}
/// x
#[derive(Default)]
pub struct ViewState {
    theme: theme::ThemeChoice,
}
impl ViewState {
    /// x
    pub fn from_prefs(prefs: &ViewPrefs) -> Self {
        Self { theme: prefs.theme }
    }
    /// x
    pub fn prefs(&self, old: &ViewPrefs) -> ViewPrefs {
        ViewPrefs { theme: self.theme, ..old.clone() }
    }
    /// x
    pub fn set_theme(&mut self, theme: theme::ThemeChoice) {
        self.theme = theme;
    }
}
/// x
pub fn install(_: &egui::Context) {}
/// x
pub fn draw(ui: &mut egui::Ui, _: &Model, _: &mut ViewState, _: &mut Vec<Action>) {
    ui.label("x");
}
/// x
pub fn draw_failure(ui: &mut egui::Ui) {
    ui.label("x");
}
