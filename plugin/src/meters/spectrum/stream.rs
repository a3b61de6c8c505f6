//! Seconds of song time out of a stream of frames.

use super::{Powers, Spectrum};
use crate::meters::Edge;
use crate::units::SampleRate;

/// Windows whose middle lies in one second.
const WINDOWS_PER_SECOND: i64 = 2;

/// What one second of song time holds, or a part of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    /// Song time of its start, seconds.
    pub second: i32,
    /// The share of its frames that were seen, above 0, at most 1.
    pub covered: f64,
    /// Mean squares of the mid, (L + R)/2.
    pub mid: Powers,
    /// Mean squares of the side, (L − R)/2.
    pub side: Powers,
}

/// Turns frames into [`Second`]s. A second stands on two windows of one second each, whose middles
/// are a quarter second from its borders: what lies at its very borders counts for half here and for
/// half in the second beside. Where sound begins or ends, what there is counts.
///
/// Allocates when it is made and never after. A second is given once a quarter second behind it
/// was seen; the figures do not depend on the lengths of the blocks.
pub struct SecondStream {
    rate_hz: i64,
    spectrum: Spectrum,
    /// Mid and side of the frames that are still needed.
    held: [Vec<f32>; 2],
    /// The song frame of the first of them.
    held_from: i64,
    /// One past the last frame that was seen.
    next_frame: i64,
    first_frame: i64,
    /// Whether the first frame was cut off from something before it.
    is_cut: bool,
    /// The window that comes next: its middle stands at (2n + 1)/4 seconds.
    window: i64,
    sums: Sums,
    /// Where the last run ended, and what the second there had by then.
    ended: Option<(i64, Sums)>,
}

/// What was seen of the present second.
#[derive(Clone, Copy)]
struct Sums {
    mid: Powers,
    side: Powers,
    /// Windows' shares.
    share: f64,
    frames: i64,
}

impl Sums {
    const NONE: Self = Self { mid: Powers::ZERO, side: Powers::ZERO, share: 0.0, frames: 0 };
}

impl SecondStream {
    /// A stream that stands at song time zero with silence before it.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let spectrum = Spectrum::new(rate);
        // A window, and what comes before it is worked on.
        let room = 2 * spectrum.len_frames();
        let mut stream = Self {
            rate_hz: i64::from(rate.hz()),
            spectrum,
            held: [Vec::with_capacity(room), Vec::with_capacity(room)],
            held_from: 0,
            next_frame: 0,
            first_frame: 0,
            is_cut: false,
            window: 0,
            sums: Sums::NONE,
            ended: None,
        };
        stream.start(0, Edge::Silence);
        stream
    }

    /// Song frame `frame` comes next, `before` stands before it. What was pushed and not finished is
    /// forgotten. A run that takes up exactly where the last one ended makes one second with it.
    pub fn start(&mut self, frame: i64, before: Edge) {
        let ended = self.ended.take().filter(|(end_frame, _)| *end_frame == frame);
        self.sums = ended.map_or(Sums::NONE, |(_, sums)| sums);
        self.held.iter_mut().for_each(Vec::clear);
        self.held_from = frame;
        self.next_frame = frame;
        self.first_frame = frame;
        self.is_cut = before == Edge::Unknown;
        self.window = WINDOWS_PER_SECOND.saturating_mul(frame.div_euclid(self.rate_hz));
    }

    /// Forgets the second that a run ended in: what is pushed next makes none with it.
    pub fn forget(&mut self) {
        self.ended = None;
    }

    /// The frame that comes next.
    #[must_use]
    pub const fn next_frame(&self) -> i64 {
        self.next_frame
    }

    /// Takes in frames of left and right, of equal length (the shorter one counts); for mono both
    /// are the one channel. Seconds that are complete go to `give`.
    pub fn push(&mut self, left: &[f32], right: &[f32], mut give: impl FnMut(&Second)) {
        let (mut left, mut right) = (left, right);
        loop {
            let wanted = self.window_end().saturating_sub(self.next_frame);
            let wanted = usize::try_from(wanted).unwrap_or(0);
            let len = wanted.min(left.len()).min(right.len());
            let (now, later) = left.split_at(len);
            let (now_right, later_right) = right.split_at(len);
            let [mid, side] = &mut self.held;
            mid.extend(now.iter().zip(now_right).map(|(&l, &r)| audio(0.5 * (l + r))));
            side.extend(now.iter().zip(now_right).map(|(&l, &r)| audio(0.5 * (l - r))));
            (left, right) = (later, later_right);
            self.next_frame = self.next_frame.saturating_add(i64::try_from(len).unwrap_or(0));
            if len < wanted || self.next_frame == i64::MAX {
                return;
            }
            self.transform(false);
            self.advance(&mut give);
        }
    }

    /// The run ends here; nothing is known of what stands behind. Gives the last seconds, the very
    /// last of which may be covered in part.
    pub fn finish(&mut self, mut give: impl FnMut(&Second)) {
        while self.next_frame > self.second_start() {
            self.transform(self.next_frame < self.window_end());
            self.advance(&mut give);
        }
        self.held.iter_mut().for_each(Vec::clear);
        self.held_from = self.next_frame;
        self.first_frame = self.next_frame;
    }

    /// Song time of the present second, seconds.
    fn second(&self) -> i64 {
        self.window.div_euclid(WINDOWS_PER_SECOND)
    }

    fn second_start(&self) -> i64 {
        self.second().saturating_mul(self.rate_hz)
    }

    /// First frame of the present window: half a second before its middle.
    fn window_start(&self) -> i64 {
        // Hosts tell places beyond all bounds; four times as far must not overflow.
        let quarters = (2 * i128::from(self.window) - 1) * i128::from(self.rate_hz);
        let start = quarters.div_euclid(4);
        i64::try_from(start).unwrap_or(if start < 0 { i64::MIN } else { i64::MAX })
    }

    fn window_end(&self) -> i64 {
        self.window_start().saturating_add(self.rate_hz)
    }

    /// Adds the present window to the sums.
    fn transform(&mut self, is_cut_behind: bool) {
        let start = self.window_start();
        let at = usize::try_from(self.held_from.saturating_sub(start)).unwrap_or(0);
        let skipped = usize::try_from(start.saturating_sub(self.held_from)).unwrap_or(0);
        let fades = [self.is_cut && self.first_frame > start, is_cut_behind];
        let [mid, side] = &self.held;
        let mid = mid.get(skipped..).unwrap_or_default();
        let side = side.get(skipped..).unwrap_or_default();
        let (mid, share) = self.spectrum.transform(mid, at, fades);
        let (side, _) = self.spectrum.transform(side, at, fades);
        self.sums.mid.add(&mid, 1.0);
        self.sums.side.add(&side, 1.0);
        self.sums.share += share;
    }

    /// Goes on to the next window, and gives the second if that was its last one.
    fn advance(&mut self, give: &mut impl FnMut(&Second)) {
        let (second, start) = (self.second(), self.second_start());
        self.window = self.window.saturating_add(1);
        if self.second() != second {
            let end = start.saturating_add(self.rate_hz).min(self.next_frame);
            self.sums.frames += end.saturating_sub(start.max(self.first_frame)).max(0);
            let sums = std::mem::replace(&mut self.sums, Sums::NONE);
            let covered = super::float(usize::try_from(sums.frames).unwrap_or(0));
            let covered = covered / super::float(usize::try_from(self.rate_hz).unwrap_or(1));
            if let Ok(second) = i32::try_from(second)
                && sums.share > 0.0
                && covered > 0.0
            {
                let [mid, side] = [sums.mid, sums.side].map(|sum| sum.times(1.0 / sums.share));
                give(&Second { second, covered, mid, side });
            }
            let is_whole = end - start == self.rate_hz;
            self.ended = (!is_whole).then_some((end, sums));
        }
        let spent = self.window_start().saturating_sub(self.held_from);
        let spent = usize::try_from(spent).unwrap_or(0).min(self.held[0].len());
        for held in &mut self.held {
            held.drain(..spent);
        }
        self.held_from = self.held_from.saturating_add(i64::try_from(spent).unwrap_or(0));
    }
}

/// What is not audio is measured as zero, as in the other meters.
fn audio(sample: f32) -> f32 {
    const NOT_AUDIO: f32 = 4_096.0;
    if sample.abs() <= NOT_AUDIO { sample } else { 0.0 }
}
