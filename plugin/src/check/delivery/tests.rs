//! Signals with a fault of known size and place, and clean ones that must raise no alarm.

use super::*;
use crate::loudness::FileMeter;
use crate::section;
use std::f64::consts::TAU;

const RATE_HZ: u32 = 48_000;
const INTEGER_24: Coding = Coding::Integer { bits: 24 };
const INTEGER_16: Coding = Coding::Integer { bits: 16 };
const FLOAT: Coding = Coding::Float { bits: 32 };

fn frame(at_s: f64) -> usize {
    (at_s * f64::from(RATE_HZ)).round() as usize
}

/// White noise from −1 to 1, the same every time.
fn noise(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed * 2 + 1;
    move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }
}

fn look_as(planes: &[Vec<f32>], coding: Coding) -> Delivery {
    let rate = SampleRate::new(RATE_HZ).unwrap();
    let layout = Layout::from_channel_count(planes.len()).unwrap();
    let mut meter = FileMeter::new(rate, layout);
    let mut scan = DeliveryScan::new(rate, layout, coding);
    // Of a length that is no multiple of anything.
    for start in (0..planes[0].len()).step_by(997) {
        let part = |plane: &Vec<f32>| plane[start..plane.len().min(start + 997)].to_vec();
        let block = Block::of(planes.iter().map(part).collect());
        let slices: Vec<&[f32]> = block.planes().iter().map(Vec::as_slice).collect();
        meter.push(&slices);
        scan.push(&block);
    }
    let mut analysis = meter.finish();
    let range = analysis.extent().unwrap();
    let correlation = section::measure(&mut analysis, range).correlation;
    scan.finish(&analysis, correlation)
}

fn look(planes: &[Vec<f32>]) -> Delivery {
    look_as(planes, FLOAT)
}

/// A clean piece of 6 s: two chords out of phase, some noise, 100 ms of fade in, 1 s of fade out
/// that ends at −100 dB.
fn song() -> Vec<Vec<f32>> {
    let mut noise = noise(7);
    let plane = |phase: f64, noise: &mut dyn FnMut() -> f64| {
        let samples = (0..frame(6.0)).map(|frame| {
            let at_s = frame as f64 / f64::from(RATE_HZ);
            let fade_in = (at_s / 0.1).min(1.0).powi(3);
            let fade_out = 10_f64.powf(-5.0 * (at_s - 5.0).max(0.0));
            let tones: f64 = [97.0, 220.0, 331.0, 997.0]
                .iter()
                .map(|hz| (TAU * hz * at_s + phase * hz / 100.0).sin())
                .sum();
            (fade_in * fade_out * (0.18 * tones + 0.05 * noise())) as f32
        });
        samples.collect::<Vec<f32>>()
    };
    vec![plane(0.0, &mut noise), plane(0.4, &mut noise)]
}

/// On the grid of `bits`: rounded, with dither of triangular density if asked for.
fn rounded(planes: &[Vec<f32>], bits: i32, is_dithered: bool) -> Vec<Vec<f32>> {
    let steps = 2_f64.powi(bits - 1);
    let mut noise = noise(11);
    let mut round = |sample: &f32| {
        let dither = if is_dithered { 0.5 * (noise() + noise()) } else { 0.0 };
        ((f64::from(*sample) * steps + dither).round() / steps) as f32
    };
    planes.iter().map(|plane| plane.iter().map(&mut round).collect()).collect()
}

#[test]
fn a_clean_song_raises_no_alarm() {
    for (planes, coding) in [
        (song(), FLOAT),
        (rounded(&song(), 24, true), INTEGER_24),
        (rounded(&song(), 16, true), INTEGER_16),
    ] {
        let found = look_as(&planes, coding);
        assert!(!found.bit_depth.is_padded(), "{found:?}");
        assert!(found.channels.silent.is_empty(), "{found:?}");
        assert_eq!(found.channels.twins, Twins::Differ);
        assert_eq!(found.channels.dc_of_concern().count(), 0, "{found:?}");
        assert_eq!(found.clipping, Clipping::default());
        assert_eq!(found.silence.gap_count, 0);
        assert!(found.subsonic_share.unwrap().0 < SUBSONIC_CONCERN_DB - 10.0, "{found:?}");
        assert_ne!(found.dither, Dither::Truncated);
        let edges = &found.edges;
        assert!(!edges.starts_with_click() && !edges.ends_with_click(), "{edges:?}");
        assert!(!edges.is_cut(), "{edges:?}");
    }
}

#[test]
fn the_bits_in_use_are_found() {
    for (bits, coding, used, is_padded) in [
        (16, INTEGER_24, Some(16), true),
        (20, INTEGER_24, Some(20), true),
        (24, INTEGER_24, Some(24), false),
        (16, INTEGER_16, Some(16), false),
        (16, FLOAT, Some(16), true),
        (24, Coding::Integer { bits: 32 }, Some(24), true),
        (16, Coding::Lossy, None, false),
    ] {
        let depth = look_as(&rounded(&song(), bits, true), coding).bit_depth;
        assert_eq!((depth.used_bits, depth.is_padded()), (used, is_padded), "{bits} {coding:?}");
    }
    assert_eq!(look(&song()).bit_depth.used_bits, None);
    // One sample with the 24th bit set is enough.
    let mut planes = rounded(&song(), 16, true);
    planes[1][100_000] += 1.0 / 8_388_608.0;
    assert_eq!(look_as(&planes, INTEGER_24).bit_depth.used_bits, Some(24));
}

#[test]
fn dual_mono_polarity_and_silent_channels_are_found() {
    let [left, right] = song().try_into().unwrap();
    let turned: Vec<f32> = left.iter().map(|sample| -sample).collect();
    let nearly_turned: Vec<f32> =
        turned.iter().zip(&right).map(|(turned, right)| turned + 0.2 * right).collect();
    let twins = |second: &Vec<f32>| look(&[left.clone(), second.clone()]).channels.twins;
    assert_eq!(twins(&left), Twins::Same);
    assert_eq!(twins(&turned), Twins::TurnedOver);
    assert_eq!(twins(&nearly_turned), Twins::LikelyTurnedOver);
    assert_eq!(twins(&right), Twins::Differ);
    // One sample that differs: no dual mono.
    let mut almost = left.clone();
    almost[50_000] += 1e-4;
    assert_eq!(twins(&almost), Twins::Differ);

    let silence = vec![0.0; left.len()];
    let found = look(&[left.clone(), silence.clone()]).channels;
    assert_eq!((found.silent, found.twins), (vec!["R"], Twins::Differ));
    let found = look(&[silence.clone(), silence]).channels;
    assert_eq!((found.silent, found.twins), (vec!["L", "R"], Twins::Differ));
}

#[test]
fn a_dc_offset_is_read_to_a_tenth_of_a_decibel() {
    for (offset, is_of_concern) in [(0.003, true), (-0.01, true), (0.000_5, false)] {
        let mut planes = song();
        for sample in &mut planes[1] {
            *sample += offset as f32;
        }
        let sum: f64 = planes[1].iter().copied().map(f64::from).sum();
        let mean = sum / planes[1].len() as f64;
        // The song's own mean is small beside it.
        assert!((mean / offset - 1.0).abs() < 0.1, "{mean}");
        let found = look(&planes).channels;
        let (name, level) = found.dc[1];
        assert_eq!(name, "R");
        assert!((level.0 - amplitude_db(mean)).abs() < 0.1, "{offset}: {level:?}");
        let names: Vec<_> = found.dc_of_concern().map(|(name, _)| *name).collect();
        assert_eq!(names, if is_of_concern { vec!["R"] } else { vec![] });
    }
}

fn amplitude_db(amplitude: f64) -> f64 {
    20.0 * amplitude.abs().log10()
}

#[test]
fn clipped_runs_are_found_with_place_channel_and_length() {
    let mut planes = song();
    // Across the border of a group and of a block; two in a row are no run; turned over.
    planes[0][997 * 24 - 2..997 * 24 + 3].fill(1.0);
    planes[1][100_000..100_002].fill(-1.0);
    planes[1][150_000..150_003].fill(-1.0);
    planes[1][150_003..150_007].fill(1.5);
    let found = look(&planes).clipping;
    let places: Vec<_> = found.places.iter().map(|run| (run.channel, run.len_frames)).collect();
    assert_eq!(places, [("L", 5), ("R", 3), ("R", 4)]);
    assert_eq!((found.runs, found.longest_frames), (3, 5));
    for (run, at) in found.places.iter().zip([997 * 24 - 2, 150_000, 150_003]) {
        assert!((run.at_s - f64::from(at) / f64::from(RATE_HZ)).abs() < 1e-9, "{run:?}");
    }
    assert_eq!(found.flat_tops, None);
}

#[test]
fn a_run_at_the_very_end_counts() {
    let mut planes = song();
    let end = planes[0].len();
    planes[0][end - 3..].fill(1.0);
    assert_eq!(look(&planes).clipping.runs, 1);
}

#[test]
fn a_song_that_was_clipped_and_turned_down_has_flat_tops() {
    let clip = |sample: &f32| (4.0 * sample).clamp(-1.0, 1.0) * 0.8;
    let planes: Vec<Vec<f32>> =
        song().iter().map(|plane| plane.iter().map(clip).collect()).collect();
    let found = look_as(&rounded(&planes, 24, false), INTEGER_24).clipping;
    assert_eq!(found.runs, 0);
    let (tops, level) = found.flat_tops.unwrap();
    assert!(tops > 100, "{tops}");
    assert!((level.0 - amplitude_db(0.8)).abs() < 0.01, "{level:?}");
}

#[test]
fn the_rounded_top_of_a_slow_wave_is_no_flat_top() {
    // At 20 Hz some six samples in a row round to the same step of 16 bits.
    for hz in [20.0, 41.0, 55.0] {
        let sine = |frame| (0.9 * (TAU * hz * f64::from(frame) / f64::from(RATE_HZ)).sin()) as f32;
        let plane: Vec<f32> = (0..4 * RATE_HZ).map(sine).collect();
        let found = look_as(&rounded(&[plane.clone(), plane], 16, false), INTEGER_16);
        assert_eq!(found.clipping, Clipping::default(), "{hz}");
    }
}

#[test]
fn gaps_of_zeros_are_found_with_place_and_length() {
    let mut planes = song();
    for plane in &mut planes {
        plane[frame(2.0)..frame(2.05)].fill(0.0);
        // Too short to be told.
        plane[frame(3.0)..frame(3.01)].fill(0.0);
    }
    // In one channel only: no silence.
    planes[0][frame(4.0)..frame(4.1)].fill(0.0);
    let found = look(&planes).silence;
    assert_eq!(found.gap_count, 1);
    let gap = found.gaps[0];
    assert!((gap.at_s - 2.0).abs() < 1e-4 && (gap.length_s - 0.05).abs() < 1e-4, "{gap:?}");
}

#[test]
fn head_and_tail_are_measured_to_the_frame() {
    let [left, right] = song().try_into().unwrap();
    let pad = |plane: Vec<f32>| {
        [vec![0.0; 12_345], vec![0.5], plane[9_600..].to_vec(), vec![0.0; 54_321]].concat()
    };
    let found = look(&[pad(left), pad(right)]);
    let frames = |s: f64| (s * f64::from(RATE_HZ)).round() as usize;
    assert_eq!(frames(found.silence.head_s), 12_345);
    assert_eq!(frames(found.silence.tail_s), 54_321);
    assert_eq!(frames(found.edges.head_s.unwrap()), 12_345);
    assert_eq!(found.silence.gap_count, 0);
    // The fade goes below −60 dBFS before its end.
    assert!(frames(found.edges.tail_s.unwrap()) > 54_321);
    // The step out of the silence is a click.
    assert!(found.edges.starts_with_click());
    assert!((found.edges.first_sample.unwrap().0 - amplitude_db(0.5)).abs() < 1e-6);
}

#[test]
fn a_cut_tail_is_told_from_a_fade() {
    let cut_at = |at_s: f64| {
        let planes: Vec<Vec<f32>> =
            song().into_iter().map(|plane| plane[..frame(at_s)].to_vec()).collect();
        look(&planes).edges
    };
    // In mid song; 30 dB down; and where the fade has come to −70 dB and more.
    let loud = cut_at(4.0);
    assert!(loud.is_cut() && loud.end_level.unwrap().0 > -10.0, "{loud:?}");
    let quieter = cut_at(5.3);
    assert!(quieter.is_cut() && quieter.end_level.unwrap().0 > -40.0, "{quieter:?}");
    let faded = cut_at(5.75);
    assert!(!faded.is_cut() && !faded.ends_with_click(), "{faded:?}");
    // Zeros appended behind the cut do not hide it.
    let planes: Vec<Vec<f32>> =
        song().into_iter().map(|plane| [&plane[..frame(4.0)], &[0.0; 48_000]].concat()).collect();
    assert!(look(&planes).edges.is_cut());
}

#[test]
fn the_noise_of_a_pause_is_read_to_half_a_decibel() {
    let mut noise = noise(3);
    let mut planes = song();
    // RMS of noise of even density is its amplitude over √3.
    let amplitude = 10_f64.powf(-70.0 / 20.0) * 3_f64.sqrt();
    for plane in &mut planes {
        for (frame_at, sample) in plane.iter_mut().enumerate() {
            if (frame(2.0)..frame(3.0)).contains(&frame_at) {
                *sample = 0.0;
            }
            *sample += (amplitude * noise()) as f32;
        }
    }
    let floor = look(&planes).noise_floor.unwrap();
    assert!((floor.level.0 + 70.0).abs() < 0.5, "{floor:?}");
    assert!((1.9..3.0).contains(&floor.at_s) || floor.at_s > 5.4, "{floor:?}");
}

#[test]
fn the_share_below_20_hz_is_read_to_a_fifth_of_a_decibel() {
    let plane = |low: f64, high: f64, dc: f64| {
        let samples = (0..frame(10.0)).map(|frame| {
            let at_s = frame as f64 / f64::from(RATE_HZ);
            let tone = |hz: f64| (TAU * hz * at_s).sin();
            (low * tone(8.0) + high * tone(440.0) + dc) as f32
        });
        vec![samples.collect::<Vec<f32>>()]
    };
    // Powers of 1 to 10: a share of 1/11.
    let share = look(&plane(0.1, 0.1 * 10_f64.sqrt(), 0.0)).subsonic_share.unwrap();
    assert!((share.0 - 10.0 * (1.0_f64 / 11.0).log10()).abs() < 0.2, "{share:?}");
    // DC is told elsewhere and is no rumble; what leaks of a tone stays far below concern.
    assert!(look(&plane(0.0, 0.3, 0.1)).subsonic_share.unwrap().0 < -40.0);
    assert!(look(&plane(0.0, 0.3, 0.0)).subsonic_share.unwrap().0 < -60.0);
    assert_eq!(look(&plane(0.0, 0.0, 0.0)).subsonic_share, None);
}

#[test]
fn a_tail_tells_dither_from_truncation() {
    // A tone that decays by 30 dB a second until it is far below a step of 16 bits.
    let tail: Vec<f32> = (0..frame(5.0))
        .map(|frame| {
            let at_s = frame as f64 / f64::from(RATE_HZ);
            (0.3 * 10_f64.powf(-1.5 * at_s) * (TAU * 440.0 * at_s).sin()) as f32
        })
        .collect();
    let tail = vec![tail.clone(), tail];
    let dithered = rounded(&tail, 16, true);
    let truncated = rounded(&tail, 16, false);
    assert_eq!(look_as(&dithered, INTEGER_16).dither, Dither::Present);
    assert_eq!(look_as(&truncated, INTEGER_16).dither, Dither::Truncated);
    // The same in a file with room for 24 bits, and with zeros behind it.
    assert_eq!(look_as(&truncated, INTEGER_24).dither, Dither::Truncated);
    let padded = |planes: &[Vec<f32>]| -> Vec<Vec<f32>> {
        planes.iter().map(|plane| [&plane[..], &[0.0; 48_000]].concat()).collect()
    };
    assert_eq!(look_as(&padded(&dithered), INTEGER_16).dither, Dither::Present);
    assert_eq!(look_as(&padded(&truncated), INTEGER_16).dither, Dither::Truncated);
    // Cut while it is loud: nothing to tell from.
    let cut: Vec<Vec<f32>> = truncated.iter().map(|plane| plane[..frame(1.0)].to_vec()).collect();
    assert_eq!(look_as(&cut, INTEGER_16).dither, Dither::CannotTell);
    assert_eq!(look_as(&truncated, FLOAT).dither, Dither::NotNeeded);
}

#[test]
fn what_is_no_number_harms_nothing() {
    let mut planes = song();
    for (at, value) in [(10, f32::NAN), (11, f32::INFINITY), (12, -1e30), (99_999, f32::NAN)] {
        planes[0][at] = value;
    }
    let found = look(&planes);
    assert_eq!(found.clipping.runs, 0);
    assert!(found.channels.dc.iter().all(|(_, level)| level.0 < -60.0), "{found:?}");
    assert!(found.subsonic_share.unwrap().0.is_finite());
}
