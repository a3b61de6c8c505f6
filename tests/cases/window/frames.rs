//! When frames are drawn: on change, and not more often than an eye sees.

use crate::desk::{Editor, RATE_HZ, SIZE, active_host, demo_song, play, run};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::host::Buffers;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::time::{Duration, Instant};

/// Most frames a second while the song plays (issue 5).
const MOST_PER_SECOND: f64 = 30.0;

#[test]
fn none_is_drawn_while_the_transport_stands_and_30_a_second_at_most_while_it_plays() {
    let name =
        "frames::none_is_drawn_while_the_transport_stands_and_30_a_second_at_most_while_it_plays";
    child::on_a_screen(name, || {
        let mut editor = Editor::open(active_host(), 1.0);
        editor.until_drawn(SIZE, ThemeChoice::Day);
        play(&mut editor.host, 10);
        // Short-term loudness falls for three seconds, then nothing changes any more.
        run(&mut editor.host, &[Step::Stand { len_frames: 4 * RATE_HZ }]);
        editor.until_still();

        let frames = editor.parent.frames().unwrap();
        let mut play_on = |is_playing: bool, seconds: u64| {
            let telling = Telling::new(Tells::Everything);
            let start = Instant::now();
            let mut blocks = 0;
            // As fast as it is heard: a block of 10 ms when its time has come.
            while start.elapsed() < Duration::from_secs(seconds) {
                let due = start.elapsed().as_millis() / 10;
                let place = Step::Locate { frame: blocks * 480 };
                let steps = [place, Step::Play { len_frames: 480 }];
                let standing = [Step::Stand { len_frames: 480 }];
                let steps = if is_playing { steps.as_slice() } else { &standing };
                let host = &mut editor.host;
                host.run(demo_song(), steps, &telling, &Blocks::Fixed(480), Buffers::InPlace)
                    .unwrap();
                blocks += 1;
                while start.elapsed().as_millis() / 10 <= due {
                    std::thread::sleep(Duration::from_millis(1));
                }
            }
            (frames.drawn().unwrap() as f64, start.elapsed().as_secs_f64())
        };
        // The host stands where it stood: a script begins at the start of the song.
        play_on(false, 1);
        let (standing, _) = play_on(false, 2);
        assert_eq!(standing, 0.0, "the transport stands in silence");
        let (playing, elapsed_s) = play_on(true, 4);
        println!("{playing} frames in {elapsed_s:.2} s of playing");
        assert!(playing > 0.0);
        // The first comes at once.
        assert!(playing <= elapsed_s * MOST_PER_SECOND + 1.0, "{playing} in {elapsed_s:.2} s");
    });
}
