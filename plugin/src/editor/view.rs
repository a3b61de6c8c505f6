//! What only the screen knows: choices that persist apart from the measurement, the part of the
//! song in view, open dialogs, and the figures that are held so that they can be read.

use super::dialog::Dialog;
use super::model::{Asked, Model};
use super::theme::ThemeChoice;
use crate::loudness::{Figures, Now};
use crate::section::nearest_hop;
use crate::target::{Distance, Target};
use serde::{Deserialize, Serialize};

/// Shortest time between two changes of a figure, seconds (ten a second).
/// EBU Tech 3341 §2.2 asks for 10 Hz or more; faster cannot be read.
pub(super) const FIGURE_PERIOD_S: f64 = 0.1;

/// Smallest window that the layout is made for, logical points.
pub const MIN_SIZE: [f32; 2] = [640.0, 400.0];
/// Window of a first start, logical points.
pub const DEFAULT_SIZE: [f32; 2] = [1200.0, 700.0];

/// Least and most magnification of all that is drawn.
pub const ZOOM_RANGE: [f32; 2] = [1.0, 3.0];

/// Which stretch of loudness the strip shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum ScaleChoice {
    /// EBU +9 as long as song and target lie on it; else a window of the same 27 LU, moved up
    /// or down in steps of 3 LU so that they do.
    #[default]
    Auto,
    /// −18 to +9 LU about −23 LUFS (EBU Tech 3341 §2.7).
    EbuPlus9,
    /// −36 to +18 LU about −23 LUFS (EBU Tech 3341 §2.7).
    EbuPlus18,
}

/// How loudness is read (EBU Tech 3341 §2.7: absolute and relative).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Reading {
    /// In LUFS.
    #[default]
    Absolute,
    /// In LU about −23 LUFS.
    RelativeToEbu,
    /// In LU about the chosen target; about −23 LUFS if that has no loudness.
    RelativeToTarget,
}

/// Which table lies below the strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Leaf {
    /// None: the strip has all the room.
    #[default]
    None,
    /// The section log.
    Log,
    /// The peak ledger.
    Peaks,
    /// What the song measures against several targets.
    Targets,
    /// Tone and width.
    Tone,
    /// The song beside its references.
    Reference,
}

/// What is kept from one opening of the editor to the next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ViewPrefs {
    /// Day or night.
    pub theme: ThemeChoice,
    /// Scale of the strip.
    pub scale: ScaleChoice,
    /// Absolute or relative.
    pub reading: Reading,
    /// The table below the strip.
    pub leaf: Leaf,
    /// Whether new edges go to the nearest bar line.
    pub snap_to_bars: bool,
    /// Width of the window, logical points.
    pub width: f32,
    /// Height of the window, logical points.
    pub height: f32,
    /// How much larger all is drawn than the system's scale asks for, within [`ZOOM_RANGE`].
    pub zoom: f32,
}

impl Default for ViewPrefs {
    fn default() -> Self {
        let [width, height] = DEFAULT_SIZE;
        Self {
            theme: ThemeChoice::default(),
            scale: ScaleChoice::default(),
            reading: Reading::default(),
            leaf: Leaf::default(),
            snap_to_bars: true,
            width,
            height,
            zoom: 1.0,
        }
    }
}

/// A range of song time in view, in hops of 10 ms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeWindow {
    /// Left edge.
    pub start_hop: f64,
    /// Right edge, after the left one.
    pub end_hop: f64,
}

/// All purely visual state.
#[derive(Debug, Clone, Default)]
pub struct ViewState {
    /// What persists.
    pub prefs: ViewPrefs,
    /// The part of the song in view; `None` is the whole song.
    pub window: Option<TimeWindow>,
    /// The selected section.
    pub selected: Option<u32>,
    /// The selected range of song time, seconds, start before end.
    pub range_s: Option<(f64, f64)>,
    /// Where the reading hair stands that keys move along the strip, seconds.
    pub(super) cursor_s: Option<f64>,
    /// Where a range is being dragged or selected by keys from, seconds.
    pub(super) dragged_from_s: Option<f64>,
    /// The playthrough that the user chose to compare with.
    pub compare_with: Option<u32>,
    /// Order of the section log: a column, and whether the highest stands first; `None` is song
    /// order.
    pub log_order: Option<(usize, bool)>,
    /// A peak that was looked up in the ledger, hops.
    pub(super) shown_peak: Option<i32>,
    /// The open dialog.
    pub dialog: Option<Dialog>,
    /// The user closed the offer to undo the last reset.
    pub undo_declined: bool,
    /// Frames that the open dialog has been drawn for; the first ones bring things into view.
    pub(super) dialog_frames: u8,
    /// Size of the open dialog in the last frame.
    pub(super) dialog_size: egui::Vec2,
    held: Option<Held>,
    /// Whether the window can be resized from its corner.
    pub resizable: bool,
    /// Newer figures wait until those on screen may change: draw again soon.
    pub figures_wait: bool,
}

/// Figures on screen since a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// egui's time of the last change, seconds.
    since_s: f64,
    /// Values of that moment.
    pub now: Now,
    /// Figures of the song at that moment.
    pub figures: Figures,
    /// Distance at that moment.
    pub distance: Option<Distance>,
}

impl ViewState {
    /// The view as it was left.
    #[must_use]
    pub fn from_prefs(prefs: &ViewPrefs) -> Self {
        Self { prefs: *prefs, ..Self::default() }
    }

    /// What is to be kept; the size of the window is the caller's, as in `old`.
    #[must_use]
    pub fn prefs(&self, old: &ViewPrefs) -> ViewPrefs {
        ViewPrefs { width: old.width, height: old.height, ..self.prefs }
    }

    /// What the reader is to compute for this view.
    #[must_use]
    pub fn asked(&self) -> Asked {
        Asked {
            range: self.range_s.map(|(start_s, end_s)| nearest_hop(start_s)..nearest_hop(end_s)),
            ledger: self.prefs.leaf == Leaf::Peaks,
            whole: matches!(self.prefs.leaf, Leaf::Tone | Leaf::Reference),
            reference: self.prefs.leaf == Leaf::Reference,
            compare_with: self.compare_with,
        }
    }

    /// Changes the chart.
    pub const fn set_theme(&mut self, theme: ThemeChoice) {
        self.prefs.theme = theme;
    }

    /// The figures to show: at most ten changes a second, except that a change of what is
    /// measured at all (reset, first values, other target) shows at once. Says if newer ones wait.
    pub(super) fn hold(&mut self, ctx: &egui::Context, model: &Model) -> Held {
        let now_s = ctx.input(|input| input.time);
        let fresh = Held {
            since_s: now_s,
            now: model.now,
            figures: model.figures,
            distance: model.distance,
        };
        self.figures_wait = model.song.is_behind || model.reference.is_behind;
        let held = match self.held {
            Some(held) if held.same_values(&fresh) => held,
            Some(held)
                if now_s >= held.since_s
                    && now_s - held.since_s < FIGURE_PERIOD_S
                    && held.same_kind(&fresh) =>
            {
                self.figures_wait = true;
                held
            }
            _ => fresh,
        };
        self.held = Some(held);
        held
    }
}

impl Held {
    /// Figures for the tests of other files.
    #[cfg(test)]
    pub(super) fn for_test(now: Now, figures: Figures) -> Self {
        Self { since_s: 0.0, now, figures, distance: None }
    }

    fn same_values(&self, other: &Self) -> bool {
        Self { since_s: other.since_s, ..*self } == *other
    }

    /// Whether the same things are measured, against the same target.
    fn same_kind(&self, other: &Self) -> bool {
        let kind = |held: &Self| {
            (
                held.figures.sample_peak.is_some(),
                held.figures.integrated.is_some(),
                held.now.momentary.is_some(),
                held.goal_lufs().is_some(),
            )
        };
        let goals = self.goal_lufs().zip(other.goal_lufs());
        // The goal is a difference of two figures here, hence equal only but for rounding.
        kind(self) == kind(other) && goals.is_none_or(|(a, b)| (a - b).abs() < 1e-6)
    }

    /// The target's loudness, from the figures against it.
    fn goal_lufs(&self) -> Option<f64> {
        Some(self.figures.integrated?.0 - self.distance?.distance?.0)
    }
}

/// The chosen target.
pub(super) fn chosen(model: &Model) -> Option<&Target> {
    model.targets.get(model.chosen_target)
}

/// Whether anything was measured at all.
pub(super) fn any_measured(model: &Model) -> bool {
    model.figures.frames > 0 || model.figures.sample_peak.is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Lufs;

    #[test]
    fn preferences_survive_and_missing_ones_get_defaults() {
        let prefs = ViewPrefs {
            theme: ThemeChoice::Night,
            scale: ScaleChoice::EbuPlus18,
            ..ViewPrefs::default()
        };
        let text = serde_json::to_string(&prefs).unwrap();
        assert_eq!(serde_json::from_str::<ViewPrefs>(&text).unwrap(), prefs);
        let old: ViewPrefs = serde_json::from_str(r#"{"theme":"Night"}"#).unwrap();
        assert_eq!(old, ViewPrefs { theme: ThemeChoice::Night, ..ViewPrefs::default() });
    }

    #[test]
    fn figures_change_at_most_ten_times_a_second() {
        let ctx = egui::Context::default();
        super::super::install(&ctx);
        let mut view = ViewState::default();
        let mut model = Model::empty();
        let mut shown = Vec::new();
        // One second at 30 frames a second, every frame with another value.
        for frame in 0..30_u8 {
            model.now.momentary = Some(Lufs(-20.0 - f64::from(frame)));
            let input =
                egui::RawInput { time: Some(f64::from(frame) / 30.0), ..egui::RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| {
                let ctx = ui.ctx().clone();
                shown.push(view.hold(&ctx, &model).now.momentary);
            });
            output.textures_delta.clear();
        }
        shown.dedup();
        assert!((8..=10).contains(&shown.len()), "{} changes", shown.len());
    }
}
