//! Frames on their way to the tone of a record: in line, or over a queue to a thread of our own.
//!
//! A transform takes half a millisecond, too much for a block of a host that plays. So frames go
//! over a bounded queue without locks. Where the other end falls behind, whole frames are dropped
//! and counted: the seconds that they belong to then count as covered in part. Where the host
//! renders, nothing hurries and nothing may be lost: the transforms run in line.

use super::recorder::Destination;
use super::status::Status;
use crate::meters::Edge;
use crate::meters::spectrum::{Second, SecondStream};
use crate::record::ToneWriter;
use crate::units::SampleRate;
use rtrb::chunks::ChunkError;
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;

/// What a queue holds, seconds: five rounds of the thread that empties it. The project's own choice,
/// no source.
const QUEUE_S: u32 = 1;

/// Runs that may begin and end within that time; a host that jumps more often loses frames.
const QUEUE_STEPS: usize = 256;

/// Both records' tone.
pub(super) struct ToneWriters {
    pub song: ToneWriter,
    pub live: ToneWriter,
}

/// One step of a stretch of audio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum ToneStep {
    /// A run begins.
    Start { to: Destination, frame: i64, before: Edge, playthrough: u32 },
    /// What follows counts as another playthrough, from the next second on.
    Renumber(u32),
    /// The run ends.
    End,
}

/// Measures the tone of what it is given into the records. Allocates when it is made and never after.
pub(super) struct ToneMeter {
    stream: SecondStream,
    rate_hz: i64,
    writers: ToneWriters,
    target: Target,
}

/// Where seconds go.
#[derive(Clone, Copy)]
struct Target {
    to: Destination,
    playthrough: u32,
    /// The number from this second on.
    next: Option<(i32, u32)>,
}

impl ToneMeter {
    pub fn new(rate: SampleRate, writers: ToneWriters) -> Self {
        Self {
            stream: SecondStream::new(rate),
            rate_hz: i64::from(rate.hz()),
            writers,
            target: Target { to: Destination::Monitor, playthrough: 0, next: None },
        }
    }

    fn step(&mut self, step: ToneStep) {
        match step {
            ToneStep::Start { to, frame, before, playthrough } => {
                self.end();
                let second = self.second_of(frame);
                let writer = self.writers.of(self.target.to);
                let was_forgotten = writer
                    .is_none_or(|writer| writer.was_forgotten(second, self.target.playthrough));
                if to != self.target.to || was_forgotten {
                    self.stream.forget();
                }
                self.stream.start(frame, before);
                self.target = Target { to, playthrough, next: None };
            }
            ToneStep::Renumber(playthrough) => {
                let frame = self.stream.next_frame();
                let is_border = frame.rem_euclid(self.rate_hz) == 0;
                let second = self.second_of(frame).saturating_add(i32::from(!is_border));
                self.target.next = Some((second, playthrough));
            }
            ToneStep::End => self.end(),
        }
    }

    fn push(&mut self, left: &[f32], right: &[f32]) {
        let Self { stream, writers, target, .. } = self;
        stream.push(left, right, |second| writers.write(target, second));
    }

    fn end(&mut self) {
        let Self { stream, writers, target, .. } = self;
        stream.finish(|second| writers.write(target, second));
    }

    fn second_of(&self, frame: i64) -> i32 {
        let second = frame.div_euclid(self.rate_hz);
        i32::try_from(second).unwrap_or(if second < 0 { i32::MIN } else { i32::MAX })
    }
}

impl ToneWriters {
    fn of(&mut self, to: Destination) -> Option<&mut ToneWriter> {
        match to {
            Destination::Song => Some(&mut self.song),
            Destination::Live => Some(&mut self.live),
            Destination::Monitor => None,
        }
    }

    fn write(&mut self, target: &mut Target, second: &Second) {
        if let Some((_, playthrough)) = target.next.take_if(|(from, _)| second.second >= *from) {
            target.playthrough = playthrough;
        }
        if let Some(writer) = self.of(target.to) {
            writer.write(second, target.playthrough);
        }
    }
}

/// A step, and how many frames are to be taken before it.
#[derive(Clone, Copy)]
struct Queued {
    after_frames: u64,
    step: ToneStep,
}

/// The audio thread's end of the queue.
pub(super) struct ToneSender {
    frames: Producer<[f32; 2]>,
    steps: Producer<Queued>,
    sent_frames: u64,
    /// The run as it goes on from the next frame; sent with that.
    run: Option<Run>,
    status: Arc<Status>,
}

struct Run {
    to: Destination,
    next_frame: i64,
    before: Edge,
    playthrough: u32,
    is_sent: bool,
}

impl ToneSender {
    fn step(&mut self, step: ToneStep) {
        match step {
            ToneStep::Start { to, frame, before, playthrough } => {
                let next_frame = frame;
                self.run = Some(Run { to, next_frame, before, playthrough, is_sent: false });
            }
            ToneStep::Renumber(number) => {
                let Some(run) = &mut self.run else { return };
                run.playthrough = number;
                if run.is_sent && !self.send(step) {
                    self.lose(0);
                }
            }
            ToneStep::End => {
                let was_sent = self.run.take().is_some_and(|run| run.is_sent);
                // If it does not fit, the next start ends the run.
                let _ = was_sent && self.send(step);
            }
        }
    }

    fn push(&mut self, left: &[f32], right: &[f32]) {
        let len = left.len().min(right.len());
        let has_room = self.frames.slots() >= len && self.start_if_needed();
        if !has_room {
            self.lose(len);
            return;
        }
        if let Ok(chunk) = self.frames.write_chunk_uninit(len) {
            let pairs = left.iter().zip(right).map(|(&left, &right)| [left, right]);
            let sent = chunk.fill_from_iter(pairs);
            self.sent_frames = self.sent_frames.wrapping_add(u64::try_from(sent).unwrap_or(0));
        }
        self.go_on(len);
    }

    /// Sends the start of the run, if that was not done. Gives whether it stands there.
    fn start_if_needed(&mut self) -> bool {
        let Some(run) = self.run.as_ref() else { return false };
        if run.is_sent {
            return true;
        }
        let (to, playthrough) = (run.to, run.playthrough);
        let start = ToneStep::Start { to, frame: run.next_frame, before: run.before, playthrough };
        let is_sent = self.send(start);
        if let Some(run) = self.run.as_mut() {
            run.is_sent = is_sent;
        }
        is_sent
    }

    fn send(&mut self, step: ToneStep) -> bool {
        self.steps.push(Queued { after_frames: self.sent_frames, step }).is_ok()
    }

    /// `len` frames are dropped: the run begins anew behind them.
    fn lose(&mut self, len: usize) {
        self.status.add_lost_tone_frames(u64::try_from(len).unwrap_or(0));
        if let Some(run) = &mut self.run {
            run.is_sent = false;
            run.before = Edge::Unknown;
        }
        self.go_on(len);
    }

    fn go_on(&mut self, len: usize) {
        if let Some(run) = &mut self.run {
            run.next_frame = run.next_frame.saturating_add(i64::try_from(len).unwrap_or(i64::MAX));
        }
    }
}

/// The other end of the queue, for a thread that may take its time.
pub struct ToneWork {
    frames: Consumer<[f32; 2]>,
    steps: Consumer<Queued>,
    taken_frames: u64,
    meter: ToneMeter,
    channels: [Vec<f32>; 2],
}

impl ToneWork {
    /// `[worker, main-thread]` Measures all that waits.
    pub fn run(&mut self) {
        loop {
            // In this order: a step was sent before the frames behind it.
            let waiting = self.frames.slots();
            let next = self.steps.peek().ok().copied();
            let until = next.map_or(u64::MAX, |next| next.after_frames - self.taken_frames);
            let len = waiting.min(usize::try_from(until).unwrap_or(usize::MAX));
            self.take(len);
            match next {
                Some(next) if next.after_frames == self.taken_frames => {
                    let _ = self.steps.pop();
                    self.meter.step(next.step);
                }
                _ if waiting == 0 => return,
                _ => {}
            }
        }
    }

    fn take(&mut self, len: usize) {
        let chunk = match self.frames.read_chunk(len) {
            Ok(chunk) => chunk,
            Err(ChunkError::TooFewSlots(_)) => return,
        };
        let [left, right] = &mut self.channels;
        let (first, second) = chunk.as_slices();
        for part in [first, second] {
            left.clear();
            right.clear();
            left.extend(part.iter().map(|frame| frame[0]));
            right.extend(part.iter().map(|frame| frame[1]));
            self.meter.push(left, right);
        }
        chunk.commit_all();
        self.taken_frames = self.taken_frames.wrapping_add(u64::try_from(len).unwrap_or(0));
    }
}

/// How frames go to the tone of a record.
pub(super) enum Tone {
    /// The transforms run where audio is processed.
    InLine(Box<ToneMeter>),
    /// They run elsewhere.
    Queued(Box<ToneSender>),
}

impl Tone {
    /// `[audio-thread]`
    pub fn step(&mut self, step: ToneStep) {
        match self {
            Self::InLine(meter) => meter.step(step),
            Self::Queued(sender) => sender.step(step),
        }
    }

    /// `[audio-thread]` The next block of the run: its first two channels, or the only one twice.
    pub fn push(&mut self, channels: &[&[f32]]) {
        let (Some(left), right) = (channels.first(), channels.get(1)) else { return };
        let right = right.unwrap_or(left);
        match self {
            Self::InLine(meter) => meter.push(left, right),
            Self::Queued(sender) => sender.push(left, right),
        }
    }

    /// `[main-thread]` Puts a queue between the audio thread and the measuring. Gives the other
    /// end, if there was none yet.
    pub fn queue(self, rate: SampleRate, status: Arc<Status>) -> (Self, Option<ToneWork>) {
        let Self::InLine(meter) = self else { return (self, None) };
        let room = usize::try_from(rate.hz() * QUEUE_S).unwrap_or(0);
        let (sender, frames) = RingBuffer::new(room);
        let (step_sender, steps) = RingBuffer::new(QUEUE_STEPS);
        let sender =
            ToneSender { frames: sender, steps: step_sender, sent_frames: 0, run: None, status };
        let channels = [Vec::new(), Vec::new()];
        let work = ToneWork { frames, steps, taken_frames: 0, meter: *meter, channels };
        (Self::Queued(Box::new(sender)), Some(work))
    }

    /// The writing ends; `work` is the other end of the queue where there is one.
    pub fn into_writers(self, work: Option<ToneWork>) -> Option<ToneWriters> {
        match self {
            Self::InLine(meter) => Some(meter.writers),
            Self::Queued(_) => work.map(|mut work| {
                work.run();
                work.meter.writers
            }),
        }
    }
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "small numbers of test signals"
)]
mod tests;
