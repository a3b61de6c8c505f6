//! What is not audio, and what is hardly: NaN, infinities, denormals, 1e30, DC, a full-scale square.
//! Finite, counted, and over within one hop: through the recorder and through the plugin in a host.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll::loudness::Figures;
use plimsoll::record::{Hop, RecordReader};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Host, Library};
use plimsoll_tests::noise::even_song;
use plimsoll_tests::oracle::{Oracle, k_filter};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};
use std::ops::Range;

const RATE_HZ: u32 = 48_000;
const HOP: usize = 480;
/// 1 000 hops.
const LEN_S: usize = 10;

/// Values that are no audio, and whether they are counted as such. Nothing below −300 dBFS is
/// measured; beyond +72 dBFS is no level of audio (`meters/levels.rs`).
const FAULTS: [(f32, bool); 9] = [
    (f32::NAN, true),
    (f32::INFINITY, true),
    (f32::NEG_INFINITY, true),
    (1e30, true),
    (f32::MIN, true),
    (-4_097.0, true),
    (1e-42, false),
    (-f32::MIN_POSITIVE / 2.0, false),
    (-0.0, false),
];

fn song() -> Audio {
    even_song(301, RATE_HZ, LEN_S as f64)
}

fn with(song: &Audio, range: Range<usize>, value: impl Fn(usize) -> f32) -> Audio {
    let mut song = song.clone();
    for channel in &mut song.channels {
        for (frame, sample) in channel[range.clone()].iter_mut().enumerate() {
            *sample = value(frame);
        }
    }
    song
}

fn hops(record: &RecordReader) -> Vec<Hop> {
    (0..1_000).map(|index| record.hop(index).unwrap()).collect()
}

fn assert_finite(hop: &Hop) {
    let sums = [hop.energy, hop.left_mean_square, hop.right_mean_square];
    let peaks = hop.sample_peaks.iter().chain(&hop.true_peaks);
    assert!(sums.iter().chain(peaks).all(|value| value.is_finite() && *value >= 0.0), "{hop:?}");
    assert!(hop.left_right_mean.is_finite(), "{hop:?}");
}

fn assert_figures_finite(figures: &Figures) {
    let [integrated, momentary, short_term] =
        [figures.integrated, figures.max_momentary, figures.max_short_term]
            .map(|lufs| lufs.unwrap().0);
    let range = figures.loudness_range.unwrap().0;
    let [peak, sample] = [figures.max_true_peak.unwrap().0, figures.sample_peak.unwrap().0];
    for value in [integrated, momentary, short_term, range, peak, sample] {
        assert!(value.is_finite(), "{figures:?}");
    }
}

/// The plugin in a host has the record that the recorder has, to the bit, and passes the audio.
fn assert_same_in_a_host(song: &Audio, direct: &Direct) {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.activate(RATE_HZ, 300).unwrap();
    let blocks = Blocks::Random { seed: 5, max_frames: 300 };
    let telling = Telling::new(Tells::Everything);
    let run = host.run(song, &play_once(song), &telling, &blocks, Buffers::Separate).unwrap();
    assert_eq!(run.changed_samples, 0);
    assert_eq!(host.measurement().unwrap(), direct.measurement().unwrap().unwrap());
}

/// Single samples, a hop, and four seconds; never on a border of anything, and on all of them.
fn places() -> [Range<usize>; 4] {
    [
        100_001..100_002,
        100_123..100_123 + HOP,
        200 * HOP..210 * HOP,
        96_333..96_333 + 4 * RATE_HZ as usize,
    ]
}

#[test]
fn what_is_no_audio_is_measured_as_silence_counted_and_gone_when_it_is_over() {
    let song = song();
    for range in places() {
        let silent = hops(&Direct::measure(&with(&song, range.clone(), |_| 0.0)).sources().song);
        for (fault, is_counted) in FAULTS {
            let faulty = with(&song, range.clone(), |_| fault);
            let direct = Direct::measure(&faulty);
            let mut count = 0;
            for (index, (silent, mut hop)) in
                silent.iter().zip(hops(&direct.sources().song)).enumerate()
            {
                assert_finite(&hop);
                count += usize::from(std::mem::take(&mut hop.scrubbed));
                // The same bits as if there had been silence: nothing of it lasts, not for a hop.
                assert_eq!(&hop, silent, "{fault} at {range:?}, hop {index}");
            }
            let expected = if is_counted { 2 * range.len() } else { 0 };
            assert_eq!(count, expected, "{fault} at {range:?}");
            let figures = direct.analysis().song_figures();
            assert_figures_finite(&figures);
            assert_eq!(figures.scrubbed_samples, expected as u64);
            if range.len() < 1_000 {
                assert_same_in_a_host(&faulty, &direct);
            }
        }
    }
}

#[test]
fn a_song_of_nothing_but_faults_is_measured_silence() {
    for (fault, is_counted) in FAULTS {
        let faulty = with(&song(), 0..LEN_S * RATE_HZ as usize, |_| fault);
        let direct = Direct::measure(&faulty);
        let figures = direct.analysis().song_figures();
        assert_eq!(figures.integrated.unwrap().0, f64::NEG_INFINITY, "{fault}");
        assert_eq!(figures.max_true_peak.unwrap().0, f64::NEG_INFINITY, "{fault}");
        assert_eq!(figures.loudness_range, None, "{fault}");
        let samples = 2 * LEN_S as u64 * u64::from(RATE_HZ);
        assert_eq!(figures.scrubbed_samples, if is_counted { samples } else { 0 }, "{fault}");
        assert_same_in_a_host(&faulty, &direct);
    }
}

/// Σ |h| of the filter from `time_s` on: what is left of a sound of at most 1 that is over.
fn left_over(time_s: f64) -> f64 {
    let mut impulse = vec![0.0_f32; RATE_HZ as usize];
    impulse[0] = 1.0;
    let response = k_filter::weigh(RATE_HZ, &impulse);
    response.iter().skip((time_s * f64::from(RATE_HZ)) as usize).map(|h| h.abs()).sum()
}

#[test]
fn loud_dc_and_a_square_read_as_the_oracle_says_and_leave_nothing_behind() {
    let song = song();
    let clean = Direct::measure(&song);
    let clean = hops(&clean.sources().song);
    let range = 96_333..96_333 + 2 * RATE_HZ as usize;
    let square = |frame: usize| if (frame / 48).is_multiple_of(2) { 1.0 } else { -1.0 };
    // The last two are audio still, if barely: overs of +60 dB.
    let signals: [(&str, &dyn Fn(usize) -> f32); 4] = [
        ("DC", &|_| 1.0),
        ("square", &square),
        ("loud DC", &|_| -1_000.0),
        ("loud square", &|frame| 1_000.0 * square(frame)),
    ];
    // The filter's ringing, once for every hop after.
    let rings: Vec<f64> = (0..100).map(|hop| left_over(f64::from(hop) / 100.0)).collect();
    for (name, signal) in signals {
        let level = f64::from(signal(0).abs());
        let played = with(&song, range.clone(), signal);
        let direct = Direct::measure(&played);
        let found = hops(&direct.sources().song);
        found.iter().for_each(assert_finite);
        let figures = direct.analysis().song_figures();
        assert_figures_finite(&figures);
        // Every sample of it is at or beyond full scale, and no other.
        let before = clean.iter().map(|hop| u64::from(hop.clipped)).sum::<u64>();
        assert_eq!((before, figures.scrubbed_samples), (0, 0));
        assert_eq!(figures.clipped_samples, 2 * range.len() as u64, "{name}");
        assert_eq!(figures.sample_peak.unwrap().0, 20.0 * level.log10(), "{name}");

        let oracle = Oracle::new(&played);
        let exact = oracle.integrated_lufs().unwrap();
        let off_lu = figures.integrated.unwrap().0 - exact;
        assert!(off_lu.abs() <= 0.002, "{name}: {off_lu}");
        let off_lu = figures.max_momentary.unwrap().0 - oracle.max_momentary_lufs().unwrap();
        assert!((-0.01..=0.001).contains(&off_lu), "{name}: {off_lu}");

        // Over within one hop: from the next on, all but the filter is as if it had not been, and
        // the filter rings as the printed tables say.
        let first = range.end / HOP + 1;
        for (index, (hop, clean)) in found.iter().zip(&clean).enumerate().skip(first) {
            let what = format!("{name}, hop {index}");
            let rings = rings.get(index - first).copied().unwrap_or(0.0);
            let [energy, exact] = [hop, clean].map(|hop| f64::from(hop.energy).sqrt());
            let rounding = exact * 2.0_f64.powi(-23);
            let bound = (level + 1.0) * 2.0_f64.sqrt() * rings + rounding;
            assert!((energy - exact).abs() <= bound, "{what}: {energy}, {exact}");
            // M within the hop looks back 400 ms.
            let rise = if index < first + 92 { hop.momentary_rise } else { clean.momentary_rise };
            // The end of a square is a click, which rings between the samples for the 30 frames
            // that the interpolator reaches, and the first hop after it is nearer than that.
            let peaks = if index == first { hop.true_peaks } else { clean.true_peaks };
            let expected =
                Hop { energy: hop.energy, momentary_rise: rise, true_peaks: peaks, ..*clean };
            assert_eq!(hop, &expected, "{what}");
        }
        assert_same_in_a_host(&played, &direct);
    }
}
