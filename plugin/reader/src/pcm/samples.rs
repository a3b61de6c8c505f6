//! Samples out of bytes.

/// How a sample stands in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SampleKind {
    /// Unsigned, 128 is zero (WAVE).
    U8,
    /// Signed (AIFF).
    I8,
    /// Signed whole numbers, least significant byte first.
    I16Le,
    /// As [`Self::I16Le`].
    I24Le,
    /// As [`Self::I16Le`].
    I32Le,
    /// Signed whole numbers, most significant byte first.
    I16Be,
    /// As [`Self::I16Be`].
    I24Be,
    /// As [`Self::I16Be`].
    I32Be,
    /// Floats, least significant byte first.
    F32Le,
    /// As [`Self::F32Le`].
    F64Le,
    /// Floats, most significant byte first.
    F32Be,
    /// As [`Self::F32Be`].
    F64Be,
}

const STEPS_8: f32 = 128.0;
const STEPS_16: f32 = 32_768.0;
const STEPS_32: f32 = 2_147_483_648.0;

impl SampleKind {
    /// Bytes of a sample.
    pub const fn bytes(self) -> usize {
        match self {
            Self::U8 | Self::I8 => 1,
            Self::I16Le | Self::I16Be => 2,
            Self::I24Le | Self::I24Be => 3,
            Self::I32Le | Self::I32Be | Self::F32Le | Self::F32Be => 4,
            Self::F64Le | Self::F64Be => 8,
        }
    }

    /// Whether it is a float.
    pub const fn is_float(self) -> bool {
        matches!(self, Self::F32Le | Self::F64Le | Self::F32Be | Self::F64Be)
    }

    /// Appends whole frames to one plane per channel. Returns whether a sample used a bit below
    /// the 24th, which a plane cannot show.
    pub fn decode(self, bytes: &[u8], planes: &mut [Vec<f32>]) -> bool {
        match self {
            Self::U8 => spread(bytes, planes, |[b]| (f32::from(b) - STEPS_8) / STEPS_8),
            Self::I8 => spread(bytes, planes, |[b]| f32::from(b.cast_signed()) / STEPS_8),
            Self::I16Le => spread(bytes, planes, |b| f32::from(i16::from_le_bytes(b)) / STEPS_16),
            Self::I16Be => spread(bytes, planes, |b| f32::from(i16::from_be_bytes(b)) / STEPS_16),
            Self::I24Le => {
                spread(bytes, planes, |[a, b, c]| wide(i32::from_le_bytes([0, a, b, c])))
            }
            Self::I24Be => {
                spread(bytes, planes, |[a, b, c]| wide(i32::from_be_bytes([a, b, c, 0])))
            }
            Self::I32Le => spread(bytes, planes, |b| wide(i32::from_le_bytes(b))),
            Self::I32Be => spread(bytes, planes, |b| wide(i32::from_be_bytes(b))),
            Self::F32Le => spread(bytes, planes, f32::from_le_bytes),
            Self::F32Be => spread(bytes, planes, f32::from_be_bytes),
            Self::F64Le => spread(bytes, planes, |b| narrow(f64::from_le_bytes(b))),
            Self::F64Be => spread(bytes, planes, |b| narrow(f64::from_be_bytes(b))),
        }
        let lowest: fn(&[u8; 4]) -> u8 = match self {
            Self::I32Le => |b| b[0],
            Self::I32Be => |b| b[3],
            _ => return false,
        };
        bytes.as_chunks::<4>().0.iter().fold(0, |used, sample| used | lowest(sample)) != 0
    }
}

/// A sample of 32 bits, left-aligned. Those of 24 bits are exact; of 32 bits the nearest float.
#[expect(clippy::cast_precision_loss, reason = "the nearest float is what is wanted")]
const fn wide(sample: i32) -> f32 {
    sample as f32 / STEPS_32
}

#[expect(clippy::cast_possible_truncation, reason = "the nearest float is what is wanted")]
const fn narrow(sample: f64) -> f32 {
    sample as f32
}

/// Interleaved samples of `W` bytes onto one plane per channel.
fn spread<const W: usize>(
    bytes: &[u8],
    planes: &mut [Vec<f32>],
    decode: impl Fn([u8; W]) -> f32 + Copy,
) {
    let (samples, _) = bytes.as_chunks::<W>();
    match planes {
        [] => {}
        [only] => only.extend(samples.iter().map(|&bytes| decode(bytes))),
        [left, right] => {
            let (frames, _) = samples.as_chunks::<2>();
            left.extend(frames.iter().map(|&[bytes, _]| decode(bytes)));
            right.extend(frames.iter().map(|&[_, bytes]| decode(bytes)));
        }
        planes => {
            let channels = planes.len();
            for (channel, plane) in planes.iter_mut().enumerate() {
                let own = samples.iter().skip(channel).step_by(channels);
                plane.extend(own.map(|&bytes| decode(bytes)));
            }
        }
    }
}
