//! Damage to files and texts, seeded.

use crate::noise::Rng;

/// Numbers that sizes and counts go wrong with.
const WORDS: [u32; 6] = [0, 1, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF, 0xFFFF_0000];
const NUMBERS: [&str; 6] = ["-1", "1e308", "4294967296", "18446744073709551616", "null", "[[[["];

/// `whole` with up to `most` of its bytes changed, cut out, doubled, or with a number in place of
/// another; half of that in the first 64 bytes, where headers stand.
#[must_use]
pub fn damaged(whole: &[u8], most: usize, rng: &mut Rng) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    for _ in 0..rng.between(1, most) {
        if bytes.is_empty() {
            break;
        }
        let last = bytes.len() - 1;
        let reach = if rng.between(0, 1) == 0 { last } else { last.min(63) };
        let at = rng.between(0, reach);
        let end = (at + rng.between(1, 12)).min(bytes.len());
        match rng.between(0, 6) {
            0 => bytes[at] ^= 1 << rng.between(0, 7),
            1 => bytes[at] = rng.next_u64() as u8,
            2 => drop(bytes.drain(at..end)),
            3 => {
                let again = bytes[at..end].to_vec();
                bytes.splice(at..at, again);
            }
            4 => bytes.truncate(at),
            5 => {
                let word = WORDS[rng.between(0, WORDS.len() - 1)];
                let word = if rng.between(0, 1) == 0 { word } else { word.swap_bytes() };
                bytes.iter_mut().skip(at).zip(word.to_le_bytes()).for_each(|(to, from)| *to = from);
            }
            _ => {
                let number = NUMBERS[rng.between(0, NUMBERS.len() - 1)];
                bytes.splice(at..end, number.bytes());
            }
        }
    }
    bytes
}
