//! Facts of delivery and edges, a line each.

use super::{Page, clock};
use crate::check::Track;
use crate::check::delivery::{CLICK_DBFS, CUT_DBFS, Dither, SUBSONIC_CONCERN_DB, Twins};
use crate::units::{Dbfs, one_decimal};
use plimsoll_reader::Coding;

/// Most places that a line names.
const SHOWN_PLACES: usize = 4;

impl Page {
    /// All of them.
    pub(super) fn facts(&mut self, track: &Track) {
        self.head("Delivery");
        self.bit_depth(track);
        self.channels(track);
        self.clipping(track);
        self.content(track);
        self.head("Edges");
        self.edges(track);
    }

    fn mark(&mut self, is_look: bool, name: &str, text: &str) {
        if is_look {
            self.look(name, text);
        } else {
            self.fact(name, text);
        }
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
