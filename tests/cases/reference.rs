//! Reference songs: songs in which a known change was made, and files in which they come.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use plimsoll::loudness::FileMeter;
use plimsoll::meters::layout::Layout;
use plimsoll::meters::spectrum::bands::edges_hz;
use plimsoll::reference::{Comparison, Reference, Subject, measure_file};
use plimsoll::section::{LogEntry, Marker, Measured, log_markers, measure};
use plimsoll::units::SampleRate;
use plimsoll_tests::audio_file::{Audio, write_wav_f32};
use plimsoll_tests::music::target_folder;
use plimsoll_tests::noise::pink;
use plimsoll_tests::song::{DEMO_RATE_HZ, LENGTH_S, SECTIONS, render};
use realfft::RealFftPlanner;

/// 200, 250 and 315 Hz.
const BANDS: [usize; 2] = [10, 12];
const DIP_DB: f64 = -2.1;

fn markers() -> Vec<Marker> {
    let marker = |at_s: f64, name: &str| Marker { at_s, length_s: None, name: name.to_owned() };
    SECTIONS.iter().map(|section| marker(section.start_s, section.name)).collect()
}

fn measured(song: &Audio) -> (Measured, Vec<LogEntry>) {
    let rate = SampleRate::new(song.rate_hz).unwrap();
    let planes: Vec<&[f32]> = song.channels.iter().map(Vec::as_slice).collect();
    let mut meter = FileMeter::with_tone(rate, Layout::Stereo);
    meter.push(&planes);
    let mut analysis = meter.finish();
    let (log, _) = log_markers(&markers(), song.len_s(), &mut analysis).unwrap();
    let extent = analysis.extent().unwrap();
    (measure(&mut analysis, extent), log)
}

fn reference(song: &Audio) -> Reference {
    let (whole, log) = measured(song);
    Reference { id: 1, ..Reference::new("Lantern Tide, before", song.len_s(), &whole, &log) }
}

/// `song` with the bands changed by `by_db` in the sections whose names begin with `part`: in the
/// frequency domain, so that nothing beside them changes.
fn equalised(song: &Audio, part: &str, by_db: f64) -> Audio {
    let gain = 10.0_f64.powf(by_db / 20.0);
    let [low_hz, high_hz] = [edges_hz(BANDS[0])[0], edges_hz(BANDS[1])[1]];
    let len = song.len_frames();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, back) = (planner.plan_fft_forward(len), planner.plan_fft_inverse(len));
    let bin_hz = f64::from(song.rate_hz) / len as f64;
    let mut changed = song.clone();
    for channel in &mut changed.channels {
        let mut frames: Vec<f64> = channel.iter().map(|&sample| f64::from(sample)).collect();
        let mut bins = forward.make_output_vec();
        forward.process(&mut frames, &mut bins).unwrap();
        for (bin, value) in bins.iter_mut().enumerate() {
            if (low_hz..high_hz).contains(&(bin as f64 * bin_hz)) {
                *value *= gain;
            }
        }
        back.process(&mut bins, &mut frames).unwrap();
        let frame = |at_s: f64| (at_s * f64::from(song.rate_hz)).round() as usize;
        for section in SECTIONS.iter().filter(|section| section.name.starts_with(part)) {
            for n in frame(section.start_s)..frame(section.end_s) {
                channel[n] = (frames[n] / len as f64) as f32;
            }
        }
    }
    changed
}

/// The dip is 2.1 dB; taking it out makes the verses quieter, and levels are taken at equal loudness, so
/// that what is told is the dip plus what was lost of loudness. A window of one second tells 4 Hz
/// apart, hence up to 4 Hz beyond either end of 178 Hz in all count half: 0.1 dB at most.
#[test]
fn a_dip_in_the_verses_of_a_song_is_told_of_the_verses_alone() {
    // Noise: a song's own notes may stand just beyond an edge, where a band cannot tell them off.
    let len_frames = (LENGTH_S * f64::from(DEMO_RATE_HZ)) as usize;
    let channels = [91, 92].map(|seed| pink(seed, len_frames, 0.2));
    let before = Audio { rate_hz: DEMO_RATE_HZ, channels: channels.into() };
    let reference = reference(&before);
    let (whole, log) = measured(&equalised(&before, "Verse", DIP_DB));
    let comparison = Comparison::new(&whole, &log, std::slice::from_ref(&reference)).unwrap();
    let told: Vec<String> = comparison.observations.iter().map(ToString::to_string).collect();
    let [one] = &comparison.observations[..] else { panic!("{told:?}") };
    assert_eq!(one.subject, Subject::Bands { first: BANDS[0], last: BANDS[1] });
    assert_eq!(one.place, "in the verses");
    let lost: f64 = [1, 3]
        .map(|at: usize| {
            let theirs = reference.sections[at].profile.figures.integrated_lufs.unwrap();
            theirs - log[at].measured.figures.integrated.unwrap().0
        })
        .iter()
        .sum::<f64>()
        / 2.0;
    assert!(lost > 0.0 && lost < 0.5, "{lost}");
    assert!((one.by - (DIP_DB + lost)).abs() < 0.1, "{} dB, {lost} LU quieter", one.by);
    let expected = format!(
        "{} dB less between 200 and 315 Hz than the reference, in the verses",
        plimsoll::units::one_decimal(-one.by)
    );
    assert_eq!(told, [expected]);
}

#[test]
fn the_same_song_at_another_level_differs_in_nothing() {
    let before = render(DEMO_RATE_HZ);
    let (whole, log) = measured(&before.with_gain(0..before.len_frames(), 0.4));
    let comparison = Comparison::new(&whole, &log, &[reference(&before)]).unwrap();
    assert_eq!(comparison.observations, []);
    for stretch in std::iter::once(&comparison.whole).chain(&comparison.sections) {
        for band in 0..31 {
            let Some(difference) = stretch.ours.band(&stretch.theirs, band) else { continue };
            // Where all but the highest partials are below the gate of −70 LUFS, other seconds count.
            assert!(difference.by().abs() < 0.1, "{} {band}: {difference:?}", stretch.name);
        }
    }
}

#[test]
fn a_file_reads_like_the_sound_in_it_with_its_markers() {
    let song = render(DEMO_RATE_HZ);
    let path = target_folder().join(format!("reference-{}.wav", std::process::id()));
    write_wav_f32(&path, &song).unwrap();
    let shares = std::sync::Mutex::new(Vec::new());
    let go_on = |share: f64| {
        shares.lock().unwrap().push(share);
        true
    };
    let file = measure_file(&path, &go_on).unwrap();
    let direct = reference(&song);
    assert_eq!(file.whole, direct.whole);
    assert_eq!(file.length_s, direct.length_s);
    // It has no markers: borders are found where the song has them, named by their times.
    assert!(file.sections.len() >= 4, "{:?}", file.sections.len());
    assert!(file.sections.iter().all(|section| section.name.contains(':')));
    let shares = shares.into_inner().unwrap();
    assert!(shares.is_sorted() && shares.len() > 100 && *shares.last().unwrap() == 1.0);

    let mut bytes = std::fs::read(&path).unwrap();
    bytes.extend(cues(&song));
    std::fs::write(&path, bytes).unwrap();
    let marked = measure_file(&path, &|_| true).unwrap();
    assert_eq!(marked.sections, direct.sections);
    assert_eq!(measure_file(&path, &|share| share < 0.5).unwrap_err().to_string(), "called off");
    std::fs::remove_file(path).unwrap();
}

/// The chunks that mark the sections in a WAV file.
fn cues(song: &Audio) -> Vec<u8> {
    let count = SECTIONS.len() as u32;
    let mut cue = count.to_le_bytes().to_vec();
    let mut labels = b"adtl".to_vec();
    for (number, section) in (1_u32..).zip(SECTIONS) {
        let frame = (section.start_s * f64::from(song.rate_hz)) as u32;
        let words = [number, frame, u32::from_le_bytes(*b"data"), 0, 0, frame];
        cue.extend(words.iter().flat_map(|word| word.to_le_bytes()));
        let mut name = section.name.as_bytes().to_vec();
        name.push(0);
        labels.extend(b"labl");
        labels.extend((4 + name.len() as u32).to_le_bytes());
        labels.extend(number.to_le_bytes());
        labels.extend(&name);
        labels.extend(vec![0; name.len() % 2]);
    }
    let chunk =
        |id: &[u8; 4], body: &[u8]| [&id[..], &(body.len() as u32).to_le_bytes(), body].concat();
    [chunk(b"cue ", &cue), chunk(b"LIST", &labels)].concat()
}

#[test]
fn what_is_no_song_is_refused_with_a_reason() {
    let folder = target_folder();
    let put = |name: &str, song: &Audio| {
        let path = folder.join(format!("{}-{name}.wav", std::process::id()));
        write_wav_f32(&path, song).unwrap();
        path
    };
    let why = |path: &std::path::Path| measure_file(path, &|_| true).unwrap_err().to_string();
    let silent = Audio { rate_hz: 48_000, channels: vec![vec![0.0; 96_000]; 2] };
    let path = put("silent", &silent);
    assert_eq!(why(&path), "2.0 s without a loudness: at least 0.4 s above −70 LUFS are needed");
    std::fs::write(&path, b"nothing of a kind that is known").unwrap();
    assert!(why(&path).starts_with("not audio (begins with \"noth\")"), "{}", why(&path));
    std::fs::remove_file(&path).unwrap();
    assert_eq!(why(&path), "no such file");
    let five = Audio { rate_hz: 48_000, channels: vec![vec![0.1; 48_000]; 5] };
    let path = put("five", &five);
    assert!(why(&path).starts_with("5 channels: "), "{}", why(&path));
    std::fs::remove_file(&path).unwrap();
}
