//! The part of a frame by which one file is later than whole frames say.

use crate::check::compare::delay::{self, REACH};
use realfft::RealFftPlanner;
use std::f64::consts::TAU;

/// A part of a frame counts if it brings what is left down to this, as a power ratio: by 6 dB.
const WORTH_IT: f64 = 0.25;

/// The slope of the phase is read up to this part of the rate: half of what there is, so that a
/// part of a frame never turns the phase over.
const UP_TO: f64 = 0.25;

/// Two planes of one channel, OLD and NEW.
type Planes<'a> = [&'a [f32]; 2];

/// The channels of one stretch, OLD's and NEW's.
type Stretch<'a> = (&'a Vec<Vec<f32>>, &'a Vec<Vec<f32>>);

/// The part of a frame by which `new` of each pair is later than `old`, −1 to 1, and whether it
/// makes a difference. Both have a `margin` on either side.
pub fn of(pairs: &[Stretch<'_>], margin: i64, swapped: bool) -> (f64, bool) {
    let margin = usize::try_from(margin).unwrap_or(0);
    let mut channels: Vec<Planes<'_>> = Vec::new();
    for (old, new) in pairs {
        let new: Vec<&Vec<f32>> =
            if swapped { new.iter().rev().collect() } else { new.iter().collect() };
        channels.extend(old.iter().zip(new).map(|(old, new)| [old.as_slice(), new.as_slice()]));
    }
    let part = phase_slope(&channels, margin).clamp(-1.0, 1.0);
    let weights = delay::weights(part);
    let (mut whole, mut moved) = (0.0, 0.0);
    for [old, new] in channels {
        let old = inside(old, margin);
        let shifted: Vec<f32> = delay::apply(&weights, new).collect();
        whole += left(old, inside(new, margin));
        moved += left(old, shifted.get(margin + 1 - REACH.min(margin)..).unwrap_or_default());
    }
    (part, moved < whole * WORTH_IT)
}

/// A plane without its margins.
fn inside(plane: &[f32], margin: usize) -> &[f32] {
    plane.get(margin..plane.len().saturating_sub(margin)).unwrap_or_default()
}

/// What is left of `new` less `old` with the gain that leaves the least: Σ of squares.
fn left(old: &[f32], new: &[f32]) -> f64 {
    let [mut oo, mut on, mut nn] = [0.0; 3];
    for (&old, &new) in old.iter().zip(new) {
        let (old, new) = (f64::from(old), f64::from(new));
        oo += old * old;
        on += old * new;
        nn += new * new;
    }
    if oo > 0.0 { (nn - on * on / oo).max(0.0) } else { nn }
}

/// How much later, in frames: the slope of the phase over frequency, by least squares, each
/// frequency weighed with its power.
fn phase_slope(channels: &[Planes<'_>], margin: usize) -> f64 {
    let len = channels.first().map_or(0, |[old, _]| inside(old, margin).len());
    if len == 0 {
        return 0.0;
    }
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(len);
    let spectrum = |plane: &[f32]| {
        let mut signal = forward.make_input_vec();
        for ((place, &sample), at) in signal.iter_mut().zip(inside(plane, margin)).zip(0_u32..) {
            let window = 0.5 - 0.5 * (TAU * f64::from(at) / float(len)).cos();
            *place = f64::from(sample) * window;
        }
        let mut spectrum = forward.make_output_vec();
        forward.process(&mut signal, &mut spectrum).map(|()| spectrum)
    };
    let mut sum = forward.make_output_vec();
    for [old, new] in channels {
        let (Ok(old), Ok(new)) = (spectrum(old), spectrum(new)) else {
            return 0.0;
        };
        let products: Vec<_> = old.iter().zip(&new).map(|(old, new)| old.conj() * new).collect();
        // A channel that is turned over goes in the right way round.
        let sign = products.iter().map(|product| product.re).sum::<f64>().signum();
        for (sum, product) in sum.iter_mut().zip(products) {
            *sum += product * sign;
        }
    }
    let (mut both, mut square) = (0.0, 0.0);
    for (product, bin) in sum.iter().zip(0_u32..) {
        let frequency = f64::from(bin) / float(len);
        if frequency > UP_TO {
            break;
        }
        // Later by τ frames turns the phase by −2π·f·τ. Treble tells more of it than bass.
        let (weight, radians) = (product.norm(), -product.arg());
        both += weight * radians * TAU * frequency;
        square += weight * (TAU * frequency).powi(2);
    }
    if square > 0.0 { both / square } else { 0.0 }
}

fn float(len: usize) -> f64 {
    u32::try_from(len).map_or(f64::INFINITY, f64::from)
}
