//! Lists of numbers as bytes: small ones in few bits, the entropy stage by `miniz_oxide`.
//!
//! A number is cut into a class (exact up to 15, then a quarter of an octave each) and the bits
//! below. Classes are bytes of their own, which Huffman codes fit well; the bits below are close
//! to noise and are stored as they are.

use crate::record::Fnv1a;
use miniz_oxide::DataFormat;
use miniz_oxide::deflate::core::{
    CompressionStrategy, CompressorOxide, TDEFLFlush, compress_to_output,
};
use miniz_oxide::inflate::decompress_to_vec_with_limit;

/// Numbers below this are a class each.
const EXACT: u64 = 16;
/// Numbers are below two to this power.
const MAX_BITS: u32 = 53;
/// Bits of a number after its highest one that belong to its class.
const CLASS_BITS: u32 = 2;
/// Highest exponent of an exact class plus one: log2 of [`EXACT`].
const FIRST_EXPONENT: u32 = 4;

/// Effort of the compressor, 0 to 10: more makes noise no smaller. The project's own choice, no
/// source.
const LEVEL: u8 = 6;
/// The most that the format has.
const WINDOW_BITS: u8 = 15;

/// What is wrong with saved bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Damage(pub &'static str);

/// Writes lists, one behind the other.
pub(super) struct Writer {
    bytes: Vec<u8>,
    compressor: CompressorOxide,
}

impl Writer {
    pub fn new() -> Self {
        let compressor = CompressorOxide::with_params(
            DataFormat::Raw,
            LEVEL,
            CompressionStrategy::RLE,
            WINDOW_BITS,
        );
        Self { bytes: Vec::new(), compressor }
    }

    pub fn into_bytes(self) -> Vec<u8> {
        self.bytes
    }

    /// Writes numbers below 2^53; higher ones become the highest.
    pub fn numbers(&mut self, numbers: impl IntoIterator<Item = u64>) {
        let mut classes = Vec::new();
        let mut below = BitWriter::default();
        for number in numbers {
            let number = number.min((1 << MAX_BITS) - 1);
            if let Some(exponent) = number.checked_ilog2().filter(|&e| e >= FIRST_EXPONENT) {
                let width = exponent - CLASS_BITS;
                let class = EXACT
                    + (u64::from(exponent - FIRST_EXPONENT) << CLASS_BITS)
                    + ((number >> width) & ((1 << CLASS_BITS) - 1));
                classes.push(u8::try_from(class).unwrap_or(u8::MAX));
                below.put(number & ((1 << width) - 1), width);
            } else {
                classes.push(u8::try_from(number).unwrap_or(0));
            }
        }
        self.packed(&classes);
        self.part(&below.finish());
    }

    /// Writes numbers of either sign, magnitudes below 2^52.
    pub fn signed(&mut self, numbers: impl IntoIterator<Item = i64>) {
        self.numbers(numbers.into_iter().map(zigzag));
    }

    /// Writes the lowest `width` bits of each number as they are.
    pub fn bits(&mut self, numbers: impl IntoIterator<Item = u64>, width: u32) {
        let mut bits = BitWriter::default();
        for number in numbers {
            bits.put(number & ((1 << width) - 1), width);
        }
        self.part(&bits.finish());
    }

    fn packed(&mut self, bytes: &[u8]) {
        self.compressor.reset();
        let mut packed = Vec::with_capacity(bytes.len());
        compress_to_output(&mut self.compressor, bytes, TDEFLFlush::Finish, |some| {
            packed.extend_from_slice(some);
            true
        });
        self.part(&packed);
    }

    /// Length and bytes.
    fn part(&mut self, bytes: &[u8]) {
        let mut len = bytes.len();
        while len >= 128 {
            self.bytes.push(u8::try_from(len % 128).unwrap_or(0) | 128);
            len /= 128;
        }
        self.bytes.push(u8::try_from(len).unwrap_or(0));
        self.bytes.extend_from_slice(bytes);
    }
}

/// Reads what a [`Writer`] wrote. Whoever reads says how many numbers there must be, so that
/// nothing grows beyond that.
pub(super) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    pub const fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    pub fn is_empty(&self) -> bool {
        self.rest.is_empty()
    }

    /// Reads `count` numbers.
    pub fn numbers(&mut self, count: usize) -> Result<Vec<u64>, Damage> {
        let packed = self.part()?;
        let classes = decompress_to_vec_with_limit(packed, count)
            .map_err(|_| Damage("a list that cannot be unpacked"))?;
        if classes.len() != count {
            return Err(Damage("a list of another length"));
        }
        let mut below = BitReader::new(self.part()?);
        let number = |class: u8| {
            let class = u64::from(class);
            let Some(above) = class.checked_sub(EXACT) else { return Ok(class) };
            let exponent = FIRST_EXPONENT + u32::try_from(above >> CLASS_BITS).unwrap_or(0);
            if exponent >= MAX_BITS {
                return Err(Damage("a number that is too large"));
            }
            let width = exponent - CLASS_BITS;
            let top = (1 << CLASS_BITS) | (above & ((1 << CLASS_BITS) - 1));
            Ok((top << width) | below.take(width)?)
        };
        classes.into_iter().map(number).collect()
    }

    /// Reads `count` numbers of either sign.
    pub fn signed(&mut self, count: usize) -> Result<Vec<i64>, Damage> {
        Ok(self.numbers(count)?.into_iter().map(unzigzag).collect())
    }

    /// Reads `count` numbers of `width` bits.
    pub fn bits(&mut self, count: usize, width: u32) -> Result<Vec<u64>, Damage> {
        let mut bits = BitReader::new(self.part()?);
        (0..count).map(|_| bits.take(width)).collect()
    }

    fn part(&mut self) -> Result<&'a [u8], Damage> {
        let mut len = 0_usize;
        for shift in (0..28).step_by(7) {
            let (&byte, rest) = self.rest.split_first().ok_or(Damage("cut short"))?;
            self.rest = rest;
            len |= usize::from(byte & 127) << shift;
            if byte < 128 {
                let (part, rest) = self.rest.split_at_checked(len).ok_or(Damage("cut short"))?;
                self.rest = rest;
                return Ok(part);
            }
        }
        Err(Damage("a length that is too large"))
    }
}

/// Hash of texts one behind the other (FNV-1a, 64 bits), 16 hex digits: a flipped bit would else be
/// other figures.
pub(super) fn check(texts: &[&str]) -> String {
    let mut hash = Fnv1a::new();
    for text in texts {
        hash.add_bytes(text.as_bytes());
    }
    format!("{:016x}", hash.0)
}

/// 0, −1, 1, −2, 2 … as 0, 1, 2, 3, 4 …
const fn zigzag(number: i64) -> u64 {
    ((number << 1) ^ (number >> 63)).cast_unsigned()
}

const fn unzigzag(number: u64) -> i64 {
    (number >> 1).cast_signed() ^ -(number & 1).cast_signed()
}

#[derive(Default)]
struct BitWriter {
    bytes: Vec<u8>,
    /// Bits that do not fill a byte yet, the first one lowest.
    held: u64,
    held_bits: u32,
}

impl BitWriter {
    /// `width` at most 51; `bits` has no others.
    fn put(&mut self, bits: u64, width: u32) {
        self.held |= bits << self.held_bits;
        self.held_bits += width;
        while self.held_bits >= 8 {
            let [byte, ..] = self.held.to_le_bytes();
            self.bytes.push(byte);
            self.held >>= 8;
            self.held_bits -= 8;
        }
    }

    fn finish(mut self) -> Vec<u8> {
        if self.held_bits > 0 {
            let [byte, ..] = self.held.to_le_bytes();
            self.bytes.push(byte);
        }
        self.bytes
    }
}

struct BitReader<'a> {
    bytes: std::slice::Iter<'a, u8>,
    held: u64,
    held_bits: u32,
}

impl<'a> BitReader<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Self { bytes: bytes.iter(), held: 0, held_bits: 0 }
    }

    /// `width` at most 51.
    fn take(&mut self, width: u32) -> Result<u64, Damage> {
        while self.held_bits < width {
            let byte = self.bytes.next().ok_or(Damage("cut short"))?;
            self.held |= u64::from(*byte) << self.held_bits;
            self.held_bits += 8;
        }
        let bits = self.held & ((1 << width) - 1);
        self.held >>= width;
        self.held_bits -= width;
        Ok(bits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_any_size_come_back() {
        let mut numbers: Vec<u64> = (0..3_000).collect();
        numbers.extend((0..MAX_BITS).map(|bit| (1 << bit) | (1 << (bit / 2)) | 1));
        numbers.push((1 << MAX_BITS) - 1);
        let signed: Vec<i64> = numbers
            .iter()
            .map(|&number| number.cast_signed() >> 1)
            .flat_map(|number| [number, -number])
            .collect();
        let mut writer = Writer::new();
        writer.numbers(numbers.iter().copied());
        writer.signed(signed.iter().copied());
        writer.bits(numbers.iter().copied(), 7);
        writer.numbers([]);
        let bytes = writer.into_bytes();
        let mut reader = Reader::new(&bytes);
        assert_eq!(reader.numbers(numbers.len()).unwrap(), numbers);
        assert_eq!(reader.signed(signed.len()).unwrap(), signed);
        let low: Vec<u64> = numbers.iter().map(|number| number & 127).collect();
        assert_eq!(reader.bits(numbers.len(), 7).unwrap(), low);
        assert!(reader.numbers(0).unwrap().is_empty());
        assert!(reader.is_empty());
    }

    #[test]
    fn a_list_never_grows_beyond_what_is_asked_for() {
        let mut writer = Writer::new();
        writer.numbers(std::iter::repeat_n(0, 10_000_000));
        let bytes = writer.into_bytes();
        assert!(bytes.len() < 20_000);
        for count in [0, 100, 9_999_999, 10_000_001] {
            assert!(Reader::new(&bytes).numbers(count).is_err(), "{count}");
        }
        for len in 0..bytes.len() {
            assert!(Reader::new(&bytes[..len]).numbers(10_000_000).is_err(), "{len}");
        }
    }
}
