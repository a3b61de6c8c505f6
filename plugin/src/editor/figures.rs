//! The row of figures: the values of this moment and of the song, large, tabular, with units.

use super::fonts::{regular, semibold};
use super::label::{self, LoudnessScale};
use super::layout::Layout;
use super::model::Model;
use super::view::{Held, Reading, chosen};
use super::{Look, figure, text};
use crate::loudness::Figures;
use crate::units::{Dbtp, Lu};
use egui::{Align2, Color32, Rect, Ui, pos2, vec2};

/// Width of "−88.8" in multiples of the size of type: four digits' width and a point.
const NUMBER_EM: f32 = 2.58;
/// Width of "88.8".
const UNSIGNED_EM: f32 = 2.0;
/// Width of the unit behind a number, its gap included.
const UNIT_EM: f32 = 1.08;
/// Gap between cells.
const GAP_EM: f32 = 0.62;
/// Gap between the numbers of two channels.
const CHANNEL_GAP_EM: f32 = 0.5;
/// Size of the unit against the number.
const UNIT_SHARE: f32 = 0.4;

/// Width of the whole row: three loudness cells, two channels of peaks, LRA, PLR, gaps.
pub(super) const ROW_EM: f32 = 3.0 * (NUMBER_EM + UNIT_EM)
    + (2.0 * NUMBER_EM + CHANNEL_GAP_EM + UNIT_EM)
    + (UNSIGNED_EM + UNIT_EM + 0.5)
    + (UNSIGNED_EM + UNIT_EM)
    + 5.0 * GAP_EM;

/// Below this much measured time LRA is marked as not yet stable, seconds (EBU Tech 3341 §2.4;
/// from a trade report, not seen in the clause).
const RANGE_STABLE_S: f64 = 60.0;

/// Height of the row.
pub(super) fn height_pt(look: &Look, figure_pt: f32) -> f32 {
    look.sizes.small * 2.7 + figure_pt * 1.16
}

/// What a cell says.
struct Cell {
    name: &'static str,
    hint: &'static str,
    /// The large numbers, without unit: one, or one per channel.
    numbers: Vec<(Option<&'static str>, String)>,
    number_em: f32,
    /// Room beside number and unit.
    extra_em: f32,
    unit: &'static str,
    color: Color32,
    /// The small line: a word, a figure and its unit.
    below: Option<Below>,
}

struct Below {
    word: String,
    /// What stands there if the word is wider than the cell.
    short: Option<String>,
    figure: String,
    unit: &'static str,
    color: Color32,
}

impl Cell {
    fn width_em(&self) -> f32 {
        let count = super::cast::single(super::cast::count(self.numbers.len()));
        count * self.number_em + (count - 1.0).max(0.0) * CHANNEL_GAP_EM + UNIT_EM + self.extra_em
    }

    /// All of it as one sentence, for screen readers and tests.
    fn spoken(&self) -> String {
        let mut words = vec![self.name.to_owned()];
        for (channel, number) in &self.numbers {
            words.extend(channel.map(str::to_owned));
            words.push(number.clone());
        }
        words.push(self.unit.to_owned());
        if let Some(below) = &self.below {
            words.push(format!("{} {} {}", below.word, below.figure, below.unit));
        }
        words.join(" ").trim().to_owned()
    }
}

pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    layout: &Layout,
    model: &Model,
    held: &Held,
    reading: Reading,
) {
    let cells = cells(look, model, held, reading);
    let figure_pt = layout.figure_pt;
    let row = layout.figures;
    let total: f32 = cells.iter().map(Cell::width_em).sum::<f32>() * figure_pt;
    // What the row is wider than its cells goes into the gaps, within reason.
    let gaps = super::cast::single(super::cast::count(cells.len() - 1));
    let gap = ((row.width() - total) / gaps).clamp(0.0, figure_pt * 1.6);
    let top = row.bottom() - height_pt(look, figure_pt);
    let mut x = row.left();
    for cell in &cells {
        let size = vec2(cell.width_em() * figure_pt, row.bottom() - top);
        show_cell(ui, look, Rect::from_min_size(pos2(x, top), size), cell, figure_pt);
        x += size.x + gap;
    }
}

fn show_cell(ui: &mut Ui, look: &Look, rect: Rect, cell: &Cell, figure_pt: f32) {
    let palette = &look.palette;
    let small = regular(look.sizes.small);
    let (number_font, light_font) = (semibold(figure_pt), regular(figure_pt));
    let unit_font = regular((figure_pt * UNIT_SHARE).max(look.sizes.small));
    let painter = ui.painter();

    let name_at = rect.left_top();
    let name = painter.text(name_at, Align2::LEFT_TOP, cell.name, small.clone(), palette.line);
    let baseline = rect.top() + look.sizes.small * 1.2 + figure_pt * 1.02;
    let number_width = cell.number_em * figure_pt;
    let mut right = rect.left();
    for (index, (channel, number)) in cell.numbers.iter().enumerate() {
        right += number_width + if index > 0 { CHANNEL_GAP_EM * figure_pt } else { 0.0 };
        // What is not measured stands back.
        let (font, color) = if number == text::NOT_MEASURED {
            (&light_font, palette.line)
        } else {
            (&number_font, cell.color)
        };
        baseline_text(painter, right, baseline, Align2::RIGHT_TOP, number, font, color);
        if let Some(channel) = channel {
            let at = pos2(right, name.top());
            painter.text(at, Align2::RIGHT_TOP, channel, small.clone(), palette.line);
        }
    }
    let unit_x = right + figure_pt * 0.13;
    baseline_text(painter, unit_x, baseline, Align2::LEFT_TOP, cell.unit, &unit_font, palette.line);

    if let Some(below) = &cell.below {
        let y = rect.bottom();
        // The small figure stands under the large one, unit under unit.
        let fits = label::width(painter, &below.word, &small) <= rect.width();
        let short = below.short.as_ref().filter(|_| !fits);
        for (x, align, text) in [
            (rect.left(), Align2::LEFT_BOTTOM, short.unwrap_or(&below.word).as_str()),
            (right, Align2::RIGHT_BOTTOM, below.figure.as_str()),
            (unit_x, Align2::LEFT_BOTTOM, below.unit),
        ] {
            painter.text(pos2(x, y), align, text, small.clone(), below.color);
        }
    }
    let id = ui.scope_id().with(("figure", cell.name));
    figure::ask(ui, look, rect, id, &cell.spoken(), cell.hint);
}

/// Text whose baseline lies at `baseline`, whatever its size.
pub(super) fn baseline_text(
    painter: &egui::Painter,
    x: f32,
    baseline: f32,
    align: Align2,
    text: &str,
    font: &egui::FontId,
    color: Color32,
) -> Rect {
    let galley = painter.layout_no_wrap(text.to_owned(), font.clone(), color);
    let ascent = galley
        .rows
        .first()
        .and_then(|row| row.glyphs.first())
        .map_or(font.size, |glyph| glyph.pos.y);
    let rect = align.anchor_size(pos2(x, baseline - ascent), galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

fn cells(look: &Look, model: &Model, held: &Held, reading: Reading) -> Vec<Cell> {
    let palette = &look.palette;
    let target = chosen(model);
    let scale = LoudnessScale::new(reading, target.and_then(|t| t.integrated).map(|g| g.loudness));
    let earlier = model.last_session.is_some();
    let song: Figures = model.last_session.unwrap_or(held.figures);
    // Figures of an earlier session stand back, and say so.
    let song_color = if earlier { palette.line } else { palette.ink };
    let max = |figure: String, unit: &'static str| Below {
        word: text::MAX.to_owned(),
        short: None,
        figure,
        unit,
        color: palette.line,
    };
    let note = |word: &str| Below {
        word: word.to_owned(),
        short: None,
        figure: String::new(),
        unit: "",
        color: palette.line,
    };
    let one = |number: String| vec![(None, number)];
    let loudness = |name, hint, number, color, below| Cell {
        name,
        hint,
        numbers: one(number),
        number_em: NUMBER_EM,
        extra_em: 0.0,
        unit: scale.unit(),
        color,
        below,
    };
    let measured_s = super::cast::count(song.coverage.measured_hops) / 100.0;
    let is_stable = measured_s >= RANGE_STABLE_S;
    let range_note = song.loudness_range.filter(|_| !is_stable).map(|_| note(text::NOT_STABLE));

    vec![
        loudness(
            text::MOMENTARY,
            text::MOMENTARY_HINT,
            scale.figure(held.now.momentary),
            palette.ink,
            Some(max(scale.figure(song.max_momentary), scale.unit())),
        ),
        loudness(
            text::SHORT_TERM,
            text::SHORT_TERM_HINT,
            scale.figure(held.now.short_term),
            palette.ink,
            Some(max(scale.figure(song.max_short_term), scale.unit())),
        ),
        true_peak_cell(look, model, held, &song),
        loudness(
            text::INTEGRATED,
            text::INTEGRATED_HINT,
            scale.figure(song.integrated),
            song_color,
            (song.coverage.span_hops > 0).then(|| Below {
                short: Some(coverage_text(&song, earlier, 0)),
                ..note(&coverage_text(&song, earlier, song.coverage.gaps))
            }),
        ),
        Cell {
            name: text::LOUDNESS_RANGE,
            hint: text::LOUDNESS_RANGE_HINT,
            numbers: one(label::decimal(song.loudness_range.map(|range| range.0))),
            number_em: UNSIGNED_EM,
            extra_em: 0.5,
            unit: Lu::UNIT,
            color: song_color,
            below: range_note,
        },
        Cell {
            name: text::PLR,
            hint: text::PLR_HINT,
            numbers: one(label::decimal(song.peak_to_loudness_ratio().map(|ratio| ratio.0))),
            number_em: UNSIGNED_EM,
            extra_em: 0.0,
            unit: Lu::UNIT,
            color: song_color,
            below: None,
        },
    ]
}

fn true_peak_cell(look: &Look, model: &Model, held: &Held, song: &Figures) -> Cell {
    let palette = &look.palette;
    let ceiling = chosen(model).and_then(crate::target::Target::ceiling);
    let is_over = song.max_true_peak.zip(ceiling).is_some_and(|(peak, ceiling)| peak.0 > ceiling.0);
    let stereo = model.channel_names.len() > 1;
    let numbers = model
        .channel_names
        .iter()
        .zip(held.now.true_peaks)
        .take(2)
        .map(|(&name, peak)| (stereo.then_some(name), label::signed(peak.map(|peak| peak.0))))
        .collect();
    Cell {
        name: text::TRUE_PEAK,
        hint: text::TRUE_PEAK_HINT,
        numbers,
        number_em: NUMBER_EM,
        extra_em: 0.0,
        unit: Dbtp::UNIT,
        color: palette.ink,
        below: Some(Below {
            word: if is_over { text::MAX_OVER } else { text::MAX }.to_owned(),
            short: None,
            figure: label::signed(song.max_true_peak.map(|peak| peak.0)),
            unit: Dbtp::UNIT,
            color: if is_over { palette.signal } else { palette.line },
        }),
    }
}

/// What the song's figures stand on.
fn coverage_text(song: &Figures, earlier: bool, gaps: usize) -> String {
    if earlier {
        return text::EARLIER_SESSION_SHORT.to_owned();
    }
    let seconds = super::cast::count(song.coverage.span_hops) / 100.0;
    text::coverage(song.coverage.share(), &text::song_time(seconds, false), gaps)
}
