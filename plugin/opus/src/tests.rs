//! A packet's way there and back, against a decoder that was written apart from libopus.

use super::*;

/// A chord and noise over full scale at its loudest, so that nothing may be clipped on the way.
fn sound(frames: usize, channels: usize, gain: f32) -> Vec<f32> {
    let mut state = 0x5EED_u32;
    let mut samples = Vec::new();
    for frame in 0..frames {
        #[expect(clippy::cast_precision_loss, reason = "a small index")]
        let at_s = frame as f32 / 48_000.0;
        let tone = |hz: f32| (std::f32::consts::TAU * hz * at_s).sin();
        for channel in 0..channels {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f32::from((state >> 16) as u16) / 32_768.0 - 1.0;
            let chord = if channel == 0 { tone(110.0) + tone(659.3) } else { tone(220.0) };
            samples.push(gain * (0.45 * chord + 0.1 * noise));
        }
    }
    samples
}

fn encoded(channels: usize, bits_per_second: u32, gain: f32) -> (Encoder, Vec<Vec<u8>>) {
    let mut encoder = Encoder::new(channels, bits_per_second).unwrap();
    let sound = sound(PACKET_FRAMES * 50, channels, gain);
    let blocks = sound.chunks_exact(PACKET_FRAMES * channels);
    let packets = blocks.map(|block| encoder.encode(block).unwrap()).collect();
    (encoder, packets)
}

fn decoded(channels: usize, packets: &[Vec<u8>]) -> Vec<f32> {
    let mut decoder = Decoder::new(channels).unwrap();
    packets.iter().flat_map(|packet| decoder.decode(packet).unwrap().to_vec()).collect()
}

#[test]
fn what_is_encoded_comes_back_late_by_the_lookahead_and_near() {
    for channels in [1, 2] {
        let (encoder, packets) = encoded(channels, 128_000, 0.5);
        let original = sound(PACKET_FRAMES * 50, channels, 0.5);
        let back = decoded(channels, &packets);
        assert_eq!(back.len(), original.len());
        let delay = usize::from(encoder.lookahead_frames()) * channels;
        let pairs = || original.iter().zip(&back[delay..]).skip(PACKET_FRAMES * channels);
        let power: f32 = pairs().map(|(a, _)| a * a).sum();
        let error: f32 = pairs().map(|(a, b)| (a - b) * (a - b)).sum();
        // A codec keeps what is heard, not the waveform: 15 dB under the sound is far from any
        // wrong delay, which would leave an error as large as the sound.
        assert!(error < power / 30.0, "{channels}: {error} of {power}");
    }
}

#[test]
fn another_decoder_reads_the_same_from_every_kind_of_packet() {
    // Low rates are coded by the speech part of Opus, high ones by the other, between them both.
    for (channels, bits_per_second) in
        [(1, 8_000), (1, 24_000), (1, 64_000), (2, 16_000), (2, 36_000), (2, 96_000), (2, 256_000)]
    {
        let (_, packets) = encoded(channels, bits_per_second, 0.5);
        let ours = decoded(channels, &packets);
        let mut decoder = opus_decoder::OpusDecoder::new(RATE_HZ, channels).unwrap();
        let mut theirs = Vec::new();
        for packet in &packets {
            let mut block = vec![0.0; MAX_PACKET_FRAMES * channels];
            let frames = decoder.decode_float(packet, &mut block, false).unwrap();
            assert_eq!(frames, packet_frames(packet).unwrap());
            theirs.extend_from_slice(&block[..frames * channels]);
        }
        assert_eq!(ours.len(), theirs.len());
        let product = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>();
        let correlation =
            product(&ours, &theirs) / (product(&ours, &ours) * product(&theirs, &theirs)).sqrt();
        assert!(correlation > 0.999, "{channels} {bits_per_second}: {correlation}");
    }
}

#[test]
fn a_peak_over_full_scale_is_not_clipped() {
    let (_, packets) = encoded(2, 128_000, 2.0);
    let peak = decoded(2, &packets).iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    // The sound itself reaches 1.8 to 2.2 times full scale.
    assert!((1.6..2.6).contains(&peak), "{peak}");
}

#[test]
fn silence_stays_silence() {
    let mut encoder = Encoder::new(2, 96_000).unwrap();
    let packet = encoder.encode(&[0.0; 2 * PACKET_FRAMES]).unwrap();
    // The decoder's own smallest number may remain: far below half a step of 24 bits.
    let half_a_step = 0.5 / 8_388_608.0;
    assert!(decoded(2, &[packet]).iter().all(|sample| sample.abs() < half_a_step));
}

#[test]
fn what_is_no_packet_and_no_block_is_refused() {
    assert!(matches!(Encoder::new(3, 64_000), Err(OpusError::Channels { channels: 3 })));
    assert!(Decoder::new(0).is_err());
    let mut encoder = Encoder::new(1, 64_000).unwrap();
    assert!(matches!(encoder.encode(&[0.0; 7]), Err(OpusError::Block { samples: 7, .. })));
    let mut decoder = Decoder::new(2).unwrap();
    for packet in [&[][..], &[0xFF], &[0x03, 0xFF], &[0x83, 0x00]] {
        assert_eq!(decoder.decode(packet), Err(OpusError::Library { code: -4 }), "{packet:?}");
    }
    assert!(packet_frames(&[]).is_err() && packet_frames(&[0x03, 0x3F]).is_err());
}
