//! What lies below a record: hops of an earlier session, out of the project's state.
//!
//! Only the audio thread writes a record's slots, and a state can be loaded at any time. So what
//! was loaded is never put into slots: it is filled once, never changes after that, and readers
//! look through the slots onto it.

use super::tone::ToneSecond;
use super::words::{MAX_PLAYTHROUGH, pack, rise, stride_words, unpack};
use super::{CHUNK_HOPS, END_HOP, FIRST_HOP, Hop, RecordReader, chunk_hops, seqlock};
use crate::meters::layout::Layout;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::AtomicU32;

/// Hops of an earlier session. Takes memory for those chunks alone in which there is a hop.
pub struct BaseHops {
    layout: Layout,
    /// One entry per chunk; `None` holds nothing. Atomic only because the words lie as in a slot.
    chunks: Vec<Option<Box<[AtomicU32]>>>,
    newest_playthrough: u32,
    hop_count: usize,
    tone: BTreeMap<i32, ToneSecond>,
}

impl BaseHops {
    /// Highest number of a playthrough that a base can hold: half of what a slot can, so that
    /// there are numbers left to count on.
    pub const MAX_PLAYTHROUGH: u32 = MAX_PLAYTHROUGH / 2;

    /// No hops, for the channels of `layout`.
    #[must_use]
    pub const fn new(layout: Layout) -> Self {
        let chunks = Vec::new();
        Self { layout, chunks, newest_playthrough: 0, hop_count: 0, tone: BTreeMap::new() }
    }

    /// A copy of all that `record` holds.
    #[must_use]
    pub fn of(record: &RecordReader) -> Self {
        let mut base = Self::new(record.layout());
        for (index, hop) in record.hops() {
            base.put(index, &hop);
        }
        for (second, tone) in record.tone_seconds() {
            base.put_tone(second, &tone);
        }
        base
    }

    /// Puts a hop at song time `index`. Out of the range of a record it is left out. Playthroughs
    /// are numbered 1 to [`Self::MAX_PLAYTHROUGH`]; others get the nearest number.
    pub fn put(&mut self, index: i32, hop: &Hop) {
        let Some(offset) = offset_of(index) else { return };
        let stride = stride_words(self.layout);
        let chunk = offset / CHUNK_HOPS;
        if self.chunks.len() <= chunk {
            self.chunks.resize_with(chunk + 1, || None);
        }
        let Some(entry) = self.chunks.get_mut(chunk) else { return };
        let words = entry.get_or_insert_with(|| bytemuck::zeroed_slice_box(CHUNK_HOPS * stride));
        let start = offset % CHUNK_HOPS * stride;
        let Some([first, data @ ..]) = words.get_mut(start..start + stride) else { return };
        let playthrough = hop.playthrough.clamp(1, Self::MAX_PLAYTHROUGH);
        let hop = Hop { playthrough, ..*hop };
        self.hop_count += usize::from(*first.get_mut() == 0);
        let channels = self.layout.channel_count();
        seqlock::write(first, rise(&hop), || pack(&hop, channels, data));
        self.newest_playthrough = self.newest_playthrough.max(playthrough);
    }

    /// Puts the tone of a second.
    pub fn put_tone(&mut self, second: i32, tone: &ToneSecond) {
        let playthrough = tone.playthrough.clamp(1, Self::MAX_PLAYTHROUGH);
        self.tone.insert(second, ToneSecond { playthrough, ..*tone });
        self.newest_playthrough = self.newest_playthrough.max(playthrough);
    }

    /// The tone of a second.
    #[must_use]
    pub fn tone_second(&self, second: i32) -> Option<ToneSecond> {
        self.tone.get(&second).copied()
    }

    /// The channels that the hops were measured in.
    #[must_use]
    pub const fn layout(&self) -> Layout {
        self.layout
    }

    /// Highest number of a playthrough in it; 0 if it is empty.
    #[must_use]
    pub const fn newest_playthrough(&self) -> u32 {
        self.newest_playthrough
    }

    /// How many hops it holds.
    #[must_use]
    pub const fn hop_count(&self) -> usize {
        self.hop_count
    }

    /// The hop at song time `index`.
    #[must_use]
    pub fn hop(&self, index: i32) -> Option<Hop> {
        let offset = offset_of(index)?;
        let words = self.chunks.get(offset / CHUNK_HOPS)?.as_ref()?;
        let stride = stride_words(self.layout);
        let start = offset % CHUNK_HOPS * stride;
        unpack(words.get(start..start + stride)?, self.layout.channel_count())
    }

    /// All hops in song order.
    pub fn hops(&self) -> impl Iterator<Item = (i32, Hop)> + '_ {
        let indices = (0..self.chunks.len()).filter(|&chunk| self.has_chunk(chunk));
        indices.flat_map(chunk_hops).filter_map(|index| Some((index, self.hop(index)?)))
    }

    /// Whether it holds hops in a chunk.
    pub(super) fn has_chunk(&self, chunk: usize) -> bool {
        self.chunks.get(chunk).is_some_and(Option::is_some)
    }
}

fn offset_of(index: i32) -> Option<usize> {
    let offset = usize::try_from(index.checked_sub(FIRST_HOP)?).ok()?;
    (index < END_HOP).then_some(offset)
}

/// A base under a record.
pub(super) struct Layer {
    pub hops: Arc<BaseHops>,
    /// The highest of the record's floors when the base was put there: a reset moves a floor above
    /// that everywhere, a trim from some place on, and with it the base is forgotten there; an undo
    /// moves it back.
    pub first_playthrough: u32,
}

/// A base whose channels are not those of the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OtherLayout {
    /// Channels of the record.
    pub record: Layout,
    /// Channels of the base.
    pub base: Layout,
}

impl std::fmt::Display for OtherLayout {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "saved record has {} channels, the host runs the plugin with {}: it is left aside, \
             and kept in the project until something is measured",
            self.base.channel_count(),
            self.record.channel_count()
        )
    }
}

impl std::error::Error for OtherLayout {}

#[cfg(test)]
mod tests;
