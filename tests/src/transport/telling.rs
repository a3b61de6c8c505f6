//! What a host tells about its position, and how it rounds it.

use clack_host::events::event_types::{TransportEvent, TransportFlags};
use clack_host::events::{EventFlags, EventHeader};
use clack_host::utils::{BeatTime, SecondsTime};

/// Which parts of its position a host tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tells {
    /// Seconds, beats, tempo, bars.
    Everything,
    /// Only seconds.
    Seconds,
    /// Only beats and tempo.
    Beats,
    /// Only that it plays or stands.
    Playing,
    /// No transport at all.
    Nothing,
}

/// How a host rounds the position it tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// Not at all.
    Exact,
    /// To the nearest millisecond.
    Millisecond,
    /// Down to a multiple of so many frames: one host block told to several calls.
    Block(usize),
}

/// How a host tells where it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Telling {
    /// What it tells.
    pub tells: Tells,
    /// How it rounds.
    pub rounding: Rounding,
    /// Frame of the song and tempo from there on, in beats (quarter notes) a minute; the first
    /// entry holds for all time before it too. Not empty.
    pub tempo_map: Vec<(i64, f64)>,
}

impl Telling {
    /// Tells `tells`, unrounded, at 120 beats a minute.
    #[must_use]
    pub fn new(tells: Tells) -> Self {
        Self { tells, rounding: Rounding::Exact, tempo_map: vec![(0, 120.0)] }
    }

    /// The same with `rounding`.
    #[must_use]
    pub fn rounded(self, rounding: Rounding) -> Self {
        Self { rounding, ..self }
    }

    /// What is told at `frame`. `repeat` is the loop range, if one is on.
    pub(super) fn at(
        &self,
        frame: i64,
        rate_hz: u32,
        playing: bool,
        repeat: Option<(i64, i64)>,
    ) -> Told {
        let rate = f64::from(rate_hz);
        let seconds = match self.rounding {
            Rounding::Exact => frame as f64 / rate,
            Rounding::Millisecond => (frame as f64 / rate * 1000.0).round() / 1000.0,
            Rounding::Block(len) => (frame.div_euclid(len as i64) * len as i64) as f64 / rate,
        };
        let beats = self.beats(seconds, rate);
        let tells_seconds = matches!(self.tells, Tells::Everything | Tells::Seconds);
        let tells_beats = matches!(self.tells, Tells::Everything | Tells::Beats);
        Told {
            playing,
            seconds: tells_seconds.then_some(seconds),
            beats: tells_beats.then_some(beats),
            tempo_bpm: tells_beats.then(|| self.tempo_bpm(seconds * rate)),
            repeat_seconds: repeat
                .filter(|_| tells_seconds)
                .map(|(start, end)| (start as f64 / rate, end as f64 / rate)),
            repeat_beats: repeat.filter(|_| tells_beats).map(|(start, end)| {
                (self.beats(start as f64 / rate, rate), self.beats(end as f64 / rate, rate))
            }),
            is_null: self.tells == Tells::Nothing,
        }
    }

    pub(super) fn tempo_bpm(&self, frame: f64) -> f64 {
        self.tempo_map
            .iter()
            .rev()
            .find(|&&(from, _)| from as f64 <= frame)
            .unwrap_or(&self.tempo_map[0])
            .1
    }

    /// Quarter notes from song time zero, counted through all changes of tempo.
    pub(super) fn beats(&self, seconds: f64, rate: f64) -> f64 {
        let frame = seconds * rate;
        let mut beats = 0.0;
        for (index, &(from, bpm)) in self.tempo_map.iter().enumerate() {
            // The first tempo reaches back from song time zero, where the count starts.
            let from = if index == 0 { 0.0 } else { from as f64 };
            let until = self.tempo_map.get(index + 1).map_or(f64::INFINITY, |next| next.0 as f64);
            let part = if index == 0 { frame.min(until) } else { frame.min(until).max(from) };
            beats += (part - from) / rate * bpm / 60.0;
        }
        beats
    }
}

/// What the host tells at the start of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// Whether it plays.
    pub playing: bool,
    /// Song position, in s.
    pub seconds: Option<f64>,
    /// Song position, in quarter notes.
    pub beats: Option<f64>,
    /// Tempo, in quarter notes a minute.
    pub tempo_bpm: Option<f64>,
    /// The loop range in s, if looping is on.
    pub repeat_seconds: Option<(f64, f64)>,
    /// The loop range in quarter notes, if looping is on.
    pub repeat_beats: Option<(f64, f64)>,
    /// The host passes no transport at all.
    pub is_null: bool,
}

impl Told {
    /// As CLAP puts it; `None` for no transport. Meter is 4/4.
    #[must_use]
    pub fn event(&self) -> Option<TransportEvent> {
        if self.is_null {
            return None;
        }
        let mut flags = TransportFlags::empty();
        flags.set(TransportFlags::IS_PLAYING, self.playing);
        flags.set(TransportFlags::HAS_SECONDS_TIMELINE, self.seconds.is_some());
        flags.set(TransportFlags::HAS_BEATS_TIMELINE, self.beats.is_some());
        flags.set(TransportFlags::HAS_TIME_SIGNATURE, self.beats.is_some());
        flags.set(TransportFlags::HAS_TEMPO, self.tempo_bpm.is_some());
        let repeats = self.repeat_seconds.is_some() || self.repeat_beats.is_some();
        flags.set(TransportFlags::IS_LOOP_ACTIVE, repeats);
        let (start_s, end_s) = self.repeat_seconds.unwrap_or_default();
        let (start_beats, end_beats) = self.repeat_beats.unwrap_or_default();
        let bar = (self.beats.unwrap_or_default() / 4.0).floor();
        Some(TransportEvent {
            header: EventHeader::new_core(0, EventFlags::empty()),
            flags,
            song_pos_beats: BeatTime::from_float(self.beats.unwrap_or_default()),
            song_pos_seconds: SecondsTime::from_float(self.seconds.unwrap_or_default()),
            tempo: self.tempo_bpm.unwrap_or_default(),
            tempo_inc: 0.0,
            loop_start_beats: BeatTime::from_float(start_beats),
            loop_end_beats: BeatTime::from_float(end_beats),
            loop_start_seconds: SecondsTime::from_float(start_s),
            loop_end_seconds: SecondsTime::from_float(end_s),
            bar_start: BeatTime::from_float(bar * 4.0),
            bar_number: bar as i32,
            time_signature_numerator: 4,
            time_signature_denominator: 4,
        })
    }
}
