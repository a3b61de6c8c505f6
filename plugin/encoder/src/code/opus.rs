//! Ogg Opus (RFC 7845): the file states the encoder's delay and where the sound ends.

use super::Code;
use crate::EncodeError;
use ogg::writing::{PacketWriteEndInfo, PacketWriter};
use plimsoll_opus::{Encoder, OpusError, PACKET_FRAMES, RATE_HZ};
use std::fs::File;
use std::io::BufWriter;

/// Serial number of the stream, the only one of its file.
const SERIAL: u32 = 1;

/// Packets of a page: one second.
const PAGE_PACKETS: u64 = 50;

/// Writes it.
pub struct Opus {
    encoder: Encoder,
    pages: PacketWriter<'static, BufWriter<File>>,
    channels: usize,
    /// Interleaved samples that do not fill a packet yet.
    waiting: Vec<f32>,
    /// The packet before: only what comes after it tells whether it is the last.
    held: Option<Vec<u8>>,
    /// Packets before the one that is held.
    packets: u64,
    came_frames: u64,
}

impl Opus {
    /// Writes the head.
    pub fn new(file: File, bits_per_second: u32, channels: usize) -> Result<Self, EncodeError> {
        let encoder = Encoder::new(channels, bits_per_second).map_err(failed)?;
        let mut pages = PacketWriter::new(BufWriter::new(file));
        let mut head = b"OpusHead\x01".to_vec();
        head.push(u8::try_from(channels).unwrap_or(0));
        head.extend(encoder.lookahead_frames().to_le_bytes());
        head.extend(RATE_HZ.to_le_bytes());
        // No output gain, mapping family 0.
        head.extend([0, 0, 0]);
        pages.write_packet(head, SERIAL, PacketWriteEndInfo::EndPage, 0)?;
        let mut comments = b"OpusTags\x08\0\0\0plimsoll".to_vec();
        comments.extend([0; 4]);
        pages.write_packet(comments, SERIAL, PacketWriteEndInfo::EndPage, 0)?;
        Ok(Self {
            encoder,
            pages,
            channels,
            waiting: Vec::new(),
            held: None,
            packets: 0,
            came_frames: 0,
        })
    }

    /// Encodes the packets that are full.
    fn encode(&mut self) -> Result<(), EncodeError> {
        let len = PACKET_FRAMES * self.channels;
        let full = self.waiting.len() / len * len;
        let waiting = self.waiting.split_off(full);
        let blocks = std::mem::replace(&mut self.waiting, waiting);
        for block in blocks.chunks_exact(len) {
            let packet = self.encoder.encode(block).map_err(failed)?;
            if let Some(held) = self.held.replace(packet) {
                self.packets += 1;
                let end = if self.packets.is_multiple_of(PAGE_PACKETS) {
                    PacketWriteEndInfo::EndPage
                } else {
                    PacketWriteEndInfo::NormalPacket
                };
                let granule = self.packets * PACKET_FRAMES as u64;
                self.pages.write_packet(held, SERIAL, end, granule)?;
            }
        }
        Ok(())
    }
}

impl Code for Opus {
    fn push(&mut self, planes: &[Vec<f32>]) -> Result<(), EncodeError> {
        match planes {
            [only] => self.waiting.extend_from_slice(only),
            [left, right] => {
                self.waiting.extend(left.iter().zip(right).flat_map(|(l, r)| [*l, *r]));
            }
            _ => return Err(EncodeError::Channels { channels: planes.len() }),
        }
        self.came_frames += planes.first().map_or(0, Vec::len) as u64;
        self.encode()
    }

    fn finish(mut self: Box<Self>) -> Result<File, EncodeError> {
        let end = self.came_frames + u64::from(self.encoder.lookahead_frames());
        // Silence pushes the rest out: what the decoder is late by, and the last packet filled up.
        let held = u64::from(self.held.is_some());
        let packets = end.div_ceil(PACKET_FRAMES as u64).saturating_sub(self.packets + held);
        let len = PACKET_FRAMES * self.channels * usize::try_from(packets).unwrap_or(0);
        self.waiting.resize(len, 0.0);
        self.encode()?;
        if let Some(held) = self.held.take() {
            self.pages.write_packet(held, SERIAL, PacketWriteEndInfo::EndStream, end)?;
        }
        self.pages.into_inner().into_inner().map_err(|error| EncodeError::Io(error.into_error()))
    }
}

fn failed(error: OpusError) -> EncodeError {
    EncodeError::library(&error)
}
