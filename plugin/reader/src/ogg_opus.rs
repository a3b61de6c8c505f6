//! Ogg Opus (RFC 7845): pre-skip and output gain of the head, the end that the last page states,
//! and streams that follow each other.

mod head;

use crate::library::{MAX_DAMAGED_IN_A_ROW, guarded};
use crate::{Block, Coding, FileFacts, ReadError};
use head::Head;
use ogg::{OggReadError, PacketReader};
use plimsoll_opus::{Decoder, RATE_HZ, packet_frames};
use std::collections::VecDeque;
use std::fs::File;
use std::io::{BufReader, ErrorKind, Read, Seek, SeekFrom};

/// The granule position of a page on which no packet ends (RFC 3533 §6).
const NO_GRANULE: u64 = u64::MAX;

/// Bytes at the end of a file in which its last page begins: one page has at most 65 307.
const LAST_PAGE_BYTES: u64 = 65_536;

/// Whether a file with these first bytes is one of Ogg Opus.
pub fn knows(start: &[u8]) -> bool {
    start.starts_with(b"OggS") && start.get(28..).is_some_and(|head| head.starts_with(b"OpusHead"))
}

/// One logical stream.
struct Stream {
    serial: u32,
    decoder: Decoder,
    gain: f32,
    /// Frames still to be left out at the start.
    skip_frames: u64,
    pre_skip_frames: u64,
    /// Whether the comments, the second packet, have come.
    has_comments: bool,
    /// Granule position at which the stream begins, once its first page has told.
    origin: Option<u64>,
    /// Frames that it may still give, once its last page has told.
    left_frames: Option<u64>,
    /// Frames given so far.
    given_frames: u64,
}

impl Stream {
    fn new(serial: u32, head: &Head) -> Result<Self, ReadError> {
        let decoder =
            Decoder::new(head.channels).map_err(|error| ReadError::damaged(error.to_string()))?;
        Ok(Self {
            serial,
            decoder,
            gain: head.gain,
            skip_frames: head.pre_skip_frames,
            pre_skip_frames: head.pre_skip_frames,
            has_comments: false,
            origin: None,
            left_frames: None,
            given_frames: 0,
        })
    }

    /// What a whole page says: where the stream begins (RFC 7845 §4.5) and, on its last page,
    /// where it ends (§4.4).
    fn page(&mut self, packets: &VecDeque<Vec<u8>>, granule: u64, is_last: bool) {
        if granule == NO_GRANULE {
            return;
        }
        let frames: usize = packets.iter().map(|packet| packet_frames(packet).unwrap_or(0)).sum();
        // On a page that is first and last less may count than it holds: it begins at zero then.
        let origin = *self.origin.get_or_insert(granule.saturating_sub(frames as u64));
        if is_last {
            let end = granule.saturating_sub(origin).saturating_sub(self.pre_skip_frames);
            self.left_frames = Some(end.saturating_sub(self.given_frames));
        }
    }

    /// Appends what counts of a packet's sound.
    fn give(&mut self, packet: &[u8], planes: &mut [Vec<f32>]) -> bool {
        let channels = planes.len().max(1);
        let Ok(samples) = self.decoder.decode(packet) else {
            return false;
        };
        let frames = samples.len() / channels;
        let skip = usize::try_from(self.skip_frames).unwrap_or(usize::MAX).min(frames);
        let left =
            self.left_frames.map_or(usize::MAX, |left| usize::try_from(left).unwrap_or(usize::MAX));
        let take = left.min(frames - skip);
        for (channel, plane) in planes.iter_mut().enumerate() {
            let own = samples.iter().skip(channel).step_by(channels);
            plane.extend(own.skip(skip).take(take).map(|sample| sample * self.gain));
        }
        self.skip_frames -= skip as u64;
        self.given_frames += take as u64;
        self.left_frames = self.left_frames.map(|left| left - take as u64);
        true
    }
}

/// A file of Ogg Opus.
pub struct OggOpus {
    packets: PacketReader<BufReader<File>>,
    stream: Stream,
    channels: usize,
    /// Packets of the page that is being decoded.
    waiting: VecDeque<Vec<u8>>,
    given_frames: u64,
    ended: bool,
    damaged: u64,
    damaged_in_a_row: u32,
    warnings: Vec<String>,
}

impl OggOpus {
    /// Reads the head.
    pub fn open(mut file: File) -> Result<(Self, FileFacts), ReadError> {
        let last = last_page(&mut file)?;
        file.seek(SeekFrom::Start(0))?;
        let mut packets = PacketReader::new(BufReader::new(file));
        let first = match packets.read_packet() {
            Ok(Some(first)) => first,
            Ok(None) => return Err(ReadError::damaged("no Ogg page is whole")),
            Err(error) => return Err(ReadError::damaged(error.to_string())),
        };
        let head = Head::read(&first.data)?;
        let serial = first.stream_serial();
        let facts = FileFacts {
            format: "Ogg Opus",
            coding: Coding::Lossy,
            rate_hz: RATE_HZ,
            channels: head.channels,
            // Only of the one stream that a file has nearly always.
            len_frames: last
                .filter(|(last_serial, _)| *last_serial == serial)
                .and_then(|(_, granule)| granule.checked_sub(head.pre_skip_frames))
                .filter(|frames| *frames > 0),
        };
        let opus = Self {
            packets,
            stream: Stream::new(serial, &head)?,
            channels: head.channels,
            waiting: VecDeque::new(),
            given_frames: 0,
            ended: false,
            damaged: 0,
            damaged_in_a_row: 0,
            warnings: Vec::new(),
        };
        Ok((opus, facts))
    }

    /// See [`Reader::warnings`](crate::Reader::warnings).
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// See [`Reader::read`](crate::Reader::read): gives one packet.
    pub fn read(&mut self, block: &mut Block) -> Result<(), ReadError> {
        while block.len_frames() == 0 {
            if let Some(packet) = self.waiting.pop_front() {
                let stream = &mut self.stream;
                match guarded(|| stream.give(&packet, &mut block.planes)) {
                    Some(true) => self.damaged_in_a_row = 0,
                    Some(false) => self.count_damage(),
                    None => {
                        self.waiting.clear();
                        self.end_with("the decoder gave up on the rest of the file");
                    }
                }
            } else if self.ended {
                if self.given_frames == 0 {
                    return Err(ReadError::ZeroFrames);
                }
                return Ok(());
            } else {
                self.next_page()?;
            }
        }
        self.given_frames += block.len_frames() as u64;
        Ok(())
    }

    /// Collects the packets that end on the stream's next page; sets `ended` where there is none.
    fn next_page(&mut self) -> Result<(), ReadError> {
        while !self.ended {
            let packet = match self.packets.read_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => {
                    self.end();
                    return Ok(());
                }
                Err(OggReadError::ReadError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Err(error.into());
                }
                Err(OggReadError::ReadError(_)) => {
                    self.end();
                    return Ok(());
                }
                Err(_) => {
                    self.count_damage();
                    continue;
                }
            };
            if packet.first_in_stream() {
                self.meet(packet.stream_serial(), &packet.data)?;
                continue;
            }
            if packet.stream_serial() != self.stream.serial {
                continue;
            }
            if !self.stream.has_comments {
                self.stream.has_comments = true;
                continue;
            }
            let (is_whole, is_last) = (packet.last_in_page(), packet.last_in_stream());
            let granule = packet.absgp_page();
            self.waiting.push_back(packet.data);
            if is_whole {
                self.stream.page(&self.waiting, granule, is_last);
                return Ok(());
            }
        }
        Ok(())
    }

    /// Another stream begins: the next link of a chain, or one beside ours.
    fn meet(&mut self, serial: u32, head: &[u8]) -> Result<(), ReadError> {
        if self.stream.left_frames.is_none() && self.stream.given_frames == 0 {
            // Streams that lie side by side begin together (RFC 3533 §4).
            return Ok(());
        }
        match Head::read(head) {
            Ok(head) if head.channels == self.channels => {
                self.stream = Stream::new(serial, &head)?;
            }
            Ok(head) => {
                let channels = head.channels;
                self.end_with(&format!(
                    "another stream, of {channels} channels, follows the first: it is left out"
                ));
            }
            Err(_) => self.end_with("another stream follows the first: it is left out"),
        }
        Ok(())
    }

    fn count_damage(&mut self) {
        self.damaged += 1;
        self.damaged_in_a_row += 1;
        if self.damaged_in_a_row >= MAX_DAMAGED_IN_A_ROW {
            self.end();
        }
    }

    fn end(&mut self) {
        if self.stream.left_frames.is_none() {
            self.warnings.push("the stream has no last page: cut off?".to_owned());
        }
        if self.damaged > 0 {
            let damaged = self.damaged;
            self.warnings.push(format!("{damaged} damaged pages or packets were left out"));
        }
        self.ended = true;
    }

    fn end_with(&mut self, warning: &str) {
        self.ended = true;
        self.warnings.push(warning.to_owned());
    }
}

/// Serial number and granule position of the last page that begins in the file.
fn last_page(file: &mut File) -> Result<Option<(u32, u64)>, ReadError> {
    let len_bytes = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(len_bytes.saturating_sub(LAST_PAGE_BYTES)))?;
    let mut bytes = Vec::new();
    file.take(LAST_PAGE_BYTES).read_to_end(&mut bytes)?;
    let at = bytes.windows(4).rposition(|window| window == b"OggS");
    let page = at.and_then(|at| bytes.get(at..)).unwrap_or_default();
    let granule = page.get(6..).and_then(|rest| rest.first_chunk());
    let serial = page.get(14..).and_then(|rest| rest.first_chunk());
    Ok(serial.zip(granule).and_then(|(serial, granule)| {
        let granule = u64::from_le_bytes(*granule);
        (granule != NO_GRANULE).then_some((u32::from_le_bytes(*serial), granule))
    }))
}
