//! Files that a library decodes: FLAC, MP3, AAC and ALAC in MP4, ADTS, Ogg Vorbis, CAF.

mod mp4;
mod precheck;

use crate::{Block, Coding, FileFacts, MAX_CHANNELS, ReadError};
use std::cell::Cell;
use std::fs::File;
use std::io::{Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use symphonia::core::audio::{Audio, GenericAudioBufferRef};
use symphonia::core::codecs::audio::well_known::{
    CODEC_ID_AAC, CODEC_ID_ALAC, CODEC_ID_FLAC, CODEC_ID_MP1, CODEC_ID_MP2, CODEC_ID_MP3,
    CODEC_ID_PCM_F32BE, CODEC_ID_PCM_F32LE, CODEC_ID_PCM_F64BE, CODEC_ID_PCM_F64LE,
    CODEC_ID_VORBIS,
};
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions,
};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;

/// Damaged packets in a row after which the rest of a file is given up. The project's own choice.
pub const MAX_DAMAGED_IN_A_ROW: u32 = 1_000;

/// Frames that may be missing in a lossy file: two of MP3's longest packets, for there the header
/// counts whole packets. From memory.
const SLACK_FRAMES: u64 = 2 * 1_152;

thread_local! {
    static IN_DECODER: Cell<bool> = const { Cell::new(false) };
}

/// Whether this thread is inside a decoder, where a panic is caught and told: a panic hook should
/// then keep still.
#[must_use]
pub fn is_in_decoder() -> bool {
    IN_DECODER.get()
}

/// Whether a file with these first bytes is one for the library.
pub fn knows(start: &[u8]) -> bool {
    match start {
        [b'f', b'L', b'a', b'C', ..]
        | [b'O', b'g', b'g', b'S', ..]
        | [b'c', b'a', b'f', b'f', ..]
        | [b'I', b'D', b'3', ..]
        // MPEG audio and ADTS begin with eleven or twelve ones.
        | [0xFF, 0xE0..=0xFF, ..]
        | [_, _, _, _, b'f', b't', b'y', b'p', ..] => true,
        _ => false,
    }
}

/// A file that is decoded packet by packet.
pub struct Library {
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track_id: u32,
    /// Rate, Hz, and channels of the packets; 0 until the first is decoded.
    rate_hz: u32,
    channels: usize,
    /// What the last packet gave and is not given on yet: empty, or one plane per channel.
    samples: Vec<Vec<f32>>,
    /// Whether `samples` used a bit below the 24th.
    below_24_bits: bool,
    /// Frames still to be left out at the start: the encoder's delay.
    skip_frames: u64,
    /// Frames still to be given, where the file tells how many count.
    left_frames: u64,
    /// Frames given so far.
    given_frames: u64,
    /// Frames that the header states, and how many may be missing without a word.
    stated_frames: Option<u64>,
    slack_frames: u64,
    ended: bool,
    damaged_packets: u64,
    damaged_in_a_row: u32,
    warnings: Vec<String>,
}

impl Library {
    /// Reads the header and the first packet, which alone tells rate and channels for certain.
    pub fn open(mut file: File, path: &Path) -> Result<(Self, FileFacts), ReadError> {
        precheck::check(&mut file)?;
        let edit = mp4::edit_of(&mut file).unwrap_or_default();
        file.seek(SeekFrom::Start(0))?;
        guarded(|| Self::open_unguarded(file, path, edit))
            .unwrap_or_else(|| Err(ReadError::damaged("the decoder gave up on its header")))
    }

    fn open_unguarded(
        file: File,
        path: &Path,
        edit: Option<mp4::Edit>,
    ) -> Result<(Self, FileFacts), ReadError> {
        let stream = MediaSourceStream::new(Box::new(file), Default::default());
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|extension| extension.to_str()) {
            hint.with_extension(extension);
        }
        let probe = symphonia::default::get_probe();
        let format = probe
            .probe(&hint, stream, FormatOptions::default(), Default::default())
            .map_err(damaged)?;
        let no_track = || ReadError::damaged("no audio track");
        let track = format.default_track(TrackType::Audio).ok_or_else(no_track)?;
        let (track_id, track_frames) = (track.id, track.num_frames);
        let parameters = track.codec_params.as_ref().and_then(|parameters| parameters.audio());
        let parameters = parameters.ok_or_else(no_track)?.clone();
        // Takes the encoder's delay and padding off where the file tells them.
        let options = AudioDecoderOptions::default().gapless(true);
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(&parameters, &options)
            .map_err(damaged)?;
        let mut library = Self {
            format,
            decoder,
            track_id,
            rate_hz: 0,
            channels: 0,
            samples: Vec::new(),
            below_24_bits: false,
            skip_frames: edit.map_or(0, |edit| edit.delay_frames),
            left_frames: edit.and_then(|edit| edit.len_frames).unwrap_or(u64::MAX),
            given_frames: 0,
            stated_frames: None,
            slack_frames: 0,
            ended: false,
            damaged_packets: 0,
            damaged_in_a_row: 0,
            warnings: Vec::new(),
        };
        if parameters.codec == CODEC_ID_AAC && edit.is_none() {
            library.warnings.push(
                "the file does not tell the encoder's delay: some 20 to 50 ms of silence at its \
                 start may be the encoder's"
                    .to_owned(),
            );
        }
        library.decode_next()?;
        if library.samples.is_empty() {
            return Err(ReadError::ZeroFrames);
        }
        let len_frames = edit.and_then(|edit| edit.len_frames).or(track_frames);
        library.stated_frames = len_frames;
        if coding_of(&parameters) == Coding::Lossy {
            library.slack_frames = SLACK_FRAMES;
        }
        let facts = FileFacts {
            format: name_of(parameters.codec),
            coding: coding_of(&parameters),
            rate_hz: library.rate_hz,
            channels: library.channels,
            len_frames: len_frames.filter(|frames| *frames > 0),
        };
        Ok((library, facts))
    }

    /// See [`Reader::warnings`](crate::Reader::warnings).
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// See [`Reader::read`](crate::Reader::read): gives one packet.
    pub fn read(&mut self, block: &mut Block) -> Result<(), ReadError> {
        loop {
            if self.samples.is_empty() && !self.ended {
                guarded(|| self.decode_next()).unwrap_or_else(|| {
                    self.end_with("the decoder gave up on the rest of the file".to_owned());
                    Ok(())
                })?;
            }
            if self.samples.is_empty() {
                if self.given_frames > 0 {
                    self.say_what_is_missing();
                    return Ok(());
                }
                return Err(ReadError::ZeroFrames);
            }
            self.give(block);
            if block.len_frames() > 0 {
                self.given_frames += block.len_frames() as u64;
                return Ok(());
            }
        }
    }

    fn give(&mut self, block: &mut Block) {
        let samples = std::mem::take(&mut self.samples);
        let len_frames = samples.first().map_or(0, Vec::len);
        let skip = usize::try_from(self.skip_frames).unwrap_or(usize::MAX).min(len_frames);
        self.skip_frames -= skip as u64;
        let left = usize::try_from(self.left_frames).unwrap_or(usize::MAX);
        let end = skip + left.min(len_frames - skip);
        self.left_frames -= (end - skip) as u64;
        self.ended |= self.left_frames == 0;
        for (plane, from) in block.planes.iter_mut().zip(&samples) {
            plane.extend_from_slice(from.get(skip..end).unwrap_or_default());
        }
        block.below_24_bits = self.below_24_bits;
    }

    fn say_what_is_missing(&mut self) {
        if let Some(stated) = self.stated_frames.take()
            && self.given_frames.saturating_add(self.slack_frames) < stated
        {
            let given = self.given_frames;
            self.warnings.push(format!(
                "the header states {stated} frames and {given} were read: cut off or damaged?"
            ));
        }
    }

    fn end_with(&mut self, warning: String) {
        self.ended = true;
        self.warnings.push(warning);
    }

    /// Decodes packets until one gives frames or the file ends.
    fn decode_next(&mut self) -> Result<(), ReadError> {
        while !self.ended {
            let packet = match self.format.next_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => {
                    self.end();
                    break;
                }
                Err(Error::IoError(error)) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
                    self.end();
                    break;
                }
                Err(Error::ResetRequired) => {
                    self.end_with("another stream follows the first: it is left out".to_owned());
                    break;
                }
                Err(error) if self.given_frames > 0 => {
                    self.end_with(format!("damaged: {error}: the rest is left out"));
                    break;
                }
                Err(error) => return Err(damaged(error)),
            };
            if packet.track_id != self.track_id {
                continue;
            }
            match self.decoder.decode(&packet) {
                Ok(decoded) => {
                    self.damaged_in_a_row = 0;
                    let (rate_hz, channels) =
                        (decoded.spec().rate(), decoded.spec().channels().count());
                    if self.rate_hz == 0 {
                        check_shape(rate_hz, channels)?;
                        (self.rate_hz, self.channels) = (rate_hz, channels);
                    } else if (self.rate_hz, self.channels) != (rate_hz, channels) {
                        self.end_with(
                            "rate or channels change inside the file: the rest is left out"
                                .to_owned(),
                        );
                        break;
                    }
                    if decoded.frames() == 0 {
                        continue;
                    }
                    self.below_24_bits = uses_below_24_bits(&decoded);
                    decoded.copy_to_vecs_planar(&mut self.samples);
                    break;
                }
                Err(_) => {
                    self.damaged_packets += 1;
                    self.damaged_in_a_row += 1;
                    if self.damaged_in_a_row >= MAX_DAMAGED_IN_A_ROW {
                        self.end();
                    }
                }
            }
        }
        Ok(())
    }

    fn end(&mut self) {
        self.ended = true;
        if self.damaged_packets > 0 {
            let packets = self.damaged_packets;
            self.warnings.push(format!("{packets} damaged packets were left out"));
        }
    }
}

/// Whole numbers come left-aligned in 32 bits, whatever the file's width.
fn uses_below_24_bits(decoded: &GenericAudioBufferRef<'_>) -> bool {
    let GenericAudioBufferRef::S32(buffer) = decoded else {
        return false;
    };
    let used = |plane: &[i32]| plane.iter().fold(0, |used, sample| used | sample);
    buffer.iter_planes().map(used).any(|used| used & 0xFF != 0)
}

fn check_shape(rate_hz: u32, channels: usize) -> Result<(), ReadError> {
    if rate_hz == 0 {
        return Err(ReadError::ZeroRate);
    }
    if !(1..=MAX_CHANNELS).contains(&channels) {
        return Err(ReadError::Channels { channels });
    }
    Ok(())
}

fn damaged(error: Error) -> ReadError {
    match error {
        Error::Unsupported(what) => ReadError::Unsupported {
            what: format!("a kind that the decoder does not know ({what})"),
        },
        error => ReadError::damaged(error.to_string()),
    }
}

/// Runs `work` where its panics are caught: `None` if it panicked.
pub fn guarded<T>(work: impl FnOnce() -> T) -> Option<T> {
    IN_DECODER.set(true);
    let outcome = catch_unwind(AssertUnwindSafe(work));
    IN_DECODER.set(false);
    outcome.ok()
}

fn name_of(codec: AudioCodecId) -> &'static str {
    match codec {
        CODEC_ID_FLAC => "FLAC",
        CODEC_ID_MP1 | CODEC_ID_MP2 | CODEC_ID_MP3 => "MP3",
        CODEC_ID_AAC => "AAC",
        CODEC_ID_ALAC => "ALAC",
        CODEC_ID_VORBIS => "Ogg Vorbis",
        _ => "CAF",
    }
}

fn coding_of(parameters: &AudioCodecParameters) -> Coding {
    match parameters.codec {
        CODEC_ID_MP1 | CODEC_ID_MP2 | CODEC_ID_MP3 | CODEC_ID_AAC | CODEC_ID_VORBIS => {
            Coding::Lossy
        }
        CODEC_ID_PCM_F32BE | CODEC_ID_PCM_F32LE => Coding::Float { bits: 32 },
        CODEC_ID_PCM_F64BE | CODEC_ID_PCM_F64LE => Coding::Float { bits: 64 },
        CODEC_ID_ALAC => {
            // Frames, version, bits: the sixth byte of its configuration.
            let bits = parameters.extra_data.as_ref().and_then(|data| data.get(5));
            Coding::Integer { bits: bits.map_or(16, |bits| u32::from(*bits)) }
        }
        _ => parameters
            .bits_per_sample
            .or(parameters.bits_per_coded_sample)
            .map_or(Coding::Lossy, |bits| Coding::Integer { bits }),
    }
}
