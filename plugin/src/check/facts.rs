//! What a recipient would send a file back for, in words: text and page show the same lines.

pub mod encoded;

use super::delivery::{CLICK_DBFS, CUT_DBFS, Dither, SUBSONIC_CONCERN_DB, Twins};
use super::{CheckReport, Difference, Release, Track};
use crate::units::{Dbfs, Lufs, one_decimal, signed_one_decimal};
use plimsoll_reader::Coding;
use std::path::Path;

/// Most places that a line names.
const SHOWN_PLACES: usize = 4;

/// One fact.
pub struct Fact {
    /// What it is about.
    pub name: &'static str,
    /// What is to be said.
    pub text: String,
    /// Whether it is to be looked at.
    pub is_look: bool,
}

/// Facts under a heading.
pub struct Facts {
    /// The heading.
    pub heading: &'static str,
    /// The facts, in reading order.
    pub facts: Vec<Fact>,
}

impl Facts {
    /// All that is said of a file.
    #[must_use]
    pub fn of(track: &Track) -> [Self; 2] {
        let mut delivery = Self { heading: "Delivery", facts: Vec::new() };
        delivery.bit_depth(track);
        delivery.channels(track);
        delivery.clipping(track);
        delivery.content(track);
        let mut edges = Self { heading: "Edges", facts: Vec::new() };
        edges.edges(track);
        [delivery, edges]
    }

    fn mark(&mut self, is_look: bool, name: &'static str, text: &str) {
        self.facts.push(Fact { name, text: text.to_owned(), is_look });
    }

    fn fact(&mut self, name: &'static str, text: &str) {
        self.mark(false, name, text);
    }

    fn look(&mut self, name: &'static str, text: &str) {
        self.mark(true, name, text);
    }

    fn bit_depth(&mut self, track: &Track) {
        let depth = &track.delivery.bit_depth;
        let text = match (depth.stated, depth.used_bits) {
            (Coding::Lossy, _) => return,
            (Coding::Integer { bits }, Some(used)) if used < bits => {
                format!("{used} of {bits} bits are used: the rest is always zero")
            }
            (Coding::Integer { bits }, Some(_)) => format!("all {bits} bits are used"),
            (Coding::Integer { .. } | Coding::Float { .. }, None) if is_silent(track) => {
                "nothing but zeros".to_owned()
            }
            (Coding::Float { .. }, None) => "finer than 24 bits".to_owned(),
            (_, Some(used)) => format!("floats that hold {used} bits"),
            (_, None) => "cannot be told".to_owned(),
        };
        self.mark(depth.is_padded(), "Bits in use", &text);
        let (is_look, text) = match track.delivery.dither {
            Dither::NotNeeded => return,
            Dither::CannotTell => (false, "cannot be told: no end is quiet enough"),
            Dither::Present => (false, "the quiet end moves as dither does"),
            Dither::Truncated => (true, "none: the quiet end lies still on its steps"),
        };
        self.mark(is_look, "Dither", text);
    }

    fn channels(&mut self, track: &Track) {
        let channels = &track.delivery.channels;
        if !channels.silent.is_empty() && !is_silent(track) {
            self.look("Silent channels", &channels.silent.join(", "));
        }
        match channels.twins {
            Twins::Differ => {}
            Twins::Same => self.look("Dual mono", "left and right are the same in every sample"),
            Twins::TurnedOver => {
                self.look("Polarity", "right is left turned over: nothing is left in mono");
            }
            Twins::LikelyTurnedOver => self.look(
                "Polarity",
                "left and right work against each other: one is likely turned over",
            ),
        }
        let loud: Vec<String> = channels
            .dc_of_concern()
            .map(|(name, level)| {
                format!("{name} {level} ({:.2} %)", 100.0 * crate::units::db_to_amplitude(level.0))
            })
            .collect();
        if loud.is_empty() {
            self.fact("DC offset", "below −60 dBFS");
        } else {
            self.look("DC offset", &loud.join(", "));
        }
    }

    fn clipping(&mut self, track: &Track) {
        let clipping = &track.delivery.clipping;
        if clipping.runs == 0 {
            let full = track.measured.figures.clipped_samples;
            let text = match full {
                0 => "none".to_owned(),
                full => format!("no run of 3 and more; single samples at full scale: {full}"),
            };
            self.fact("Clipped runs", &text);
        } else {
            let places = clipping.places.iter().map(|run| {
                format!("{} {} ({} samples)", clock(run.at_s), run.channel, run.len_frames)
            });
            let runs = usize::try_from(clipping.runs).unwrap_or(usize::MAX);
            let text = format!(
                "{runs}, the longest of {} samples: {}",
                clipping.longest_frames,
                some(places, runs)
            );
            self.look("Clipped runs", &text);
        }
        if let Some((tops, level)) = clipping.flat_tops {
            let text = format!("{tops} at {level}: clipped before it was turned down");
            self.look("Flat tops", &text);
        }
        if track.overs.is_empty() {
            self.fact("Inter-sample overs", "none");
        } else {
            let places = track
                .overs
                .iter()
                .map(|over| format!("{} ({} dBTP)", clock(over.at_s()), one_decimal(over.peak.0)));
            let text = format!(
                "true peak over 0 dBTP in {} places: {}",
                track.overs.len(),
                some(places, track.overs.len())
            );
            self.look("Inter-sample overs", &text);
        }
        let scrubbed = track.measured.figures.scrubbed_samples;
        if scrubbed > 0 {
            self.look("Not audio", &format!("{scrubbed} samples are no number or beyond +72 dBFS"));
        }
    }

    fn content(&mut self, track: &Track) {
        let silence = &track.delivery.silence;
        if silence.gap_count == 0 {
            self.fact("Zeros inside", "none");
        } else {
            let places = silence
                .gaps
                .iter()
                .map(|gap| format!("{} ({:.0} ms)", clock(gap.at_s), gap.length_s * 1e3));
            let count = usize::try_from(silence.gap_count).unwrap_or(usize::MAX);
            self.look("Zeros inside", &format!("{count}: {}", some(places, count)));
        }
        let floor = track.delivery.noise_floor.map_or_else(
            || "cannot be told: no part is quiet and steady".to_owned(),
            |floor| {
                format!("{} RMS in the quietest steady part, at {}", floor.level, clock(floor.at_s))
            },
        );
        self.fact("Noise floor", &floor);
        if let Some(share) = track.delivery.subsonic_share {
            let is_look = share.0 > SUBSONIC_CONCERN_DB;
            let text = format!("{share} of the whole power");
            self.mark(is_look, "Below 20 Hz", &text);
        }
    }

    fn edges(&mut self, track: &Track) {
        let edges = &track.delivery.edges;
        let silence = &track.delivery.silence;
        if edges.first_sample.is_none() {
            self.look("Silence", "the whole file is digital silence");
            return;
        }
        let side = |quiet: Option<f64>, zeros: f64| {
            let quiet = quiet.map_or_else(|| "all of it".to_owned(), |s| format!("{s:.3} s"));
            let zeros =
                if zeros >= 0.001 { format!(", {zeros:.3} s of it zeros") } else { String::new() };
            format!("{quiet} below −60 dBFS{zeros}")
        };
        self.fact("Head", &side(edges.head_s, silence.head_s));
        self.fact("Tail", &side(edges.tail_s, silence.tail_s));
        let level = |level: Option<Dbfs>| level.map_or_else(String::new, |level| level.to_string());
        let click = |is_click: bool, text: String| {
            if is_click {
                format!("{text}, above {} dBFS: a click", one_decimal(CLICK_DBFS))
            } else {
                text
            }
        };
        let first = click(edges.starts_with_click(), level(edges.first_sample));
        self.mark(edges.starts_with_click(), "First sample", &first);
        let last = click(edges.ends_with_click(), level(edges.last_sample));
        self.mark(edges.ends_with_click(), "Last sample", &last);
        let end = level(edges.end_level);
        let end = if edges.is_cut() {
            format!(
                "{end} in the last 20 ms, above {} dBFS: the tail is cut",
                one_decimal(CUT_DBFS)
            )
        } else {
            format!("{end} in the last 20 ms")
        };
        self.mark(edges.is_cut(), "End of the sound", &end);
    }
}

/// What a release is as a whole.
#[must_use]
pub fn of_release(release: &Release, report: &CheckReport) -> Vec<Fact> {
    let place = |place: Option<(usize, Lufs)>| {
        place.and_then(|(index, _)| report.tracks.get(index)).map(|track| name_of(&track.path))
    };
    let mut facts = Vec::new();
    let mut fact = |name, text| facts.push(Fact { name, text, is_look: false });
    if let (Some(spread), Some(loudest), Some(quietest)) =
        (release.spread, place(release.loudest), place(release.quietest))
    {
        fact("Spread", format!("{spread} from {quietest} to {loudest}, the loudest"));
    }
    if let Some(album) = release.album_integrated {
        fact("As one", format!("{album}, the blocks of all tracks gated together"));
    }
    if let (Some(gain), Some(peak)) = (release.album_gain, release.peak_at_album_gain) {
        let gain = signed_one_decimal(gain.0);
        fact(
            "Album rule",
            format!(
                "AES77, music, album-normalised: one gain of {gain} dB for all tracks brings the \
                 loudest to −14.0 LUFS; highest peak then {peak}"
            ),
        );
    }
    facts
}

/// Said where the second reading differs by no more.
pub const READINGS_AGREE: &str =
    "The second reading (ebur128) differs by no more than its known flaws explain.";

/// By how much two readings differ; nothing where one of them has no number.
#[must_use]
pub fn reading_difference(figure: &Difference) -> String {
    figure.difference.map_or_else(String::new, |by| {
        let by = if by.abs() < 5e-4 { 0.0 } else { by };
        format!("{by:+.3}").replace('-', "−")
    })
}

/// Said of a figure whose two readings differ by more than known flaws explain.
#[must_use]
pub fn flaw_note(figure: &Difference) -> String {
    let (from, to) = figure.explained.unwrap_or_default();
    let name = figure.key.replace('_', " ");
    let by = figure.difference.unwrap_or_default();
    format!(
        "{name} differs by {by:+.3}: known flaws explain {from:+.3} to {to:+.3}. Trust neither \
         before you know why."
    )
    .replace('-', "−")
}

/// The name and the unit of the figure with this key.
#[must_use]
pub fn figure_name(key: &str) -> (&'static str, &'static str) {
    match key {
        "integrated_lufs" => ("Integrated loudness (I)", "LUFS"),
        "loudness_range_lu" => ("Loudness range (LRA)", "LU"),
        "max_short_term_lufs" => ("Highest short-term (S)", "LUFS"),
        "max_momentary_lufs" => ("Highest momentary (M)", "LUFS"),
        "max_true_peak_dbtp" => ("Highest true peak", "dBTP"),
        "sample_peak_dbfs" => ("Highest sample peak", "dBFS"),
        "plr_lu" => ("Peak to loudness (PLR)", "LU"),
        "min_psr_lu" => ("Lowest PSR", "LU"),
        "side_to_mid_db" => ("Side to mid", "dB"),
        _ => ("", ""),
    }
}

/// What the header says: "WAV of 24 bits, 48000 Hz, stereo, 3:20.000 long".
#[must_use]
pub fn format_line(track: &Track) -> String {
    let layout = match track.layout.channel_count() {
        1 => "mono",
        2 => "stereo",
        6 => "5.1",
        _ => "7.1",
    };
    let bits = match track.file.coding {
        Coding::Integer { bits } => format!(" of {bits} bits"),
        Coding::Float { bits } => format!(" of {bits}-bit floats"),
        Coding::Lossy => ", lossy".to_owned(),
    };
    let (format, rate_hz) = (track.file.format, track.rate.hz());
    format!("{format}{bits}, {rate_hz} Hz, {layout}, {} long", clock(track.length_s))
}

/// The name of a file without its folder.
#[must_use]
pub fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// A time as m:ss.sss or h:mm:ss.sss, cut to milliseconds.
#[must_use]
pub fn clock(at_s: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "times of a file")]
    let ms = (at_s.max(0.0) * 1e3 + 1e-6) as u64;
    let (hours, minutes) = (ms / 3_600_000, ms / 60_000 % 60);
    let (seconds, ms) = (ms / 1_000 % 60, ms % 1_000);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}.{ms:03}")
    } else {
        format!("{minutes}:{seconds:02}.{ms:03}")
    }
}

fn is_silent(track: &Track) -> bool {
    track.delivery.edges.first_sample.is_none()
}

/// The first places, and how many more there are of `count`.
fn some(places: impl Iterator<Item = String>, count: usize) -> String {
    let shown: Vec<String> = places.take(SHOWN_PLACES).collect();
    let more = count.saturating_sub(shown.len());
    let text = shown.join(", ");
    if more > 0 { format!("{text} and {more} more") } else { text }
}
