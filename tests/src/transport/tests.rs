use super::*;
use clack_host::events::event_types::TransportFlags;

fn blocks_of(steps: &[Step], telling: Telling, blocks: Blocks) -> Vec<Block> {
    playback(48_000, steps, telling, blocks)
        .filter_map(|event| match event {
            Event::Block(block) => Some(block),
            _ => None,
        })
        .collect()
}

#[test]
fn playing_covers_every_frame_once_in_order_whatever_the_blocks() {
    for plan in [
        Blocks::Fixed(64),
        Blocks::InTurn(vec![1, 7, 441]),
        Blocks::Random { seed: 3, max_frames: 512 },
    ] {
        let steps = [Step::Play { len_frames: 10_000 }];
        let mut next = 0;
        for block in blocks_of(&steps, Telling::new(Tells::Seconds), plan.clone()) {
            assert!((1..=plan.max_frames()).contains(&block.len_frames));
            assert_eq!(block.song_frame, Some(next));
            assert_eq!(block.told.seconds, Some(next as f64 / 48_000.0));
            next += block.len_frames as i64;
        }
        assert_eq!(next, 10_000);
    }
}

#[test]
fn a_loop_wraps_at_its_end_to_the_frame() {
    let steps = [
        Step::Locate { frame: 900 },
        Step::Loop { start_frame: 500, end_frame: 1000, len_frames: 1200 },
    ];
    let frames: Vec<i64> = blocks_of(&steps, Telling::new(Tells::Everything), Blocks::Fixed(64))
        .iter()
        .flat_map(|b| (0..b.len_frames as i64).map(|k| b.song_frame.unwrap() + k))
        .collect();
    let expected: Vec<i64> =
        (900..1000).chain(500..1000).chain(500..1000).chain(500..600).collect();
    assert_eq!(frames, expected);
}

#[test]
fn standing_is_silent_and_keeps_the_place() {
    let song = Audio { rate_hz: 48_000, channels: vec![vec![0.5; 1000]] };
    let steps = [
        Step::Play { len_frames: 100 },
        Step::Stand { len_frames: 100 },
        Step::Play { len_frames: 100 },
    ];
    let blocks = blocks_of(&steps, Telling::new(Tells::Everything), Blocks::Fixed(100));
    let mut plane = vec![Vec::new()];
    blocks[1].fill(&song, &mut plane);
    assert_eq!(plane[0], vec![0.0; 100]);
    assert!(!blocks[1].told.playing);
    assert_eq!(blocks[2].song_frame, Some(100));
    blocks[2].fill(&song, &mut plane);
    assert_eq!(plane[0], vec![0.5; 100]);
}

#[test]
fn a_count_in_is_silent_before_song_time_zero() {
    let song = Audio { rate_hz: 48_000, channels: vec![vec![0.5; 1000]] };
    let steps = [Step::Locate { frame: -10 }, Step::Play { len_frames: 20 }];
    let blocks = blocks_of(&steps, Telling::new(Tells::Seconds), Blocks::Fixed(20));
    let mut plane = vec![Vec::new()];
    blocks[0].fill(&song, &mut plane);
    assert_eq!(plane[0], [vec![0.0; 10], vec![0.5; 10]].concat());
    assert_eq!(blocks[0].told.seconds, Some(-10.0 / 48_000.0));
}

#[test]
fn positions_are_told_as_the_host_is_made() {
    let at = |telling: Telling, frame| telling.at(frame, 48_000, true, None);
    // Half a second at 120 beats a minute is one beat.
    let told = at(Telling::new(Tells::Beats), 24_000);
    assert_eq!((told.seconds, told.beats, told.tempo_bpm), (None, Some(1.0), Some(120.0)));
    let told = at(Telling::new(Tells::Seconds).rounded(Rounding::Millisecond), 24_025);
    assert_eq!(told.seconds, Some(0.501));
    let told = at(Telling::new(Tells::Seconds).rounded(Rounding::Block(512)), 1000);
    assert_eq!(told.seconds, Some(512.0 / 48_000.0));
    assert!(at(Telling::new(Tells::Nothing), 0).event().is_none());
    let told = at(Telling::new(Tells::Playing), 24_000);
    assert_eq!(told.event().unwrap().flags, TransportFlags::IS_PLAYING);
}

#[test]
fn beats_count_through_a_change_of_tempo() {
    let telling =
        Telling { tempo_map: vec![(0, 120.0), (48_000, 60.0)], ..Telling::new(Tells::Beats) };
    // One second at 120 is 2 beats, another at 60 one more; a count-in is negative.
    assert_eq!(telling.beats(2.0, 48_000.0), 3.0);
    assert_eq!(telling.beats(-1.0, 48_000.0), -2.0);
    assert_eq!(telling.tempo_bpm(47_999.0), 120.0);
    assert_eq!(telling.tempo_bpm(48_000.0), 60.0);
}

#[test]
fn the_clap_event_holds_the_position_to_a_billionth_of_a_second() {
    let told = Telling::new(Tells::Everything).at(959_520, 48_000, true, Some((0, 48_000)));
    let event = told.event().unwrap();
    assert!((event.song_pos_seconds.to_float() - 19.99).abs() < 1e-9);
    assert_eq!(event.bar_number, 9);
    assert_eq!(event.bar_start.to_float(), 36.0);
    assert!(event.flags.contains(TransportFlags::IS_LOOP_ACTIVE));
    assert_eq!(event.loop_end_seconds.to_float(), 1.0);
}
