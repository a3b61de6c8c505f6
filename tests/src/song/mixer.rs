//! The mixing desk of the demo song: a dry bus, a send to the room, and the only conversions
//! between seconds and frames.

use super::room::Room;

/// Two channels of equal length.
#[derive(Debug, Clone)]
pub(super) struct Stereo {
    /// Left channel, one sample per frame, 1.0 = full scale.
    pub left: Vec<f32>,
    /// Right channel, one sample per frame, 1.0 = full scale.
    pub right: Vec<f32>,
}

impl Stereo {
    fn silence(len_frames: usize) -> Self {
        Self { left: vec![0.0; len_frames], right: vec![0.0; len_frames] }
    }

    fn frames_mut(&mut self) -> impl Iterator<Item = (&mut f32, &mut f32)> {
        self.left.iter_mut().zip(self.right.iter_mut())
    }
}

/// Collects what the instruments play.
#[derive(Debug)]
pub(super) struct Mixer {
    rate_hz: f64,
    dry: Stereo,
    send: Stereo,
}

impl Mixer {
    /// An empty desk for `length_s` seconds.
    pub fn new(length_s: f64, rate_hz: f64) -> Self {
        let len_frames = frames(length_s, rate_hz);
        Self { rate_hz, dry: Stereo::silence(len_frames), send: Stereo::silence(len_frames) }
    }

    /// Sample rate in Hz.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Adds one sound: `voice` is called once a frame with the seconds since the sound began and
    /// returns left and right. `send` of it goes to the room. What lies beyond the end of the
    /// song is dropped.
    pub fn play(
        &mut self,
        start_s: f64,
        length_s: f64,
        send: f64,
        mut voice: impl FnMut(f64) -> [f64; 2],
    ) {
        let start_frame = frames(start_s, self.rate_hz);
        let len_frames = frames(length_s, self.rate_hz);
        let step_s = 1.0 / self.rate_hz;
        let mut time_s = 0.0;
        let outs = self.dry.frames_mut().zip(self.send.frames_mut());
        for ((dry_l, dry_r), (send_l, send_r)) in outs.skip(start_frame).take(len_frames) {
            let [left, right] = voice(time_s);
            time_s += step_s;
            *dry_l += sample(left);
            *dry_r += sample(right);
            *send_l += sample(left * send);
            *send_r += sample(right * send);
        }
    }

    /// Adds the room to the dry bus and takes the sum through the last stage of the mix:
    /// `gain`, then a soft ceiling.
    pub fn mix_down(mut self, room_gain: f64, gain: f64) -> Stereo {
        let mut room = Room::new(self.rate_hz);
        let sends = self.send.left.iter().zip(self.send.right.iter());
        for ((left, right), (send_l, send_r)) in self.dry.frames_mut().zip(sends) {
            let [room_l, room_r] = room.step(f64::from(*send_l), f64::from(*send_r));
            *left = sample(soft_ceiling((f64::from(*left) + room_gain * room_l) * gain));
            *right = sample(soft_ceiling((f64::from(*right) + room_gain * room_r) * gain));
        }
        self.dry
    }
}

/// Untouched up to the knee, then bent towards the ceiling: what a saturator at the end of a home
/// mix does. The ceiling holds for samples, not for what lies between them, so that a true peak
/// can land above it.
fn soft_ceiling(value: f64) -> f64 {
    const KNEE: f64 = 0.80;
    const CEILING: f64 = 0.98;
    let size = value.abs();
    if size <= KNEE {
        return value;
    }
    let room = CEILING - KNEE;
    (KNEE + room * ((size - KNEE) / room).tanh()).copysign(value)
}

/// Seconds to the nearest frame; before zero is frame 0.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rounded and not negative; a song is far shorter than 2^53 frames"
)]
pub(super) fn frames(seconds: f64, rate_hz: f64) -> usize {
    (seconds * rate_hz).round().max(0.0) as usize
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "audio leaves in 32-bit float; rounding is what is wanted"
)]
fn sample(value: f64) -> f32 {
    value as f32
}
