//! How a hop lies in memory: as words that can each be read and written atomically.

use super::Hop;
use crate::meters::MAX_CHANNELS;
use crate::meters::layout::Layout;
use std::sync::atomic::{AtomicU32, Ordering};

/// Words of a slot before the peaks: stamp, energy, counts, what it is.
const HEAD_WORDS: usize = 4;
/// Words of a slot after the peaks: L², R², LR.
const TAIL_WORDS: usize = 3;
/// Words after the stamp with the most channels.
pub(super) const MAX_DATA_WORDS: usize = HEAD_WORDS - 1 + 2 * MAX_CHANNELS + TAIL_WORDS;

/// Highest number of a playthrough that a slot can hold; later ones keep this number.
pub(super) const MAX_PLAYTHROUGH: u32 = (1 << 18) - 1;

/// Words of a slot, stamp included.
pub(super) const fn stride_words(layout: Layout) -> usize {
    HEAD_WORDS + 2 * layout.channel_count() + TAIL_WORDS
}

/// Stores a hop into the words after the stamp.
pub(super) fn pack(hop: &Hop, channels: usize, data: &[AtomicU32]) {
    let kind = (hop.playthrough.min(MAX_PLAYTHROUGH) << 14)
        | (u32::from(hop.full) << 13)
        | (u32::from(hop.edge) << 12)
        | u32::from(hop.frames.min(0xFFF));
    let head =
        [hop.energy.to_bits(), (u32::from(hop.clipped) << 16) | u32::from(hop.scrubbed), kind];
    let peaks = hop.sample_peaks.iter().take(channels);
    let peaks = peaks.chain(hop.true_peaks.iter().take(channels));
    let tail = [hop.left_mean_square, hop.right_mean_square, hop.left_right_mean];
    let values = head.into_iter().chain(peaks.chain(tail.iter()).map(|value| value.to_bits()));
    for (word, value) in data.iter().zip(values) {
        word.store(value, Ordering::Relaxed);
    }
}

/// The hop's rise of the momentary loudness, as it stands in the stamp.
pub(super) const fn rise(hop: &Hop) -> u16 {
    // Runs beyond the last number cannot be told apart, so none of them has a rise.
    if hop.playthrough >= MAX_PLAYTHROUGH { 0 } else { hop.momentary_rise }
}

/// Reads a hop out of a slot, stamp included; `None` if it was never written. The caller makes
/// sure that the copy is whole.
pub(super) fn unpack(slot: &[AtomicU32], channels: usize) -> Option<Hop> {
    let mut words = slot.iter().map(|word| word.load(Ordering::Relaxed));
    let [momentary_rise, count] = halves(words.next()?);
    if count == 0 {
        return None;
    }
    let energy = f32::from_bits(words.next()?);
    let [clipped, scrubbed] = halves(words.next()?);
    let kind = words.next()?;
    let mut sample_peaks = [0.0; MAX_CHANNELS];
    let mut true_peaks = [0.0; MAX_CHANNELS];
    for peak in sample_peaks.iter_mut().take(channels) {
        *peak = f32::from_bits(words.next()?);
    }
    for peak in true_peaks.iter_mut().take(channels) {
        *peak = f32::from_bits(words.next()?);
    }
    Some(Hop {
        energy,
        momentary_rise,
        frames: halves(kind & 0xFFF)[1],
        full: kind & (1 << 13) != 0,
        edge: kind & (1 << 12) != 0,
        clipped,
        scrubbed,
        playthrough: kind >> 14,
        sample_peaks,
        true_peaks,
        left_mean_square: f32::from_bits(words.next()?),
        right_mean_square: f32::from_bits(words.next()?),
        left_right_mean: f32::from_bits(words.next()?),
    })
}

/// The upper and lower 16 bits of a word.
pub(super) fn halves(word: u32) -> [u16; 2] {
    let [a, b, c, d] = word.to_be_bytes();
    [u16::from_be_bytes([a, b]), u16::from_be_bytes([c, d])]
}

/// A hash of words (FNV-1a, 64 bits, constants from memory): against damage and for comparing,
/// not against anybody's intent.
pub(crate) struct Fnv1a(pub u64);

impl Fnv1a {
    pub const fn new() -> Self {
        Self(0xCBF2_9CE4_8422_2325)
    }

    pub fn add(&mut self, word: u32) {
        self.add_bytes(&word.to_le_bytes());
    }

    pub fn add_bytes(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
    }
}
