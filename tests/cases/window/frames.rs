//! When frames are drawn: on change, and not more often than an eye sees.

use crate::desk::{Editor, RATE_HZ, SIZE, active_host, demo_song, play, run};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::host::Buffers;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::time::{Duration, Instant};

/// Most frames a second while the song plays (issue 5).
const MOST_PER_SECOND: f64 = 30.0;

/// Plays the demo song from its start, or stands, for so long: a block of 10 ms when its time has
/// come. Gives how long it took, in seconds.
fn in_real_time(editor: &mut Editor, is_playing: bool, seconds: u64) -> f64 {
    let telling = Telling::new(Tells::Everything);
    let start = Instant::now();
    let mut blocks = 0;
    while start.elapsed() < Duration::from_secs(seconds) {
        let due = start.elapsed().as_millis() / 10;
        let place = Step::Locate { frame: blocks * 480 };
        let steps = [place, Step::Play { len_frames: 480 }];
        let standing = [Step::Stand { len_frames: 480 }];
        let steps = if is_playing { steps.as_slice() } else { &standing };
        let host = &mut editor.host;
        host.run(demo_song(), steps, &telling, &Blocks::Fixed(480), Buffers::InPlace).unwrap();
        blocks += 1;
        while start.elapsed().as_millis() / 10 <= due {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
    start.elapsed().as_secs_f64()
}

/// Share of a core that the editor's window takes while nothing of it changes or shows. It wakes 30
/// times a second to see whether there is something to draw: 0.3 ms each time are the hundredth part of
/// a core, and far more than a look takes. A frame takes ten times as long (3 ms, issue 5).
const MOST_IDLE: f64 = 0.01;

/// CPU time, in seconds, of all threads of this process that are neither the host's, which is this
/// one, nor the plugin's worker: of the window's thread and those of its graphics library.
fn window_cpu_s() -> f64 {
    let ours = std::fs::read_link("/proc/thread-self").unwrap();
    let ours = ours.file_name().unwrap().to_owned();
    let mut nanoseconds = 0.0;
    for task in std::fs::read_dir("/proc/self/task").unwrap() {
        let task = task.unwrap();
        let read = |name: &str| std::fs::read_to_string(task.path().join(name));
        // A thread may end meanwhile.
        let (Ok(name), Ok(time)) = (read("comm"), read("schedstat")) else { continue };
        if task.file_name() != ours && name.trim() != "plimsoll" {
            let on_cpu = time.split_whitespace().next().unwrap();
            nanoseconds += on_cpu.parse::<f64>().unwrap();
        }
    }
    nanoseconds * 1e-9
}

/// The share of a core that the window takes meanwhile.
fn share(editor: &mut Editor, is_playing: bool) -> f64 {
    // What was asked for before is drawn first.
    in_real_time(editor, is_playing, 1);
    let before = window_cpu_s();
    let elapsed_s = in_real_time(editor, is_playing, 3);
    (window_cpu_s() - before) / elapsed_s
}

#[test]
fn a_window_that_stands_still_or_is_not_seen_takes_no_time() {
    let name = "frames::a_window_that_stands_still_or_is_not_seen_takes_no_time";
    child::on_a_screen(name, || {
        let mut editor = Editor::open(active_host(), 1.0);
        let empty = editor.until_drawn(SIZE, ThemeChoice::Day);
        let playing = share(&mut editor, true);
        println!("playing {playing:.4}");
        assert!(playing > 2.0 * MOST_IDLE, "drawing is seen: {playing}");
        // Short-term loudness falls for three seconds, then nothing changes any more.
        run(&mut editor.host, &[Step::Stand { len_frames: 4 * RATE_HZ }]);
        editor.until_still();
        let standing = share(&mut editor, false);
        println!("standing {standing:.4}");
        assert!(standing <= MOST_IDLE, "{standing}");

        editor.hide();
        let hidden = share(&mut editor, true);
        println!("hidden {hidden:.4}");
        assert!(hidden <= MOST_IDLE, "{hidden}");
        editor.show();
        let shown = editor.until_drawn(SIZE, ThemeChoice::Day);
        assert!(empty.difference(&shown).unwrap().pixels > 20_000, "the song is there");

        // A host may take its own window off the screen and say nothing.
        editor.parent.hide().unwrap();
        let covered = share(&mut editor, true);
        println!("in a window that is not shown {covered:.4}");
        assert!(covered <= MOST_IDLE, "{covered}");
        editor.parent.show().unwrap();
        editor.until_drawn(SIZE, ThemeChoice::Day);
        let again = share(&mut editor, true);
        assert!(again > 2.0 * MOST_IDLE, "it goes on: {again}");
    });
}

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
            let elapsed_s = in_real_time(&mut editor, is_playing, seconds);
            (frames.drawn().unwrap() as f64, elapsed_s)
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
