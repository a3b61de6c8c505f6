//! FLAC and Ogg Vorbis through symphonia.

use super::{Audio, AudioFileError, check_shape};
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use symphonia::core::audio::SampleBuffer;
use symphonia::core::codecs::DecoderOptions;
use symphonia::core::errors::Error;
use symphonia::core::formats::FormatOptions;
use symphonia::core::io::MediaSourceStream;

pub(super) fn decode(path: &Path, bytes: Vec<u8>) -> Result<Audio, AudioFileError> {
    // The decoder divides by the rate before anyone can ask it what the rate is.
    if let Some((rate_hz, channels)) = stated_shape(&bytes) {
        check_shape(path, rate_hz, channels)?;
    }
    // A decoder of someone else's meets bytes of someone else's: what it asserts must not end
    // the program.
    catch_unwind(AssertUnwindSafe(|| decode_all(path, bytes))).unwrap_or_else(|_| {
        Err(AudioFileError::Damaged {
            path: path.to_owned(),
            what: "the decoder gave up on it".to_owned(),
        })
    })
}

/// Rate in Hz and channel count as the first header states them: the stream information of FLAC
/// (RFC 9639 §8.2), the identification header of Vorbis I (§4.2.2) at the start of the first
/// Ogg page.
fn stated_shape(bytes: &[u8]) -> Option<(u32, usize)> {
    if bytes.starts_with(b"fLaC") {
        let packed = u32::from_be_bytes(bytes.get(18..22)?.try_into().ok()?);
        return Some((packed >> 12, usize::try_from((packed >> 9) & 7).ok()? + 1));
    }
    let header = bytes.get(28..)?;
    if !header.starts_with(b"\x01vorbis") {
        return None;
    }
    let rate_hz = u32::from_le_bytes(header.get(12..16)?.try_into().ok()?);
    Some((rate_hz, usize::from(*header.get(11)?)))
}

fn decode_all(path: &Path, bytes: Vec<u8>) -> Result<Audio, AudioFileError> {
    let damaged =
        |error: Error| AudioFileError::Damaged { path: path.to_owned(), what: error.to_string() };
    let stream = MediaSourceStream::new(Box::new(Cursor::new(bytes)), Default::default());
    let options = FormatOptions {
        // Honours the end that the last Ogg page states.
        enable_gapless: true,
        ..FormatOptions::default()
    };
    let probed = symphonia::default::get_probe()
        .format(&Default::default(), stream, &options, &Default::default())
        .map_err(damaged)?;
    let mut format = probed.format;
    let track = format.default_track().ok_or_else(|| AudioFileError::Damaged {
        path: path.to_owned(),
        what: "no audio track".to_owned(),
    })?;
    let track_id = track.id;
    let mut decoder = symphonia::default::get_codecs()
        .make(&track.codec_params, &DecoderOptions::default())
        .map_err(damaged)?;
    let mut audio: Option<Audio> = None;
    loop {
        let packet = match format.next_packet() {
            Ok(packet) => packet,
            Err(Error::IoError(error)) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
                break;
            }
            Err(error) => return Err(damaged(error)),
        };
        if packet.track_id() != track_id {
            continue;
        }
        let decoded = decoder.decode(&packet).map_err(damaged)?;
        let spec = *decoded.spec();
        check_shape(path, spec.rate, spec.channels.count())?;
        let so_far = audio.get_or_insert_with(|| Audio {
            rate_hz: spec.rate,
            channels: vec![Vec::new(); spec.channels.count()],
        });
        if so_far.rate_hz != spec.rate || so_far.channels.len() != spec.channels.count() {
            return Err(AudioFileError::Damaged {
                path: path.to_owned(),
                what: "rate or channel count changes inside the file".to_owned(),
            });
        }
        let mut samples = SampleBuffer::<f32>::new(decoded.capacity() as u64, spec);
        samples.copy_planar_ref(decoded);
        let len_frames = samples.len() / so_far.channels.len();
        if len_frames > 0 {
            for (to, from) in
                so_far.channels.iter_mut().zip(samples.samples().chunks_exact(len_frames))
            {
                to.extend_from_slice(from);
            }
        }
    }
    audio.ok_or_else(|| AudioFileError::ZeroFrames { path: path.to_owned() })
}
