//! Opus packets in and out as floats: the safe face of libopus (RFC 6716), which the crate
//! `unsafe-libopus` holds in Rust with C's interface.
//!
//! What comes out is not clipped: a decoded peak over full scale is what is looked for.

#![expect(unsafe_code, reason = "the interface of C; every call says why it holds")]

use std::fmt;
use std::ptr::NonNull;
use unsafe_libopus as unsafe_opus;

/// Rate of all sound in Opus here, Hz.
pub const RATE_HZ: u32 = 48_000;

/// Frames of a packet that [`Encoder`] makes: 20 ms, what libopus is made for (RFC 6716 §2.1.4).
pub const PACKET_FRAMES: usize = 960;

/// Most frames that a packet holds: 120 ms (RFC 6716 §3.2.5).
pub const MAX_PACKET_FRAMES: usize = 5_760;

/// Most bytes of an encoded packet: libopus recommends 4000 (opus.h).
const MAX_PACKET_BYTES: usize = 4_000;

/// Why a packet is not made or not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpusError {
    /// More than two channels, or none.
    Channels {
        /// How many were asked for.
        channels: usize,
    },
    /// A block that does not hold one packet's sound.
    Block {
        /// Samples of the block.
        samples: usize,
        /// Samples that it must have.
        wanted: usize,
    },
    /// The library's own code (opus_defines.h: −1 argument, −2 room, −3 inside, −4 packet).
    Library {
        /// The code.
        code: i32,
    },
}

impl fmt::Display for OpusError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Channels { channels } => write!(f, "{channels} channels: must be 1 or 2"),
            Self::Block { samples, wanted } => {
                write!(f, "a block of {samples} samples: must be {wanted}")
            }
            Self::Library { code: -4 } => write!(f, "no Opus packet"),
            Self::Library { code } => write!(f, "libopus: error {code}"),
        }
    }
}

impl std::error::Error for OpusError {}

fn count(channels: usize) -> Result<i32, OpusError> {
    match channels {
        1 => Ok(1),
        2 => Ok(2),
        _ => Err(OpusError::Channels { channels }),
    }
}

/// Makes packets of 20 ms.
pub struct Encoder {
    state: NonNull<unsafe_opus::OpusEncoder>,
    channels: usize,
    lookahead_frames: u16,
}

impl Encoder {
    /// For `channels` (1 or 2) at a bit rate, in the mode for music and with the library's best
    /// effort, as files are encoded.
    ///
    /// # Errors
    /// Other channel counts; what the library refuses.
    pub fn new(channels: usize, bits_per_second: u32) -> Result<Self, OpusError> {
        let rate_hz = 48_000;
        let mut code = unsafe_opus::OPUS_OK;
        // SAFETY: plain numbers go in; `code` lives until the call returns.
        let state = unsafe {
            unsafe_opus::opus_encoder_create(
                rate_hz,
                count(channels)?,
                unsafe_opus::OPUS_APPLICATION_AUDIO,
                &raw mut code,
            )
        };
        let state = NonNull::new(state).ok_or(OpusError::Library { code })?;
        let mut encoder = Self { state, channels, lookahead_frames: 0 };
        let bits = i32::try_from(bits_per_second).unwrap_or(i32::MAX);
        let mut lookahead_frames = 0;
        // SAFETY: `state` is a live encoder of ours alone; each request has the argument that the
        // library asks for (opus_defines.h).
        let codes = unsafe {
            let state = encoder.state.as_ptr();
            [
                unsafe_opus::opus_encoder_ctl!(state, unsafe_opus::OPUS_SET_BITRATE_REQUEST, bits),
                unsafe_opus::opus_encoder_ctl!(
                    state,
                    unsafe_opus::OPUS_GET_LOOKAHEAD_REQUEST,
                    &mut lookahead_frames
                ),
            ]
        };
        if let Some(&code) = codes.iter().find(|code| **code != unsafe_opus::OPUS_OK) {
            return Err(OpusError::Library { code });
        }
        encoder.lookahead_frames = u16::try_from(lookahead_frames).unwrap_or(0);
        Ok(encoder)
    }

    /// Frames by which what comes out of the decoder is late.
    #[must_use]
    pub const fn lookahead_frames(&self) -> u16 {
        self.lookahead_frames
    }

    /// The packet of [`PACKET_FRAMES`] frames of interleaved samples.
    ///
    /// # Errors
    /// A block of another length; what the library refuses.
    pub fn encode(&mut self, interleaved: &[f32]) -> Result<Vec<u8>, OpusError> {
        let wanted = PACKET_FRAMES * self.channels;
        if interleaved.len() != wanted {
            return Err(OpusError::Block { samples: interleaved.len(), wanted });
        }
        let mut packet = vec![0; MAX_PACKET_BYTES];
        // SAFETY: `state` is a live encoder of `channels` channels; `interleaved` holds the frames
        // that are stated, and `packet` the bytes that are stated.
        let len_bytes = unsafe {
            unsafe_opus::opus_encode_float(
                self.state.as_ptr(),
                interleaved.as_ptr(),
                960,
                packet.as_mut_ptr(),
                4_000,
            )
        };
        packet.truncate(checked(len_bytes)?);
        Ok(packet)
    }
}

impl Drop for Encoder {
    fn drop(&mut self) {
        // SAFETY: `state` came from `opus_encoder_create` and is not used after this.
        unsafe { unsafe_opus::opus_encoder_destroy(self.state.as_ptr()) }
    }
}

/// Reads packets.
pub struct Decoder {
    state: NonNull<unsafe_opus::OpusDecoder>,
    channels: usize,
    interleaved: Vec<f32>,
}

// SAFETY: the state is memory that this value alone points at; libopus keeps nothing in threads.
unsafe impl Send for Decoder {}

impl Decoder {
    /// For `channels`, 1 or 2: what comes out has as many, whatever the packets hold.
    ///
    /// # Errors
    /// Other channel counts; what the library refuses.
    pub fn new(channels: usize) -> Result<Self, OpusError> {
        let rate_hz = 48_000;
        let mut code = unsafe_opus::OPUS_OK;
        // SAFETY: plain numbers go in; `code` lives until the call returns.
        let state =
            unsafe { unsafe_opus::opus_decoder_create(rate_hz, count(channels)?, &raw mut code) };
        let state = NonNull::new(state).ok_or(OpusError::Library { code })?;
        Ok(Self { state, channels, interleaved: vec![0.0; MAX_PACKET_FRAMES * channels] })
    }

    /// The sound of a packet, interleaved; 1.0 is full scale.
    ///
    /// # Errors
    /// Bytes that are no packet.
    pub fn decode(&mut self, packet: &[u8]) -> Result<&[f32], OpusError> {
        let len_bytes = i32::try_from(packet.len()).unwrap_or(i32::MAX);
        if len_bytes == 0 {
            // To the library no byte means a packet that got lost.
            return Err(OpusError::Library { code: unsafe_opus::OPUS_INVALID_PACKET });
        }
        // SAFETY: `state` is a live decoder of `channels` channels that nobody else points at;
        // `packet` holds `len_bytes`, and `interleaved` the frames that are stated.
        let frames = unsafe {
            unsafe_opus::opus_decode_float(
                self.state.as_mut(),
                packet.as_ptr(),
                len_bytes,
                self.interleaved.as_mut_ptr(),
                5_760,
                0,
            )
        };
        let samples = checked(frames)? * self.channels;
        Ok(self.interleaved.get(..samples).unwrap_or_default())
    }
}

impl Drop for Decoder {
    fn drop(&mut self) {
        // SAFETY: `state` came from `opus_decoder_create` and is not used after this.
        unsafe { unsafe_opus::opus_decoder_destroy(self.state.as_mut()) }
    }
}

/// The frames of a packet, without decoding it.
///
/// # Errors
/// Bytes that are no packet.
pub fn packet_frames(packet: &[u8]) -> Result<usize, OpusError> {
    let len_bytes = i32::try_from(packet.len()).unwrap_or(i32::MAX);
    // SAFETY: `packet` holds `len_bytes`, and the library looks at its first two bytes at most.
    checked(unsafe { unsafe_opus::opus_packet_get_nb_samples(packet.as_ptr(), len_bytes, 48_000) })
}

/// A length that the library returned; its errors are below zero.
fn checked(returned: i32) -> Result<usize, OpusError> {
    usize::try_from(returned).map_err(|_| OpusError::Library { code: returned })
}

#[cfg(test)]
mod tests;
