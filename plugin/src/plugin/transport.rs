//! What hosts of CLAP and of VST3 tell about their transport.

use crate::audio::{BarPosition, HostPosition};
use nice_plug::prelude::Transport;

/// Where the host is.
pub(super) fn host_position(transport: &Transport) -> HostPosition {
    HostPosition {
        playing: transport.playing,
        seconds: song_seconds(transport),
        beats: transport.pos_beats,
        tempo_bpm: transport.tempo,
    }
}

/// The song position in seconds, if the host tells it as time. CLAP has seconds; VST3 has frames,
/// always, so that zeros of a host that knows nothing else say nothing.
fn song_seconds(transport: &Transport) -> Option<f64> {
    let knows_more = transport.playing || transport.tempo.is_some();
    let frames = transport.pos_samples.filter(|_| knows_more);
    let rate_hz = f64::from(transport.sample_rate);
    transport.pos_seconds.or_else(|| frames.map(|frames| to_f64(frames) / rate_hz))
}

#[expect(clippy::cast_precision_loss, reason = "below 2^53 frames are thousands of years")]
const fn to_f64(frames: i64) -> f64 {
    frames as f64
}

/// The host's bar at the playhead, if it tells tempo, meter and position.
pub(super) fn bar_position(transport: &Transport) -> Option<BarPosition> {
    let tempo_bpm = transport.tempo.filter(|tempo| *tempo > 0.0)?;
    let (upper, lower) = (transport.time_sig_numerator?, transport.time_sig_denominator?);
    if upper <= 0 || lower <= 0 {
        return None;
    }
    let beats = transport.pos_beats?;
    let bar_start = transport.bar_start_pos_beats?;
    let seconds = song_seconds(transport)?;
    Some(BarPosition {
        start_s: seconds - (beats - bar_start) * 60.0 / tempo_bpm,
        number: transport.bar_number()?.saturating_add(1),
        bar_s: f64::from(upper) * 4.0 / f64::from(lower) * 60.0 / tempo_bpm,
        beats: upper,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As a CLAP host tells it.
    fn clap() -> Transport {
        let mut transport = Transport::new(48_000.0);
        transport.playing = true;
        transport.tempo = Some(120.0);
        transport.time_sig_numerator = Some(4);
        transport.time_sig_denominator = Some(4);
        transport.pos_seconds = Some(5.0);
        transport.pos_beats = Some(10.0);
        transport.bar_start_pos_beats = Some(8.0);
        transport.bar_number = Some(2);
        transport
    }

    #[test]
    fn a_vst3_host_tells_frames_and_no_number_of_the_bar() {
        let clap = clap();
        let vst3 = Transport {
            pos_seconds: None,
            pos_samples: Some(240_000),
            bar_number: None,
            ..self::clap()
        };
        assert_eq!(host_position(&vst3), host_position(&clap));
        assert_eq!(host_position(&vst3).seconds, Some(5.0));
        let [bar, expected] = [&vst3, &clap].map(|transport| bar_position(transport).unwrap());
        assert_eq!((bar.number, bar.start_s, bar.bar_s), (3, 4.0, 2.0));
        assert_eq!((bar.number, bar.start_s), (expected.number, expected.start_s));
    }

    #[test]
    fn zeros_of_a_host_that_knows_nothing_say_nothing() {
        let mut transport = Transport::new(48_000.0);
        transport.pos_samples = Some(0);
        assert_eq!(host_position(&transport), HostPosition::default());
    }

    #[test]
    fn beats_alone_are_no_time() {
        let transport = Transport { pos_seconds: None, ..clap() };
        assert_eq!(host_position(&transport).seconds, None);
        assert_eq!(host_position(&transport).beats, Some(10.0));
    }
}
