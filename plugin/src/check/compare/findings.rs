//! What happened to a file from one version to the other, in words.

use super::{Comparison, Ends, Moved, Null, Pair, Stretch, seconds};
use crate::meters::spectrum::bands::NOMINAL_HZ;
use crate::units::{Db, song_time};
use std::fmt::Write;

/// Tone and width count from this on, dB (the project's own choice, no source: about what is
/// heard side by side).
pub const TONE_COUNTS_DB: f64 = 0.5;

/// Peaks over loudness count from this on, LU (the project's own choice, no source).
const PEAKS_COUNT_LU: f64 = 0.5;

/// Peaks are limited if they stand at the ceiling this often, and four times as often as in the
/// other file (the project's own choice, no source).
const LIMITED_PLACES: usize = 10;

/// Most stretches that are named.
const SHOWN_STRETCHES: usize = 6;

/// One thing that happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// What kind of thing, for programs: a word or two that stay.
    pub kind: &'static str,
    /// In words.
    pub words: String,
}

/// All that happened; nothing where both files are the same.
#[must_use]
pub fn findings(comparison: &Comparison) -> Vec<Finding> {
    let mut list = List(Vec::new());
    list.formats(comparison);
    let Some(((alignment, null), rate_hz)) =
        comparison.alignment.as_ref().zip(comparison.null.as_ref()).zip(comparison.rate_hz)
    else {
        list.strangers(comparison);
        return list.0;
    };
    if let Some(ends) = &comparison.ends {
        list.ends(ends, alignment.part_frame, rate_hz);
    }
    if alignment.swapped {
        list.add("swapped", "left and right are swapped".to_owned());
    }
    list.channels(null, comparison.files[0].layout.channel_names());
    list.moved(&alignment.moved, rate_hz);
    let song = comparison.pairs.first();
    if let Some(song) = song.filter(|_| !null.is_nothing()) {
        list.peaks(song);
    }
    list.stretches(null, rate_hz);
    if let Some(song) = song.filter(|_| !null.is_nothing()) {
        list.tone(song);
    }
    list.0
}

struct List(Vec<Finding>);

impl List {
    fn add(&mut self, kind: &'static str, words: String) {
        self.0.push(Finding { kind, words });
    }

    /// Rates and channels.
    fn formats(&mut self, comparison: &Comparison) {
        let [old, new] = &comparison.files;
        let [old_hz, new_hz] = [old.facts.rate_hz, new.facts.rate_hz];
        if old_hz != new_hz {
            let mut words = format!("sample rate {new_hz} Hz, before {old_hz} Hz");
            if let Some(rate_hz) = comparison.rate_hz {
                let _ = write!(words, ": the sound is compared at {rate_hz} Hz");
            }
            self.add("sample rate", words);
        }
        let [old, new] = [old.facts.channels, new.facts.channels];
        if old != new {
            let name = |channels| match channels {
                1 => "mono".to_owned(),
                2 => "stereo".to_owned(),
                more => format!("{more} channels"),
            };
            let what = if comparison.rate_hz.is_some() {
                "the mid of the stereo file is compared"
            } else {
                "figures are compared, the sound is not"
            };
            self.add("channels", format!("{}, before {}: {what}", name(new), name(old)));
        }
    }

    /// Files that do not lie on each other.
    fn strangers(&mut self, comparison: &Comparison) {
        match comparison.silent {
            _ if comparison.rate_hz.is_none() => {}
            [false, true] => self.add("silent", "NEW is silent".to_owned()),
            [true, false] => self.add("silent", "OLD is silent, NEW is not".to_owned()),
            _ => self.add(
                "other recording",
                "another recording: at no place in time does NEW go together with OLD".to_owned(),
            ),
        }
    }

    fn ends(&mut self, ends: &Ends, part_frame: f64, rate_hz: u32) {
        let frames = ends.head_frames;
        let [head_s, tail_s] =
            [frames, ends.tail_frames].map(|frames| seconds(frames.abs(), rate_hz));
        if frames != 0 || part_frame != 0.0 {
            let samples = samples(frames, part_frame);
            let words = match (frames, ends.head_sounds) {
                (0, _) => format!("{samples} later"),
                (1.., false) => format!("the song begins {head_s:.3} s later ({samples})"),
                (1.., true) => format!(
                    "the song begins {head_s:.3} s later ({samples}), and something sounds before it"
                ),
                (_, false) => format!("the song begins {head_s:.3} s earlier ({samples})"),
                (_, true) => {
                    format!("the first {head_s:.3} s of the song are missing ({samples})")
                }
            };
            self.add("offset", words);
        }
        let samples = samples(ends.tail_frames, 0.0);
        let words = match (ends.tail_frames, ends.tail_sounds) {
            (0, _) => return,
            (1.., false) => format!("{tail_s:.3} s of silence more at the end ({samples})"),
            (1.., true) => format!("{tail_s:.3} s more at the end, which sound ({samples})"),
            (_, false) => format!("{tail_s:.3} s of silence less at the end ({samples})"),
            (_, true) => format!("cut at the end: the last {tail_s:.3} s are missing ({samples})"),
        };
        self.add("end", words);
    }

    /// Polarity, lost channels, gain.
    fn channels(&mut self, null: &Null, names: &[&str]) {
        let name = |index: usize| match (names, names.get(index)) {
            ([_, _], Some(&"L")) => "left".to_owned(),
            ([_, _], Some(&"R")) => "right".to_owned(),
            (_, name) => name.map_or_else(String::new, |name| (*name).to_owned()),
        };
        let named = |are: &[bool]| -> Vec<String> {
            are.iter().enumerate().filter(|(_, is)| **is).map(|(index, _)| name(index)).collect()
        };
        if null.turned_over.iter().all(|&over| over) {
            self.add("polarity", "the polarity is turned over".to_owned());
        } else if null.turned_over.contains(&true) {
            let over = named(&null.turned_over).join(" and ");
            self.add("polarity", format!("the polarity of {over} is turned over"));
        }
        if null.gone.contains(&true) {
            self.add("lost channel", format!("{} is silent", named(&null.gone).join(" and ")));
        }
        if let Some(gains) = &null.channel_gains {
            let gains = gains.iter().enumerate();
            let gains: Vec<String> =
                gains.map(|(index, gain)| format!("{} {}", name(index), decibels(*gain))).collect();
            self.add("gain", format!("gain: {}", gains.join(", ")));
        } else if null.gain_counts {
            self.add("gain", format!("{} of gain", decibels(null.gain)));
        }
    }

    fn moved(&mut self, moved: &[Moved], rate_hz: u32) {
        for moved in moved {
            let [from, to] = [moved.frames.start, moved.frames.end]
                .map(|frame| song_time(seconds(frame, rate_hz), true));
            let by_s = seconds(moved.by_frames.abs(), rate_hz);
            let which = if moved.by_frames < 0 { "earlier" } else { "later" };
            let words = format!("around {from} to {to} the song lies {by_s:.3} s {which}: an edit");
            self.add("edit", words);
        }
    }

    /// Limiting that went or came, else peaks over loudness.
    fn peaks(&mut self, song: &Pair) {
        let Some(by) = song.peaks_db() else { return };
        let [old, new] = song.peaks_at_the_ceiling;
        let is_limited = |here: usize, there: usize| here >= LIMITED_PLACES.max(4 * there);
        let places = format!(
            "within 0.2 dB of the highest in {new} places, before in {old}; peak to loudness {} LU",
            signed(by, 1)
        );
        if by >= PEAKS_COUNT_LU && is_limited(old, new) {
            self.add("limiting", format!("the peaks are not limited any more: {places}"));
        } else if by <= -PEAKS_COUNT_LU && is_limited(new, old) {
            self.add("limiting", format!("the peaks are limited or clipped now: {places}"));
        } else if by.abs() >= PEAKS_COUNT_LU {
            let which = if by > 0.0 { "higher" } else { "lower" };
            let words = format!("the peaks stand {:.1} dB {which} over the loudness", by.abs());
            self.add("peaks", words);
        }
    }

    fn stretches(&mut self, null: &Null, rate_hz: u32) {
        let time = |frame: i64| song_time(seconds(frame, rate_hz), true);
        let second = i64::from(rate_hz);
        if null.is_throughout(second) && null.stretches.iter().all(|one| one.level_by.is_none()) {
            let words = format!("different throughout: null depth {}", null.depth);
            self.add("different", words);
            return;
        }
        for stretch in null.stretches.iter().take(SHOWN_STRETCHES) {
            let Stretch { frames, depth, level_by } = stretch;
            let place = match [frames.start - null.frames.start, null.frames.end - frames.end] {
                [..10, ..10] => String::new(),
                [_, rest] if rest < 2 * second => format!(" from {} on", time(frames.start)),
                [before, _] if before < 2 * second => format!(" up to {}", time(frames.end)),
                _ => format!(" from {} to {}", time(frames.start), time(frames.end)),
            };
            match level_by {
                Some(Db(f64::NEG_INFINITY)) => self.add("different", format!("silent{place}")),
                Some(by) => {
                    let which = if by.0 < 0.0 { "quieter" } else { "louder" };
                    self.add("level", format!("{:.2} dB {which}{place}", by.0.abs()));
                }
                None => {
                    let words = format!("different{place}: null depth {depth}");
                    self.add("different", words);
                }
            }
        }
        let more = null.stretches.len().saturating_sub(SHOWN_STRETCHES);
        if more > 0 {
            self.add("different", format!("different in {more} more places"));
        }
    }

    fn tone(&mut self, song: &Pair) {
        let ranges = changed_bands(song);
        if !ranges.is_empty() {
            self.add("tone", format!("tone, at equal loudness: {}", ranges.join(", ")));
        }
        let widths = song.rows().into_iter().filter(|row| row.key.starts_with("side_to_mid_"));
        let widths = widths.filter_map(|row| {
            let by = row.by().filter(|by| by.abs() >= TONE_COUNTS_DB)?;
            match row.key {
                "side_to_mid_low_db" => Some(format!("{} dB below 120 Hz", signed(by, 1))),
                "side_to_mid_middle_db" => Some(format!("{} dB to 4 kHz", signed(by, 1))),
                "side_to_mid_high_db" => Some(format!("{} dB above", signed(by, 1))),
                _ => None,
            }
        });
        let widths: Vec<String> = widths.collect();
        if !widths.is_empty() {
            self.add("width", format!("width, side to mid: {}", widths.join(", ")));
        }
    }
}

/// Neighbouring bands that changed the same way, as one range each.
#[must_use]
pub fn changed_bands(song: &Pair) -> Vec<String> {
    let mut runs: Vec<(usize, usize, f64)> = Vec::new();
    for (band, by) in song.bands_by.iter().enumerate() {
        let Some(by) = by.filter(|by| by.0.abs() >= TONE_COUNTS_DB) else { continue };
        match runs.last_mut() {
            Some((_, last, most)) if *last + 1 == band && most.signum() == by.0.signum() => {
                *last = band;
                if by.0.abs() > most.abs() {
                    *most = by.0;
                }
            }
            _ => runs.push((band, band, by.0)),
        }
    }
    let hz = |band: usize| {
        let hz = NOMINAL_HZ.get(band).copied().unwrap_or_default();
        if hz < 1_000.0 { format!("{hz} Hz") } else { format!("{} kHz", hz / 1e3) }
    };
    let words = runs.into_iter().map(|(first, last, most)| {
        if first == last {
            format!("{} {} dB", hz(first), signed(most, 1))
        } else {
            format!("{} to {} up to {} dB", hz(first), hz(last), signed(most, 1))
        }
    });
    words.collect()
}

/// "12345 samples", "0.50 samples", "1 sample".
fn samples(frames: i64, part: f64) -> String {
    if part != 0.0 {
        #[expect(clippy::cast_precision_loss, reason = "frame counts stay far below 2^52")]
        let exact = (frames as f64 + part).abs();
        return format!("{exact:.2} samples");
    }
    let s = if frames.abs() == 1 { "" } else { "s" };
    format!("{} sample{s}", frames.abs())
}

/// A gain with the digits that it needs.
fn decibels(gain: Db) -> String {
    format!("{} dB", signed(gain.0, if gain.0.abs() < 0.1 { 3 } else { 2 }))
}

/// A number with its sign, a true minus.
#[must_use]
pub fn signed(value: f64, digits: usize) -> String {
    if value == f64::NEG_INFINITY {
        return "−∞".to_owned();
    }
    let text = format!("{value:+.digits$}");
    if text.trim_start_matches(['+', '-', '0', '.']).is_empty() {
        text.trim_start_matches(['+', '-']).to_owned()
    } else {
        text.replace('-', "−")
    }
}
