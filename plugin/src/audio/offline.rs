//! Hops of a file, without a record: what `Recorder` writes while a playthrough runs from song
//! time zero to the end of the song, given to the caller one by one and kept nowhere.
//!
//! A stream may begin in mid song, so that the parts of one file can be measured side by side. It
//! then hears a little of what stands before: the K filter must settle, and the points between
//! the first samples rest on samples before them.

use super::momentary_rise::{MomentaryRise, notes_of_parts};
use super::part::Part;
use crate::meters::layout::Layout;
use crate::meters::{Edge, Effort, Levels, MAX_CHANNELS, Meters, Notes, prefetch};
use crate::record::{Hop, first_frame_of_hop};
use crate::units::SampleRate;

/// What a stream that begins in mid song hears before its first hop. Both poles of the
/// high-pass of ITU-R BS.1770-5, Annex 1, Table 2, lie near 38 Hz at half the quality of a
/// resonance: what they remember falls by e^−240·t, in 200 ms to 1e−19, below what `f64` tells
/// apart. The rise of the momentary loudness (see [`Hop::momentary_rise`]) then looks back on
/// another 41 hops.
pub const WARM_UP_HOPS: i32 = 20 + 41;

/// The number that a recorder gives its first playthrough.
const PLAYTHROUGH: u32 = 1;

/// What is done with a hop and its song time.
pub type Give<'a> = &'a mut dyn FnMut(i32, &Hop);

/// The next block of one of several streams.
pub struct Feed<'a> {
    /// The stream.
    pub stream: &'a mut HopStream,
    /// Planar channels.
    pub channels: &'a [&'a [f32]],
    /// What is done with its hops.
    pub give: Give<'a>,
}

/// Meters one file, block by block, and gives each hop to a function. Allocates when it is made
/// and never after.
pub struct HopStream {
    rate: SampleRate,
    meters: Meters,
    latency_frames: i64,
    /// Hops before this one are warm-up.
    first_hop: i32,
    next_frame: i64,
    hop: i32,
    hop_end_frame: i64,
    /// The part of the hop that is being measured.
    part: usize,
    rise: MomentaryRise,
    /// The hop before, waiting for the frames that its true peaks need.
    pending: Option<(i32, Levels, u16)>,
    /// The true peaks of `pending` are complete before this frame.
    due_frame: i64,
}

impl HopStream {
    /// A stream from the start of the file. The hops have the bits that a recorder would write.
    #[must_use]
    pub fn new(rate: SampleRate, layout: Layout) -> Self {
        Self::from_hop(rate, layout, 0)
    }

    /// A stream whose first hop is `first_hop`: feed it from [`Self::next_frame`] on, which is
    /// [`WARM_UP_HOPS`] before, or the start of the file.
    ///
    /// Peaks, counts and unweighted sums have the bits of a stream from the start. The K-weighted
    /// sums differ by what `f64` rounds, so that an energy, which is an `f32`, is now and then
    /// the next one to it.
    #[must_use]
    pub fn from_hop(rate: SampleRate, layout: Layout, first_hop: i32) -> Self {
        let meters = Meters::new(rate, layout).with_effort(Effort::Least);
        Self::with_meters(rate, meters, first_hop)
    }

    /// The same on the instructions that every machine of the target has: see
    /// [`Meters::new_baseline`].
    #[must_use]
    pub fn new_baseline(rate: SampleRate, layout: Layout) -> Self {
        let meters = Meters::new_baseline(rate, layout).with_effort(Effort::Least);
        Self::with_meters(rate, meters, 0)
    }

    fn with_meters(rate: SampleRate, mut meters: Meters, first_hop: i32) -> Self {
        let first_hop = first_hop.max(0);
        let hop = first_hop.saturating_sub(WARM_UP_HOPS).max(0);
        let start_frame = first_frame_of_hop(hop, rate);
        // Nothing but silence stands before the file.
        meters.start(if start_frame > 0 { Edge::Unknown } else { Edge::Silence });
        Self {
            rate,
            latency_frames: i64::try_from(meters.latency_frames()).unwrap_or(0),
            meters,
            first_hop,
            next_frame: start_frame,
            hop,
            hop_end_frame: first_frame_of_hop(hop.saturating_add(1), rate),
            part: 0,
            rise: MomentaryRise::new(),
            pending: None,
            due_frame: i64::MAX,
        }
    }

    /// The frame of the file that comes next.
    #[must_use]
    pub fn next_frame(&self) -> i64 {
        self.next_frame
    }

    /// H: a hop is given once so many frames behind it were fed.
    #[must_use]
    pub fn latency_frames(&self) -> i64 {
        self.latency_frames
    }

    /// Meters a block, planar channels of equal length, of any length; each hop that is complete
    /// goes to `give` with its song time.
    pub fn push(&mut self, channels: &[&[f32]], mut give: impl FnMut(i32, &Hop)) {
        let len_frames = shortest(channels);
        let mut at = 0;
        while at < len_frames {
            let len = self.frames_to_cut(len_frames - at);
            if len == 0 {
                // Song time beyond all bounds.
                return;
            }
            prefetch_next(channels, at + len, len);
            let slices = slices(channels, at, len);
            let mut notes = self.notes(len);
            self.meters.process_noting(used(&slices, channels.len()), &mut notes);
            self.advance(len, &notes, &mut give);
            at += len;
        }
    }

    /// The same for a block of each of several streams of one rate and layout, in less time than
    /// one after the other (see [`Meters::best_together`]). Of unequal lengths the shortest counts;
    /// the return says how many frames that was.
    pub fn push_together<const N: usize>(mut feeds: [Feed<'_>; N]) -> usize {
        let len_frames = feeds.iter().map(|feed| shortest(feed.channels)).min().unwrap_or(0);
        let mut at = 0;
        while at < len_frames {
            let next = feeds.iter().map(|feed| feed.stream.frames_to_cut(len_frames - at));
            let len = next.min().unwrap_or(0);
            if len == 0 {
                break;
            }
            for feed in &feeds {
                prefetch_next(feed.channels, at + len, len);
            }
            let blocks = feeds.each_ref().map(|feed| slices(feed.channels, at, len));
            let mut channels: [&[&[f32]]; N] = [&[]; N];
            for ((channels, block), feed) in channels.iter_mut().zip(&blocks).zip(&feeds) {
                *channels = used(block, feed.channels.len());
            }
            let mut notes = feeds.each_ref().map(|feed| feed.stream.notes(len));
            let meters = feeds.each_mut().map(|feed| &mut feed.stream.meters);
            Meters::process_together(meters, channels, notes.each_mut());
            for (feed, notes) in feeds.iter_mut().zip(&notes) {
                feed.stream.advance(len, notes, feed.give);
            }
            at += len;
        }
        at
    }

    /// As many of `len_frames` as come before the hop ends.
    fn frames_to_cut(&self, len_frames: usize) -> usize {
        let left = i64::try_from(len_frames).unwrap_or(i64::MAX);
        let end = self.hop_end_frame.min(self.next_frame.saturating_add(left));
        usize::try_from(end - self.next_frame).unwrap_or(0)
    }

    fn notes(&self, len_frames: usize) -> Notes {
        let mut notes = notes_of_parts(self.hop, self.part, self.next_frame, len_frames, self.rate);
        if self.pending.is_some() {
            let due = self.due_frame.saturating_sub(self.next_frame);
            notes.ask_peaks(usize::try_from(due).unwrap_or(usize::MAX));
        }
        notes
    }

    /// `len_frames` frames were metered.
    fn advance(
        &mut self,
        len_frames: usize,
        notes: &Notes,
        give: &mut (impl FnMut(i32, &Hop) + ?Sized),
    ) {
        let len = i64::try_from(len_frames).unwrap_or(i64::MAX);
        self.next_frame = self.next_frame.saturating_add(len);
        for sum in notes.sums() {
            self.rise.end_part(self.part, *sum);
            self.part += 1;
        }
        if let Some(true_peaks) = notes.peaks() {
            self.give_pending(true_peaks, false, give);
        }
        if self.next_frame == self.hop_end_frame {
            let rise = self.rise.end_hop(true);
            self.pending = Some((self.hop, self.meters.take_levels(), rise));
            self.due_frame = self.hop_end_frame.saturating_add(self.latency_frames);
            self.hop = self.hop.saturating_add(1);
            self.part = 0;
            self.hop_end_frame = first_frame_of_hop(self.hop.saturating_add(1), self.rate);
        }
    }

    /// The file ends: the last hops, with silence behind them.
    pub fn finish(mut self, mut give: impl FnMut(i32, &Hop)) {
        let levels = self.meters.take_levels();
        let mut left_frames = self.meters.latency_frames();
        if self.pending.is_some() {
            let wait_frames = self.due_frame.saturating_sub(self.next_frame);
            let wait_frames = usize::try_from(wait_frames).unwrap_or(0);
            left_frames = left_frames.saturating_sub(wait_frames);
            self.meters.finish(Edge::Silence, wait_frames);
            let true_peaks = self.meters.take_true_peaks();
            self.give_pending(true_peaks, true, &mut give);
        }
        self.meters.finish(Edge::Silence, left_frames);
        if levels.frames > 0 {
            self.pending = Some((self.hop, levels, 0));
            let true_peaks = self.meters.take_true_peaks();
            self.give_pending(true_peaks, true, &mut give);
        }
    }

    fn give_pending(
        &mut self,
        true_peaks: [f32; MAX_CHANNELS],
        edge: bool,
        give: &mut (impl FnMut(i32, &Hop) + ?Sized),
    ) {
        let Some((hop, levels, momentary_rise)) = self.pending.take() else {
            return;
        };
        if hop >= self.first_hop {
            let part = Part { levels, true_peaks, momentary_rise };
            give(hop, &part.into_hop(hop, self.rate, PLAYTHROUGH, edge));
        }
    }
}

fn shortest(channels: &[&[f32]]) -> usize {
    channels.iter().map(|channel| channel.len()).min().unwrap_or(0)
}

/// Has the processor fetch the next `len_frames` frames of every channel, from `at` on.
fn prefetch_next(channels: &[&[f32]], at: usize, len_frames: usize) {
    for channel in channels {
        let end = channel.len().min(at + len_frames);
        prefetch(channel.get(at..end).unwrap_or_default());
    }
}

/// `len_frames` frames of every channel from `at` on.
fn slices<'a>(channels: &[&'a [f32]], at: usize, len_frames: usize) -> [&'a [f32]; MAX_CHANNELS] {
    let mut slices: [&[f32]; MAX_CHANNELS] = [&[]; MAX_CHANNELS];
    for (slice, channel) in slices.iter_mut().zip(channels) {
        *slice = channel.get(at..at + len_frames).unwrap_or_default();
    }
    slices
}

fn used<'a, 'b>(slices: &'b [&'a [f32]; MAX_CHANNELS], channels: usize) -> &'b [&'a [f32]] {
    slices.get(..channels.min(MAX_CHANNELS)).unwrap_or_default()
}

#[cfg(test)]
mod tests;
