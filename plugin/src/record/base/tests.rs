//! Records with hops of an earlier session below.

use super::super::{RecordWriter, record};
use super::*;
use std::sync::atomic::{AtomicBool, Ordering};

fn hop(playthrough: u32, energy: f32) -> Hop {
    let mut hop = Hop { energy, frames: 480, full: true, playthrough, ..Hop::default() };
    hop.true_peaks[..2].copy_from_slice(&[0.5, 0.25]);
    hop.momentary_rise = 7;
    hop
}

fn base_of(hops: &[(i32, Hop)]) -> Arc<BaseHops> {
    let mut base = BaseHops::new(Layout::Stereo);
    for (index, hop) in hops {
        base.put(*index, hop);
    }
    Arc::new(base)
}

fn new_record() -> (RecordWriter, RecordReader) {
    record(Layout::Stereo, false)
}

fn energy(reader: &RecordReader, index: i32) -> Option<f32> {
    reader.hop(index).map(|hop| hop.energy)
}

#[test]
fn a_base_gives_back_what_was_put_and_takes_memory_where_there_are_hops() {
    let ends = [FIRST_HOP, -1, 0, 700, END_HOP - 1];
    let base = base_of(&ends.map(|index| (index, hop(3, 0.5))));
    for index in ends {
        assert_eq!(base.hop(index), Some(hop(3, 0.5)));
    }
    let mut other = BaseHops::new(Layout::Stereo);
    for index in [FIRST_HOP - 1, END_HOP, i32::MIN, i32::MAX] {
        assert_eq!(base.hop(index), None);
        other.put(index, &hop(1, 0.5));
    }
    assert_eq!((other.hop_count(), other.newest_playthrough()), (0, 0));
    assert_eq!((base.hop_count(), base.newest_playthrough()), (5, 3));
    // −1 and 0 may lie in one chunk.
    assert!(base.chunks.iter().flatten().count() <= 5);
    let indices: Vec<i32> = base.hops().map(|(index, _)| index).collect();
    assert_eq!(indices, ends);
}

#[test]
fn every_reader_sees_the_base_and_learns_of_it_by_the_revisions() {
    let (_writer, reader) = new_record();
    let other_reader = reader.clone();
    let before = (reader.revision(), reader.fingerprint());
    let chunk = usize::try_from(700 - FIRST_HOP).unwrap() / CHUNK_HOPS;
    assert_eq!(reader.chunk_revision(chunk), 0);
    reader.load(Some(base_of(&[(700, hop(1, 0.5))]))).unwrap();
    assert_eq!(other_reader.hop(700), Some(hop(1, 0.5)));
    assert!(other_reader.revision() > before.0);
    assert_ne!(other_reader.fingerprint(), before.1);
    let first = reader.chunk_revision(chunk);
    assert_ne!(first, 0);
    // Another base: what it does not hold is gone, and its chunk says so.
    reader.load(Some(base_of(&[(0, hop(1, 0.25))]))).unwrap();
    assert_ne!(reader.chunk_revision(chunk), first);
    assert_eq!((energy(&reader, 700), energy(&reader, 0)), (None, Some(0.25)));
    reader.load(None).unwrap();
    assert_eq!(reader.hops().count(), 0);
    assert_eq!(reader.fingerprint(), before.1);
}

#[test]
fn what_is_measured_replaces_the_base_unless_it_is_worse() {
    let (mut writer, reader) = new_record();
    let edge = |hop| Hop { edge: true, ..hop };
    reader
        .load(Some(base_of(&[(1, hop(4, 0.1)), (2, hop(4, 0.1)), (3, edge(hop(4, 0.1)))])))
        .unwrap();
    let playthrough = writer.begin_playthrough();
    assert_eq!(playthrough, 5);
    writer.write(1, &hop(playthrough, 0.9));
    writer.write(2, &edge(hop(playthrough, 0.9)));
    writer.write(3, &edge(hop(playthrough, 0.9)));
    assert_eq!(energy(&reader, 1), Some(0.9));
    assert_eq!(energy(&reader, 2), Some(0.1), "an edge never replaces a better hop");
    assert_eq!(energy(&reader, 3), Some(0.9), "of two that are as good the newer counts");
}

#[test]
fn a_reset_forgets_the_base_and_its_undo_brings_it_back() {
    let (mut writer, reader) = new_record();
    reader.load(Some(base_of(&[(1, hop(2, 0.1)), (2, hop(3, 0.1))]))).unwrap();
    let undo = reader.reset();
    assert_eq!(reader.hops().count(), 0);
    let playthrough = writer.begin_playthrough();
    writer.write(2, &hop(playthrough, 0.9));
    assert_eq!((energy(&reader, 1), energy(&reader, 2)), (None, Some(0.9)));
    reader.undo_reset(undo);
    assert_eq!((energy(&reader, 1), energy(&reader, 2)), (Some(0.1), Some(0.9)));
    // A second reset forgets all of it again.
    reader.reset();
    assert_eq!(reader.hops().count(), 0);
}

#[test]
fn a_base_that_is_loaded_after_a_reset_shows_and_the_next_reset_hides_it() {
    let (mut writer, reader) = new_record();
    let old = writer.begin_playthrough();
    writer.write(1, &hop(old, 0.9));
    let first = reader.reset();
    reader.load(Some(base_of(&[(2, hop(1, 0.1))]))).unwrap();
    assert_eq!((energy(&reader, 1), energy(&reader, 2)), (None, Some(0.1)));
    let second = reader.reset();
    assert_eq!(reader.hops().count(), 0);
    reader.undo_reset(second);
    assert_eq!((energy(&reader, 1), energy(&reader, 2)), (None, Some(0.1)));
    reader.undo_reset(first);
    assert_eq!((energy(&reader, 1), energy(&reader, 2)), (Some(0.9), Some(0.1)));
}

#[test]
fn a_run_that_goes_on_while_a_state_is_loaded_gets_a_newer_number() {
    let (mut writer, reader) = new_record();
    let running = writer.begin_playthrough();
    assert!(!writer.is_outdated(running));
    reader.load(Some(base_of(&[(2, hop(9, 0.1))]))).unwrap();
    assert!(writer.is_outdated(running));
    let next = writer.begin_playthrough();
    assert!(next > 9 && !writer.is_outdated(next));
    assert_eq!(reader.first_new_playthrough(), 10);
    // Nothing loaded, nothing changes.
    reader.load(None).unwrap();
    assert!(!writer.is_outdated(next));
}

#[test]
fn other_channels_are_refused_with_a_reason() {
    let (_writer, reader) = new_record();
    let mut base = BaseHops::new(Layout::Mono);
    base.put(1, &hop(1, 0.1));
    let error = reader.load(Some(Arc::new(base))).unwrap_err();
    assert_eq!(error, OtherLayout { record: Layout::Stereo, base: Layout::Mono });
    assert!(error.to_string().contains("has 1 channels, the host runs the plugin with 2"));
    assert_eq!(reader.hops().count(), 0);
}

#[test]
fn numbers_stay_below_half_of_what_a_slot_can_hold() {
    let base = base_of(&[(1, hop(0, 0.1)), (2, hop(u32::MAX, 0.1))]);
    assert_eq!(base.hop(1).unwrap().playthrough, 1);
    assert_eq!(base.hop(2).unwrap().playthrough, BaseHops::MAX_PLAYTHROUGH);
    let (mut writer, reader) = new_record();
    reader.load(Some(base)).unwrap();
    assert!(writer.begin_playthrough() > BaseHops::MAX_PLAYTHROUGH);
}

#[test]
fn readers_see_one_of_two_bases_whole_while_they_change_and_the_writer_writes() {
    let (mut writer, reader) = new_record();
    let stop = Arc::new(AtomicBool::new(false));
    let indices = 0..40;
    let bases = [1, 2].map(|number| {
        let value = if number == 1 { 0.1 } else { 0.2 };
        let hops: Vec<_> = indices.clone().map(|index| (index, hop(number, value))).collect();
        base_of(&hops)
    });
    let watching = std::thread::spawn({
        let (reader, stop) = (reader.clone(), Arc::clone(&stop));
        move || {
            let mut seen = [0_u32; 3];
            while !stop.load(Ordering::Relaxed) {
                for index in 0..40 {
                    let Some(hop) = reader.hop(index) else { continue };
                    match hop.energy {
                        0.1 => assert_eq!(hop.playthrough, 1),
                        0.2 => assert_eq!(hop.playthrough, 2),
                        0.9 => assert!(hop.playthrough > 0 && index < 4),
                        other => panic!("{other}"),
                    }
                    let kind = [0.1, 0.2, 0.9].iter().position(|&e| e == hop.energy).unwrap();
                    seen[kind] += 1;
                }
            }
            seen
        }
    });
    let writing = std::thread::spawn({
        let stop = Arc::clone(&stop);
        move || {
            let mut playthrough = writer.begin_playthrough();
            while !stop.load(Ordering::Relaxed) {
                for index in 0..4 {
                    writer.write(index, &hop(playthrough, 0.9));
                }
                if writer.is_outdated(playthrough) {
                    playthrough = writer.begin_playthrough();
                }
            }
            playthrough
        }
    });
    let rounds = if cfg!(miri) { 20 } else { 20_000 };
    for round in 0..rounds {
        reader.load(Some(Arc::clone(&bases[round % 2]))).unwrap();
    }
    stop.store(true, Ordering::Relaxed);
    let seen = watching.join().unwrap();
    assert!(cfg!(miri) || seen.iter().all(|&count| count > 0), "{seen:?}");
    writing.join().unwrap();
}
