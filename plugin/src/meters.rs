//! The meters: pure arithmetic on blocks of samples. No framework, no atomics, no clock.
//!
//! ```text
//! samples -> scrub -> K-weighting, sums (levels) -> take_levels      frame by frame
//!                 \-> interpolation (true_peak)  -> take_true_peaks  latency_frames later
//! ```
//!
//! The caller cuts the stream where it wants figures; nothing here depends on where the cuts
//! are. Loudness, gates and windows are not computed here but from the record.

mod dispatch;
mod interleave;
pub mod k_weighting;
mod lanes;
pub mod layout;
mod levels;
mod linear;
#[cfg(target_arch = "x86_64")]
mod loops;
mod notes;
mod pair_sums;
pub mod spectrum;
mod together;
mod true_peak;

use crate::units::SampleRate;
use dispatch::Instructions;
pub(crate) use dispatch::prefetch;
use layout::Layout;
pub use levels::Levels;
use levels::Scrubber;
pub use notes::Notes;
use pair_sums::{Factors, PairSums};
pub use true_peak::Effort;
use true_peak::{Coefficients, Grid, LATENCY_FRAMES, ROOM_FRAMES, TruePeak, Use};

/// Most channels of a layout.
pub const MAX_CHANNELS: usize = 8;

/// Most frames that a stage works on at once. A third of a hop at 48 kHz: large enough to pay for
/// what each turn costs, small enough for everything to stay near the processor.
const CHUNK_FRAMES: usize = 160;

/// What stands before or after the frames that are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Silence, as at the ends of a file: the waveform between the last sample and the silence
    /// counts.
    Silence,
    /// Something that was not seen, as where playback starts in mid song or jumps: no point
    /// between samples is evaluated that rests on a frame not seen. Sample values count.
    Unknown,
}

/// What a second channel that does not exist holds.
const NO_CHANNEL: [f32; ROOM_FRAMES] = [0.0; ROOM_FRAMES];

/// All meters of one signal.
pub struct Meters {
    factors: Factors,
    coefficients: Coefficients,
    layout: Layout,
    instructions: Instructions,
    effort: Effort,
    /// Two channels each; the last one's second is silent where the number is odd.
    pairs: Vec<PairSums>,
    /// One per channel, as the next.
    scrubbers: Vec<Scrubber>,
    true_peaks: Vec<TruePeak>,
    /// Lent out while true peaks are looked for; nothing is kept in it.
    grid: Option<Box<Grid>>,
    /// Frames still to come before the points of frame 0 are complete.
    lead_frames: usize,
    /// Frames after those whose points between samples rest on frames not seen.
    samples_only_frames: usize,
    /// Frames since the last take of the levels.
    frames: u32,
}

impl Meters {
    /// Meters in the state after `start(Edge::Silence)`. The only place that allocates.
    #[must_use]
    pub fn new(rate: SampleRate, layout: Layout) -> Self {
        Self::on(Instructions::detect(), rate, layout)
    }

    /// The same on the instructions that every machine of the target has: for tests and
    /// measurements of speed. Figures may differ from those of [`new`](Self::new) in the last
    /// digits, where the processor multiplies and adds in one rounding.
    #[must_use]
    pub fn new_baseline(rate: SampleRate, layout: Layout) -> Self {
        Self::on(Instructions::Baseline, rate, layout)
    }

    fn on(instructions: Instructions, rate: SampleRate, layout: Layout) -> Self {
        let channels = layout.channel_count();
        let mut meters = Self {
            factors: Factors::new(&k_weighting::stages(rate)),
            coefficients: Coefficients::new(),
            layout,
            instructions,
            effort: Effort::Even,
            pairs: vec![PairSums::new(); channels.div_ceil(2)],
            scrubbers: vec![Scrubber::default(); channels],
            true_peaks: vec![TruePeak::new(); channels],
            grid: Some(Box::new(Grid::empty())),
            lead_frames: 0,
            samples_only_frames: 0,
            frames: 0,
        };
        meters.start(Edge::Silence);
        meters
    }

    /// The same meters with their work spread in another way, in the state after
    /// `start(Edge::Silence)`. [`Effort::Even`] is what they are built with.
    #[must_use]
    pub fn with_effort(mut self, effort: Effort) -> Self {
        self.effort = effort;
        self.start(Edge::Silence);
        self
    }

    /// H: once all frames before e + H have been processed, the true-peak points at all times
    /// before frame e are complete.
    #[must_use]
    pub fn latency_frames(&self) -> usize {
        LATENCY_FRAMES
    }

    /// Forgets all that came before, sums and maxima too. What is processed next is frame 0, and
    /// `before` stands before it.
    pub fn start(&mut self, before: Edge) {
        self.pairs.iter_mut().for_each(PairSums::clear);
        self.scrubbers.fill(Scrubber::default());
        self.true_peaks.iter_mut().for_each(TruePeak::clear);
        self.frames = 0;
        self.lead_frames = LATENCY_FRAMES;
        self.samples_only_frames = match before {
            Edge::Silence => 0,
            // The points of frame n rest on frames from n − (H − 1) on.
            Edge::Unknown => LATENCY_FRAMES - 1,
        };
    }

    /// Measures a block: one slice per channel, all of one length. Channels that are missing are
    /// silence, those too many are left out; of unequal lengths the shortest counts. The figures
    /// do not depend on the lengths of the blocks.
    pub fn process(&mut self, channels: &[&[f32]]) {
        self.instructions.process(self, channels, &mut Notes::default());
    }

    /// The same, and what `notes` asks for is noted.
    pub fn process_noting(&mut self, channels: &[&[f32]], notes: &mut Notes) {
        self.instructions.process(self, channels, notes);
    }

    /// Measures a block of each of several signals in meters of one rate and layout, in less time
    /// than one after the other and to the same bits. Of unequal lengths the shortest counts.
    pub fn process_together<const N: usize>(
        meters: [&mut Self; N],
        channels: [&[&[f32]]; N],
        notes: [&mut Notes; N],
    ) {
        Instructions::process_together(meters, channels, notes);
    }

    /// How many signals [`process_together`](Self::process_together) measures in the least time on
    /// this machine: 2 or 4.
    #[must_use]
    pub fn best_together() -> usize {
        Instructions::detect().side_by_side()
    }

    /// Sums and counts since the last take, and a fresh start for the next. Take once per hop:
    /// it is also where filter memory that has decayed to nothing becomes zero.
    pub fn take_levels(&mut self) -> Levels {
        let mut levels = Levels { frames: std::mem::take(&mut self.frames), ..Levels::default() };
        for (channel, scrubber) in self.scrubbers.iter_mut().enumerate() {
            scrubber.take(channel, &mut levels);
        }
        levels.weighted_square_sum = self.weighted_square_sum();
        if let Some(pair) = self.pairs.first() {
            let [left, right] = pair.square_sum();
            let mono = self.layout == Layout::Mono;
            levels.left_square_sum = left;
            levels.right_square_sum = if mono { left } else { right };
            levels.left_right_sum = if mono { left } else { pair.product_sum() };
        }
        self.pairs.iter_mut().for_each(PairSums::clear_sums);
        levels
    }

    /// [`Levels::weighted_square_sum`] since the last take, which goes on.
    #[must_use]
    pub fn weighted_square_sum(&self) -> f64 {
        self.weigh(PairSums::weighted_square_sum)
    }

    #[inline(always)]
    fn weigh(&self, sums: impl Fn(&PairSums) -> [f64; 2]) -> f64 {
        let mut weighed = 0.0;
        for (pair, weights) in self.pairs.iter().zip(self.layout.weights().chunks(2)) {
            for (sum, weight) in sums(pair).into_iter().zip(weights) {
                weighed += sum * self.factors.square_gain * weight;
            }
        }
        weighed
    }

    /// Largest magnitude in each channel, linear, of all points since the last take that are
    /// complete: those at times before (frames processed − H). Each point is booked at its own
    /// time, and the samples are among them, so no true peak is below the sample peak.
    pub fn take_true_peaks(&mut self) -> [f32; MAX_CHANNELS] {
        let mut peaks = [0.0; MAX_CHANNELS];
        for (peak, channel) in peaks.iter_mut().zip(&mut self.true_peaks) {
            *peak = channel.take();
        }
        peaks
    }

    /// Ends the stream: completes the points of so many more frames, H of them in all, in one go or
    /// in several with [`take_true_peaks`](Self::take_true_peaks) between. Levels do not change.
    /// Call [`start`](Self::start) before more.
    pub fn finish(&mut self, after: Edge, len_frames: usize) {
        self.instructions.finish(self, after, len_frames);
    }

    /// [`process`](Self::process), compiled for the instructions of the caller.
    #[inline(always)]
    fn process_with<const FMA: bool>(&mut self, channels: &[&[f32]], notes: &mut Notes) {
        let channels = self.own(channels);
        let len_frames = shortest(channels);
        let mut done = 0;
        let mut grid = self.take_grid();
        while done < len_frames {
            let len = self.next_chunk_frames(len_frames - done);
            self.take_in(channels, done, len);
            let due = notes.due(done, len);
            self.filter(len, &due);
            notes.note(&due, |index| self.weigh(|pair| pair.noted(index)));
            self.advance_counted::<FMA>(&mut grid, len, done, notes);
            done += len;
        }
        self.grid = Some(grid);
    }

    /// The grid, which is always there: put it back.
    #[inline(always)]
    fn take_grid(&mut self) -> Box<Grid> {
        self.grid.take().unwrap_or_else(|| Box::new(Grid::empty()))
    }

    /// K-weights and sums the `len_frames` frames that stand in the rooms of the channels.
    #[inline(always)]
    fn filter(&mut self, len_frames: usize, ends: &[usize]) {
        let mut rows = self.true_peaks.chunks(4);
        let (twos, last) = self.pairs.as_chunks_mut::<2>();
        for ([one, two], rows) in twos.iter_mut().zip(&mut rows) {
            let (first, second) = rows.split_at(rows.len().min(2));
            let ([a, b], [c, d]) = (newest(first, len_frames), newest(second, len_frames));
            let (pairs, channels) = ([one, two], [a, b, c, d]);
            PairSums::add_two(self.instructions, pairs, &self.factors, channels, ends);
        }
        for (pair, rows) in last.iter_mut().zip(rows) {
            pair.add(self.instructions, &self.factors, newest(rows, len_frames), ends);
        }
    }

    /// The channels of the layout.
    #[inline(always)]
    fn own<'a>(&self, channels: &'a [&'a [f32]]) -> &'a [&'a [f32]] {
        channels.get(..self.layout.channel_count()).unwrap_or(channels)
    }

    /// Scrubs `len_frames` frames from `from` on into the rooms of the channels.
    #[inline(always)]
    fn take_in(&mut self, channels: &[&[f32]], from: usize, len_frames: usize) {
        let rows = self.true_peaks.iter_mut().zip(&mut self.scrubbers);
        for (c, (peak, scrubber)) in rows.enumerate() {
            let room = peak.room(len_frames, self.effort);
            let channel = channels.get(c);
            if let Some(from) = channel.and_then(|channel| channel.get(from..from + len_frames)) {
                let largest = scrubber.copy(from, room);
                peak.heard(largest);
            } else {
                room.fill(0.0);
                peak.heard(0.0);
            }
        }
    }

    #[inline(always)]
    fn advance_counted<const FMA: bool>(
        &mut self,
        grid: &mut Grid,
        len_frames: usize,
        done: usize,
        notes: &mut Notes,
    ) {
        self.frames = self.frames.wrapping_add(u32::try_from(len_frames).unwrap_or(0));
        let cut = notes.peaks_cut(done, done + len_frames);
        if let Some(peaks) = self.advance::<FMA>(grid, len_frames, cut) {
            notes.note_peaks(peaks);
        }
    }

    /// [`finish`](Self::finish), compiled for the instructions of the caller.
    #[inline(always)]
    fn finish_with<const FMA: bool>(&mut self, after: Edge, len_frames: usize) {
        let mut left = len_frames.min(LATENCY_FRAMES);
        let mut grid = self.take_grid();
        while left > 0 {
            // The frames that the stream still owes rest on what comes after it.
            if after == Edge::Unknown && self.lead_frames == 0 {
                self.samples_only_frames = self.samples_only_frames.max(left);
            }
            let len = self.next_chunk_frames(left);
            for peak in &mut self.true_peaks {
                peak.room(len, self.effort).fill(0.0);
                peak.heard(0.0);
            }
            self.advance::<FMA>(&mut grid, len, None);
            left -= len;
        }
        self.grid = Some(grid);
    }

    /// As many of `len_frames` as are used in one way.
    #[inline(always)]
    fn next_chunk_frames(&self, len_frames: usize) -> usize {
        let len_frames = len_frames.min(ROOM_FRAMES);
        match (self.lead_frames, self.samples_only_frames) {
            (0, 0) => len_frames,
            (0, frames) | (frames, _) => len_frames.min(frames),
        }
    }

    /// Lets every channel take in `len_frames` frames that stand in its room. With a `cut`, gives the
    /// peaks of the points that are complete after so many of them.
    #[inline(always)]
    fn advance<const FMA: bool>(
        &mut self,
        grid: &mut Grid,
        len_frames: usize,
        cut: Option<usize>,
    ) -> Option<[f32; MAX_CHANNELS]> {
        let how = if self.lead_frames > 0 {
            self.lead_frames -= len_frames;
            Use::Lead
        } else if self.samples_only_frames > 0 {
            self.samples_only_frames -= len_frames;
            Use::Samples
        } else {
            Use::Full
        };
        let mut peaks = [0.0; MAX_CHANNELS];
        let Self { true_peaks, coefficients, effort, .. } = self;
        for (peak, channel) in peaks.iter_mut().zip(true_peaks) {
            let taken = channel.advance::<FMA>(grid, coefficients, len_frames, cut, how, *effort);
            *peak = taken.unwrap_or(0.0);
        }
        cut.map(|_| peaks)
    }
}

/// The length of the shortest channel.
#[inline(always)]
fn shortest(channels: &[&[f32]]) -> usize {
    channels.iter().map(|channel| channel.len()).min().unwrap_or(0)
}

/// The frames that stand in the rooms of a pair of channels.
#[inline(always)]
fn newest(pair: &[TruePeak], len_frames: usize) -> [&[f32]; 2] {
    match pair {
        [a, b] => [a.newest(len_frames), b.newest(len_frames)],
        [a] => [a.newest(len_frames), NO_CHANNEL.as_slice()],
        _ => [&[], &[]],
    }
}

#[cfg(test)]
mod tests;
