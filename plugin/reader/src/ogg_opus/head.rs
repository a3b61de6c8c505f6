//! The identification header of Ogg Opus (RFC 7845 §5.1).

use crate::ReadError;

/// What the first packet says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Head {
    /// 1 or 2.
    pub channels: usize,
    /// Frames at the start that the decoder makes and nobody is to hear.
    pub pre_skip_frames: u64,
    /// What every sample is to be multiplied with.
    pub gain: f32,
}

impl Head {
    /// Reads it.
    pub fn read(packet: &[u8]) -> Result<Self, ReadError> {
        let Some(&[version, channels, s0, s1, _, _, _, _, g0, g1, family]) =
            packet.strip_prefix(b"OpusHead").and_then(|rest| rest.first_chunk())
        else {
            return Err(ReadError::damaged("no whole Opus head"));
        };
        if version >= 16 {
            return Err(ReadError::Unsupported {
                what: format!("Ogg Opus of version {version}: 0 to 15 are read (RFC 7845)"),
            });
        }
        // Family 1 with one stream holds the same packets as family 0.
        let is_one_stream = match family {
            0 => true,
            1 => packet.get(19) == Some(&1),
            _ => false,
        };
        if !is_one_stream || !(1..=2).contains(&channels) {
            return Err(ReadError::Unsupported {
                what: format!(
                    "Ogg Opus of {channels} channels (mapping family {family}): mono and stereo \
                     are read"
                ),
            });
        }
        // 256 steps a decibel.
        let gain_db = f32::from(i16::from_le_bytes([g0, g1])) / 256.0;
        Ok(Self {
            channels: usize::from(channels),
            pre_skip_frames: u64::from(u16::from_le_bytes([s0, s1])),
            gain: 10.0_f32.powf(gain_db / 20.0),
        })
    }
}
