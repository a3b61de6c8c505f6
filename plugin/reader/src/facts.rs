//! What the header of a file says.

/// How samples are kept in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coding {
    /// Whole numbers of so many bits, kept without loss.
    Integer {
        /// Bits per sample that the header states.
        bits: u32,
    },
    /// Floats of so many bits.
    Float {
        /// Bits per sample.
        bits: u32,
    },
    /// A lossy code: what comes out is not what went in.
    Lossy,
}

/// What the header of a file says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileFacts {
    /// The container or code, as people call it: "WAV", "FLAC".
    pub format: &'static str,
    /// How samples are kept.
    pub coding: Coding,
    /// Frames per second, Hz; above zero.
    pub rate_hz: u32,
    /// Number of channels, 1 to [`MAX_CHANNELS`](crate::MAX_CHANNELS).
    pub channels: usize,
    /// Length in frames where the header tells; only as true as the header.
    pub len_frames: Option<u64>,
}
