//! Everything the editor shows, as plain data. Widgets are functions of it, so that they are
//! tested without a window; what the user does comes back as [`Action`]s.

mod reference;

pub use reference::{InputState, ReferenceData, ReferenceEdit};

use crate::listening::Matched;
use crate::loudness::{Figures, HopRange, Now};
use crate::meters::layout::Layout;
use crate::section::{
    BarGrid, Delete, Edit, LogEntry, Marker, Measured, PeakLedger, Playthrough, Proposal, Section,
    SectionChange, Side,
};
use crate::snapshot::{Export, SnapshotOrder};
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
    /// The tone of so many frames was not measured: the thread that does so fell behind.
    ToneLost {
        /// Since the plugin was activated.
        frames: u64,
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
    /// The host's bars, as far as they were seen; `None` if it tells none.
    pub bars: Option<BarGrid>,
    /// Beats in a bar, at the meter that the host told last.
    pub beats_per_bar: i32,
    /// Sections and what belongs to them.
    pub song: SongData,
    /// Reference songs.
    pub reference: ReferenceData,
    /// All targets, built-in ones first.
    pub targets: Vec<Target>,
    /// How many of the targets are built in; those cannot be edited or deleted.
    pub built_in_count: usize,
    /// Index of the chosen target.
    pub chosen_target: usize,
    /// Indices of the targets that the song is measured against beside the chosen one, ascending.
    pub beside: Vec<usize>,
    /// The figures against the chosen target; `None` only if there is no target.
    pub distance: Option<Distance>,
    /// Whether the last reset or trim can be undone.
    pub can_undo_reset: bool,
    /// The gain that is on the output; `None` is none.
    pub matched: Option<Matched>,
    /// What became of the last snapshot.
    pub export: Export,
    /// What the user should know.
    pub notices: Vec<Notice>,
    /// Figures of an earlier session, out of the project's state; shown while nothing was measured
    /// since.
    pub last_session: Option<Figures>,
}

impl Model {
    /// Nothing measured, no target.
    #[must_use]
    pub fn empty() -> Self {
        Self {
            source: Source::Song,
            transport: TransportState::Unknown,
            running: true,
            playhead_hop: None,
            channel_names: Layout::Stereo.channel_names(),
            now: Now::default(),
            figures: Figures::default(),
            strip: StripData::default(),
            bars: None,
            beats_per_bar: 4,
            song: SongData::default(),
            reference: ReferenceData::default(),
            targets: Vec::new(),
            built_in_count: 0,
            chosen_target: 0,
            beside: Vec::new(),
            distance: None,
            can_undo_reset: false,
            matched: None,
            export: Export::None,
            notices: Vec::new(),
            last_session: None,
        }
    }
}

/// The sections of the song on screen. Empty where the live record is shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SongData {
    /// All sections, in song order.
    pub sections: Vec<Section>,
    /// What they measure, in the same order.
    pub log: Vec<LogEntry>,
    /// What the whole song measures; `None` unless asked for.
    pub whole: Option<Measured>,
    /// The places that cost headroom; `None` unless asked for.
    pub ledger: Option<PeakLedger>,
    /// The playthroughs that are kept, oldest first.
    pub playthroughs: Vec<Playthrough>,
    /// Id of the playthrough that the log is compared with.
    pub compared_with: Option<u32>,
    /// What changed since that playthrough; empty if there is none.
    pub changes: Vec<SectionChange>,
    /// What "undo" would take back.
    pub next_undo: Option<Edit>,
    /// What "redo" would do again.
    pub next_redo: Option<Edit>,
    /// Edges whose bars are elsewhere now: the host's tempo map moved.
    pub moved_edges: usize,
    /// The host's loop, seconds.
    pub loop_range_s: Option<(f64, f64)>,
    /// The name of the song, and the folder of its snapshots; empty where not given.
    pub name: String,
    /// See [`Self::name`].
    pub folder: String,
    /// The selected range of song time and what it measures.
    pub range: Option<(HopRange, Measured)>,
    /// Proposed borders, to be taken or thrown away.
    pub proposal: Option<Proposal>,
    /// Whether newer figures wait, because the last ones have not stood long enough to be read.
    pub is_behind: bool,
    /// Why the last edit was refused.
    pub refusal: Option<String>,
}

/// What the reader is to compute beyond what is always on screen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// The figures of this range.
    pub range: Option<HopRange>,
    /// The peak ledger.
    pub ledger: bool,
    /// What the whole song measures.
    pub whole: bool,
    /// The song beside its references; needs [`Self::whole`].
    pub reference: bool,
    /// Compare with this playthrough; `None` is the one that suits best.
    pub compare_with: Option<u32>,
}

/// An edit of the song.
#[derive(Debug, Clone, PartialEq)]
pub enum SongEdit {
    /// A new section starts at the playhead.
    Mark,
    /// A range becomes a section, seconds.
    AddRange(f64, f64),
    /// The host's loop becomes a section.
    AddLoop,
    /// Another name.
    Rename(u32, String),
    /// An edge is dragged to a song time, seconds.
    MoveEdge(u32, Side, f64),
    /// The drag is over.
    EndDrag,
    /// Splits a section at a song time, seconds.
    Split(u32, f64),
    /// Merges a section with the one after it.
    MergeWithNext(u32),
    /// Deletes a section.
    Delete(u32, Delete),
    /// Takes the last edit back.
    Undo,
    /// Does it again.
    Redo,
    /// Moves edges to where their bars are now.
    FollowBars,
    /// Leaves edges where they are and writes the new bars beside them.
    KeepTimes,
    /// Replaces the sections by those that markers make.
    TakeMarkers(Vec<Marker>),
    /// Replaces the sections by those between proposed borders at least so sure, 0 to 1.
    TakeProposal(f64),
    /// Pins a playthrough under a name.
    Pin(u32, String),
    /// Takes the pin off.
    Unpin(u32),
    /// Names the song.
    NameSong(String),
}

/// What the user asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Change the song.
    Song(SongEdit),
    /// Change the reference songs.
    Reference(ReferenceEdit),
    /// Replace the sections by the markers of this file: a WAV file, or a list as text.
    ReadMarkers(String),
    /// Take a snapshot; the one that could not be written, if there is one.
    Snapshot(SnapshotOrder),
    /// The user has read what became of the snapshot.
    ForgetExport,
    /// Compute a proposal of sections.
    Propose,
    /// Throw the proposal away.
    DropProposal,
    /// The user has read why an edit was refused.
    ForgetRefusal,
    /// Choose the target with this index.
    ChooseTarget(usize),
    /// Show the target with this index beside the chosen one, or not any more.
    ShowBeside(usize, bool),
    /// Add a target of the user's own and choose it.
    AddTarget(Target),
    /// Replace the user's target with this index.
    ReplaceTarget(usize, Target),
    /// Delete the user's target with this index.
    DeleteTarget(usize),
    /// Hear the song at the playback gain of the chosen target.
    ListenMatched,
    /// Hear the song at the loudness of the reference input.
    ListenLikeReference,
    /// Take that gain off.
    ListenPlain,
    /// Pause measuring.
    Pause,
    /// Measure on.
    Continue,
    /// Forget the measurement on screen and start anew.
    Reset,
    /// Forget what was measured behind the playhead: the song was cut shorter.
    Trim,
    /// Bring back what the last reset or trim forgot.
    UndoReset,
    /// Choose day or night.
    SetTheme(crate::editor::theme::ThemeChoice),
}
