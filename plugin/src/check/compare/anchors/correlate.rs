//! Correlation of one stretch with its surroundings in the other file.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// How much a lag counts less per margin that it is off the likely one: of a steady tone, which
/// goes together at many lags, the nearest is taken.
const PER_MARGIN: f64 = 1e-6;

/// Means of this part of a second are compared, 1/8000: it leaves the band about 3 kHz. Bass has
/// broad peaks, and treble is what a lossy code makes up anew (the project's own choice, no source).
const MEANS_PER_SECOND: usize = 8_000;

/// Channels count as swapped if that goes together better by this: left and right of a narrow
/// song are much alike.
const SWAPPED_FROM: f64 = 0.01;

/// Where a stretch goes together best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Frames from the likely lag, −margin to margin.
    pub offset: i64,
    /// Correlation, 0 to 1: polarities of channels do not count.
    pub correlation: f64,
    /// Whether left of OLD goes with right of NEW.
    pub swapped: bool,
}

/// Correlates stretches of one length.
pub struct Correlator {
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
    /// Frames of a stretch, and of a margin.
    len: usize,
    margin: usize,
    /// Frames of a mean.
    mean: usize,
}

/// What there is of a plane: how its short means move.
struct Side {
    spectrum: Vec<Complex<f64>>,
    /// Sums of squares before each place.
    energies: Vec<f64>,
}

impl Correlator {
    /// For stretches of a second, `len` frames, that lie with a `margin` on either side in both files.
    #[must_use]
    pub fn new(len: i64, margin: i64) -> Self {
        let [len, margin] = [len, margin].map(|frames| usize::try_from(frames).unwrap_or(0));
        // Even, and long enough that nothing wraps into the lags that are looked at.
        let size = (len + 2 * margin).next_multiple_of(2);
        let mut planner = RealFftPlanner::new();
        Self {
            forward: planner.plan_fft_forward(size),
            inverse: planner.plan_fft_inverse(size),
            len,
            margin,
            mean: (len / MEANS_PER_SECOND).max(1),
        }
    }

    /// The lag at which `new` goes with `old` best, whatever the polarity of each channel; `None`
    /// if one of them is silent.
    #[must_use]
    pub fn find(&self, old: &[Vec<f32>], new: &[Vec<f32>]) -> Option<Found> {
        let olds: Vec<Side> = old.iter().filter_map(|plane| self.side(plane, true)).collect();
        let news: Vec<Side> = new.iter().filter_map(|plane| self.side(plane, false)).collect();
        let straight = self.best(olds.iter().zip(&news))?;
        let swapped = match (olds.as_slice(), news.as_slice()) {
            ([_, _], [_, _]) => self.best(olds.iter().zip(news.iter().rev())),
            _ => None,
        };
        let found = |(offset, correlation), swapped| Found { offset, correlation, swapped };
        Some(match swapped {
            Some(swapped) if swapped.1 > straight.1 + SWAPPED_FROM => found(swapped, true),
            _ => found(straight, false),
        })
    }

    /// A plane for correlation; of OLD's the margins are left out.
    fn side(&self, plane: &[f32], is_old: bool) -> Option<Side> {
        let mut signal = self.forward.make_input_vec();
        let margin = if is_old { self.margin } else { 0 };
        let end = plane.len().checked_sub(margin)?;
        let mut sum = 0.0;
        let sums = plane.iter().map(|&sample| {
            sum += f64::from(sample);
            sum
        });
        let sums: Vec<f64> = std::iter::once(0.0).chain(sums).collect();
        let mean = self.mean;
        let moves = sums.windows(2 * mean + 1).map(|sums| {
            let at = |place: usize| sums.get(place).copied().unwrap_or(0.0);
            at(2 * mean) - 2.0 * at(mean) + at(0)
        });
        let places = signal.iter_mut().enumerate().skip(2 * mean - 1);
        for ((at, place), moved) in places.zip(moves) {
            if (margin..end).contains(&at) {
                *place = moved;
            }
        }
        let mut sum = 0.0;
        let energies = signal.iter().map(|value| {
            sum += value * value;
            sum
        });
        let energies = std::iter::once(0.0).chain(energies).collect();
        let mut spectrum = self.forward.make_output_vec();
        self.forward.process(&mut signal, &mut spectrum).ok()?;
        Some(Side { spectrum, energies })
    }

    /// Offset and correlation of the best lag of channels that go together in pairs.
    fn best<'a>(&self, pairs: impl Iterator<Item = (&'a Side, &'a Side)>) -> Option<(i64, f64)> {
        let lags = 2 * self.margin + 1;
        let (mut together, mut both) = (vec![0.0; lags], vec![0.0; lags]);
        for (old, new) in pairs {
            let products = self.products(old, new)?;
            let old_energy = old.energies.last()?;
            let window = new.energies.iter().zip(new.energies.iter().skip(self.len));
            // By lag: negative ones stand at the end of `products`.
            let lags = products.iter().cycle().skip(products.len() - self.margin);
            let sums = together.iter_mut().zip(&mut both);
            for (((together, both), product), (before, after)) in sums.zip(lags).zip(window) {
                *together += product.abs();
                *both += (old_energy * (after - before).max(0.0)).sqrt();
            }
        }
        let margin = i64::try_from(self.margin).ok()?;
        let floor = both.iter().copied().fold(0.0, f64::max) * 1e-6;
        let values = (-margin..).zip(together.iter().zip(&both));
        let sounding = values.filter(|(_, (_, both))| **both > floor);
        let correlations = sounding.map(|(offset, (together, both))| (offset, together / both));
        let far = |offset: i64| {
            let parts = offset.unsigned_abs().try_into().map_or(0.0, |far: u32| f64::from(far));
            1.0 - PER_MARGIN * parts / margin.try_into().map_or(1.0, |far: i32| f64::from(far))
        };
        correlations.max_by(|a, b| (a.1 * far(a.0)).total_cmp(&(b.1 * far(b.0))))
    }

    /// Σ old[n] · new[n + lag] by lag.
    fn products(&self, old: &Side, new: &Side) -> Option<Vec<f64>> {
        let spectra = old.spectrum.iter().zip(&new.spectrum);
        let mut product: Vec<Complex<f64>> = spectra.map(|(old, new)| old.conj() * new).collect();
        // The inverse takes no imaginary part at either end; rounding left one.
        product.first_mut()?.im = 0.0;
        product.last_mut()?.im = 0.0;
        let mut values = self.inverse.make_output_vec();
        self.inverse.process(&mut product, &mut values).ok()?;
        let scale = u32::try_from(values.len()).map_or(1.0, |len| f64::from(len).recip());
        values.iter_mut().for_each(|value| *value *= scale);
        Some(values)
    }
}
