//! Bits that the samples really use.
//!
//! Definition: the position, counted from the top, of the lowest bit that is set in any sample of
//! any channel. A file of 24 bits whose samples never set the lowest eight holds 16 (common
//! practice, no source). A float file is asked whether all its samples lie on a grid of 24 bits or
//! fewer. Limit: a gain change or dither after padding sets every bit, and nothing shows then.

use plimsoll_reader::{Block, Coding};

/// Steps of 24 bits from zero to full scale.
const STEPS_24: f32 = 8_388_608.0;

/// The bits of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BitDepth {
    /// What the header says.
    pub stated: Coding,
    /// Bits in use, 1 to 32; `None` where that says nothing: a lossy code, silence, or floats
    /// finer than 24 bits.
    pub used_bits: Option<u32>,
}

impl BitDepth {
    /// Whether the file has room for more bits than its samples use.
    #[must_use]
    pub fn is_padded(&self) -> bool {
        match (self.stated, self.used_bits) {
            (Coding::Integer { bits }, Some(used)) => used < bits,
            (Coding::Float { .. }, Some(_)) => true,
            _ => false,
        }
    }
}

/// Looks for the lowest bit.
#[derive(Debug, Default)]
pub struct BitDepthScan {
    /// Every bit that any sample set, 24 bits.
    used: i32,
    /// A sample lay between the steps of 24 bits.
    is_finer: bool,
}

impl BitDepthScan {
    /// Looks at the next block; at once done when nothing can change any more.
    pub fn push(&mut self, block: &Block) {
        self.is_finer |= block.uses_below_24_bits();
        for plane in block.planes() {
            // In pieces, so that a file that uses them all is not looked at for long.
            for samples in plane.chunks(256) {
                if self.is_finer {
                    return;
                }
                let (mut used, mut is_finer) = (self.used, false);
                for &sample in samples {
                    let scaled = sample * STEPS_24;
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "compared with what it was"
                    )]
                    let step = scaled as i32;
                    #[expect(clippy::cast_precision_loss, reason = "compared with what it was")]
                    let back = step as f32;
                    // What is no number says nothing about bits.
                    is_finer |= back != scaled && scaled.is_finite();
                    used |= step;
                }
                self.used = used;
                self.is_finer |= is_finer;
            }
        }
    }

    /// The file ends.
    pub fn finish(&self, stated: Coding) -> BitDepth {
        let on_grid = (self.used != 0).then(|| 24_u32.saturating_sub(self.used.trailing_zeros()));
        let used_bits = match stated {
            Coding::Lossy => None,
            Coding::Integer { bits } if self.is_finer => Some(bits),
            Coding::Float { .. } if self.is_finer => None,
            // A sample at full scale alone sets no bit of the 24.
            _ => on_grid.map(|bits| bits.max(1)),
        };
        BitDepth { stated, used_bits }
    }
}
