//! What is written comes back: as long, at its place, near, and silence as silence.

use super::*;
use plimsoll_reader::{Block, Reader};
use std::path::Path;

/// Chords whose notes change twice a second, with a little noise: no two places are alike.
fn sound(rate_hz: u32, frames: usize, channels: usize) -> Vec<Vec<f32>> {
    let mut state = 0x5EED_u32;
    let mut planes = vec![Vec::with_capacity(frames); channels];
    for frame in 0..frames {
        #[expect(clippy::cast_precision_loss, reason = "a small index")]
        let at_s = frame as f64 / f64::from(rate_hz);
        let step = (at_s * 2.0).floor();
        let tone = |hz: f64| (std::f64::consts::TAU * hz * at_s).sin();
        for (channel, plane) in (0_u32..).zip(&mut planes) {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 16) / 32_768.0 - 1.0;
            let hz = 180.0 * 1.13_f64.powf(step) * f64::from(channel + 2) / 2.0;
            let sample = 0.3 * tone(hz) + 0.15 * tone(hz * 2.51) + 0.02 * noise;
            #[expect(clippy::cast_possible_truncation, reason = "the nearest float")]
            plane.push(sample as f32);
        }
    }
    planes
}

fn there_and_back(encoding: Encoding, rate_hz: u32, planes: &[Vec<f32>]) -> Vec<Vec<f32>> {
    let mut encoder = Encoder::new(encoding, rate_hz, planes.len()).unwrap();
    let frames = planes[0].len();
    for start in (0..frames).step_by(1_000) {
        let block: Vec<&[f32]> =
            planes.iter().map(|plane| &plane[start..frames.min(start + 1_000)]).collect();
        encoder.push(&block).unwrap();
    }
    let mut reader = Reader::of(encoder.finish().unwrap(), Path::new("")).unwrap();
    assert_eq!((reader.facts().rate_hz, reader.facts().channels), (rate_hz, planes.len()));
    let mut back = vec![Vec::new(); planes.len()];
    let mut block = Block::default();
    loop {
        reader.read(&mut block).unwrap();
        if block.len_frames() == 0 {
            assert_eq!(reader.warnings(), [""; 0], "{encoding}");
            return back;
        }
        for (all, plane) in back.iter_mut().zip(block.planes()) {
            all.extend_from_slice(plane);
        }
    }
}

/// Power of the difference over the power of `a`, in the frames both have, `lag` frames apart.
fn error(a: &[f32], b: &[f32], lag: usize) -> f64 {
    let pairs = || a.iter().zip(&b[lag..]).map(|(a, b)| (f64::from(*a), f64::from(*b)));
    let power: f64 = pairs().map(|(a, _)| a * a).sum();
    pairs().map(|(a, b)| (a - b).powi(2)).sum::<f64>() / power
}

#[test]
fn every_code_gives_the_sound_back_as_long_and_at_its_place() {
    for encoding in Encoding::all() {
        for (rate_hz, channels) in [(44_100, 2), (48_000, 2), (48_000, 1)] {
            let rate_hz = encoding.format.rate_hz(rate_hz);
            let planes = sound(rate_hz, 130_003, channels);
            let back = there_and_back(encoding, rate_hz, &planes);
            for (plane, back) in planes.iter().zip(&back) {
                assert_eq!(back.len(), plane.len(), "{encoding} {rate_hz} {channels}");
                let here = error(plane, back, 0);
                // What a codec leaves out of loud tones is not heard: 15 dB below is far from that.
                // A frame too early or late is worse than the right place.
                assert!(here < 0.03, "{encoding} {rate_hz} {channels}: {here}");
                assert!(here < error(plane, back, 1), "{encoding} {rate_hz}: late");
                assert!(here < error(back, plane, 1), "{encoding} {rate_hz}: early");
            }
        }
    }
}

#[test]
fn every_bit_rate_is_written_and_more_bits_are_nearer() {
    let planes = sound(48_000, 48_000, 2);
    for &format in Format::ALL {
        let at = |kbps| {
            error(&planes[0], &there_and_back(Encoding { format, kbps }, 48_000, &planes)[0], 0)
        };
        assert!(at(320) < at(64), "{format:?}");
        let mono = &planes[..1];
        for kbps in [64, 320] {
            let back = there_and_back(Encoding { format, kbps }, 48_000, mono);
            // The lowest is a poor one, but still the same sound at its place.
            assert!(error(&mono[0], &back[0], 0) < 0.5, "{format:?} {kbps}");
        }
    }
}

#[test]
fn silence_stays_silence_and_short_sound_keeps_its_length() {
    for encoding in Encoding::all() {
        let back = there_and_back(encoding, 48_000, &vec![vec![0.0; 50_000]; 2]);
        let peak = back.iter().flatten().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        // Half a step of 24 bits.
        assert!(peak < 0.5 / 8_388_608.0, "{encoding}: {peak}");
        for frames in [1, 7, 959, 961, 3_000] {
            let planes = sound(48_000, frames, 2);
            assert_eq!(there_and_back(encoding, 48_000, &planes)[0].len(), frames, "{encoding}");
        }
    }
}

#[test]
fn what_is_no_sound_is_not_handed_to_an_encoder() {
    let odd = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, -2.0, 0.5];
    for encoding in Encoding::all() {
        let mut encoder = Encoder::new(encoding, 48_000, 1).unwrap();
        encoder.push(&[odd.repeat(1_000)]).unwrap();
        assert_eq!(encoder.clipped_samples(), 4_000);
        let mut reader = Reader::of(encoder.finish().unwrap(), Path::new("")).unwrap();
        let mut block = Block::default();
        reader.read(&mut block).unwrap();
        assert!(block.planes()[0].iter().all(|sample| sample.is_finite()), "{encoding}");
    }
    let any = Encoding { format: Format::Opus, kbps: 96 };
    assert!(matches!(Encoder::new(any, 48_000, 6), Err(EncodeError::Channels { channels: 6 })));
    let mut mono = Encoder::new(any, 48_000, 1).unwrap();
    assert!(matches!(mono.push(&[[0.0], [0.0]]), Err(EncodeError::Channels { channels: 2 })));
}

#[test]
fn another_rate_keeps_length_place_and_level() {
    for (from_hz, to_hz) in
        [(44_100, 48_000), (96_000, 48_000), (88_200, 44_100), (8_000, 48_000), (47_999, 48_000)]
    {
        let planes = sound(from_hz, 40_007, 2);
        let mut resampler = Resampler::new(from_hz, to_hz, 2).unwrap();
        let mut out = vec![Vec::new(); 2];
        let mut collect = |planes: &[&[f32]]| {
            for (all, plane) in out.iter_mut().zip(planes) {
                all.extend_from_slice(plane);
            }
            Ok(())
        };
        for start in (0..40_007).step_by(1_000) {
            let block: Vec<&[f32]> =
                planes.iter().map(|plane| &plane[start..40_007.min(start + 1_000)]).collect();
            resampler.push(&block, &mut collect).unwrap();
        }
        resampler.finish(&mut collect).unwrap();
        let frames = (40_007 * u64::from(to_hz)).div_ceil(u64::from(from_hz));
        assert_eq!(out[0].len() as u64, frames, "{from_hz}");
        // The same tones, made at the other rate.
        let wanted = sound(to_hz, out[0].len(), 2);
        for (out, wanted) in out.iter().zip(&wanted) {
            // The noise differs and lies 26 dB below; a frame off puts the tones 10 dB above that.
            let here = error(wanted, out, 0);
            assert!(here < 0.02, "{from_hz} -> {to_hz}: {here}");
            assert!(here < error(wanted, out, 1) && here < error(out, wanted, 1), "{from_hz}");
        }
    }
}

#[test]
fn wishes_are_read_or_refused_with_the_rule() {
    let read = |text: &str| text.parse::<Encoding>();
    assert_eq!(read("opus"), Ok(Encoding { format: Format::Opus, kbps: 128 }));
    assert_eq!(read(" Vorbis:192"), Ok(Encoding { format: Format::Vorbis, kbps: 192 }));
    for (text, expected) in [
        ("opus:0", "bit rate \"0\": must be 64 to 320 kbit/s"),
        ("opus:loud", "bit rate \"loud\": must be 64 to 320 kbit/s"),
        ("vorbis:321", "bit rate \"321\": must be 64 to 320 kbit/s"),
        ("aac:256", "aac: AAC is not encoded"),
        ("wma", "\"wma\" is no code that is encoded: vorbis, opus"),
        #[cfg(feature = "mp3")]
        ("mp3:112", "bit rate \"112\": must be one of 64, 80, 96, 128"),
        #[cfg(not(feature = "mp3"))]
        ("mp3", "mp3: this build has no MP3 encoder"),
    ] {
        let text = read(text).unwrap_err().to_string();
        assert!(text.contains(expected), "{text}");
    }
}
