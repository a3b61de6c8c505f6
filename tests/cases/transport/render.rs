//! Rendering far faster than realtime, and a song that was cut shorter.

use super::{
    RATE_HZ, SECOND, STAND, assert_near, cut, everything, file, linked_host, locate, play_for,
};
use plimsoll::loudness::Analysis;
use plimsoll_tests::direct::Direct;
use plimsoll_tests::host::Buffers;
use plimsoll_tests::noise::{even_song, song_like};
use plimsoll_tests::transport::Blocks;

/// A reader looks 30 times a second (the editor's rate), so at 500 times realtime only every 16.7
/// seconds of the song: nothing is queued for it, so nothing can overflow meanwhile.
#[test]
fn offline_at_500_times_realtime_no_hop_is_lost_between_two_looks_of_a_reader() {
    const LOOK: usize = 500 * SECOND / 30;
    let song = song_like(44, RATE_HZ, 120.0);
    let mut host = linked_host(RATE_HZ, 4096);
    host.deactivate();
    host.render_offline(true).unwrap();
    host.activate(RATE_HZ, 4096).unwrap();
    let mut at = 0;
    while at < song.len_frames() {
        let len = LOOK.min(song.len_frames() - at);
        let steps = [locate(at), play_for(len)];
        host.run(&song, &steps, &everything(), &Blocks::Fixed(4096), Buffers::InPlace).unwrap();
        at += len;
        // Reading does nothing to what is measured.
        let seen = host.measurement().unwrap().figures.measured_hops.unwrap();
        // All but the hop that waits for what stands behind it.
        assert!(seen >= (at / (SECOND / 100)) as f64 - 2.0, "{seen} hops after {at} frames");
    }
    host.run(&song, &[STAND], &everything(), &Blocks::Fixed(512), Buffers::InPlace).unwrap();
    assert_eq!(host.measurement().unwrap(), file(&song));
}

#[test]
fn a_song_that_was_cut_shorter_is_trimmed_to_its_new_end() {
    let song = even_song(45, RATE_HZ, 60.0);
    let end = 40 * SECOND;
    let mut direct = Direct::new(RATE_HZ, 2, 512);
    let run = |direct: &mut Direct, song, steps: &[_]| {
        direct.run(song, steps, &everything(), &Blocks::Fixed(512));
    };
    run(&mut direct, &song, &[play_for(song.len_frames()), STAND]);
    let before = direct.measurement().unwrap().unwrap();

    // The user cuts the song, plays its new end and what comes then, which is silence.
    let shorter = cut(&song, 0..end);
    run(&mut direct, &shorter, &[locate(end - 5 * SECOND), play_for(5 * SECOND), STAND]);
    let record = &direct.sources().song;
    assert_eq!(Analysis::of(record).extent(), Some(0..6_000), "the old end still stands there");
    let undo = record.trim(4_000);
    let trimmed = direct.measurement().unwrap().unwrap().figures;
    let expected = file(&shorter).figures;
    assert_eq!((trimmed.span_hops, trimmed.measured_hops), (Some(4_000.0), Some(4_000.0)));
    assert_near(&trimmed, &expected, 0.01, 0.01);

    record.undo_trim(undo);
    let after = direct.measurement().unwrap().unwrap().figures;
    assert_eq!(after.span_hops, before.figures.span_hops);
}
