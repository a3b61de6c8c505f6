//! Cuts the stream into hops: meters in, record out.

use super::clock::{Clock, HostPosition, Step};
use super::fragments::{Fragment, Fragments};
use super::momentary_rise::{MomentaryRise, PARTS, first_frame_of_part, notes_of_parts};
use super::part::Part;
use super::status::{Status, Transport};
use super::tone::{Tone, ToneMeter, ToneStep, ToneWork};
use crate::meters::{Edge, Effort, MAX_CHANNELS, Meters};
use crate::record::{END_HOP, first_frame_of_hop, hop_of_frame};
use crate::units::SampleRate;
use std::sync::Arc;

mod outputs;
mod run;

pub(super) use outputs::Destination;
pub use outputs::{Outputs, Sources};
use run::{Ended, Pending, Run};

/// The audio thread's side: follows the host, meters what it is given, writes hops.
///
/// Allocates in `new` only.
pub struct Recorder {
    rate: SampleRate,
    meters: Meters,
    latency_frames: i64,
    clock: Clock,
    run: Option<Run>,
    fragments: Fragments,
    ended: Option<Ended>,
    rise: MomentaryRise,
    outputs: Outputs,
    tone: Option<Tone>,
    status: Arc<Status>,
    /// Where the live clock goes on.
    live_frame: i64,
    live_playthrough: u32,
    /// Something that a screen shows may have changed.
    news: bool,
    /// Hops of silence in a row, up to now.
    silent_hops: u32,
    /// Silence is known to stand before the next block.
    silence_before: bool,
}

/// After so many hops of silence in a row (3 s, the longest window) nothing of the present sound
/// changes any more.
const SETTLED_HOPS: u32 = 300;

/// Largest block that hosts are assumed to send where nothing else is known.
const DEFAULT_MAX_BLOCK_FRAMES: u32 = 8_192;

impl Recorder {
    /// A recorder at `rate` that fills `outputs`; tone in line, see [`Self::queue_tone`].
    #[must_use]
    pub fn new(rate: SampleRate, mut outputs: Outputs, status: Arc<Status>) -> Self {
        let meters = Meters::new(rate, outputs.layout);
        let tone = outputs.tone.take();
        let tone = tone.map(|writers| Tone::InLine(Box::new(ToneMeter::new(rate, writers))));
        Self {
            rate,
            latency_frames: i64::try_from(meters.latency_frames()).unwrap_or(0),
            meters,
            clock: Clock::new(rate, DEFAULT_MAX_BLOCK_FRAMES),
            run: None,
            fragments: Fragments::default(),
            ended: None,
            rise: MomentaryRise::new(),
            outputs,
            tone,
            status,
            live_frame: 0,
            live_playthrough: 0,
            news: true,
            silent_hops: 0,
            silence_before: false,
        }
    }

    /// Sets the largest block that the host announced, frames.
    #[must_use]
    pub fn with_max_block(mut self, max_block_frames: u32) -> Self {
        self.clock = Clock::new(self.rate, max_block_frames);
        self
    }

    /// Chooses how the true-peak meter works: the same bits, faster on the whole but unevenly with
    /// [`Effort::Least`], which is for files.
    #[must_use]
    pub fn with_effort(mut self, effort: Effort) -> Self {
        self.meters = self.meters.with_effort(effort);
        self
    }

    /// Highest amplitude of the hop that was written last, between samples too, linear.
    #[must_use]
    pub const fn newest_true_peak(&self) -> f32 {
        self.outputs.newest_true_peak
    }

    /// Has tone measured elsewhere: whoever gets the other end of the queue runs it at least once
    /// in half a second. For hosts that play; where they render, tone is measured in line.
    pub fn queue_tone(&mut self) -> Option<ToneWork> {
        let (tone, work) = self.tone.take()?.queue(self.rate, Arc::clone(&self.status));
        self.tone = Some(tone);
        work
    }

    /// Gives the writing ends back, to be used at another rate; `work` is what
    /// [`Self::queue_tone`] gave. Without it tone is measured no more.
    #[must_use]
    pub fn into_outputs(mut self, work: Option<ToneWork>) -> Outputs {
        self.stop();
        let tone = self.tone.take().and_then(|tone| tone.into_writers(work));
        Outputs { tone, ..self.outputs }
    }

    /// `[audio-thread]` Measures a block: planar channels of equal length, of any length.
    /// Whatever the block sizes, the record gets the same bits.
    pub fn process(&mut self, channels: &[&[f32]], position: &HostPosition) {
        let len_frames = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        if len_frames == 0 {
            return;
        }
        self.follow(position, len_frames);
        self.feed(channels, len_frames);
    }

    /// `[audio-thread]` The same for a block that silence stood before, in the same run of the
    /// transport, without being measured.
    pub fn process_behind_silence(&mut self, channels: &[&[f32]], position: &HostPosition) {
        self.silence_before = true;
        self.process(channels, position);
        self.silence_before = false;
    }

    /// `[audio-thread]` Whether anything that a screen shows may have changed since the last call: a
    /// transport that stands in silence changes nothing.
    pub fn take_news(&mut self) -> bool {
        std::mem::take(&mut self.news)
    }

    /// `[audio-thread]` Audio is interrupted: completes what is pending as if silence followed,
    /// which is what a host plays after its stop and what follows the end of a file.
    pub fn stop(&mut self) {
        self.end(Edge::Silence);
    }

    /// `[audio-thread]` The same where nobody knows what follows.
    pub fn break_off(&mut self) {
        self.end(Edge::Unknown);
    }

    fn end(&mut self, after: Edge) {
        self.end_run(after);
        self.clock.stop();
        self.outputs.recent.interrupt();
        self.news = true;
        self.silent_hops = 0;
    }

    /// Ends the run and starts another if the host or the user went elsewhere.
    fn follow(&mut self, position: &HostPosition, len_frames: usize) {
        let known = position.is_known();
        let transport = match (known, position.playing) {
            (false, _) => Transport::Unknown,
            (true, false) => Transport::Stopped,
            (true, true) => Transport::Playing,
        };
        self.news |= transport != self.status.transport();
        self.status.set_transport(transport);
        let measuring = self.status.is_running() && !self.status.is_bypassed();
        let to = match (measuring, known, position.playing) {
            (false, ..) | (_, true, false) => Destination::Monitor,
            (_, true, true) => Destination::Song,
            (_, false, _) => Destination::Live,
        };
        let step = if to == Destination::Song {
            self.clock.advance(position, len_frames)
        } else {
            self.clock.stop();
            None
        };
        if self.continues(to) && !matches!(step, Some(Step::Jump(_))) {
            self.renumber();
            return;
        }
        let audio_went_on = self.run.is_some();
        // What stood after the run's end is silence only if the host stopped.
        let stopped = known && !position.playing;
        self.end_run(if stopped { Edge::Silence } else { Edge::Unknown });
        let frame = match (to, step) {
            (Destination::Song, Some(Step::Jump(frame))) => frame,
            (Destination::Song, _) => self
                .clock
                .next_frame()
                .map_or(0, |next| next.saturating_sub(i64::try_from(len_frames).unwrap_or(0))),
            (Destination::Live, _) => self.live_start(),
            (Destination::Monitor, _) => 0,
        };
        // Before song time zero, and before the first sound of another clock, stands silence.
        let cold = if to == Destination::Song { frame > 0 } else { audio_went_on };
        self.begin_run(to, frame, cold && !self.silence_before);
    }

    /// Whether the present run can take the next block. A reset alone does not end it: what is
    /// heard goes on.
    fn continues(&self, to: Destination) -> bool {
        let restarts = to == Destination::Live && self.live_start() != self.live_frame;
        self.run.as_ref().is_some_and(|run| run.to == to) && !restarts
    }

    /// After a reset, a trim or a load, what follows counts as a new playthrough: from the next hop
    /// on, so that an undo finds every hop whole.
    fn renumber(&mut self) {
        let Some(run) = self.run.as_mut() else { return };
        let newest = run.next_playthrough.unwrap_or(run.playthrough);
        if !self.outputs.is_outdated(run.to, newest) {
            return;
        }
        let number = self.outputs.begin_playthrough(run.to);
        if run.to == Destination::Live {
            self.live_playthrough = number;
        }
        if let Some(tone) = &mut self.tone {
            tone.step(ToneStep::Renumber(number));
        }
        if run.next_frame == first_frame_of_hop(run.hop, self.rate) {
            run.playthrough = number;
        } else {
            run.next_playthrough = Some(number);
        }
    }

    /// The live clock goes on where it stood, also after a reset, so that the reset can be
    /// undone; after a reset in the second half of the record it starts again.
    fn live_start(&self) -> i64 {
        let was_reset = self.outputs.live.was_reset_since(self.live_playthrough);
        if was_reset && hop_of_frame(self.live_frame, self.rate) > END_HOP / 2 {
            0
        } else {
            self.live_frame
        }
    }

    fn begin_run(&mut self, to: Destination, frame: i64, cold: bool) {
        self.take_up(to, frame);
        let before = if cold { Edge::Unknown } else { Edge::Silence };
        self.meters.start(before);
        let playthrough = self.outputs.begin_playthrough(to);
        if to == Destination::Live {
            self.live_playthrough = playthrough;
        }
        if let Some(tone) = self.tone.as_mut().filter(|_| to != Destination::Monitor) {
            tone.step(ToneStep::Start { to, frame, before, playthrough });
        }
        let hop = hop_of_frame(frame, self.rate);
        let has_ended = |&part: &usize| first_frame_of_part(hop, part + 1, self.rate) <= frame;
        let part = (0..PARTS).take_while(has_ended).count();
        self.rise.start();
        self.run = Some(Run {
            to,
            playthrough,
            next_playthrough: None,
            first_frame: frame,
            cold_until: if cold { frame.saturating_add(self.latency_frames) } else { i64::MIN },
            next_frame: frame,
            hop,
            part,
            hop_end: first_frame_of_hop(hop.saturating_add(1), self.rate),
            pending: None,
        });
    }

    fn feed(&mut self, channels: &[&[f32]], len_frames: usize) {
        let measures = self.run.as_ref().is_some_and(|run| run.to != Destination::Monitor);
        if let Some(tone) = self.tone.as_mut().filter(|_| measures) {
            tone.push(channels);
        }
        let mut at = 0;
        while at < len_frames {
            let Some(run) = self.run.as_mut() else { return };
            let left = i64::try_from(len_frames - at).unwrap_or(i64::MAX);
            let end = run.hop_end.min(run.next_frame.saturating_add(left));
            let len = usize::try_from(end - run.next_frame).unwrap_or(0);
            if len == 0 {
                // Song time beyond all bounds: there is no next frame.
                return;
            }
            let mut slices: [&[f32]; MAX_CHANNELS] = [&[]; MAX_CHANNELS];
            let count = channels.len().min(MAX_CHANNELS);
            for (slice, channel) in slices.iter_mut().zip(channels) {
                *slice = channel.get(at..at + len).unwrap_or_default();
            }
            let mut notes = notes_of_parts(run.hop, run.part, run.next_frame, len, self.rate);
            if let Some(pending) = &run.pending {
                let due = pending.due_frame.saturating_sub(run.next_frame);
                notes.ask_peaks(usize::try_from(due).unwrap_or(usize::MAX));
            }
            let slices = slices.get(..count).unwrap_or_default();
            self.meters.process_noting(slices, &mut notes);
            at += len;
            run.next_frame = end;
            for sum in notes.sums() {
                self.rise.end_part(run.part, *sum);
                run.part += 1;
            }
            if let Some(true_peaks) = notes.peaks() {
                self.publish_pending(true_peaks);
            }
            self.close_hop_at_its_end();
        }
        let Some(run) = &self.run else { return };
        if run.to == Destination::Live {
            self.live_frame = run.next_frame;
        }
        if run.to != Destination::Monitor {
            self.status.set_playhead_hop(hop_of_frame(run.next_frame, self.rate));
        }
    }

    /// If a hop has just ended, its levels are taken and it waits for its true peaks.
    fn close_hop_at_its_end(&mut self) {
        let Some(run) = self.run.as_mut() else { return };
        if run.next_frame < run.hop_end {
            return;
        }
        let is_whole = first_frame_of_hop(run.hop, self.rate) >= run.first_frame;
        run.pending = Some(Pending {
            hop: run.hop,
            levels: self.meters.take_levels(),
            momentary_rise: self.rise.end_hop(is_whole),
            playthrough: run.playthrough,
            due_frame: run.hop_end.saturating_add(self.latency_frames),
        });
        run.hop = run.hop.saturating_add(1);
        run.hop_end = first_frame_of_hop(run.hop.saturating_add(1), self.rate);
        run.part = 0;
        run.playthrough = run.next_playthrough.take().unwrap_or(run.playthrough);
    }

    fn publish_pending(&mut self, true_peaks: [f32; MAX_CHANNELS]) {
        let Some(run) = self.run.as_mut() else { return };
        let Some(pending) = run.pending.take() else { return };
        let edge = first_frame_of_hop(pending.hop, self.rate) < run.cold_until;
        let part = pending.part(true_peaks);
        self.publish(pending.hop, part, [0.0; MAX_CHANNELS], pending.playthrough, edge);
    }

    /// Writes what the present run measured of a hop. `behind` are the peaks that rest on the
    /// silence behind the run's end: they count as long as silence is what follows.
    fn publish(
        &mut self,
        index: i32,
        mut part: Part,
        behind: [f32; MAX_CHANNELS],
        playthrough: u32,
        mut edge: bool,
    ) {
        let Some(run) = &self.run else { return };
        let to = run.to;
        let start_frame = first_frame_of_hop(index, self.rate).max(run.first_frame);
        let hop_end = first_frame_of_hop(index.saturating_add(1), self.rate);
        let end_frame = hop_end.min(run.next_frame);
        let is_whole = part.covers_all_of(index, self.rate);
        // Monitoring in between does not part what the transport takes up again.
        if !is_whole && to != Destination::Monitor {
            let fragment = Fragment { to, playthrough, start_frame, end_frame, hop: index, part };
            let forgotten = |playthrough| self.outputs.was_forgotten(to, index, playthrough);
            part = self.fragments.join(fragment, forgotten).part;
            edge = true;
        }
        part.raise_peaks(&behind);
        let hop = part.into_hop(index, self.rate, playthrough, edge);
        self.outputs.write(to, index, &hop);
        self.silent_hops = if hop.is_silent() { self.silent_hops.saturating_add(1) } else { 0 };
        self.news |= to != Destination::Monitor || self.silent_hops <= SETTLED_HOPS;
    }

    /// Completes the run's last hops, `after` standing behind them.
    fn end_run(&mut self, after: Edge) {
        let levels = self.meters.take_levels();
        // Complete without what follows: of the hop that waits, if there is one.
        let mut known_peaks = self.meters.take_true_peaks();
        let Some(run) = self.run.as_mut() else { return };
        let (to, index, end_frame, playthrough) =
            (run.to, run.hop, run.next_frame, run.playthrough);
        let mut ended = None;
        let mut left_frames = self.meters.latency_frames();
        if let Some(pending) = run.pending.take() {
            let wait_frames = pending.due_frame.saturating_sub(end_frame);
            let wait_frames = usize::try_from(wait_frames).unwrap_or(0);
            left_frames = left_frames.saturating_sub(wait_frames);
            self.run_out(after, wait_frames);
            let behind = self.meters.take_true_peaks();
            let part = pending.part(std::mem::take(&mut known_peaks));
            self.publish(pending.hop, part, behind, pending.playthrough, true);
            ended = part.covers_all_of(pending.hop, self.rate).then(|| Ended {
                to,
                end_frame,
                index: pending.hop,
                hop: part.into_hop(pending.hop, self.rate, pending.playthrough, true),
            });
        }
        self.run_out(after, left_frames);
        let behind = self.meters.take_true_peaks();
        if levels.frames > 0 {
            let part = Part { levels, true_peaks: known_peaks, momentary_rise: 0 };
            self.publish(index, part, behind, playthrough, true);
        }
        // Monitoring in between does not part what the transport takes up again.
        if to != Destination::Monitor {
            self.ended = ended;
            if let Some(tone) = &mut self.tone {
                tone.step(ToneStep::End);
            }
        }
        self.run = None;
    }

    /// Lets silence follow, if that is what follows. Before the unknown there is nothing to compute:
    /// no point between samples is evaluated, and the samples themselves are in the levels.
    fn run_out(&mut self, after: Edge, len_frames: usize) {
        if after == Edge::Silence {
            self.meters.finish(after, len_frames);
        }
    }

    /// Where a run takes up exactly where the last one ended, there was no silence behind that:
    /// what the interpolator made of it is taken back.
    fn take_up(&mut self, to: Destination, frame: i64) {
        if let Some(ended) = self.ended.take_if(|ended| ended.to == to)
            && ended.end_frame == frame
            && !self.outputs.was_forgotten(to, ended.index, ended.hop.playthrough)
        {
            self.outputs.rewrite(to, ended.index, &ended.hop);
        }
    }
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "small numbers of test signals"
)]
mod tests;
