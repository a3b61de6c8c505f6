//! What the meters promise, and the means to ask them.
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "signals are made in f64 and measured in f32; all numbers here are small"
)]

mod edges;
mod exactness;
mod faults;
mod plain;
mod tech_3341;

use super::*;

/// Rates at which figures must hold, in Hz.
const RATES_HZ: [u32; 9] =
    [8_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000, 384_000];

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).unwrap()
}

/// Meters on the best instructions of this machine, and on the baseline.
fn both(hz: u32, layout: Layout) -> [Meters; 2] {
    [Meters::new(rate(hz), layout), Meters::new_baseline(rate(hz), layout)]
}

/// What the meters said of one hop.
#[derive(Debug, Clone, PartialEq)]
struct Hop {
    levels: Levels,
    true_peaks: [f32; MAX_CHANNELS],
}

/// Measures `channels` hop by hop, in blocks of the lengths that `next_block` gives, and cuts
/// them where the caller of the meters must.
fn measure_in_blocks(
    meters: &mut Meters,
    channels: &[Vec<f32>],
    hop_frames: usize,
    edges: [Edge; 2],
    mut next_block: impl FnMut() -> usize,
) -> Vec<Hop> {
    let len_frames = channels[0].len();
    let latency = meters.latency_frames();
    let (mut levels, mut true_peaks) = (Vec::new(), Vec::new());
    meters.start(edges[0]);
    let (mut at, mut hop_end, mut peaks_end) = (0, hop_frames, hop_frames + latency);
    while at < len_frames {
        let block_end = (at + next_block()).min(len_frames);
        while at < block_end {
            let to = block_end.min(hop_end).min(peaks_end);
            let slices: Vec<&[f32]> = channels.iter().map(|channel| &channel[at..to]).collect();
            meters.process(&slices);
            at = to;
            if at == hop_end {
                levels.push(meters.take_levels());
                hop_end += hop_frames;
            }
            if at == peaks_end {
                true_peaks.push(meters.take_true_peaks());
                peaks_end += hop_frames;
            }
        }
    }
    if !len_frames.is_multiple_of(hop_frames) {
        levels.push(meters.take_levels());
    }
    // The points of what is left, as one hop: enough for a test.
    meters.finish(edges[1], meters.latency_frames());
    true_peaks.push(meters.take_true_peaks());
    true_peaks.resize(levels.len().max(true_peaks.len()), [0.0; MAX_CHANNELS]);
    levels.resize(true_peaks.len(), Levels::default());
    levels
        .into_iter()
        .zip(true_peaks)
        .map(|(levels, true_peaks)| Hop { levels, true_peaks })
        .collect()
}

/// Shows the first hop that differs.
fn assert_same(found: &[Hop], expected: &[Hop]) {
    assert_eq!(found.len(), expected.len());
    for (k, (found, expected)) in found.iter().zip(expected).enumerate() {
        assert_eq!(found, expected, "hop {k}");
    }
}

/// Largest true peak of a mono signal between silences.
fn true_peak(meters: &mut Meters, samples: &[f32]) -> f32 {
    meters.start(Edge::Silence);
    meters.process(&[samples]);
    meters.finish(Edge::Silence, meters.latency_frames());
    meters.take_true_peaks()[0]
}

/// A repeatable row of numbers from −1 to 1.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f32 {
        // Constants: Knuth, MMIX.
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let high = i32::from_ne_bytes(((self.0 >> 32) as u32).to_ne_bytes());
        (f64::from(high) / f64::from(i32::MAX)) as f32
    }

    fn up_to(&mut self, limit: usize) -> usize {
        ((self.next().abs() * limit as f32) as usize).clamp(1, limit)
    }
}

/// Noise whose level moves, a slow tone and a few full-scale samples.
fn lively(seed: u64, len_frames: usize) -> Vec<f32> {
    let mut noise = Noise(seed);
    (0..len_frames)
        .map(|n| {
            let t = n as f32;
            let level = 0.3 + 0.25 * (t * 0.0021).sin();
            let sample = level * noise.next() + 0.4 * (t * 0.013).sin();
            if n % 1013 == 0 { 1.0 } else { sample }
        })
        .collect()
}

#[test]
fn figures_have_the_same_bits_whatever_the_blocks() {
    for layout in [Layout::Mono, Layout::Stereo, Layout::Surround51] {
        let channels: Vec<Vec<f32>> =
            (0..layout.channel_count()).map(|c| lively(c as u64 + 1, 6_000)).collect();
        for mut meters in both(44_100, layout) {
            for edges in [[Edge::Silence; 2], [Edge::Unknown; 2]] {
                meters = meters.with_effort(Effort::Even);
                let mut hops_in = |next_block: &mut dyn FnMut() -> usize| {
                    measure_in_blocks(&mut meters, &channels, 441, edges, next_block)
                };
                let whole = hops_in(&mut || 8_192);
                assert_eq!(whole.len(), 14);
                for len_frames in [1, 7, 64, 441, 512] {
                    assert_same(&hops_in(&mut || len_frames), &whole);
                }
                let mut noise = Noise(99);
                assert_same(&hops_in(&mut || noise.up_to(700)), &whole);
                meters = meters.with_effort(Effort::Least);
                let mut hops_in = |next_block: &mut dyn FnMut() -> usize| {
                    measure_in_blocks(&mut meters, &channels, 441, edges, next_block)
                };
                for len_frames in [1, 64, 8_192] {
                    assert_same(&hops_in(&mut || len_frames), &whole);
                }
                assert_same(&hops_in(&mut || noise.up_to(700)), &whole);
            }
        }
    }
}

/// That both efforts find the same of `samples`, to the bit.
fn assert_least_is_even(samples: Vec<f32>, hop_frames: usize, edges: [Edge; 2]) {
    let mono = [samples];
    for mut meters in both(48_000, Layout::Mono) {
        meters = meters.with_effort(Effort::Even);
        let expected = measure_in_blocks(&mut meters, &mono, hop_frames, edges, || 500);
        meters = meters.with_effort(Effort::Least);
        let found = measure_in_blocks(&mut meters, &mono, hop_frames, edges, || 500);
        assert_same(&found, &expected);
    }
}

#[test]
fn least_effort_leaves_out_nothing_that_counts() {
    // Signals of every steepness, short hops and long ones, and levels from loud to nearly none.
    let mut noise = Noise(31);
    for step in [0.003, 0.02, 0.11, 0.5, 1.3, 2.2, 2.9, 3.1] {
        for noisy in [0.0, 0.01, 0.3] {
            let samples: Vec<f32> = (0..3_000)
                .map(|n| {
                    let t = f64::from(n);
                    let swell = 10.0_f64.powf(-3.0 * (t * 0.002).sin().powi(2));
                    (swell * ((t * step).sin() + noisy * f64::from(noise.next()))) as f32
                })
                .collect();
            for hop_frames in [20, 480] {
                let edges = [Edge::Unknown, Edge::Silence];
                assert_least_is_even(samples.clone(), hop_frames, edges);
            }
        }
    }
}

#[test]
fn least_effort_finds_the_highest_of_crests_far_apart_wherever_they_stand() {
    // Crests between samples, each a little higher than the last: every one is to be looked at.
    for offset in 0..16_u32 {
        for spacing in [24.0, 33.0, 57.5, 90.25, 131.75] {
            for sigma in [0.6, 1.2, 3.0] {
                let samples: Vec<f32> = (0..960_u32)
                    .map(|n| {
                        let t = f64::from(n + offset);
                        let place = (t / spacing).round();
                        let from_crest = (t - place * spacing) / sigma;
                        ((0.5 + 0.02 * place) * (-0.5 * from_crest * from_crest).exp()) as f32
                    })
                    .collect();
                assert_least_is_even(samples, 480, [Edge::Silence; 2]);
            }
        }
    }
}

#[test]
fn least_effort_hears_what_rings_into_silence() {
    // A click on either side of a hop's border, or a loud start, and then silence, or a faint sample.
    for place in (400..560_usize).step_by(3) {
        for faint in [None, Some(940), Some(700)] {
            let mut samples = vec![0.0; 1_920];
            samples[place] = 1.0;
            if let Some(faint) = faint {
                samples[faint] = 1e-6;
            }
            for loud_from in [1_920, 962] {
                samples[loud_from..].fill(0.8);
                assert_least_is_even(samples.clone(), 480, [Edge::Silence; 2]);
            }
        }
    }
}

#[test]
fn signals_measured_together_have_the_bits_of_each_alone() {
    fn check<const N: usize>(layout: Layout, make: impl Fn(usize) -> Meters) {
        let mut state = 0;
        let signals = [(); N].map(|()| {
            (0..layout.channel_count())
                .map(|_| {
                    state += 1;
                    lively(state, 4_410)
                })
                .collect::<Vec<_>>()
        });
        let mut together = std::array::from_fn::<_, N, _>(&make);
        let mut alone = std::array::from_fn::<_, N, _>(make);
        // The same of all in every second block, else something else of each.
        let ask = |notes: &mut Notes, index: usize, at: usize| {
            let index = if at.is_multiple_of(882) { 0 } else { index };
            for end in [55 + index, 110, 400 + 2 * index] {
                assert!(notes.ask(end));
            }
            notes.ask_peaks(17 + index);
        };
        for at in (0..4_410).step_by(441) {
            let blocks = signals.each_ref().map(|channels| {
                channels.iter().map(|channel| &channel[at..at + 441]).collect::<Vec<_>>()
            });
            let mut notes = [Notes::default(); N];
            notes.iter_mut().enumerate().for_each(|(index, notes)| ask(notes, index, at));
            let slices = blocks.each_ref().map(Vec::as_slice);
            Meters::process_together(together.each_mut(), slices, notes.each_mut());
            for (index, meters) in alone.iter_mut().enumerate() {
                let mut expected = Notes::default();
                ask(&mut expected, index, at);
                meters.process_noting(&blocks[index], &mut expected);
                let other = &mut together[index];
                assert_eq!(notes[index].sums(), expected.sums(), "{index} of {N} at {at}");
                assert_eq!(notes[index].peaks(), expected.peaks(), "{index} of {N} at {at}");
                assert_eq!(other.take_levels(), meters.take_levels(), "{index} of {N} at {at}");
                assert_eq!(other.take_true_peaks(), meters.take_true_peaks(), "{index} at {at}");
            }
        }
    }
    for layout in Layout::ALL {
        let best = |_| Meters::new(rate(44_100), layout).with_effort(Effort::Least);
        check::<1>(layout, best);
        check::<2>(layout, best);
        check::<3>(layout, best);
        check::<4>(layout, best);
        check::<7>(layout, best);
        check::<4>(layout, |_| Meters::new_baseline(rate(44_100), layout));
    }
}

#[test]
fn empty_blocks_and_wrong_channel_counts_do_no_harm() {
    let mut meters = Meters::new(rate(48_000), Layout::Stereo);
    meters.process(&[]);
    meters.process(&[&[], &[]]);
    assert_eq!(meters.take_levels(), Levels::default());
    // A missing channel is silence, one too many is left out.
    meters.process(&[&[0.5; 100]]);
    meters.process(&[&[0.5; 100], &[0.0; 100], &[9.0; 100]]);
    let levels = meters.take_levels();
    assert_eq!(levels.frames, 200);
    assert_eq!(levels.sample_peaks[..3], [0.5, 0.0, 0.0]);
    assert_eq!(levels.left_square_sum, 50.0);
    assert_eq!(levels.right_square_sum, 0.0);
}

#[test]
fn meters_can_go_to_another_thread() {
    fn is_send<T: Send>() {}
    is_send::<Meters>();
}

#[test]
fn a_997_hz_tone_reads_minus_3_01_lkfs_at_every_rate() {
    // BS.1770-5, Annex 1: 0 dBFS, 997 Hz in one front channel. The same tone at all rates must
    // read the same within 0.01 LU.
    for hz in RATES_HZ {
        for mut meters in both(hz, Layout::Stereo) {
            let len_frames = 2 * hz;
            let tone: Vec<f32> = (0..len_frames)
                .map(|n| {
                    let cycles = 997.0 * f64::from(n) / f64::from(hz);
                    (2.0 * std::f64::consts::PI * cycles).sin() as f32
                })
                .collect();
            // The first second is the filter's.
            let (first, second) = tone.split_at(hz as usize);
            meters.process(&[first]);
            meters.take_levels();
            meters.process(&[second]);
            let levels = meters.take_levels();
            let energy = levels.weighted_square_sum / f64::from(levels.frames);
            let reading = -0.691 + 10.0 * energy.log10();
            assert!((reading + 3.0103).abs() < 0.005, "{hz} Hz: {reading} LKFS");
        }
    }
}

#[test]
fn channels_weigh_what_the_layout_says_and_each_counts_alone() {
    for layout in Layout::ALL {
        for (c, weight) in layout.weights().iter().enumerate() {
            let mut meters = Meters::new(rate(48_000), layout);
            let signal = lively(3, 4_800);
            let silence = vec![0.0; signal.len()];
            let mut channels = vec![silence.as_slice(); layout.channel_count()];
            channels[c] = &signal;
            meters.process(&channels);
            let one = meters.take_levels();
            let mut mono = Meters::new(rate(48_000), Layout::Mono);
            mono.process(&[&signal]);
            let alone = mono.take_levels();
            assert_eq!(one.weighted_square_sum, weight * alone.weighted_square_sum);
            for (d, peak) in one.sample_peaks.iter().enumerate() {
                let expected = if d == c { alone.sample_peaks[0] } else { 0.0 };
                assert_eq!(*peak, expected);
            }
        }
    }
}

#[test]
fn gain_moves_everything_by_itself_and_polarity_only_the_product() {
    let [left, right] = [lively(5, 9_600), lively(6, 9_600)];
    let mut meters = Meters::new(rate(48_000), Layout::Stereo);
    let mut figures = |left_gain: f32, right_gain: f32| {
        let scaled = |row: &[f32], gain: f32| row.iter().map(|x| x * gain).collect::<Vec<f32>>();
        let channels = [scaled(&left, left_gain), scaled(&right, right_gain)];
        measure_in_blocks(&mut meters, &channels, 9_600, [Edge::Silence; 2], || 512).remove(0)
    };
    let plain = figures(1.0, 1.0);
    // A power of two: every figure must come out exactly scaled.
    let quarter = figures(0.25, 0.25);
    assert_eq!(quarter.true_peaks, plain.true_peaks.map(|peak| peak * 0.25));
    assert_eq!(quarter.levels.weighted_square_sum, plain.levels.weighted_square_sum / 16.0);
    let turned = figures(1.0, -1.0);
    assert_eq!(turned.true_peaks, plain.true_peaks);
    assert_eq!(turned.levels.left_right_sum, -plain.levels.left_right_sum);
    assert_eq!(
        Levels { left_right_sum: plain.levels.left_right_sum, ..turned.levels },
        plain.levels
    );
}
