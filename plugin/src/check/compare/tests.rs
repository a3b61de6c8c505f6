//! Comparisons that need an encoder, and the parts on their own; exports of the demo song are
//! compared in `tests/cases/compare.rs`.

use super::null::{Cells, Sums};
use super::*;
use plimsoll_encoder::{Encoder, Encoding};
use std::io::{Read, Seek, Write};

const RATE_HZ: u32 = 48_000;

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

/// `len_s` seconds of hits at places of their own that ring out, in stereo.
fn song(seed: u64, len_s: usize) -> Vec<Vec<f32>> {
    let mut noise = noise(seed);
    let mut planes = vec![vec![0.0_f32; len_s * 48_000]; 2];
    for hit in 0..len_s * 4 {
        let at = hit * 12_000 + ((noise() + 1.0) * 4_000.0) as usize;
        let (hz, pan) = (200.0 + 150.0 * (noise() + 1.0), 0.4 * noise());
        for frame in 0..24_000 {
            let at_s = frame as f64 / 48_000.0;
            let tone = (std::f64::consts::TAU * hz * at_s).sin() + 0.3 * noise();
            let value = 0.2 * tone * (-8.0 * at_s).exp();
            for (plane, gain) in planes.iter_mut().zip([1.0 - pan, 1.0 + pan]) {
                if let Some(sample) = plane.get_mut(at + frame) {
                    *sample += (gain * value) as f32;
                }
            }
        }
    }
    planes
}

/// A float WAV of `planes` at `path`.
fn write_wav(path: &Path, planes: &[Vec<f32>]) {
    let frames = planes[0].len();
    let data_bytes = (frames * planes.len() * 4) as u32;
    let mut bytes: Vec<u8> = Vec::new();
    bytes.extend(b"RIFF");
    bytes.extend((data_bytes + 36).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16_u32.to_le_bytes());
    bytes.extend([3, 0, planes.len() as u8, 0]);
    bytes.extend(RATE_HZ.to_le_bytes());
    bytes.extend((RATE_HZ * 4 * planes.len() as u32).to_le_bytes());
    bytes.extend([4 * planes.len() as u8, 0, 32, 0]);
    bytes.extend(b"data");
    bytes.extend(data_bytes.to_le_bytes());
    for frame in 0..frames {
        planes.iter().for_each(|plane| bytes.extend(plane[frame].to_le_bytes()));
    }
    std::fs::write(path, bytes).unwrap();
}

fn folder(name: &str) -> PathBuf {
    let folder =
        std::env::temp_dir().join(format!("plimsoll-compared-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn a_lossy_file_lies_on_its_source_and_differs_throughout() {
    let folder = folder("lossy");
    let (wav, ogg) = (folder.join("song.wav"), folder.join("song.ogg"));
    let planes = song(1, 15);
    write_wav(&wav, &planes);
    let encoding: Encoding = "vorbis".parse().unwrap();
    let mut encoder = Encoder::new(encoding, RATE_HZ, 2).unwrap();
    encoder.push(&planes).unwrap();
    let mut encoded: Vec<u8> = Vec::new();
    let mut file = encoder.finish().unwrap();
    file.rewind().unwrap();
    file.read_to_end(&mut encoded).unwrap();
    std::fs::File::create(&ogg).unwrap().write_all(&encoded).unwrap();

    let compared = compare([&wav, &ogg], None, &|_| ()).unwrap();
    let alignment = compared.alignment.as_ref().unwrap();
    // The decoder takes off the encoder's delay: the song begins where it did.
    assert_eq!((alignment.lag_frames, alignment.part_frame), (0, 0.0));
    assert!(!alignment.swapped);
    let null = compared.null.as_ref().unwrap();
    // A code of 160 kbit/s keeps noise 10 dB below the sound at the least, and never all of it.
    assert!((-60.0..-10.0).contains(&null.depth.0), "{:?}", null.depth);
    let kinds: Vec<_> = compared.findings().iter().map(|finding| finding.kind).collect();
    assert!(kinds.contains(&"different"), "{:?}", compared.findings());
    for kind in ["offset", "gain", "swapped", "polarity", "other recording", "limiting"] {
        assert!(!kinds.contains(&kind), "{:?}", compared.findings());
    }
}

#[test]
fn two_songs_of_like_hits_are_no_versions_of_each_other() {
    let folder = folder("songs");
    let (one, other) = (folder.join("one.wav"), folder.join("other.wav"));
    write_wav(&one, &song(2, 12));
    write_wav(&other, &song(3, 12));
    let compared = compare([&one, &other], None, &|_| ()).unwrap();
    assert_eq!(compared.alignment, None);
    assert_eq!(compared.findings()[0].kind, "other recording");
}

/// Cells of one channel with these gains, each with an energy of 1 in OLD.
fn cells(gains: &[f64]) -> Cells {
    let sums = gains.iter().map(|gain| Sums { aa: 1.0, ab: *gain, bb: gain * gain });
    let frames = 4_800 * gains.len() as i64;
    Cells { frames: 0..frames, rate_hz: 48_000, channels: vec![sums.collect()], is_same: false }
}

#[test]
fn the_gain_is_what_most_of_the_song_has() {
    let mut gains = vec![0.5; 100];
    gains[20..60].fill(0.6);
    let null = Null::of(&cells(&gains), 0.0);
    assert!((null.gain.0 - 20.0 * 0.5_f64.log10()).abs() < 1e-9);
    let [stretch] = null.stretches.as_slice() else { panic!("{:?}", null.stretches) };
    assert_eq!(stretch.frames, 20 * 4_800..60 * 4_800);
    assert!((stretch.level_by.unwrap().0 - 20.0 * 1.2_f64.log10()).abs() < 1e-9);
    assert!(null.gain_counts && !null.is_same);
    // (0.6 − 0.5)²·40 of 0.25·60 + 0.36·40.
    assert!((null.depth.0 - 10.0 * (0.4_f64 / 29.4).log10()).abs() < 1e-9);
}

#[test]
fn a_step_of_the_coarser_file_counts_as_nothing() {
    let mut cells = cells(&[1.0; 20]);
    // What is left in one cell: a mean square of one step of 16 bits.
    let lsb = 2_f64.powi(-15);
    let left = lsb * lsb * 4_800.0;
    for (sums, share) in cells.channels[0].iter_mut().zip([0.9, 0.0, 0.0]) {
        sums.bb += share * left;
    }
    assert!(Null::of(&cells, lsb).is_nothing());
    cells.channels[0][5].bb += 1.1 * left;
    // Of full scale −90.3 dBFS: more than 80 dB below a song at −37 dBFS.
    let null = Null::of(&cells, lsb);
    assert_eq!(null.stretches.len(), 1);
    assert_eq!(null.loudest[0].frame, 5 * 4_800);
}
