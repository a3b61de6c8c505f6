//! One writer, its readers, and what stands in the slots between.

use super::*;
use crate::meters::MAX_CHANNELS;

/// Where the tests write. Under Miri, which keeps books about every byte, records are short and
/// have no room for song time zero.
const START: i32 = if cfg!(miri) { FIRST_HOP } else { 0 };

fn short_record() -> (RecordWriter, RecordReader) {
    let hops = if cfg!(miri) { 200 } else { all_hops() };
    let (writer, _, reader) = record_of(Layout::Stereo, hops, 0, false);
    (writer, reader)
}

fn sample_hop(playthrough: u32) -> Hop {
    let mut hop = Hop {
        energy: 0.125,
        frames: 480,
        full: true,
        edge: false,
        clipped: 3,
        scrubbed: 65_535,
        momentary_rise: 30_103,
        playthrough,
        left_mean_square: 0.25,
        right_mean_square: 0.5,
        left_right_mean: -0.125,
        ..Hop::default()
    };
    hop.sample_peaks[..2].copy_from_slice(&[0.9, 0.8]);
    hop.true_peaks[..2].copy_from_slice(&[1.1, 0.85]);
    hop
}

#[test]
fn what_is_written_is_read_back_and_the_rest_is_not_measured() {
    let (mut writer, reader) = short_record();
    let playthrough = writer.begin_playthrough();
    let hop = sample_hop(playthrough);
    let last = if cfg!(miri) { START + 199 } else { END_HOP - 1 };
    for index in [FIRST_HOP, START + 100, START + 102, last] {
        assert_eq!(reader.hop(index), None);
        writer.write(index, &hop);
        assert_eq!(reader.hop(index), Some(hop));
    }
    assert_eq!(reader.hop(START + 101), None);
    assert!(!reader.overrun());
}

#[test]
fn time_outside_of_the_record_is_refused_and_said() {
    let (mut writer, reader) = short_record();
    let hop = sample_hop(writer.begin_playthrough());
    for index in [i32::MIN, FIRST_HOP - 1] {
        writer.write(index, &hop);
        assert_eq!(reader.hop(index), None);
    }
    assert!(!reader.overrun());
    for index in [END_HOP, i32::MAX] {
        writer.write(index, &hop);
        assert_eq!(reader.hop(index), None);
    }
    assert!(reader.overrun());
}

#[test]
fn a_partly_covered_hop_does_not_replace_a_full_one_but_the_other_way_round() {
    let (mut writer, reader) = short_record();
    let partly = Hop { full: false, frames: 100, ..sample_hop(writer.begin_playthrough()) };
    writer.write(START + 7, &partly);
    let full = sample_hop(writer.begin_playthrough());
    writer.write(START + 7, &full);
    assert_eq!(reader.hop(START + 7), Some(full));
    let later = Hop { playthrough: writer.begin_playthrough(), ..partly };
    writer.write(START + 7, &later);
    assert_eq!(reader.hop(START + 7), Some(full));
}

#[test]
fn a_reset_forgets_and_its_undo_brings_back() {
    let (mut writer, reader) = short_record();
    let old = sample_hop(writer.begin_playthrough());
    writer.write(START + 1, &old);
    writer.write(START + 2, &old);
    let before = reader.revision();
    let undo = reader.reset();
    assert!(reader.revision() > before);
    assert!(writer.was_reset_since(old.playthrough));
    assert_eq!(reader.hop(START + 1), None);

    let new = Hop { full: false, ..sample_hop(writer.begin_playthrough()) };
    assert!(!writer.was_reset_since(new.playthrough));
    // What a reset forgot stands in nobody's way, even if it was better.
    writer.write(START + 2, &new);
    assert_eq!(reader.hop(START + 2), Some(new));
    reader.undo_reset(undo);
    assert_eq!(reader.hop(START + 1), Some(old));
    assert_eq!(reader.hop(START + 2), Some(new));
}

#[test]
fn a_trim_forgets_what_lies_behind_and_its_undo_brings_it_back() {
    let (mut writer, reader) = short_record();
    let old = sample_hop(writer.begin_playthrough());
    for index in [START + 99, START + 100, START + 101, END_HOP] {
        writer.write(index, &old);
    }
    assert!(reader.overrun());
    let before = (reader.revision(), reader.forgotten_revision());
    let undo = reader.trim(START + 100);
    assert!(reader.revision() > before.0 && reader.forgotten_revision() > before.1);
    let standing = || [99, 100, 101].map(|index| reader.hop(START + index));
    assert_eq!(standing(), [Some(old), None, None]);
    assert!(!reader.overrun());

    // The song was made longer again: what is played now counts, even if it is less.
    let new = Hop { full: false, ..sample_hop(writer.begin_playthrough()) };
    assert!(new.playthrough > old.playthrough);
    writer.write(START + 99, &new);
    writer.write(START + 100, &new);
    assert_eq!(standing(), [Some(old), Some(new), None]);
    reader.undo_trim(undo);
    assert_eq!(standing(), [Some(old), Some(new), Some(old)]);
}

#[test]
fn a_run_that_goes_on_over_a_trim_is_told_to_take_another_number() {
    let (mut writer, reader) = short_record();
    let playthrough = writer.begin_playthrough();
    reader.trim(START + 100);
    assert!(writer.was_forgotten_somewhere(playthrough) && !writer.was_reset_since(playthrough));
    assert!(writer.was_forgotten(START + 100, playthrough));
    assert!(!writer.was_forgotten(START + 99, playthrough));
    let next = writer.begin_playthrough();
    assert!(!writer.was_forgotten_somewhere(next));
}

#[test]
fn the_fingerprint_tells_one_bit_and_knows_nothing_of_rewriting() {
    let (mut writer, reader) = short_record();
    let hop = sample_hop(writer.begin_playthrough());
    writer.write(START + 5, &hop);
    let once = reader.fingerprint();
    writer.write(START + 5, &hop);
    assert_eq!(reader.fingerprint(), once);
    let other = Hop { energy: f32::from_bits(hop.energy.to_bits() ^ 1), ..hop };
    writer.write(START + 5, &other);
    assert_ne!(reader.fingerprint(), once);
}

/// A size: Miri has nothing to say about it, and takes minutes.
#[cfg(not(miri))]
#[test]
fn a_stereo_record_fits_into_32_megabytes() {
    let (_, reader) = record(Layout::Stereo, false);
    let bytes = size_of_val(&*reader.slots.words) + size_of_val(&*reader.slots.chunk_revisions);
    assert!(bytes <= 32_000_000, "{bytes}");
}

#[test]
fn readers_never_see_a_torn_hop() {
    let (mut writer, reader) = short_record();
    let stop = Arc::new(AtomicBool::new(false));
    let readers: Vec<_> = (0..2)
        .map(|_| {
            let (reader, stop) = (reader.clone(), Arc::clone(&stop));
            std::thread::spawn(move || {
                let mut seen = 0_u64;
                while !stop.load(Ordering::Relaxed) {
                    for index in START..START + 4 {
                        if let Some(hop) = reader.hop(index) {
                            // Every word of a test hop carries the same number.
                            let n = f32::from(hop.clipped);
                            assert_eq!(hop.energy, n);
                            assert_eq!(hop.true_peaks[1], n);
                            assert_eq!(hop.left_right_mean, n);
                            seen += 1;
                        }
                    }
                }
                seen
            })
        })
        .collect();
    let playthrough = writer.begin_playthrough();
    // Under Miri every access is interpreted: fewer rounds, the same arithmetic.
    let rounds = if cfg!(miri) { 2_000 } else { 200_000_u32 };
    for round in 0..rounds {
        let n = (round % 4_096) as u16;
        let value = f32::from(n);
        let hop = Hop {
            energy: value,
            frames: 480,
            full: true,
            clipped: n,
            playthrough,
            sample_peaks: [value; MAX_CHANNELS],
            true_peaks: [value; MAX_CHANNELS],
            left_mean_square: value,
            right_mean_square: value,
            left_right_mean: value,
            ..Hop::default()
        };
        writer.write(START + (round % 4) as i32, &hop);
    }
    stop.store(true, Ordering::Relaxed);
    for reader in readers {
        assert!(reader.join().unwrap() > 0);
    }
}
