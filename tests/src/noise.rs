//! Deterministic noise: the same seed gives the same bits on every machine.

use crate::audio_file::Audio;

/// A small generator (SplitMix64; constants from memory). Good enough for test signals and
/// random block sizes, not for anything secret.
#[derive(Debug, Clone)]
pub struct Rng(u64);

impl Rng {
    /// A generator that yields the sequence of `seed`.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in [−1, 1).
    pub fn bipolar(&mut self) -> f64 {
        2.0 * self.unit() - 1.0
    }

    /// Uniform in `low..=high`.
    pub fn between(&mut self, low: usize, high: usize) -> usize {
        low + (self.next_u64() % (high - low + 1) as u64) as usize
    }
}

/// White noise, uniform in [−`peak`, `peak`), `len_frames` long.
#[must_use]
pub fn white(seed: u64, len_frames: usize, peak: f64) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    (0..len_frames).map(|_| (peak * rng.bipolar()) as f32).collect()
}

/// Noise that falls by about 3 dB an octave: the mean of 12 white sources, source n renewed
/// every 2^n frames. Within [−`peak`, `peak`).
#[must_use]
pub fn pink(seed: u64, len_frames: usize, peak: f64) -> Vec<f32> {
    const SOURCES: usize = 12;
    let mut rng = Rng::new(seed);
    let mut held = [0.0; SOURCES];
    (0..len_frames)
        .map(|frame| {
            for (octave, value) in held.iter_mut().enumerate() {
                if frame % (1 << octave) == 0 {
                    *value = rng.bipolar();
                }
            }
            (peak * held.iter().sum::<f64>() / SOURCES as f64) as f32
        })
        .collect()
}

/// Stereo that behaves like a song: sections of eight seconds at levels that differ by up to 20 dB
/// (so that gates have work), partly correlated noise, a bass, a lead, and a drum hit twice a
/// second whose crests stick out.
#[must_use]
pub fn song_like(seed: u64, rate_hz: u32, len_s: f64) -> Audio {
    sections(seed, rate_hz, len_s, 20.0)
}

/// The same with sections that differ by at most 6 dB: none comes near a gate, so that a few
/// blocks more or less cannot tip one over it.
#[must_use]
pub fn even_song(seed: u64, rate_hz: u32, len_s: f64) -> Audio {
    sections(seed, rate_hz, len_s, 6.0)
}

fn sections(seed: u64, rate_hz: u32, len_s: f64, spread_db: f64) -> Audio {
    let rate = f64::from(rate_hz);
    let len_frames = (len_s * rate).round() as usize;
    let mut rng = Rng::new(seed);
    let common = pink(seed ^ 1, len_frames, 1.0);
    let side = pink(seed ^ 2, len_frames, 1.0);
    let section_frames = (8.0 * rate) as usize;
    let mut left = Vec::with_capacity(len_frames);
    let mut right = Vec::with_capacity(len_frames);
    let mut level = 0.3;
    let mut width = 0.3;
    let mut lead_hz = 440.0;
    for frame in 0..len_frames {
        if frame % section_frames == 0 {
            level = 10.0_f64.powf(-(6.0 + spread_db * rng.unit()) / 20.0);
            width = 0.1 + 0.6 * rng.unit();
            lead_hz = 220.0 * 2.0_f64.powf((24.0 * rng.unit()).floor() / 12.0);
        }
        let time_s = frame as f64 / rate;
        // Hits fall between the places where sections begin and tests cut.
        let since_hit_s = (time_s + 0.2) % 0.5;
        let hit = (-since_hit_s * 30.0).exp() * (std::f64::consts::TAU * 180.0 * since_hit_s).sin()
            + 0.5 * (-since_hit_s * 200.0).exp() * f64::from(side[frame]);
        let bass = 0.3 * (std::f64::consts::TAU * 55.0 * time_s).sin();
        let lead = 0.2 * (std::f64::consts::TAU * lead_hz * time_s).sin();
        let mid = f64::from(common[frame]) + bass + lead + 0.8 * hit;
        let wide = width * f64::from(side[frame]);
        left.push((level * (mid + wide)) as f32);
        right.push((level * (mid - wide)) as f32);
    }
    Audio { rate_hz, channels: vec![left, right] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_bits_and_another_seed_others() {
        assert_eq!(white(7, 1000, 0.5), white(7, 1000, 0.5));
        assert_ne!(white(7, 1000, 0.5), white(8, 1000, 0.5));
        // First output of SplitMix64 for seed 0, as published with the generator (from memory).
        assert_eq!(Rng::new(0).next_u64(), 0xE220_A839_7B1D_CDAF);
    }

    #[test]
    fn noise_stays_within_its_peak() {
        for value in white(1, 100_000, 0.25).into_iter().chain(pink(2, 100_000, 0.25)) {
            assert!(value.abs() <= 0.25);
        }
    }
}
