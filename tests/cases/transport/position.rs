//! However little a host tells, and however it rounds it.

use super::{RATE_HZ, SECOND, STAND, assert_near, everything, file, linked_host, play, play_for};
use plimsoll_tests::host::Buffers;
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::{Blocks, Rounding, Step, Telling, Tells, play_once};

#[test]
fn whatever_part_of_its_position_a_host_tells_and_however_it_rounds_the_record_is_the_same() {
    for rate_hz in [44_100, RATE_HZ] {
        let song = song_like(36, rate_hz, 12.0);
        let expected = file(&song);
        for tells in [Tells::Everything, Tells::Seconds, Tells::Beats] {
            for (rounding, blocks) in [
                (Rounding::Exact, Blocks::Fixed(64)),
                (Rounding::Millisecond, Blocks::Fixed(512)),
                (Rounding::Millisecond, Blocks::Fixed(64)),
                (Rounding::Millisecond, Blocks::Random { seed: 4, max_frames: 1024 }),
                (Rounding::Block(1024), Blocks::Fixed(64)),
                (Rounding::Block(1024), Blocks::Random { seed: 5, max_frames: 300 }),
            ] {
                let mut host = linked_host(rate_hz, 1024);
                let telling = Telling::new(tells).rounded(rounding);
                host.run(&song, &play_once(&song), &telling, &blocks, Buffers::Separate).unwrap();
                let measured = host.measurement().unwrap();
                assert_eq!(measured, expected, "{rate_hz} Hz, {tells:?}, {rounding:?}, {blocks:?}");
            }
        }
    }
}

#[test]
fn a_host_that_tells_nothing_gets_a_live_measurement_with_the_same_figures() {
    let song = song_like(37, RATE_HZ, 12.0);
    let expected = file(&song).figures;
    for tells in [Tells::Nothing, Tells::Playing] {
        let mut host = linked_host(RATE_HZ, 512);
        play(&mut host, &song, &[play_for(song.len_frames())], &Telling::new(tells));
        host.stop_processing().unwrap();
        assert_near(&host.measurement().unwrap().figures, &expected, 1e-9, 1e-9);
    }
}

#[test]
fn a_change_of_tempo_moves_nothing_where_seconds_are_told() {
    let song = song_like(43, RATE_HZ, 12.0);
    let expected = file(&song);
    for tells in [Tells::Everything, Tells::Seconds] {
        let tempo_map = vec![(0, 120.0), (512 * 300 + 100, 61.5), (512 * 700, 240.0)];
        let telling = Telling { tempo_map, ..Telling::new(tells) };
        let mut host = linked_host(RATE_HZ, 512);
        play(&mut host, &song, &play_once(&song), &telling);
        assert_eq!(host.measurement().unwrap(), expected, "{tells:?}");
    }
}

#[test]
fn beats_alone_hold_through_changes_of_tempo() {
    let song = song_like(38, RATE_HZ, 20.0);
    let expected = file(&song);
    // At borders of blocks, and within one: a host that tells only beats tells the tempo that
    // holds where the block begins.
    for at in [512 * 400, 512 * 400 + 100] {
        let telling = Telling {
            tempo_map: vec![(0, 120.0), (at, 87.5), (at + 512 * 500, 140.0)],
            ..Telling::new(Tells::Beats)
        };
        let mut host = linked_host(RATE_HZ, 512);
        play(&mut host, &song, &play_once(&song), &telling);
        assert_eq!(host.measurement().unwrap(), expected, "first change at frame {at}");
    }
}

#[test]
fn absurd_positions_do_no_harm() {
    let song = song_like(42, RATE_HZ, 5.0);
    let expected = file(&song).figures;
    let mut host = linked_host(RATE_HZ, 512);
    play(&mut host, &song, &play_once(&song), &everything());
    for frame in [1_i64 << 40, -(1 << 40), 1 << 46, -(1 << 46)] {
        // Silence there, in as far as anything is measured there at all.
        let steps = [Step::Locate { frame }, play_for(SECOND), STAND];
        play(&mut host, &song, &steps, &everything());
    }
    let figures = host.measurement().unwrap().figures;
    assert_near(&figures, &expected, 1e-9, 1e-9);
    assert_eq!(figures.measured_hops, expected.measured_hops);
}
