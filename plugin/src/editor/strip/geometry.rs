//! Where song time and loudness lie on the strip.

use super::super::Look;
use super::super::cast::single;
use super::super::label::EBU_ZERO_LUFS;
use super::super::model::{Model, Source};
use super::super::view::{Held, ScaleChoice, TimeWindow, ViewState, chosen};
use crate::target::Target;
use egui::{Rect, pos2};

/// Span of EBU +9: −18 to +9 LU (EBU Tech 3341 §2.7).
const PLUS_9_LU: (f64, f64) = (-18.0, 9.0);
/// Span of EBU +18: −36 to +18 LU (EBU Tech 3341 §2.7).
const PLUS_18_LU: (f64, f64) = (-36.0, 18.0);
/// Steps in which the automatic window moves, so that it rarely does. Own choice.
const AUTO_STEP_LU: f64 = 3.0;
/// Room kept above the loudest moment by the automatic window. Own choice.
const AUTO_ROOM_LU: f64 = 1.0;

/// The drawing area and its two scales.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plot {
    /// Where loudness is drawn.
    pub rect: Rect,
    /// All of the strip, its axes and margins included.
    pub outer: Rect,
    /// The lane of the sections under the axes; of no height where there are none to have.
    pub lane: Rect,
    /// Song time at the left and right edge, hops.
    pub window: TimeWindow,
    /// The whole song's window.
    pub whole: TimeWindow,
    /// Loudness at the top edge.
    pub top_lufs: f64,
    /// Loudness at the bottom edge.
    pub bottom_lufs: f64,
    /// Whether the scale is one of the EBU's, whose ticks count from −23 LUFS.
    pub is_ebu: bool,
}

impl Plot {
    pub fn new(rect: Rect, look: &Look, model: &Model, held: &Held, view: &ViewState) -> Self {
        let sizes = look.sizes;
        let left = sizes.small * 3.95;
        let right = sizes.small * if rect.width() < 900.0 { 8.2 } else { 9.0 };
        let soundings = sizes.small * 2.1;
        let axes = sizes.small * if model.bars.is_some() { 2.9 } else { 1.65 };
        let lane = if model.source == Source::Song { lane_height_pt(look) } else { 0.0 };
        let foot = axes + lane;
        let plot = Rect::from_min_max(
            pos2(rect.left() + left, rect.top() + soundings),
            pos2(rect.right() - right, rect.bottom() - foot),
        );
        let whole = whole_song(model);
        let (bottom_lufs, top_lufs, is_ebu) = loudness_span(view.prefs.scale, chosen(model), held);
        Self {
            rect: plot,
            outer: rect,
            lane: Rect::from_x_y_ranges(plot.x_range(), rect.bottom() - lane..=rect.bottom()),
            window: view.window.unwrap_or(whole),
            whole,
            top_lufs,
            bottom_lufs,
            is_ebu,
        }
    }

    /// Place of a song time.
    pub fn x(&self, hop: f64) -> f32 {
        let span = self.window.end_hop - self.window.start_hop;
        let share = (hop - self.window.start_hop) / span;
        self.rect.left() + single(share * f64::from(self.rect.width()))
    }

    /// Song time at a place, hops.
    pub fn hop(&self, x: f32) -> f64 {
        let share = f64::from((x - self.rect.left()) / self.rect.width());
        self.window.start_hop + share * (self.window.end_hop - self.window.start_hop)
    }

    /// Place of a loudness, not limited to the plot. Silence lies far below.
    pub fn y(&self, lufs: f64) -> f32 {
        let share = (self.top_lufs - lufs) / (self.top_lufs - self.bottom_lufs);
        let y = f64::from(self.rect.top()) + share * f64::from(self.rect.height());
        single(y.clamp(-1e5, 1e5))
    }

    /// Place of a loudness, held at the edges of the plot.
    pub fn y_inside(&self, lufs: f64) -> f32 {
        self.y(lufs).clamp(self.rect.top(), self.rect.bottom())
    }
}

/// Height of the lane of the sections: that of a button, and a little air.
fn lane_height_pt(look: &Look) -> f32 {
    super::super::button::height_pt(look) + 4.0
}

/// From the song's start, or the count-in, to a round time behind the last that was measured.
fn whole_song(model: &Model) -> TimeWindow {
    let strip = &model.strip;
    let first = f64::from(strip.first_hop);
    let measured_hops = super::super::cast::count(strip.points.len()) * f64::from(strip.step_hops);
    let playhead = model.playhead_hop.map_or(0.0, f64::from);
    let has_points = !strip.points.is_empty();
    let start = if has_points { first.min(0.0) } else { 0.0 };
    let end = if has_points { (first + measured_hops).max(playhead) } else { playhead };
    let seconds = (end / 100.0).max(0.0);
    // The longer the song, the coarser the step, so that the chart seldom changes its scale.
    let step_s = match seconds {
        s if s < 60.0 => 10.0,
        s if s < 240.0 => 15.0,
        s if s < 900.0 => 30.0,
        s if s < 3600.0 => 120.0,
        _ => 600.0,
    };
    let end_s = ((seconds / step_s).ceil() * step_s).max(30.0);
    TimeWindow { start_hop: start, end_hop: end_s * 100.0 }
}

/// Bottom, top, and whether it is one of the EBU's scales.
fn loudness_span(choice: ScaleChoice, target: Option<&Target>, held: &Held) -> (f64, f64, bool) {
    let ebu = |(low, high): (f64, f64)| (EBU_ZERO_LUFS + low, EBU_ZERO_LUFS + high, true);
    match choice {
        ScaleChoice::EbuPlus9 => ebu(PLUS_9_LU),
        ScaleChoice::EbuPlus18 => ebu(PLUS_18_LU),
        ScaleChoice::Auto => {
            let (bottom, top, _) = ebu(PLUS_9_LU);
            let goal = target.and_then(|target| target.integrated);
            let loudest = [
                held.figures.max_momentary.map(|value| value.0),
                held.figures.max_short_term.map(|value| value.0),
                goal.map(|goal| goal.loudness.0 + goal.above.0),
            ]
            .into_iter()
            .flatten()
            .filter(|value| value.is_finite())
            .fold(f64::NEG_INFINITY, f64::max);
            if loudest <= top {
                return (bottom, top, true);
            }
            let span = PLUS_9_LU.1 - PLUS_9_LU.0;
            let top = ((loudest + AUTO_ROOM_LU) / AUTO_STEP_LU).ceil() * AUTO_STEP_LU;
            (top - span, top, false)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loudness::{Figures, Now};
    use crate::target::built_in_targets;
    use crate::units::Lufs;

    fn held(max_momentary_lufs: f64) -> Held {
        Held::for_test(
            Now::default(),
            Figures { max_momentary: Some(Lufs(max_momentary_lufs)), ..Figures::default() },
        )
    }

    fn target(name: &str) -> Target {
        built_in_targets().into_iter().find(|target| target.name == name).unwrap()
    }

    #[test]
    fn a_programme_gets_ebu_plus_9_and_a_loud_master_a_window_that_holds_it() {
        let programme = target("EBU R 128 programme");
        let span = loudness_span(ScaleChoice::Auto, Some(&programme), &held(-16.0));
        assert_eq!(span, (-41.0, -14.0, true));
        let music = target("Music streaming, −14");
        let span = loudness_span(ScaleChoice::Auto, Some(&music), &held(-7.2));
        assert_eq!(span, (-33.0, -6.0, false));
        // Chosen by hand, it stays what the document says.
        let span = loudness_span(ScaleChoice::EbuPlus9, Some(&music), &held(-7.2));
        assert_eq!(span, (-41.0, -14.0, true));
        let span = loudness_span(ScaleChoice::EbuPlus18, Some(&music), &held(-7.2));
        assert_eq!(span, (-59.0, -5.0, true));
    }
}
