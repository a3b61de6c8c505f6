//! A file on its own: hops go straight into an [`Analysis`], without a song record between.

use super::hops::Hops;
use super::{Analysis, Kept};
use crate::audio::{Feed, HopStream};
use crate::meters::Meters;
use crate::meters::layout::Layout;
use crate::meters::spectrum::SecondStream;
use crate::record::{HOPS_PER_SECOND, Hop, ToneSecond, first_frame_of_hop, hop_of_frame};
use crate::tone::ToneSeries;
use crate::units::SampleRate;
use std::num::NonZeroUsize;

/// Measures a file that comes block by block. Memory grows with the file by 28 bytes a hop,
/// 20 MB for two hours, whatever the rate and the layout; by 32 from where samples clip on.
pub struct FileMeter {
    stream: HopStream,
    analysis: Analysis,
    tone: Option<Box<FileTone>>,
}

/// The tone of a file: of its first two channels, as everywhere, or of the only one twice.
struct FileTone {
    stream: SecondStream,
    seconds: ToneSeries,
}

impl FileMeter {
    /// A meter for a file at `rate` whose channels are `layout`; tone is not measured.
    #[must_use]
    pub fn new(rate: SampleRate, layout: Layout) -> Self {
        let (stream, analysis) = (HopStream::new(rate, layout), Analysis::of_file(layout));
        Self { stream, analysis, tone: None }
    }

    /// The same with tone.
    #[must_use]
    pub fn with_tone(rate: SampleRate, layout: Layout) -> Self {
        let tone = FileTone { stream: SecondStream::new(rate), seconds: ToneSeries::default() };
        Self { tone: Some(Box::new(tone)), ..Self::new(rate, layout) }
    }

    /// Measures the next block: planar channels of equal length, of any length. The figures do
    /// not depend on the lengths.
    pub fn push(&mut self, channels: &[&[f32]]) {
        let Self { stream, analysis, tone } = self;
        stream.push(channels, |index, hop| analysis.add(index, Kept::from(*hop)));
        if let (Some(tone), Some(left)) = (tone, channels.first()) {
            let FileTone { stream, seconds } = &mut **tone;
            stream.push(left, channels.get(1).unwrap_or(left), |second| {
                seconds.put(second.second, ToneSecond::new(second, 1));
            });
        }
    }

    /// The file ends here.
    #[must_use]
    pub fn finish(self) -> Analysis {
        let Self { stream, mut analysis, tone } = self;
        stream.finish(|index, hop| analysis.add(index, Kept::from(*hop)));
        if let Some(tone) = tone {
            let FileTone { mut stream, mut seconds } = *tone;
            stream.finish(|second| seconds.put(second.second, ToneSecond::new(second, 1)));
            analysis.set_tone(seconds);
        }
        analysis
    }
}

/// Parts of a file shorter than this are not worth a thread: 10 s. Own choice, no source.
const SHORTEST_PART_HOPS: i32 = 10 * HOPS_PER_SECOND;

/// A part of a file, to be measured side by side with the others.
pub struct FilePart {
    stream: HopStream,
    hops: Hops,
    first_hop: i32,
    end_hop: i32,
    /// One past the last frame that it needs.
    end_frame: i64,
}

impl FilePart {
    /// Cuts a file of `len_frames` frames into at most `parts` parts, at borders of hops.
    #[must_use]
    pub fn cut(
        len_frames: i64,
        rate: SampleRate,
        layout: Layout,
        parts: NonZeroUsize,
    ) -> Vec<Self> {
        let hops = match len_frames {
            ..=0 => 0,
            _ => hop_of_frame(len_frames - 1, rate).saturating_add(1),
        };
        let parts = i32::try_from(parts.get()).unwrap_or(i32::MAX);
        let parts = parts.min(hops / SHORTEST_PART_HOPS).max(1);
        let border = |part: i32| {
            let border = i64::from(hops) * i64::from(part) / i64::from(parts);
            i32::try_from(border).unwrap_or(hops)
        };
        (0..parts)
            .map(|part| {
                let (first_hop, end_hop) = (border(part), border(part + 1));
                let stream = HopStream::from_hop(rate, layout, first_hop);
                let end_frame = first_frame_of_hop(end_hop, rate) + stream.latency_frames();
                Self {
                    hops: Hops::with_room(usize::try_from(end_hop - first_hop).unwrap_or(0)),
                    stream,
                    first_hop,
                    end_hop,
                    end_frame: end_frame.min(len_frames),
                }
            })
            .collect()
    }

    /// The frames of the file that this part still needs, in this order.
    #[must_use]
    pub fn frames(&self) -> std::ops::Range<i64> {
        self.stream.next_frame()..self.end_frame
    }

    /// Measures the next block.
    pub fn push(&mut self, channels: &[&[f32]]) {
        let (hops, end_hop) = (&mut self.hops, self.end_hop);
        self.stream.push(channels, |index, hop| {
            if index < end_hop {
                hops.push(&Kept::from(*hop));
            }
        });
    }

    /// Measures a block of each of several parts, in less time than one after the other (see
    /// [`Self::best_together`]). Of unequal lengths the shortest counts; the return says how many
    /// frames that was.
    pub fn push_together<const N: usize>(parts: [&mut Self; N], channels: [&[&[f32]]; N]) -> usize {
        let mut keeping = parts.map(|Self { stream, hops, end_hop, .. }| {
            let keep = |index, hop: &Hop| {
                if index < *end_hop {
                    hops.push(&Kept::from(*hop));
                }
            };
            (stream, keep)
        });
        let mut channels = channels.into_iter();
        HopStream::push_together(keeping.each_mut().map(|(stream, give)| {
            let channels = channels.next().unwrap_or_default();
            Feed { stream, channels, give }
        }))
    }

    /// How many parts [`Self::push_together`] measures in the least time on this machine: 2 or 4.
    #[must_use]
    pub fn best_together() -> NonZeroUsize {
        NonZeroUsize::new(Meters::best_together()).unwrap_or(NonZeroUsize::MIN)
    }

    /// Joins the parts of one file, all of them in order and fed to their ends.
    #[must_use]
    pub fn join(parts: Vec<Self>, layout: Layout) -> Analysis {
        let mut analysis = Analysis::of_file(layout);
        let last = parts.len().saturating_sub(1);
        for (index, part) in parts.into_iter().enumerate() {
            let Self { stream, hops, first_hop, .. } = part;
            analysis.append(first_hop, &hops);
            // Only the last part's end is the file's.
            if index == last {
                stream.finish(|index, hop| analysis.add(index, Kept::from(*hop)));
            }
        }
        analysis
    }
}

/// Measures a file in memory (planar channels, of unequal lengths the shortest counts) on at most
/// `threads` threads. The energies of hops may differ from those of [`FileMeter`] in the last
/// digit of an `f32`: see [`HopStream::from_hop`].
#[must_use]
pub fn measure_file(
    channels: &[&[f32]],
    rate: SampleRate,
    layout: Layout,
    threads: NonZeroUsize,
) -> Analysis {
    let len_frames = channels.iter().map(|channel| channel.len()).min();
    let len_frames = i64::try_from(len_frames.unwrap_or(0)).unwrap_or(i64::MAX);
    let together = FilePart::best_together();
    let mut parts = FilePart::cut(len_frames, rate, layout, threads.saturating_mul(together));
    // A short file has fewer parts than would go together: then all threads get some.
    let each = parts.len().div_ceil(threads.get()).clamp(1, together.get());
    std::thread::scope(|scope| {
        let mut rest = parts.chunks_mut(each);
        let here = rest.next();
        for parts in rest {
            scope.spawn(|| push_all(parts, channels));
        }
        if let Some(parts) = here {
            push_all(parts, channels);
        }
    });
    FilePart::join(parts, layout)
}

/// Measures the parts of one thread.
fn push_all(parts: &mut [FilePart], channels: &[&[f32]]) {
    let frames_of = |part: &FilePart| -> Vec<&[f32]> {
        let frames = part.frames();
        let at = |frame: i64| usize::try_from(frame).unwrap_or(0);
        let range = at(frames.start)..at(frames.end);
        let channels = channels.iter();
        channels.map(|channel| channel.get(range.clone()).unwrap_or_default()).collect()
    };
    // As far as all reach, then two and two, then what is left of each.
    if let [one, two, three, four] = parts {
        let [a, b, c, d] = [&*one, two, three, four].map(frames_of);
        FilePart::push_together([one, two, three, four], [&a, &b, &c, &d]);
    }
    for two in parts.chunks_mut(2) {
        if let [one, two] = two {
            let [a, b] = [&*one, two].map(frames_of);
            FilePart::push_together([one, two], [&a, &b]);
        }
    }
    for part in parts {
        let rest = frames_of(part);
        part.push(&rest);
    }
}

#[cfg(test)]
mod tests;
