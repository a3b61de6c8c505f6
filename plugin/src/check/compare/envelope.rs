//! Where one file may lie on the other: the energies of 10 ms, and at which lags they go together.

use super::sound::Sound;
use crate::check::CheckError;
use crate::record::{HOPS_PER_SECOND, first_frame_of_hop};
use crate::units::SampleRate;
use realfft::RealFftPlanner;

/// What lies below this mean square is silence: −80 dBFS. The project's own choice, no source.
const SILENCE: f32 = 1e-8;

/// A second that is used to find the lag has a mean square above this: −70 dBFS. As above.
const LOUD_ENOUGH: f64 = 1e-7;

/// Cells on either side of one that its level is taken against: 0.5 s, so that steps and slopes
/// of level, which a gain or a fade brings, do not count, and hits do. As above.
const NEAR_CELLS: usize = 50;

/// Most that a cell counts, in powers of ten: a start out of silence weighs no more than a hit.
const MOST: f32 = 1.0;

/// Lags within so many cells of each other are one.
const SAME_LAG_CELLS: i64 = 5;

/// Most lags that are looked at more closely.
const MAX_LAGS: usize = 5;

/// Most stretches of a second that are looked at more closely.
const MAX_SECONDS: usize = 12;

/// Cells of a second: [`HOPS_PER_SECOND`].
const SECOND_CELLS: usize = 100;

/// Energies of a file.
pub struct Envelope {
    /// Mean square over all channels of each 10 ms.
    energies: Vec<f32>,
    len_frames: i64,
    rate: SampleRate,
}

impl Envelope {
    /// Reads the whole of `sound`.
    ///
    /// # Errors
    /// The file cannot be read, or has a rate that the meters are not built for.
    pub fn read(mut sound: Sound) -> Result<Self, CheckError> {
        let form = sound.form();
        let rate = SampleRate::new(form.rate_hz)?;
        let mut planes = vec![Vec::new(); form.channels];
        let mut envelope = Self { energies: Vec::new(), len_frames: 0, rate };
        for cell in 1.. {
            let wanted = first_frame_of_hop(cell, rate) - envelope.len_frames;
            let wanted = usize::try_from(wanted).unwrap_or(0);
            let len = sound.read(wanted, &mut planes)?;
            envelope.len_frames += i64::try_from(len).unwrap_or(0);
            if len < wanted {
                break;
            }
            let squares = planes.iter().flatten().map(|sample| sample * sample);
            let count = u16::try_from(len * form.channels).map_or(f32::INFINITY, f32::from);
            envelope.energies.push(squares.sum::<f32>() / count);
        }
        Ok(envelope)
    }

    /// Length of the file in frames.
    pub const fn len_frames(&self) -> i64 {
        self.len_frames
    }

    /// Whether nothing of it rises over −80 dBFS.
    pub fn is_silent(&self) -> bool {
        !self.sounds(0..self.len_frames)
    }

    /// Whether any 10 ms that lie in `frames` rise over −80 dBFS.
    pub fn sounds(&self, frames: std::ops::Range<i64>) -> bool {
        (0..).zip(&self.energies).any(|(cell, energy)| {
            *energy > SILENCE
                && first_frame_of_hop(cell, self.rate) >= frames.start
                && first_frame_of_hop(cell + 1, self.rate) <= frames.end
        })
    }

    /// First frames of the loudest second of each part of the file, in order: 12 parts, fewer in
    /// a file of less than 12 s; parts without a loud second are left out.
    pub fn loud_seconds(&self) -> Vec<i64> {
        let sums = running_sums(self.energies.iter().map(|&energy| f64::from(energy)));
        let count = self.energies.len();
        let parts = (count / SECOND_CELLS).min(MAX_SECONDS);
        let loudest = (0..parts).filter_map(|part| {
            let start = count * part / parts;
            let end = count * (part + 1) / parts - SECOND_CELLS;
            let seconds = (start..=end)
                .filter_map(|cell| Some((cell, sums.get(cell + SECOND_CELLS)? - sums.get(cell)?)));
            let (cell, energy) = seconds.max_by(|one, other| one.1.total_cmp(&other.1))?;
            let is_loud = energy / f64::from(HOPS_PER_SECOND) > LOUD_ENOUGH;
            let cell = i32::try_from(cell).ok().filter(|_| is_loud)?;
            Some(first_frame_of_hop(cell, self.rate))
        });
        loudest.collect()
    }

    /// How far each cell stands out of its surroundings, in powers of ten of its energy.
    fn hits(&self) -> Vec<f32> {
        let levels: Vec<f32> =
            self.energies.iter().map(|energy| (energy + SILENCE).log10()).collect();
        let sums = running_sums(levels.iter().map(|&level| f64::from(level)));
        let hits = levels.iter().enumerate().map(|(cell, &level)| {
            let (from, to) = (cell.saturating_sub(NEAR_CELLS), cell + NEAR_CELLS + 1);
            let to = to.min(levels.len());
            let sum = sums.get(to).zip(sums.get(from)).map_or(0.0, |(to, from)| to - from);
            let near = u16::try_from(to - from).map_or(1.0, f64::from);
            #[expect(clippy::cast_possible_truncation, reason = "levels of a few powers of ten")]
            let mean = (sum / near) as f32;
            (level - mean).clamp(-MOST, MOST)
        });
        hits.collect()
    }
}

/// Lags, in frames, at which `new` may hold what `old` holds, likeliest first: a frame of `old`
/// stands that much later in `new`. Each is exact to some 10 ms; zero is always among them.
#[must_use]
pub fn likely_lags(old: &Envelope, new: &Envelope) -> Vec<i64> {
    let mut peaks = local_peaks(&old.hits(), &new.hits());
    peaks.sort_by(|one, other| other.1.total_cmp(&one.1));
    let mut lags: Vec<i64> = Vec::new();
    let is_new =
        |lag: i64, lags: &[i64]| lags.iter().all(|&one| (one - lag).abs() > SAME_LAG_CELLS);
    for (lag, _) in peaks {
        if lags.len() < MAX_LAGS && is_new(lag, &lags) {
            lags.push(lag);
        }
    }
    if is_new(0, &lags) {
        lags.push(0);
    }
    let cells = lags.into_iter().filter_map(|cells| i32::try_from(cells).ok());
    cells.map(|cells| first_frame_of_hop(cells, old.rate)).collect()
}

/// Correlation of two series by lag in cells, its local peaks above zero.
fn local_peaks(old: &[f32], new: &[f32]) -> Vec<(i64, f32)> {
    if old.is_empty() || new.is_empty() {
        return Vec::new();
    }
    let len = (old.len() + new.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) = (planner.plan_fft_forward(len), planner.plan_fft_inverse(len));
    let spectrum = |series: &[f32]| {
        let mut padded = series.to_vec();
        padded.resize(len, 0.0);
        let mut spectrum = forward.make_output_vec();
        forward.process(&mut padded, &mut spectrum).map(|()| spectrum)
    };
    let (Ok(old_spectrum), Ok(mut product)) = (spectrum(old), spectrum(new)) else {
        return Vec::new();
    };
    for (product, old) in product.iter_mut().zip(old_spectrum) {
        *product *= old.conj();
    }
    // The inverse takes no imaginary part there; rounding left one.
    for end in [0, len / 2] {
        if let Some(value) = product.get_mut(end) {
            value.im = 0.0;
        }
    }
    let mut by_lag = inverse.make_output_vec();
    if inverse.process(&mut product, &mut by_lag).is_err() {
        return Vec::new();
    }
    // Negative lags stand at the end.
    by_lag.rotate_right(old.len() - 1);
    let first_lag = 1 - i64::try_from(old.len()).unwrap_or(i64::MAX);
    let shown = by_lag.get(..old.len() + new.len() - 1).unwrap_or_default();
    let lags = (first_lag + 1..).zip(shown.windows(3));
    let peaks = lags.filter_map(|(lag, near)| match near {
        [before, here, after] if *here > 0.0 && here >= before && here > after => {
            Some((lag, *here))
        }
        _ => None,
    });
    peaks.collect()
}

/// Sums of the values before each place, one more than there are values.
fn running_sums(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let sums = values.scan(0.0, |sum, value| {
        *sum += value;
        Some(*sum)
    });
    std::iter::once(0.0).chain(sums).collect()
}
