//! Ogg Opus as RFC 7845 has it: what is left out at the start and at the end, gain, chains.

use super::{put, read_all};
use crate::{Coding, ReadError};
use ogg::PacketWriter;
use ogg::writing::PacketWriteEndInfo::{EndPage, EndStream, NormalPacket};
use plimsoll_opus::{Encoder, PACKET_FRAMES};

/// Frames that the encoder's sound is late by, as every file here states them.
const PRE_SKIP: u16 = 312;

/// One stream of a file.
#[derive(Clone, Copy)]
struct Link {
    serial: u32,
    channels: usize,
    /// Frames that count.
    frames: u64,
    /// 256 steps a decibel.
    gain: i16,
    /// Granule position of its first frame.
    origin: u64,
    family: u8,
    ends: bool,
}

const PLAIN: Link =
    Link { serial: 7, channels: 2, frames: 10_000, gain: 0, origin: 0, family: 0, ends: true };

/// 440 Hz left, 660 Hz right, at a quarter of full scale.
fn tone(frame: u64, channel: usize) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "a small index")]
    let turns = frame as f64 / 48_000.0 * if channel == 0 { 440.0 } else { 660.0 };
    #[expect(clippy::cast_possible_truncation, reason = "the nearest float")]
    let sample = (std::f64::consts::TAU * turns).sin() as f32;
    0.25 * sample
}

fn file(links: &[Link]) -> Vec<u8> {
    let mut pages = PacketWriter::new(Vec::new());
    for link in links {
        let mut encoder = Encoder::new(link.channels, 96_000).unwrap();
        assert_eq!(encoder.lookahead_frames(), PRE_SKIP);
        let mut head = b"OpusHead\x01".to_vec();
        head.push(u8::try_from(link.channels).unwrap());
        head.extend(PRE_SKIP.to_le_bytes());
        head.extend(44_100_u32.to_le_bytes());
        head.extend(link.gain.to_le_bytes());
        head.push(link.family);
        pages.write_packet(head, link.serial, EndPage, 0).unwrap();
        let comments = b"OpusTags\0\0\0\0\0\0\0\0".to_vec();
        pages.write_packet(comments, link.serial, EndPage, 0).unwrap();
        let end = link.frames + u64::from(PRE_SKIP);
        let packets = end.div_ceil(PACKET_FRAMES as u64);
        for packet in 0..packets {
            let start = packet * PACKET_FRAMES as u64;
            let block: Vec<f32> = (start..start + PACKET_FRAMES as u64)
                .flat_map(|frame| (0..link.channels).map(move |channel| tone(frame, channel)))
                .collect();
            let granule = start + PACKET_FRAMES as u64;
            let (info, granule) = match packet + 1 {
                last if last == packets && link.ends => (EndStream, end),
                last if last == packets || last % 5 == 0 => (EndPage, granule),
                _ => (NormalPacket, granule),
            };
            let bytes = encoder.encode(&block).unwrap();
            pages.write_packet(bytes, link.serial, info, link.origin + granule).unwrap();
        }
    }
    pages.into_inner()
}

/// Largest difference from the tones, from some frames after the start on, for there a codec
/// settles.
fn worst(planes: &[Vec<f32>], gain: f32) -> f32 {
    let mut worst = 0.0_f32;
    for (channel, plane) in planes.iter().enumerate() {
        for (frame, sample) in (0..).zip(plane).skip(2_000) {
            worst = worst.max((sample - gain * tone(frame, channel)).abs());
        }
    }
    worst
}

#[test]
fn sound_begins_and_ends_where_the_file_says() {
    for frames in [1, 500, 959, 960, 10_000, 96_123] {
        for channels in [1, 2] {
            let path = put("plain.opus", &file(&[Link { frames, channels, ..PLAIN }]));
            let (facts, planes, warnings) = read_all(&path).unwrap();
            assert_eq!(
                (facts.format, facts.coding, facts.rate_hz),
                ("Ogg Opus", Coding::Lossy, 48_000)
            );
            assert_eq!(facts.len_frames, Some(frames));
            assert_eq!(planes.len(), channels);
            assert!(planes.iter().all(|plane| plane.len() as u64 == frames), "{frames}");
            assert_eq!(warnings, [""; 0]);
            // At 96 kbit/s two tones come back within 2 % of full scale; one frame off, the tones
            // would differ by 0.25 * 2 sin(pi * 660 / 48000) = 0.022.
            assert!(worst(&planes, 1.0) < 0.02, "{frames}: {}", worst(&planes, 1.0));
        }
    }
}

#[test]
fn a_stream_cut_out_of_another_begins_where_its_first_page_says() {
    let path = put("late.opus", &file(&[Link { origin: 1_000_000, ..PLAIN }]));
    let (_, planes, warnings) = read_all(&path).unwrap();
    assert_eq!((planes[0].len(), warnings.len()), (10_000, 0));
    assert!(worst(&planes, 1.0) < 0.02);
}

#[test]
fn output_gain_is_applied_also_over_full_scale() {
    // +18.06 dB: eight times, so that the quarter becomes two.
    let path = put("gain.opus", &file(&[Link { gain: 4_624, ..PLAIN }]));
    let (_, planes, _) = read_all(&path).unwrap();
    let peak = planes[0][2_000..].iter().fold(0.0_f32, |peak, sample| peak.max(*sample));
    assert!((1.8..2.2).contains(&peak), "{peak}");
    assert!(worst(&planes, 8.0) < 8.0 * 0.02);
}

#[test]
fn streams_that_follow_each_other_are_one_sound() {
    let second = Link { serial: 8, frames: 5_000, ..PLAIN };
    let (facts, planes, warnings) = read_all(&put("chain.opus", &file(&[PLAIN, second]))).unwrap();
    // The last page is not the first stream's: the length is not known beforehand.
    assert_eq!((facts.len_frames, warnings.len()), (None, 0));
    assert_eq!(planes[0].len(), 15_000);
    let (first, last) = planes[0].split_at(10_000);
    assert!(worst(&[first.to_vec()], 1.0) < 0.02 && worst(&[last.to_vec()], 1.0) < 0.02);
    // One with other channels is no part of it.
    let mono = Link { channels: 1, ..second };
    let (_, planes, warnings) = read_all(&put("mixed.opus", &file(&[PLAIN, mono]))).unwrap();
    assert_eq!(planes[0].len(), 10_000);
    assert_eq!(warnings, ["another stream, of 1 channels, follows the first: it is left out"]);
}

#[test]
fn what_is_cut_off_or_damaged_is_read_as_far_as_it_goes() {
    let whole = file(&[PLAIN]);
    let (_, planes, warnings) =
        read_all(&put("open.opus", &file(&[Link { ends: false, ..PLAIN }]))).unwrap();
    // Without its end, packets count to their last frame.
    assert_eq!(planes[0].len(), 11 * PACKET_FRAMES - usize::from(PRE_SKIP));
    assert_eq!(warnings, ["the stream has no last page: cut off?"]);
    let (_, planes, warnings) = read_all(&put("cut.opus", &whole[..whole.len() * 2 / 3])).unwrap();
    assert!((1_000..10_000).contains(&planes[0].len()), "{}", planes[0].len());
    assert!(warnings[0].contains("cut off?"), "{warnings:?}");
    // A damaged page is left out and told.
    let mut damaged = whole.clone();
    let page = whole.windows(4).enumerate().filter(|(_, four)| four == b"OggS").nth(2).unwrap().0;
    damaged[page + 200] ^= 0xFF;
    let (_, planes, warnings) = read_all(&put("damaged.opus", &damaged)).unwrap();
    assert!(planes[0].len() < 10_000);
    assert_eq!(warnings, ["1 damaged pages or packets were left out"]);
    // Packets that are no packets, in whole pages.
    let mut pages = PacketWriter::new(Vec::new());
    let head = whole[28..47].to_vec();
    pages.write_packet(head, 7, EndPage, 0).unwrap();
    pages.write_packet(b"OpusTags\0\0\0\0\0\0\0\0".to_vec(), 7, EndPage, 0).unwrap();
    pages.write_packet(vec![0xFF, 0xFF], 7, EndStream, 960).unwrap();
    let outcome = read_all(&put("nothing.opus", &pages.into_inner()));
    assert!(matches!(outcome, Err(ReadError::ZeroFrames)));
}

#[test]
fn kinds_that_are_not_read_are_refused_in_one_line() {
    let refused = |link| read_all(&put("kind.opus", &file(&[link]))).unwrap_err().to_string();
    let text = refused(Link { family: 255, ..PLAIN });
    assert_eq!(text, "Ogg Opus of 2 channels (mapping family 255): mono and stereo are read");
    let mut six = file(&[PLAIN]);
    six[37] = 6;
    // The page's checksum no longer fits: the damage is what is told.
    let text = read_all(&put("six.opus", &six)).unwrap_err().to_string();
    assert_eq!(text, "damaged: CRC32 hash mismatch");
    let text = read_all(&put("bare.opus", &file(&[PLAIN])[..47])).unwrap_err().to_string();
    assert_eq!(text, "0 frames: there must be at least one to measure");
}
