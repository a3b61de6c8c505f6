//! Real songs: the plugin in a host against an independent library (the `ebur128` crate), and
//! against the oracle where the two differ.
//!
//! Tolerances of the project: integrated within 0.03 LU of the library, true peak not more than
//! 0.05 dB below it. The library reads its maxima where it is asked (ten times a second here, as
//! programs do), takes short-term loudness for its LRA once a second instead of ten times (Tech
//! 3342 §3.1), and interpolates four times with 49 taps: what follows from that is bounded by the
//! oracle here, not by the library.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, reason = "a test")]
#![allow(clippy::cast_possible_truncation, reason = "a test")]

use ebur128::{EbuR128, Mode};
use plimsoll_tests::audio_file::{self, Audio};
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::{Buffers, Figures, Host, Library};
use plimsoll_tests::music::{self, songs};
use plimsoll_tests::noise::Rng;
use plimsoll_tests::oracle::{Oracle, true_peak};
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};

fn through_the_plugin(song: &Audio) -> Figures {
    let mut host = Host::new(&Library::linked(&plimsoll::clap_entry).unwrap()).unwrap();
    host.select_layout(song.channels.len() as u32).unwrap();
    host.activate(song.rate_hz, 512).unwrap();
    let telling = Telling::new(Tells::Everything);
    let run =
        host.run(song, &play_once(song), &telling, &Blocks::Fixed(512), Buffers::InPlace).unwrap();
    assert_eq!(run.changed_samples, 0);
    let measured = host.measurement().unwrap();
    let direct = Direct::measure(song).measurement().unwrap().unwrap();
    assert_eq!(measured, direct, "plugin and direct path differ");
    measured.figures
}

/// The independent library's reading.
struct Library128 {
    integrated_lufs: f64,
    range_lu: f64,
    max_momentary_lufs: f64,
    max_short_term_lufs: f64,
    true_peak_dbtp: f64,
}

fn through_the_library(song: &Audio) -> Library128 {
    let channels = song.channels.len();
    let mode = Mode::I | Mode::LRA | Mode::S | Mode::M | Mode::TRUE_PEAK;
    let mut meter = EbuR128::new(channels as u32, song.rate_hz, mode).unwrap();
    let tenth = song.rate_hz as usize / 10;
    let (mut max_momentary_lufs, mut max_short_term_lufs) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for start in (0..song.len_frames()).step_by(tenth) {
        let end = (start + tenth).min(song.len_frames());
        let planes: Vec<&[f32]> = song.channels.iter().map(|plane| &plane[start..end]).collect();
        meter.add_frames_planar_f32(&planes).unwrap();
        if end >= 4 * tenth {
            max_momentary_lufs = max_momentary_lufs.max(meter.loudness_momentary().unwrap());
        }
        if end >= 30 * tenth {
            max_short_term_lufs = max_short_term_lufs.max(meter.loudness_shortterm().unwrap());
        }
    }
    let peak =
        (0..channels as u32).map(|channel| meter.true_peak(channel).unwrap()).fold(0.0, f64::max);
    Library128 {
        integrated_lufs: meter.loudness_global().unwrap(),
        range_lu: meter.loudness_range().unwrap(),
        max_momentary_lufs,
        max_short_term_lufs,
        true_peak_dbtp: 20.0 * peak.log10(),
    }
}

#[test]
fn real_songs_agree_with_an_independent_library_and_where_they_do_not_the_oracle_sides_with_us() {
    let Some(songs) = songs() else { return };
    for (name, song) in songs {
        let ours = through_the_plugin(&song);
        let theirs = through_the_library(&song);
        let oracle = Oracle::new(&song);
        let exact_peak_dbtp = true_peak::max_dbtp(&song);
        println!("{name}, {:.1} s, {} Hz:", song.len_s(), song.rate_hz);
        let row = |figure: &str, ours: Option<f64>, library: f64, exact: Option<f64>| {
            let (ours, exact) = (ours.unwrap(), exact.unwrap());
            println!(
                "  {figure:<11} ours {ours:9.4}  library {library:9.4} ({:+.4})  exact {exact:9.4} ({:+.4})",
                library - ours,
                exact - ours
            );
            (ours, exact)
        };

        let (integrated, exact) = row(
            "integrated",
            ours.integrated_lufs,
            theirs.integrated_lufs,
            oracle.integrated_lufs(),
        );
        assert!((integrated - theirs.integrated_lufs).abs() <= 0.03, "{name}: integrated");
        // 0.002 LU, and what the K response may be off at a rate other than 48 kHz.
        assert!((integrated - exact).abs() <= 0.002 + 0.006, "{name}: integrated");

        let (peak, exact) =
            row("true peak", ours.max_true_peak_dbtp, theirs.true_peak_dbtp, Some(exact_peak_dbtp));
        assert!(peak >= theirs.true_peak_dbtp - 0.05, "{name}: true peak");
        assert!(peak >= exact - 0.05 && peak <= exact + 0.01, "{name}: true peak");

        let (range, exact) =
            row("LRA", ours.loudness_range_lu, theirs.range_lu, oracle.loudness_range_lu());
        assert!((range - exact).abs() <= 0.02, "{name}: LRA");

        let (momentary, exact) = row(
            "maximum M",
            ours.max_momentary_lufs,
            theirs.max_momentary_lufs,
            oracle.max_momentary_lufs(),
        );
        // Ours end every 10 ms, the oracle's at every sample: those can only be louder, by less
        // than Tech 3341 tolerates.
        // Within 0.01 LU of sliding by one sample, and 0.006 dB of response at 44.1 kHz.
        assert!(momentary >= exact - 0.016 && momentary <= exact + 0.006, "{name}: maximum M");
        // The library's windows are among ours.
        assert!(momentary >= theirs.max_momentary_lufs - 0.01, "{name}: maximum M");

        let (short_term, exact) = row(
            "maximum S",
            ours.max_short_term_lufs,
            theirs.max_short_term_lufs,
            oracle.max_short_term_lufs(),
        );
        assert!(short_term >= exact - 0.01 && short_term <= exact + 0.006, "{name}: maximum S");
        assert!(short_term >= theirs.max_short_term_lufs - 0.01, "{name}: maximum S");
    }
}

#[test]
fn damage_to_a_compressed_file_is_an_error_and_never_a_panic() {
    let Ok(files) = music::files() else { return };
    // The shortest effect is enough.
    let file = files.iter().min_by_key(|file| std::fs::metadata(file).unwrap().len()).unwrap();
    let good = std::fs::read(file).unwrap();
    let path = std::env::temp_dir().join(format!("plimsoll-damaged-{}.ogg", std::process::id()));
    let mut rng = Rng::new(71);
    for _ in 0..300 {
        let mut bytes = good.clone();
        for _ in 0..rng.between(1, 20) {
            // Mostly in the headers, where sizes and rates stand.
            let end = if rng.between(0, 2) == 0 { bytes.len() } else { bytes.len().min(200) };
            let at = rng.between(4, end - 1);
            bytes[at] = rng.next_u64().to_le_bytes()[0];
        }
        bytes.truncate(rng.between(bytes.len() / 2, bytes.len()));
        std::fs::write(&path, &bytes).unwrap();
        if let Err(error) = audio_file::read(&path) {
            assert!(!error.to_string().contains('\n'), "{error}");
        }
    }
    std::fs::remove_file(&path).unwrap();
}
