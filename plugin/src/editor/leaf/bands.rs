//! A chart of levels by one-third-octave band: levels up, frequency to the right.

use super::super::fonts::regular;
use super::super::{Look, cast, text};
use crate::meters::spectrum::bands::{BAND_COUNT, NOMINAL_HZ};
use crate::units::{Db, one_decimal};
use egui::{Align2, Painter, Rect, Response, Stroke, pos2};

/// Bands with a frequency on the axis: from 31.5 Hz in octaves.
const FIRST_MARKED: usize = 2;
const MARKED_STEP: usize = 3;

/// Where levels and frequencies lie.
pub(super) struct Chart {
    pub plot: Rect,
    /// Level at the top, dB.
    pub top_db: f64,
    /// Levels from bottom to top, dB.
    pub span_db: f64,
}

impl Chart {
    pub fn y(&self, level_db: f64) -> f32 {
        let down = ((self.top_db - level_db) / self.span_db).clamp(0.0, 1.0);
        self.plot.top() + self.plot.height() * cast::single(down)
    }

    /// The left edge of band `band`, or the right one of the last.
    pub fn x(&self, band: usize) -> f32 {
        let share = cast::count(band) / cast::count(BAND_COUNT);
        self.plot.left() + self.plot.width() * cast::single(share)
    }

    pub fn column(&self, band: usize, top_db: f64, bottom_db: f64) -> Rect {
        let top = pos2(self.x(band), self.y(top_db));
        Rect::from_min_max(top, pos2(self.x(band + 1), self.y(bottom_db)))
    }

    /// Levels as steps, from one band to the next.
    pub fn steps(&self, levels_db: &[f64; BAND_COUNT]) -> Vec<egui::Pos2> {
        let ends = |(band, &level_db): (usize, &f64)| {
            let y = self.y(level_db);
            [pos2(self.x(band), y), pos2(self.x(band + 1), y)]
        };
        levels_db.iter().enumerate().flat_map(ends).collect()
    }

    /// Lines `step_db` apart, with their levels where there is room for them.
    pub fn lines(&self, painter: &Painter, look: &Look, step_db: f64) {
        let palette = &look.palette;
        let small = look.sizes.small;
        let mut line_db = self.top_db;
        let mut free_from = f32::NEG_INFINITY;
        while line_db >= self.top_db - self.span_db {
            let y = painter.round_to_pixel_center(self.y(line_db));
            painter.hline(self.plot.x_range(), y, Stroke::new(1.0, palette.hairline()));
            // Under the lowest line stands the unit.
            let middle = y.min(self.plot.bottom() - small * 0.45);
            if middle - small * 0.5 >= free_from {
                let at = pos2(self.plot.left() - 5.0, middle);
                let figure = one_decimal(line_db).replace(".0", "");
                painter.text(at, Align2::RIGHT_CENTER, figure, regular(small), palette.line);
                free_from = middle + small * 0.6;
            }
            line_db -= step_db;
        }
    }

    /// Unit and frequencies below the chart.
    pub fn axis(&self, painter: &Painter, look: &Look) {
        let (font, color) = (regular(look.sizes.small), look.palette.line);
        let y = self.plot.bottom() + look.sizes.small * 0.35;
        let unit = pos2(self.plot.left() - 5.0, y);
        painter.text(unit, Align2::RIGHT_TOP, Db::UNIT, font.clone(), color);
        let marked = NOMINAL_HZ.iter().enumerate().skip(FIRST_MARKED).step_by(MARKED_STEP);
        for (band, hz) in marked {
            let at = pos2((self.x(band) + self.x(band + 1)) / 2.0, y);
            painter.text(at, Align2::CENTER_TOP, text::hertz(*hz), font.clone(), color);
        }
    }

    /// The band that the pointer is over.
    pub fn band_at(&self, response: &Response) -> Option<usize> {
        let at = response.hover_pos().filter(|at| self.plot.x_range().contains(at.x))?;
        let share = (at.x - self.plot.left()) / self.plot.width();
        Some(cast::index(share * cast::single(cast::count(BAND_COUNT))).min(BAND_COUNT - 1))
    }
}
