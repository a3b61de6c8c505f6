//! Loudness sums powers, so which of two equal channels a sound is in, and which way up, changes
//! nothing; correlation alone knows polarity.

use plimsoll::record::{Hop, RecordReader};
use plimsoll::section::{Measured, measure};
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::noise::{even_song, song_like};

const LEN_S: f64 = 12.0;

fn hops(record: &RecordReader) -> Vec<Hop> {
    (0..(LEN_S * 100.0) as i32).map(|index| record.hop(index).unwrap()).collect()
}

fn measured(direct: &Direct) -> Measured {
    measure(&mut direct.analysis(), 0..(LEN_S * 100.0) as i32)
}

fn songs() -> Vec<Audio> {
    let mut songs = vec![even_song(81, 48_000, LEN_S), song_like(82, 44_100, LEN_S)];
    // Where the sides differ: one of them as good as silent.
    let mut lopsided = song_like(83, 48_000, LEN_S);
    lopsided.channels[1].iter_mut().for_each(|sample| *sample *= 1e-4);
    songs.push(lopsided);
    songs
}

#[test]
fn swapping_left_and_right_changes_nothing_but_their_names() {
    for mut song in songs() {
        let plain = Direct::measure(&song);
        song.channels.swap(0, 1);
        let swapped = Direct::measure(&song);
        let pairs = hops(&plain.sources().song).into_iter().zip(hops(&swapped.sources().song));
        for (index, (mut plain, swapped)) in pairs.enumerate() {
            plain.sample_peaks.swap(0, 1);
            plain.true_peaks.swap(0, 1);
            std::mem::swap(&mut plain.left_mean_square, &mut plain.right_mean_square);
            assert_eq!(plain, swapped, "hop {index}");
        }
        let [mut plain, mut swapped] = [measured(&plain), measured(&swapped)];
        let balances = [plain.balance.take().unwrap().0, swapped.balance.take().unwrap().0];
        assert!((balances[0] + balances[1]).abs() < 1e-9, "{balances:?}");
        assert_eq!(plain, swapped);
    }
}

#[test]
fn polarity_of_one_side_turns_the_correlation_round_and_nothing_else() {
    for mut song in songs() {
        let plain = Direct::measure(&song);
        song.channels[1].iter_mut().for_each(|sample| *sample = -*sample);
        let turned = Direct::measure(&song);
        let pairs = hops(&plain.sources().song).into_iter().zip(hops(&turned.sources().song));
        for (index, (plain, turned)) in pairs.enumerate() {
            let expected = Hop { left_right_mean: -plain.left_right_mean, ..plain };
            assert_eq!(turned, expected, "hop {index}");
        }
        let [plain, turned] = [measured(&plain), measured(&turned)];
        assert_eq!(turned.figures, plain.figures);
        assert_eq!(turned.correlation, plain.correlation.map(|correlation| -correlation));
        assert!(plain.correlation.unwrap() > 0.1, "nothing to turn round");
        // Mid and side change places.
        let sum = turned.side_to_mid.unwrap().0 + plain.side_to_mid.unwrap().0;
        assert!(sum.abs() < 1e-9, "{sum}");
    }
}

#[test]
fn polarity_of_both_sides_changes_nothing_at_all() {
    for mut song in songs() {
        let plain = Direct::measure(&song);
        song.channels.iter_mut().flatten().for_each(|sample| *sample = -*sample);
        let turned = Direct::measure(&song);
        assert_eq!(turned.sources().song.fingerprint(), plain.sources().song.fingerprint());
    }
}

#[test]
fn channels_of_one_weight_change_places_in_surround() {
    let [front, side, back] = [84, 85, 86].map(|seed| even_song(seed, 48_000, LEN_S).channels);
    let mut channels = front;
    channels.push(side[0].iter().map(|x| 0.3 * x).collect());
    channels.push(vec![0.0; channels[0].len()]);
    channels.extend(side);
    channels.extend(back);
    let song = Audio { rate_hz: 48_000, channels };
    let plain = Direct::measure(&song);
    // Left with right, the sides with each other; then the fronts with the backs, which weigh the
    // same (BS.1770-5 Annex 3).
    for swaps in [&[(0, 1), (4, 5)][..], &[(0, 6), (1, 7)], &[(2, 6)]] {
        let mut song = song.clone();
        for &(one, other) in swaps {
            song.channels.swap(one, other);
        }
        let swapped = Direct::measure(&song);
        let pairs = hops(&plain.sources().song).into_iter().zip(hops(&swapped.sources().song));
        for (index, (mut plain, swapped)) in pairs.enumerate() {
            for &(one, other) in swaps {
                plain.sample_peaks.swap(one, other);
                plain.true_peaks.swap(one, other);
            }
            assert_eq!(plain.true_peaks, swapped.true_peaks, "{swaps:?}, hop {index}");
            assert_eq!(plain.sample_peaks, swapped.sample_peaks, "{swaps:?}, hop {index}");
            // Another order of the sum, which is then kept in single precision.
            let ratio = f64::from(swapped.energy) / f64::from(plain.energy);
            assert!((ratio - 1.0).abs() <= 2.0_f64.powi(-23), "{swaps:?}, hop {index}: {ratio}");
        }
    }
}
