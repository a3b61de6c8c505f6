//! Everything the editor shows, as plain data. Widgets are functions of it, so that they are
//! tested without a window; what the user does comes back as [`Action`]s.

use crate::loudness::{Figures, Now};
use crate::target::{Distance, Target};
use crate::units::{Dbtp, Lufs};

/// Where the measurement on screen comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// The song record: held against the host's song time.
    Song,
    /// The live record: the host gives no song position, time counts from the last reset.
    Live,
}

/// What the host's transport does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TransportState {
    /// No audio came yet, or the host tells nothing.
    Unknown,
    /// The transport stands.
    Stopped,
    /// The transport runs.
    Playing,
}

/// One point of the song strip: the loudness of a stretch of [`StripData::step_hops`] hops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripPoint {
    /// Short-term loudness at the end of the stretch; `None` where its 3 s were not measured.
    pub short_term: Option<Lufs>,
    /// Highest momentary loudness in the stretch; `None` where its 400 ms were not measured.
    pub momentary: Option<Lufs>,
    /// Highest true peak in the stretch, all channels; `None` where nothing was measured.
    pub true_peak: Option<Dbtp>,
    /// The number of the playthrough it was measured in; higher is newer.
    pub playthrough: u32,
}

/// The measured song, in steps of equal length.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StripData {
    /// Song time of the first point, in hops of 10 ms; negative in a count-in.
    pub first_hop: i32,
    /// Length of a step, in hops.
    pub step_hops: i32,
    /// The points; `None` is time that was not measured.
    pub points: Vec<Option<StripPoint>>,
    /// The newest playthrough in the record.
    pub newest_playthrough: u32,
}

/// Where bars lie, if the host tells tempo and meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BarGrid {
    /// Seconds of song time where some bar starts.
    pub origin_s: f64,
    /// Number of the bar at the origin, counted from 1.
    pub origin_bar: i32,
    /// Length of a bar, seconds, above zero.
    pub bar_s: f64,
}

/// Something the user should know, in one sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Notice {
    /// The record is full: time beyond it is not measured; what was measured is kept.
    RecordFull,
    /// The host gives no song position: the live record is used.
    NoSongPosition,
    /// Samples came that are no numbers, or far beyond any level of audio.
    ScrubbedSamples {
        /// How many.
        count: u64,
    },
    /// The record that came with the project was measured in other channels: it is left aside.
    OtherChannels {
        /// How many channels it has.
        saved: usize,
    },
    /// Nothing is measured: the host runs at a rate, or with channels, outside of what is built.
    Unsupported,
    /// The plugin is bypassed: audio passes, nothing is measured.
    Bypassed,
}

/// Everything on screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Where the measurement comes from.
    pub source: Source,
    /// What the host's transport does.
    pub transport: TransportState,
    /// Whether measuring runs; `false` is paused.
    pub running: bool,
    /// Song time now, in hops of 10 ms.
    pub playhead_hop: Option<i32>,
    /// Names of the channels in their order, "L", "R".
    pub channel_names: &'static [&'static str],
    /// The values of this moment.
    pub now: Now,
    /// The figures of the whole song.
    pub figures: Figures,
    /// The measured song for the strip.
    pub strip: StripData,
    /// Bars, if known.
    pub bars: Option<BarGrid>,
    /// All targets, built-in ones first.
    pub targets: Vec<Target>,
    /// How many of the targets are built in; those cannot be edited or deleted.
    pub built_in_count: usize,
    /// Index of the chosen target.
    pub chosen_target: usize,
    /// The figures against the chosen target; `None` only if there is no target.
    pub distance: Option<Distance>,
    /// Whether the last reset can be undone.
    pub can_undo_reset: bool,
    /// What the user should know.
    pub notices: Vec<Notice>,
    /// Figures of an earlier session, out of the project's state; shown while nothing was measured
    /// since.
    pub last_session: Option<Figures>,
}

/// What the user asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Choose the target with this index.
    ChooseTarget(usize),
    /// Add a target of the user's own and choose it.
    AddTarget(Target),
    /// Replace the user's target with this index.
    ReplaceTarget(usize, Target),
    /// Delete the user's target with this index.
    DeleteTarget(usize),
    /// Pause measuring.
    Pause,
    /// Measure on.
    Continue,
    /// Forget the measurement on screen and start anew.
    Reset,
    /// Bring back what the last reset forgot.
    UndoReset,
    /// Choose day or night.
    SetTheme(crate::editor::theme::ThemeChoice),
}
