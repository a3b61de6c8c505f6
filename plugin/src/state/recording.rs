//! The song record in a saved state: every hop, in as few bits as the figures allow.
//!
//! A text (base64) of lists of numbers, see `planes`:
//!
//! | what of a hop | how | off by at most |
//! |---|---|---|
//! | where, whether whole or at an edge, playthrough, frames | runs | exact |
//! | clipped and scrubbed samples | numbers | exact |
//! | rise of the momentary loudness | steps of 0.001 dB | 0.0005 dB |
//! | energy | see `powers` | 0.0005 LU in 400 ms or more |
//! | left, right, side | see `powers` | 0.001 of correlation, 0.01 dB of side to mid, in 400 ms or more |
//! | tone by second | see `tone` | 0.25 dB |
//! | sample peaks, true peaks | see `peaks` | 0.0005 dB where one is the highest of 200 ms, else 0.064 dB |
//!
//! The bounds of `powers` hold where 400 ms or more were measured in one piece. A gating block
//! that stands nearer to a gate than its error may come to stand on the gate's other side; in a
//! song of minutes that moves the loudness by less than 0.001 LU, in a short section it could be
//! more.
//!
//! Whatever a text holds, decoding neither panics nor takes more memory than a record has hops.

mod peaks;
mod powers;
mod runs;
mod tone;
mod windows;

use super::{StateError, check_version, planes};
use crate::meters::MAX_CHANNELS;
use crate::meters::layout::Layout;
use crate::record::{BaseHops, Hop, RecordReader};
use crate::units::SampleRate;
use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use peaks::Peaks;
use planes::{Damage, Reader, Writer, check};
use powers::Powers;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the record that this plugin writes.
pub const RECORD_VERSION: u32 = 2;

const FIELD: &str = "record";

/// Steps of [`Hop::momentary_rise`] in one that is saved: 0.001 dB.
const RISE_STEPS: u16 = 10;

/// A song record of an earlier session.
pub struct Recording {
    /// Its hops.
    pub hops: BaseHops,
    /// The sample rate of the last measurement, Hz.
    pub rate: SampleRate,
}

/// A record as it stands in a state of version 2.
#[derive(Serialize, Deserialize)]
struct SavedV2 {
    version: u32,
    layout: Layout,
    rate_hz: u32,
    /// The hops, base64.
    hops: String,
    /// Tone by second, base64; version 1 had none.
    #[serde(default)]
    tone: String,
    /// Hash of `hops` and, behind them, `tone` (FNV-1a, 64 bits), 16 hex digits: a flipped bit would else be other figures.
    check: String,
}

impl Recording {
    /// Encodes all hops of `record`. `Null` if there are none.
    #[must_use]
    pub fn save(record: &RecordReader, rate: SampleRate) -> Value {
        let hops: Vec<(i32, Hop)> = record.hops().collect();
        if hops.is_empty() {
            return Value::Null;
        }
        let hops = STANDARD_NO_PAD.encode(encode(&hops, record.layout(), rate));
        let mut writer = Writer::new();
        tone::write(&mut writer, record);
        let tone = STANDARD_NO_PAD.encode(writer.into_bytes());
        let saved = SavedV2 {
            version: RECORD_VERSION,
            layout: record.layout(),
            rate_hz: rate.hz(),
            check: check(&[&hops, &tone]),
            hops,
            tone,
        };
        serde_json::to_value(saved).unwrap_or_default()
    }

    /// Reads a saved record; `Null` is none.
    ///
    /// # Errors
    /// A version from the future, or anything malformed.
    pub fn load(saved: &Value) -> Result<Option<Self>, StateError> {
        if saved.is_null() {
            return Ok(None);
        }
        let malformed = |why: String| StateError::Malformed { field: FIELD, why };
        check_version(saved, FIELD, RECORD_VERSION)?;
        let saved = SavedV2::deserialize(saved).map_err(|error| malformed(error.to_string()))?;
        let rate = SampleRate::new(saved.rate_hz).map_err(|error| malformed(error.to_string()))?;
        if check(&[&saved.hops, &saved.tone]) != saved.check {
            return Err(malformed("its check does not fit: it was damaged".to_owned()));
        }
        let bytes =
            |text: &str| STANDARD_NO_PAD.decode(text).map_err(|error| malformed(error.to_string()));
        let damaged = |Damage(what)| malformed(format!("it holds {what}"));
        let mut hops = decode(&bytes(&saved.hops)?, saved.layout, rate).map_err(damaged)?;
        if !saved.tone.is_empty() {
            let bytes = bytes(&saved.tone)?;
            let mut reader = Reader::new(&bytes);
            tone::read(&mut reader, &mut hops).map_err(damaged)?;
            if !reader.is_empty() {
                return Err(damaged(Damage("more than its tone")));
            }
        }
        Ok(Some(Self { hops, rate }))
    }
}

fn encode(hops: &[(i32, Hop)], layout: Layout, rate: SampleRate) -> Vec<u8> {
    let mut writer = Writer::new();
    runs::write(&mut writer, hops, rate);
    let adjacent = pieces(hops, |_| true);
    let whole = pieces(hops, |hop| hop.full);

    writer.numbers(hops.iter().map(|(_, hop)| u64::from(hop.clipped)));
    writer.numbers(hops.iter().map(|(_, hop)| u64::from(hop.scrubbed)));
    let rises = hops.iter().map(|(_, hop)| hop.momentary_rise.saturating_add(RISE_STEPS / 2));
    writer.numbers(rises.map(|rise| u64::from(rise / RISE_STEPS)));

    let channels: Vec<Peaks> = (0..layout.channel_count())
        .map(|channel| {
            let of = |peaks: &[f32; MAX_CHANNELS]| peaks.get(channel).copied().unwrap_or(0.0);
            Peaks {
                sample: hops.iter().map(|(_, hop)| of(&hop.sample_peaks)).collect(),
                true_peaks: hops.iter().map(|(_, hop)| of(&hop.true_peaks)).collect(),
            }
        })
        .collect();
    let rough = peaks::write(&mut writer, &channels, &adjacent);

    let powers: Vec<Powers> = hops.iter().map(|(_, hop)| powers_of(hop)).collect();
    powers::write(&mut writer, &powers, &whole, &rough);
    writer.into_bytes()
}

fn decode(bytes: &[u8], layout: Layout, rate: SampleRate) -> Result<BaseHops, Damage> {
    let mut reader = Reader::new(bytes);
    let mut hops = runs::read(&mut reader, rate)?;
    let count = hops.len();
    let adjacent = pieces(&hops, |_| true);

    let small = |number: u64| u16::try_from(number).map_err(|_| Damage("a count out of range"));
    for ((_, hop), clipped) in hops.iter_mut().zip(reader.numbers(count)?) {
        hop.clipped = small(clipped)?;
    }
    for ((_, hop), scrubbed) in hops.iter_mut().zip(reader.numbers(count)?) {
        hop.scrubbed = small(scrubbed)?;
    }
    for ((_, hop), rise) in hops.iter_mut().zip(reader.numbers(count)?) {
        let rise = small(rise)?.saturating_mul(RISE_STEPS).min(Hop::MAX_MOMENTARY_RISE);
        hop.momentary_rise = rise;
    }
    let (peaks, rough) = peaks::read(&mut reader, layout.channel_count(), count, &adjacent)?;
    for (channel, peaks) in peaks.into_iter().enumerate() {
        let peaks = peaks.sample.into_iter().zip(peaks.true_peaks);
        for ((_, hop), (sample, true_peak)) in hops.iter_mut().zip(peaks) {
            if let Some(peak) = hop.sample_peaks.get_mut(channel) {
                *peak = sample;
            }
            if let Some(peak) = hop.true_peaks.get_mut(channel) {
                *peak = true_peak;
            }
        }
    }
    let mut carried = 0.0;
    for ((_, hop), powers) in hops.iter_mut().zip(powers::read(&mut reader, count, &rough)?) {
        put_powers(hop, &powers, &mut carried)?;
    }
    if !reader.is_empty() {
        return Err(Damage("more than its hops"));
    }
    let mut base = BaseHops::new(layout);
    for (index, hop) in &hops {
        base.put(*index, hop);
    }
    Ok(base)
}

/// The longest stretches of adjacent hops, as positions in the list; those that are not `good` are
/// a stretch each.
fn pieces(hops: &[(i32, Hop)], good: impl Fn(&Hop) -> bool) -> Vec<std::ops::Range<usize>> {
    let mut pieces: Vec<std::ops::Range<usize>> = Vec::new();
    let mut last: Option<(i32, bool)> = None;
    for (at, (index, hop)) in hops.iter().enumerate() {
        let good = good(hop);
        let joins = good && last.is_some_and(|last| last == (index - 1, true));
        match pieces.last_mut().filter(|_| joins) {
            Some(piece) => piece.end = at + 1,
            None => pieces.push(at..at + 1),
        }
        last = Some((*index, good));
    }
    pieces
}

fn powers_of(hop: &Hop) -> Powers {
    let audible = |value: f32| if value.is_finite() { f64::from(value) } else { 0.0 };
    let (left, right) = (audible(hop.left_mean_square), audible(hop.right_mean_square));
    let side = (left + right - 2.0 * audible(hop.left_right_mean)) / 4.0;
    Powers { energy: audible(hop.energy), left, right, side }
}

/// Puts mean squares into a hop. `carried` is what single precision left over of the side, which
/// may be far below left and right.
fn put_powers(hop: &mut Hop, powers: &Powers, carried: &mut f64) -> Result<(), Damage> {
    let side = powers.side + *carried;
    hop.energy = power(powers.energy)?;
    hop.left_mean_square = power(powers.left)?;
    hop.right_mean_square = power(powers.right)?;
    let both = f64::from(hop.left_mean_square) + f64::from(hop.right_mean_square);
    hop.left_right_mean = single((both / 2.0 - 2.0 * side).clamp(-both / 2.0, both / 2.0));
    *carried = side - (both - 2.0 * f64::from(hop.left_right_mean)) / 4.0;
    if carried.abs() > both * f64::from(f32::EPSILON) {
        *carried = 0.0;
    }
    Ok(())
}

fn power(value: f64) -> Result<f32, Damage> {
    let value = single(value);
    let is_power = value.is_finite() && value >= 0.0;
    is_power.then_some(value).ok_or(Damage("a mean square out of range"))
}

#[expect(clippy::cast_possible_truncation, reason = "single precision is what a hop has")]
const fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "small numbers of test signals"
)]
mod tests;
