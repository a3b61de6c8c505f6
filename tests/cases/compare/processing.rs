//! Faults in what was done to the sound: gain, channels, another mix, a limiter.

use super::*;
use plimsoll_tests::noise::pink;

#[test]
fn gain_is_told_and_nothing_else() {
    let song = lantern_tide();
    for gain_db in [0.37, -3.2, 0.01] {
        let gain = 10_f32.powf(gain_db / 20.0);
        let name = format!("gain{gain_db}");
        let Some(compared) = Compared::of(&name, song, &changed(song, |x| x * gain)) else {
            return;
        };
        assert_eq!(compared.kinds(), ["gain"]);
        assert!((compared.number("null", "gain_db") - f64::from(gain_db)).abs() < 0.001);
        // Sums of 4 800 squares in 64-bit floats are off by 4 800·2^−53 at most: −122.7 dB. What
        // 32-bit floats round away is less.
        assert!(compared.number("null", "depth_db") < -120.0, "{}", compared.said.out);
        let louder = compared.report["song"]["integrated_lufs"]["change"].as_f64().unwrap();
        // Blocks about the gate fall to one side or the other: EBU Tech 3341 grants 0.1 LU.
        assert!((louder - f64::from(gain_db)).abs() < 0.1, "{louder}");
    }
    // What counts as nothing.
    let gain = 10_f32.powf(0.000_5 / 20.0);
    let Some(compared) = Compared::of("no gain", song, &changed(song, |x| x * gain)) else {
        return;
    };
    assert_eq!(compared.kinds(), [""; 0]);
}

#[test]
fn channels_swapped_turned_over_lost_and_out_of_balance() {
    let song = lantern_tide();
    let [left, right] = [&song.channels[0], &song.channels[1]];
    let stereo =
        |left: Vec<f32>, right: Vec<f32>| Audio { channels: vec![left, right], rate_hz: RATE_HZ };
    let times = |plane: &[f32], gain: f32| plane.iter().map(|x| x * gain).collect::<Vec<f32>>();
    let cases = [
        ("swapped", stereo(right.clone(), left.clone()), "left and right are swapped"),
        ("polarity", changed(song, |x| -x), "the polarity is turned over"),
        (
            "polarity",
            stereo(left.clone(), times(right, -1.0)),
            "the polarity of right is turned over",
        ),
        ("lost channel", stereo(times(left, 0.0), right.clone()), "left is silent"),
        (
            "gain",
            stereo(times(left, 10_f32.powf(0.05)), right.clone()),
            "gain: left +1.00 dB, right 0.000 dB",
        ),
    ];
    for (index, (kind, new, words)) in cases.into_iter().enumerate() {
        let Some(compared) = Compared::of(&format!("channels{index}"), song, &new) else { return };
        let kinds = compared.kinds();
        // What one channel alone does moves levels and width beside.
        assert_eq!(kinds[0], kind, "{}", compared.words());
        assert_eq!(kinds.len(), 1, "{}", compared.words());
        assert!(compared.words().contains(words), "{}", compared.words());
    }
    // Both at once.
    let new = stereo(times(right, -1.0), left.clone());
    let Some(compared) = Compared::of("channels", song, &new) else { return };
    assert_eq!(compared.kinds(), ["swapped", "polarity"]);
}

#[test]
fn a_section_that_is_louder_is_told_with_place_and_size() {
    let song = lantern_tide();
    let chorus = song::SECTIONS[2];
    let range = frame(chorus.start_s)..frame(chorus.end_s);
    let new = song.with_gain(range, 10_f32.powf(1.5 / 20.0));
    let folder = folder("compare-section");
    let paths = ["old.wav", "new.wav", "sections.txt"].map(|name| folder.join(name));
    write_wav_f32(&paths[0], song).unwrap();
    write_wav_f32(&paths[1], &new).unwrap();
    let lines = song::SECTIONS.map(|section| format!("{} {}\n", section.start_s, section.name));
    std::fs::write(&paths[2], lines.concat()).unwrap();
    let words = ["--sections", paths[2].to_str().unwrap()];
    let Some(compared) = Compared::of_files(&paths[0], &paths[1], &words) else { return };
    assert_eq!(compared.kinds(), ["level"], "{}", compared.words());
    assert_eq!(compared.words(), "1.50 dB louder from 0:25.0 to 0:35.0");
    let place = &compared.report["null"]["different_places"][0];
    assert!((place["level_alone_by_db"].as_f64().unwrap() - 1.5).abs() < 0.001, "{place}");
    assert!(compared.number("null", "gain_db").abs() < 0.001);
    for (section, pair) in
        song::SECTIONS.iter().zip(compared.report["sections"].as_array().unwrap())
    {
        assert_eq!(pair["name"], section.name);
        let change = pair["integrated_lufs"]["change"].as_f64().unwrap();
        let expected = if section.name == chorus.name { 1.5 } else { 0.0 };
        // Filters remember 0.1 s of what stood before a section: of 7 s at the least, 1.5 dB more
        // for that long is 0.03 dB.
        assert!((change - expected).abs() < 0.03, "{pair}");
    }
}

#[test]
fn another_mix_is_told_with_its_place() {
    let song = lantern_tide();
    let range = frame(60.0)..frame(70.0);
    let noise = pink(5, range.len(), 0.05);
    let mut new = song.clone();
    for plane in &mut new.channels {
        for (sample, noise) in plane[range.clone()].iter_mut().zip(&noise) {
            *sample += noise;
        }
    }
    let Some(compared) = Compared::of("mix", song, &new) else { return };
    let words = compared.words();
    assert_eq!(compared.kinds(), ["different"], "{words}");
    assert!(words.contains("different from 1:00.0 to 1:10.0"), "{words}");

    // From a place on to the end.
    let mut new = cut(song, 0..frame(70.0));
    new.append(&changed(&cut(song, frame(70.0)..song.len_frames()), |x| x - 0.3 * x * x * x));
    let Some(compared) = Compared::of("mix on", song, &new) else { return };
    let words = compared.words();
    assert!(words.lines().next().unwrap().starts_with("different from 1:10.0 on"), "{words}");
}

/// A limiter that looks ahead: no sample leaves it above `ceiling`.
fn limited(audio: &Audio, gain: f32, ceiling: f32) -> Audio {
    const REACH: usize = 240; // 5 ms
    let len = audio.len_frames();
    let wanted: Vec<f32> = (0..len)
        .map(|frame| {
            let peak = audio.channels.iter().map(|plane| (plane[frame] * gain).abs());
            (ceiling / peak.fold(0.0, f32::max)).min(1.0)
        })
        .collect();
    // The lowest gain of 10 ms, then its mean over 10 ms: never above what any of them wants.
    let lowest: Vec<f32> = (0..len + REACH)
        .map(|at| {
            let near = at.saturating_sub(2 * REACH)..(at + 1).min(len);
            wanted[near.start.min(near.end)..near.end].iter().copied().fold(1.0, f32::min)
        })
        .collect();
    let mut sum: f64 = 0.0;
    let mut gains = Vec::new();
    for at in 0..len + REACH {
        sum += f64::from(lowest[at]);
        if at > 2 * REACH {
            sum -= f64::from(lowest[at - 2 * REACH - 1]);
        }
        gains.push((sum / (2 * REACH + 1).min(at + 1) as f64) as f32);
    }
    let plane = |plane: &Vec<f32>| -> Vec<f32> {
        let out = plane.iter().enumerate();
        out.map(|(at, x)| (x * gain * gains[at + REACH]).clamp(-ceiling, ceiling)).collect()
    };
    Audio { channels: audio.channels.iter().map(plane).collect(), rate_hz: audio.rate_hz }
}

#[test]
fn a_missing_limiter_is_found() {
    let song = lantern_tide();
    let gain = 10_f32.powf(6.0 / 20.0);
    let ceiling = 10_f32.powf(-1.0 / 20.0);
    let master = limited(song, gain, ceiling);
    for (name, without) in [("loud", gain), ("plain", 1.0)] {
        let without = changed(song, |x| x * without);
        let Some(compared) = Compared::of(&format!("limiter {name}"), &master, &without) else {
            return;
        };
        assert!(compared.kinds().contains(&"limiting"), "{}", compared.words());
        assert!(compared.words().contains("not limited any more"), "{}", compared.words());
        assert_eq!(compared.number("alignment", "offset_frames"), 0.0);
        let Some(back) = Compared::of(&format!("limiter back {name}"), &without, &master) else {
            return;
        };
        assert!(back.words().contains("limited or clipped now"), "{}", back.words());
    }
}

#[test]
fn tone_and_width_are_compared_at_equal_loudness() {
    let song = lantern_tide();
    // 6 dB less side, and a first-order low shelf by hand: bass below about 100 Hz twice.
    let mut new = song.clone();
    let (left, right) = new.channels.split_at_mut(1);
    let (mut low_mid, pole) = (0.0_f32, (-std::f32::consts::TAU * 100.0 / 48_000.0).exp());
    for (l, r) in left[0].iter_mut().zip(&mut right[0]) {
        let (mid, side) = (0.5 * (*l + *r), 0.25 * (*l - *r));
        low_mid = pole * low_mid + (1.0 - pole) * mid;
        (*l, *r) = (0.5 * (mid + low_mid + side), 0.5 * (mid + low_mid - side));
    }
    let Some(compared) = Compared::of("tone", song, &new) else { return };
    let kinds = compared.kinds();
    for kind in ["different", "tone", "width"] {
        assert!(kinds.contains(&kind), "{}", compared.words());
    }
    let bands = compared.report["song"]["band_changes_at_equal_loudness_db"].as_array().unwrap();
    let louder = compared.report["song"]["integrated_lufs"]["change"].as_f64().unwrap();
    // At 4 kHz (band 23) the mid is what it was, halved: −6.02 dB and nothing of the shelf but
    // 100/4000 of it, 0.003 dB in quadrature; the side is 6 dB further down. So the band lies
    // between −6.02 and −12.04 dB, before loudness is matched.
    let plain = bands[23].as_f64().unwrap() + louder;
    assert!((-12.1..=-5.9).contains(&plain), "{plain}");
    let width = compared.report["song"]["side_to_mid_high_db"]["change"].as_f64().unwrap();
    assert!((width + 6.02).abs() < 0.1, "{width}");
}
