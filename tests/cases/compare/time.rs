//! Faults in time: offsets, parts of samples, cuts, edits.

use super::*;
use plimsoll_tests::oracle::sinc::{kaiser, low_pass};

#[test]
fn an_offset_is_found_to_the_sample_and_nothing_else() {
    let song = lantern_tide();
    let late = after_silence(12_345, song);
    let Some(compared) = Compared::of("late", song, &late) else { return };
    assert_eq!(compared.kinds(), ["offset"]);
    assert_eq!(compared.number("alignment", "offset_frames"), 12_345.0);
    assert_eq!(compared.report["null"]["is_same_to_the_bit"], true);
    assert!(compared.words().contains("0.257 s later (12345 samples)"), "{}", compared.words());
    assert!(!compared.words().contains("sounds"), "{}", compared.words());
    // Measured on the same song time, to a hop's border.
    for key in ["integrated_lufs", "max_true_peak_dbtp", "low_end_db", "side_to_mid_db"] {
        let change = compared.report["song"][key]["change"].as_f64().unwrap();
        assert_eq!(change, 0.0, "{key}");
    }

    let Some(compared) = Compared::of("early", &late, song) else { return };
    assert_eq!(compared.kinds(), ["offset"]);
    assert_eq!(compared.number("alignment", "offset_frames"), -12_345.0);
    assert!(compared.words().contains("begins 0.257 s earlier"), "{}", compared.words());
}

#[test]
fn a_head_that_is_missing_or_added_sounds() {
    let song = lantern_tide();
    let Some(compared) = Compared::of("headless", song, &cut(song, frame(3.0)..song.len_frames()))
    else {
        return;
    };
    assert_eq!(compared.kinds(), ["offset"]);
    assert!(compared.words().contains("the first 3.000 s of the song are missing"));
    let Some(compared) = Compared::of("headed", &cut(song, frame(3.0)..song.len_frames()), song)
    else {
        return;
    };
    assert_eq!(compared.kinds(), ["offset"]);
    assert!(compared.words().contains("something sounds before it"), "{}", compared.words());
}

/// `plane` up to 19.2 kHz, later by `by` samples: a sinc of 512 taps under a Kaiser window. Above
/// that no delay by parts of a sample is what it should be, neither here nor in the program.
fn delayed(plane: &[f32], by: f64) -> Vec<f32> {
    const REACH: i64 = 256;
    let taps: Vec<f64> = (-REACH..=REACH)
        .map(|tap| low_pass(tap as f64 - by, 0.4) * kaiser((tap as f64 - by) / (REACH + 1) as f64))
        .collect();
    let len = plane.len() as i64;
    let value = |at: i64| {
        let products = (-REACH..=REACH).zip(&taps).map(|(tap, weight)| {
            let from = at - tap;
            if (0..len).contains(&from) { f64::from(plane[from as usize]) * weight } else { 0.0 }
        });
        products.sum::<f64>() as f32
    };
    (0..len).map(value).collect()
}

#[test]
fn half_a_sample_is_found_and_nulls() {
    let song = cut(lantern_tide(), frame(20.0)..frame(40.0));
    let [plain, late] = [0.0, 0.5].map(|by| Audio {
        channels: song.channels.iter().map(|plane| delayed(plane, by)).collect(),
        rate_hz: RATE_HZ,
    });
    let Some(compared) = Compared::of("half", &plain, &late) else { return };
    // The stretch begins and ends in mid sound, where the delay rings beyond the cut: in the cells
    // there and nowhere else something is left.
    let alignment = &compared.report["alignment"];
    let offset = alignment["offset_frames"].as_f64().unwrap()
        + alignment["offset_part_frame"].as_f64().unwrap();
    // An error of e samples leaves 2π·f·e of a tone: at the 1 kHz about which the song lies a null
    // of −60 dB stands for 0.008 samples.
    assert!((offset - 0.5).abs() < 0.008, "{offset}");
    assert!(compared.number("null", "depth_db") < -60.0, "{}", compared.said.out);
    assert_eq!(compared.kinds()[0], "offset");
    for place in compared.report["null"]["different_places"].as_array().unwrap() {
        let [from, to] = ["from_s", "to_s"].map(|key| place[key].as_f64().unwrap());
        assert!(to <= 0.1 || from >= 19.85, "{place}");
    }
}

#[test]
fn a_cut_end_is_told_from_less_silence() {
    let song = lantern_tide();
    let Some(compared) = Compared::of("cut", song, &cut(song, 0..frame(80.0))) else { return };
    assert_eq!(compared.kinds(), ["end"]);
    assert!(
        compared.words().contains("cut at the end: the last 12.500 s are missing"),
        "{}",
        compared.words()
    );
    assert_eq!(compared.number("alignment", "more_at_end_s"), -12.5);

    let mut longer = song.clone();
    longer.append(&Audio { channels: vec![vec![0.0; frame(2.0)]; 2], rate_hz: RATE_HZ });
    let Some(compared) = Compared::of("longer", song, &longer) else { return };
    assert_eq!(compared.kinds(), ["end"]);
    assert!(compared.words().contains("2.000 s of silence more at the end"));
    let Some(compared) = Compared::of("shorter", &longer, song) else { return };
    assert!(compared.words().contains("2.000 s of silence less at the end"));
}

#[test]
fn the_last_chorus_alone_is_found_in_the_song() {
    let song = lantern_tide();
    let [from, to] = [song::SECTIONS[6].start_s, song::SECTIONS[6].end_s].map(frame);
    let Some(compared) = Compared::of("chorus", song, &cut(song, from..to)) else { return };
    // Choruses are alike: only the last one is the same.
    assert_eq!(compared.number("alignment", "offset_frames"), -(from as f64));
    assert_eq!(compared.report["null"]["is_same_to_the_bit"], true);
}

#[test]
fn a_bar_that_was_cut_out_is_an_edit() {
    let song = lantern_tide();
    // Bar 21 of 37, in the second chorus.
    let [from, to] = [20.0, 21.0].map(|bar| frame(bar * song::BAR_S));
    let mut edited = cut(song, 0..from);
    edited.append(&cut(song, to..song.len_frames()));
    let Some(compared) = Compared::of("edit", song, &edited) else { return };
    assert_eq!(compared.kinds()[..1], ["edit"], "{}", compared.words());
    let alignment = &compared.report["alignment"];
    assert_eq!(alignment["offset_frames"], 0);
    let edit = &alignment["edits"][0];
    assert_eq!(edit["offset_s"], -song::BAR_S);
    // Up to the cut both are the same; at it the difference begins.
    let place = &compared.report["null"]["different_places"][0];
    assert!((place["from_s"].as_f64().unwrap() - 20.0 * song::BAR_S).abs() <= 0.1, "{place}");
    assert_eq!(compared.number("alignment", "more_at_end_s"), 0.0);
}
