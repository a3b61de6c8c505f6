//! The memory of a record: one slot of atomic words per hop, written by one thread, read by any.
//!
//! Each slot is a sequence lock, see `seqlock`; the upper half of its stamp carries the rise of the
//! momentary loudness.

use super::base::{BaseHops, Layer, OtherLayout};
use super::floors::{Floors, TrimUndo};
use super::seqlock;
use super::tone::{END_SECOND, FIRST_SECOND, ToneCells, ToneSecond, ToneWriter};
use super::words::{Fnv1a, MAX_DATA_WORDS, MAX_PLAYTHROUGH, pack, rise, stride_words, unpack};
use super::{END_HOP, FIRST_HOP, HOPS_PER_SECOND, Hop};
use crate::meters::layout::Layout;
use arc_swap::ArcSwapOption;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};

/// Hops per chunk: the grain at which readers learn what changed.
pub const CHUNK_HOPS: usize = 256;

pub(super) struct Slots {
    layout: Layout,
    stride_words: usize,
    words: Box<[AtomicU32]>,
    /// One count of writes per chunk; 0 = never written.
    chunk_revisions: Box<[AtomicU32]>,
    /// Count of all writes, resets and trims.
    pub(super) revision: AtomicU64,
    /// Tone by second, written by whoever has the [`ToneWriter`].
    pub(super) tone: ToneCells,
    /// What resets and trims have forgotten.
    floors: Floors,
    /// The playthrough that is being written, 0 = none yet. Moved by the audio thread alone.
    newest_playthrough: AtomicU32,
    /// The newest playthrough of an earlier session; what is measured counts on from there. Moved
    /// up by the main thread alone, so that neither of the two counts needs a loop to write.
    loaded_playthrough: AtomicU32,
    /// Count of bases that were put there.
    loads: AtomicU32,
    /// What lies below the slots.
    base: ArcSwapOption<Layer>,
    /// Whether time beyond the end of the record was played.
    overrun: AtomicBool,
}

/// Makes the two ends of a record for `layout`, from [`FIRST_HOP`] to [`END_HOP`].
///
/// Allocates 44 bytes a hop in stereo, 32 MB in all. With `touch` the pages are made present at
/// once, so that the audio thread never meets one for the first time.
#[must_use]
pub fn record(layout: Layout, touch: bool) -> (RecordWriter, RecordReader) {
    let (writer, _, reader) = record_of(layout, all_hops(), 0, touch);
    (writer, reader)
}

/// The same with tone by second, another 1.2 MB, whose pages come as it grows.
#[must_use]
pub fn record_with_tone(layout: Layout, touch: bool) -> (RecordWriter, ToneWriter, RecordReader) {
    let seconds = usize::try_from(END_SECOND - FIRST_SECOND).unwrap_or(0);
    record_of(layout, all_hops(), seconds, touch)
}

fn all_hops() -> usize {
    usize::try_from(END_HOP - FIRST_HOP).unwrap_or(0)
}

/// The same with room for `hops` hops from [`FIRST_HOP`] and `seconds` from [`FIRST_SECOND`] on.
fn record_of(
    layout: Layout,
    hops: usize,
    seconds: usize,
    touch: bool,
) -> (RecordWriter, ToneWriter, RecordReader) {
    let slots = Arc::new(Slots::new(layout, hops, seconds));
    if touch {
        const PAGE_WORDS: usize = 1_024;
        for word in slots.words.iter().step_by(PAGE_WORDS) {
            word.store(0, Ordering::Relaxed);
        }
    }
    let tone = ToneWriter { slots: Arc::clone(&slots) };
    (RecordWriter { slots: Arc::clone(&slots) }, tone, RecordReader { slots })
}

/// The writing end, for the audio thread. There is one of it, and it cannot be copied.
pub struct RecordWriter {
    slots: Arc<Slots>,
}

impl RecordWriter {
    /// `[audio-thread]` Starts the next playthrough and gives its number. Wait-free.
    pub fn begin_playthrough(&mut self) -> u32 {
        let next = self.slots.newest_playthrough() + 1;
        let next = next.max(self.slots.floors.highest()).min(MAX_PLAYTHROUGH);
        self.slots.newest_playthrough.store(next, Ordering::Relaxed);
        next
    }

    /// `[audio-thread]` Whether hops of this playthrough were forgotten by a reset meanwhile.
    #[must_use]
    pub fn was_reset_since(&self, playthrough: u32) -> bool {
        playthrough < self.slots.floors.everywhere()
    }

    /// `[audio-thread]` Whether hops of this playthrough were forgotten meanwhile, at least from
    /// some place on: what is measured now needs another number.
    #[must_use]
    pub fn was_forgotten_somewhere(&self, playthrough: u32) -> bool {
        playthrough < self.slots.floors.highest()
    }

    /// `[audio-thread]` Whether what this playthrough measured at hop `index` was forgotten.
    #[must_use]
    pub fn was_forgotten(&self, index: i32, playthrough: u32) -> bool {
        playthrough < self.slots.floors.at(index)
    }

    /// `[audio-thread]` Whether this playthrough must count as another one from now on: its hops
    /// were forgotten by a reset or a trim, or a state was loaded whose hops have numbers up to this one.
    ///
    /// Asked once a block. Loads race with [`Self::begin_playthrough`] harmlessly: a run that
    /// began without seeing the load is found here in the block after.
    #[must_use]
    pub fn is_outdated(&self, playthrough: u32) -> bool {
        let loaded = self.slots.loaded_playthrough.load(Ordering::Relaxed);
        self.was_forgotten_somewhere(playthrough)
            || (playthrough <= loaded && loaded < MAX_PLAYTHROUGH)
    }

    /// `[audio-thread]` Writes `hop` at song time `index`, unless a better one stands there
    /// ([`Hop::may_replace`]) or the record does not reach so far. Wait-free.
    pub fn write(&mut self, index: i32, hop: &Hop) {
        let Some((offset, slot)) = self.slots.slot(index) else {
            if index >= END_HOP {
                self.slots.overrun.store(true, Ordering::Relaxed);
            }
            return;
        };
        // Only this thread writes, so a plain look at the old hop is whole.
        let old = unpack(slot, self.slots.layout.channel_count());
        let floor = self.slots.floors.at(index);
        // What a reset forgot stands in nobody's way but that of what is forgotten too.
        let in_the_way = |old: &Hop| old.playthrough >= floor || hop.playthrough < floor;
        if old.is_some_and(|old| in_the_way(&old) && !hop.may_replace(&old)) {
            return;
        }
        let [first, data @ ..] = slot else { return };
        let channels = self.slots.layout.channel_count();
        seqlock::write(first, rise(hop), || pack(hop, channels, data));

        self.slots.change_chunk(offset / CHUNK_HOPS);
        self.slots.revision.fetch_add(1, Ordering::Release);
    }
}

/// The reading end, for any thread; cheap to clone.
#[derive(Clone)]
pub struct RecordReader {
    slots: Arc<Slots>,
}

impl RecordReader {
    /// A record without room, in which nothing is ever written: for what is measured without one.
    #[must_use]
    pub fn without_room(layout: Layout) -> Self {
        Self { slots: Arc::new(Slots::new(layout, 0, 0)) }
    }

    /// The channels that the record was made for.
    #[must_use]
    pub fn layout(&self) -> Layout {
        self.slots.layout
    }

    /// `[any-thread]` The hop at song time `index`; `None` if it was not measured, or was
    /// forgotten by a reset. Where an earlier session measured it better ([`Hop::may_replace`]),
    /// that is what counts.
    #[must_use]
    pub fn hop(&self, index: i32) -> Option<Hop> {
        let (_, slot) = self.slots.slot(index)?;
        let floor = self.slots.floors.at(index);
        let measured = self.read(slot).filter(|hop| hop.playthrough >= floor);
        // Nothing replaces a whole hop but a newer one: no need to look below.
        if measured.is_some_and(|hop| hop.full && !hop.edge) {
            return measured;
        }
        let below = self.base_hop(index);
        match (measured, below) {
            (Some(measured), Some(below)) if !measured.may_replace(&below) => Some(below),
            _ => measured.or(below),
        }
    }

    /// A whole copy of a slot.
    fn read(&self, slot: &[AtomicU32]) -> Option<Hop> {
        seqlock::read(slot.first()?, || unpack(slot, self.slots.layout.channel_count()))
    }

    /// The hop of the base, if no reset or trim hides that.
    fn base_hop(&self, index: i32) -> Option<Hop> {
        let layer = self.slots.base.load();
        let layer = layer.as_ref()?;
        (self.slots.floors.at(index) <= layer.first_playthrough).then(|| layer.hops.hop(index))?
    }

    /// `[any-thread]` The tone of the second that begins at song time `second`, in seconds; `None` if
    /// it was not measured, or was forgotten by a reset. Where an earlier session measured it
    /// better ([`ToneSecond::may_replace`]), that is what counts.
    #[must_use]
    pub fn tone_second(&self, second: i32) -> Option<ToneSecond> {
        let floor = self.slots.tone_floor(second);
        let measured = self.slots.tone.read(second).filter(|tone| tone.playthrough >= floor);
        if measured.is_some_and(|tone| tone.is_whole()) {
            return measured;
        }
        let layer = self.slots.base.load();
        let below = layer.as_ref().filter(|layer| floor <= layer.first_playthrough);
        let below = below.and_then(|layer| layer.hops.tone_second(second));
        match (measured, below) {
            (Some(measured), Some(below)) if !measured.may_replace(&below) => Some(below),
            _ => measured.or(below),
        }
    }

    /// `[any-thread]` The tone of all seconds that were measured, in song order.
    pub fn tone_seconds(&self) -> impl Iterator<Item = (i32, ToneSecond)> + '_ {
        let seconds = FIRST_SECOND..END_SECOND;
        seconds.filter_map(|second| Some((second, self.tone_second(second)?)))
    }

    /// `[any-thread]` Changes with every write of any second's tone, and with every load of hops
    /// of an earlier session.
    #[must_use]
    pub fn tone_revision(&self) -> [u32; 2] {
        [self.slots.tone.revision(), self.slots.loads.load(Ordering::Acquire)]
    }

    /// `[any-thread]` Changes with every write of this second's tone; 0 = never written.
    #[must_use]
    pub fn tone_stamp(&self, second: i32) -> u32 {
        self.slots.tone.stamp(second)
    }

    /// `[any-thread]` All hops in song order.
    pub fn hops(&self) -> impl Iterator<Item = (i32, Hop)> + '_ {
        let written = (0..self.chunk_count()).filter(|&chunk| self.chunk_revision(chunk) != 0);
        written.flat_map(chunk_hops).filter_map(|index| Some((index, self.hop(index)?)))
    }

    /// `[main-thread]` Puts hops of an earlier session below what was and will be measured, in
    /// place of what lay there; `None` takes them away. From now on playthroughs count on from the
    /// newest of them, so that they are older than all that is measured after this.
    ///
    /// May be called while the audio thread writes: see [`RecordWriter::is_outdated`]. A reader
    /// that sees a chunk's new revision sees the new base, because that was stored before.
    ///
    /// # Errors
    /// The base has other channels than the record: nothing changes.
    pub fn load(&self, base: Option<Arc<BaseHops>>) -> Result<(), OtherLayout> {
        let record = self.layout();
        if let Some(base) = base.as_ref().map(|base| base.layout()).filter(|&base| base != record) {
            return Err(OtherLayout { record, base });
        }
        let first_playthrough = self.slots.floors.highest();
        if let Some(base) = &base {
            // Also above the first playthrough that counts, so that the next reset moves that.
            let loaded = self.slots.loaded_playthrough.load(Ordering::Relaxed);
            let loaded = loaded.max(base.newest_playthrough()).max(first_playthrough);
            self.slots.loaded_playthrough.store(loaded, Ordering::Relaxed);
        }
        let layer = base.map(|hops| Arc::new(Layer { hops, first_playthrough }));
        let old = self.slots.base.swap(layer.clone());
        self.slots.loads.fetch_add(1, Ordering::Release);
        for chunk in 0..self.chunk_count() {
            let is_in = |layer: &Option<Arc<Layer>>| {
                layer.as_ref().is_some_and(|layer| layer.hops.has_chunk(chunk))
            };
            if is_in(&old) || is_in(&layer) {
                self.slots.change_chunk(chunk);
            }
        }
        self.slots.revision.fetch_add(1, Ordering::Release);
        Ok(())
    }

    /// `[any-thread]` Playthroughs from this number on were begun after the last [`Self::load`];
    /// 1 if there was none.
    #[must_use]
    pub fn first_new_playthrough(&self) -> u32 {
        self.slots.loaded_playthrough.load(Ordering::Relaxed) + 1
    }

    /// `[any-thread]` Grows with every write, reset, trim and load.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.slots.revision.load(Ordering::Acquire)
    }

    /// Number of chunks of [`CHUNK_HOPS`] hops, the first starting at [`FIRST_HOP`].
    #[must_use]
    pub fn chunk_count(&self) -> usize {
        self.slots.chunk_revisions.len()
    }

    /// `[any-thread]` Changes with every write into the chunk, and with a base in it; 0 = never
    /// written.
    #[must_use]
    pub fn chunk_revision(&self, chunk: usize) -> u32 {
        self.slots.chunk_revisions.get(chunk).map_or(0, |revision| revision.load(Ordering::Acquire))
    }

    /// `[any-thread]` Number of the playthrough that is being written; 0 = none yet.
    #[must_use]
    pub fn newest_playthrough(&self) -> u32 {
        self.slots.newest_playthrough.load(Ordering::Relaxed)
    }

    /// `[any-thread]` Changes with every reset, every trim and their undoing, after which any hop
    /// may have come or gone.
    #[must_use]
    pub fn forgotten_revision(&self) -> u32 {
        self.slots.floors.moves()
    }

    /// `[any-thread]` Whether all that this playthrough measured was forgotten by a reset.
    #[must_use]
    pub fn was_reset_since(&self, playthrough: u32) -> bool {
        playthrough < self.slots.floors.everywhere()
    }

    /// `[any-thread]` Whether time beyond the end of the record was played; that time is not
    /// measured, what was measured is kept.
    #[must_use]
    pub fn overrun(&self) -> bool {
        self.slots.overrun.load(Ordering::Relaxed)
    }

    /// `[main-thread]` Forgets all that was measured. Gives what [`Self::undo_reset`] takes.
    pub fn reset(&self) -> u32 {
        let next = (self.slots.newest_playthrough() + 1).min(MAX_PLAYTHROUGH);
        let before = self.slots.floors.set_everywhere(next);
        self.slots.overrun.store(false, Ordering::Relaxed);
        self.slots.revision.fetch_add(1, Ordering::Release);
        before
    }

    /// `[main-thread]` Brings back what a reset forgot, but for what was measured anew since.
    pub fn undo_reset(&self, first_playthrough: u32) {
        self.slots.floors.set_everywhere(first_playthrough);
        self.slots.revision.fetch_add(1, Ordering::Release);
    }

    /// `[main-thread]` Forgets what was measured from hop `end_hop` on, for a song that was cut
    /// shorter in the host; what is played there from now on counts. Gives what
    /// [`Self::undo_trim`] takes. The hop before `end_hop` is kept as it was heard, with what
    /// stood behind it.
    pub fn trim(&self, end_hop: i32) -> TrimUndo {
        let next = (self.newest_playthrough() + 1).min(MAX_PLAYTHROUGH);
        let before = self.slots.floors.trim(end_hop, next);
        self.slots.overrun.store(false, Ordering::Relaxed);
        self.slots.revision.fetch_add(1, Ordering::Release);
        before
    }

    /// `[main-thread]` Brings back what a trim forgot, but for what was measured anew since.
    pub fn undo_trim(&self, before: TrimUndo) {
        self.slots.floors.undo_trim(before);
        self.slots.revision.fetch_add(1, Ordering::Release);
    }

    /// A hash (FNV-1a, 64 bits) over every word of every hop, in song order: two records with
    /// the same fingerprint hold the same bits.
    #[must_use]
    pub fn fingerprint(&self) -> u64 {
        let mut hash = Fnv1a::new();
        for (index, hop) in self.hops() {
            hash.add(index.cast_unsigned());
            hash.add(u32::from(hop.momentary_rise));
            let words: [AtomicU32; MAX_DATA_WORDS] = Default::default();
            pack(&hop, self.slots.layout.channel_count(), &words);
            let used = self.slots.stride_words - 1;
            for word in words.iter().take(used) {
                hash.add(word.load(Ordering::Relaxed));
            }
        }
        hash.0
    }
}

/// The song times of the hops in a chunk.
pub(crate) fn chunk_hops(chunk: usize) -> std::ops::Range<i32> {
    let start = i32::try_from(chunk * CHUNK_HOPS).map_or(END_HOP, |offset| FIRST_HOP + offset);
    let end = start.saturating_add(i32::try_from(CHUNK_HOPS).unwrap_or(0));
    start..end.min(END_HOP)
}

impl Slots {
    fn new(layout: Layout, hops: usize, seconds: usize) -> Self {
        let stride_words = stride_words(layout);
        Self {
            layout,
            stride_words,
            words: bytemuck::zeroed_slice_box(hops * stride_words),
            chunk_revisions: bytemuck::zeroed_slice_box(hops.div_ceil(CHUNK_HOPS)),
            revision: AtomicU64::new(0),
            tone: ToneCells::new(seconds),
            floors: Floors::new(),
            newest_playthrough: AtomicU32::new(0),
            loaded_playthrough: AtomicU32::new(0),
            loads: AtomicU32::new(0),
            base: ArcSwapOption::empty(),
            overrun: AtomicBool::new(false),
        }
    }

    /// The number below which playthroughs are forgotten at second `index`: a second that a trim cuts
    /// in two counts as cut off.
    pub(super) fn tone_floor(&self, second: i32) -> u32 {
        let next = second.saturating_add(1).saturating_mul(HOPS_PER_SECOND);
        self.floors.at(next.saturating_sub(1))
    }

    /// The highest number that is taken, here or in an earlier session.
    fn newest_playthrough(&self) -> u32 {
        let written = self.newest_playthrough.load(Ordering::Relaxed);
        written.max(self.loaded_playthrough.load(Ordering::Relaxed))
    }

    /// Tells readers that a chunk changed. Counts with one atomic step, because the main thread
    /// does so too when it puts a base there.
    fn change_chunk(&self, chunk: usize) {
        if let Some(revision) = self.chunk_revisions.get(chunk)
            && revision.fetch_add(1, Ordering::Release) == u32::MAX
        {
            // 0 means "never written".
            revision.fetch_add(1, Ordering::Release);
        }
    }

    /// Offset and words of the slot at song time `index`, if the record reaches there.
    fn slot(&self, index: i32) -> Option<(usize, &[AtomicU32])> {
        if index >= END_HOP {
            return None;
        }
        let offset = usize::try_from(index.checked_sub(FIRST_HOP)?).ok()?;
        let start = offset * self.stride_words;
        let words = self.words.get(start..start + self.stride_words)?;
        Some((offset, words))
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
