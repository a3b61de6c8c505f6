//! What openings leave behind: memory, threads, files.
//!
//! Some does stay, but not of ours. The window library keeps a keyboard map for each window (72 KB
//! under Xvfb: baseview 0.4.2, `wrappers/xkbcommon.rs`, counts it up in `new` and down nowhere), and
//! has the graphics library loaded and unloaded, which leaves 24 KB each time (Mesa 22). So a window
//! of the same library with nothing of ours in it is opened as often, and the editor may leave no
//! more than that one.

use crate::desk::{Editor, SIZE, active_host, measures_on, play};
use clack_extensions::gui::GuiSize;
use nice_plug_egui::baseview::dpi::LogicalSize;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{App, EguiWindow, EguiWindowSettings, Frame};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::child;
use plimsoll_tests::display::ParentWindow;
use std::sync::mpsc::{self, Sender};
use std::time::Duration;

/// Openings (issue 5), and after how many memory is read each time: what is kept from the first
/// reading on for each opening is a leak.
const OPENINGS: usize = 200;
const STEP: usize = 50;

/// What the openings of one step may leave on the heap beyond those of a bare window: 4 KB each. A
/// thread that is still ending at a reading holds some of it. One opening of the editor holds 0.5 MB
/// at least: the texture of its letters alone.
const MAX_OF_OURS_BYTES: u64 = 4096 * STEP as u64;

/// What 150 openings may leave of any memory, five pictures of the window: a thirtieth of what they
/// would leave if each left one behind.
const MAX_GROWTH_BYTES: u64 = 1200 * 700 * 4 * 5;

/// What this process holds: memory that is no file's and memory in use on the heap in bytes,
/// threads, open files.
#[derive(Debug)]
struct Held {
    bytes: u64,
    heap_bytes: u64,
    threads: u64,
    files: usize,
}

fn held() -> Held {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let field = |name: &str| {
        let line = status.lines().find(|line| line.starts_with(name)).unwrap();
        line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap()
    };
    Held {
        bytes: field("RssAnon") * 1024,
        heap_bytes: heap_bytes(),
        threads: field("Threads"),
        files: std::fs::read_dir("/proc/self/fd").unwrap().count(),
    }
}

/// What is allocated and not freed, by glibc's own count: with one arena for all threads, which
/// [`child::on_a_screen_if_any`] asks for.
fn heap_bytes() -> u64 {
    // SAFETY: it reads the allocator's counters under its own lock.
    #[allow(unsafe_code)]
    let counted = unsafe { libc::mallinfo2() };
    (counted.uordblks + counted.hblkhd) as u64
}

/// Opens and closes, and gives the memory on the heap that stays of a step, in bytes: the middle one
/// of all steps from the first reading on. What is lost at each opening is lost in every step.
fn what_stays(of: &str, mut open_and_close: impl FnMut(usize)) -> u64 {
    let mut readings = Vec::new();
    for opening in 0..OPENINGS {
        open_and_close(opening);
        if (opening + 1) % STEP == 0 {
            let now = held();
            println!("after {} openings of {of} {now:?}", opening + 1);
            readings.push(now);
        }
    }
    let before = &readings[0];
    let is_more = |after: &Held| after.threads > before.threads || after.files > before.files;
    // A thread of the graphics library may still be ending.
    let mut after = held();
    for _ in 0..100 {
        if is_more(&after) {
            std::thread::sleep(Duration::from_millis(50));
            after = held();
        }
    }
    assert!(!is_more(&after), "{before:?}, {after:?}");
    assert!(after.bytes <= before.bytes + MAX_GROWTH_BYTES, "{before:?}, {after:?}");
    let grown = |pair: &[Held]| pair[1].heap_bytes.saturating_sub(pair[0].heap_bytes);
    let steps = readings.windows(2).map(grown);
    let mut steps: Vec<u64> = steps.collect();
    steps.sort_unstable();
    steps[steps.len() / 2]
}

/// A window with a rectangle and a word, which tells when it was drawn.
struct Bare(Sender<()>);

impl App for Bare {
    fn build(&mut self, _: egui::Context, _: &mut Frame) -> Result<(), HandlerError> {
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        ui.painter().rect_filled(ui.max_rect().shrink(50.0), 0.0, egui::Color32::WHITE);
        ui.label("bare");
        let _ = self.0.send(());
    }

    fn resized(&mut self, _: WindowSize) {}

    fn zoom_factor_changed(&mut self, _: f32) {}
}

fn open_and_close_a_bare_window() {
    let threads = held().threads;
    let (drawn, is_drawn) = mpsc::channel();
    let size = LogicalSize::new(f64::from(SIZE.width), f64::from(SIZE.height));
    let settings = EguiWindowSettings::new().with_size(size);
    let window = EguiWindow::create(settings, Bare(drawn)).unwrap();
    window.show().unwrap();
    is_drawn.recv().unwrap();
    drop(window);
    // The library does not wait for its thread.
    while held().threads > threads {
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn it_opens_200_times_never_blank_and_leaves_nothing_behind() {
    let name = "leaks::it_opens_200_times_never_blank_and_leaves_nothing_behind";
    child::on_a_screen_if_any(name, || {
        let bare = what_stays("a bare window", |_| open_and_close_a_bare_window());
        let mut host = Some(active_host());
        play(host.as_mut().unwrap(), 5);
        let ours = what_stays("the editor", |opening| {
            let parent = ParentWindow::open(SIZE.width as u16, SIZE.height as u16).unwrap();
            let mut editor = Editor::open_in(host.take().unwrap(), parent, SIZE, 1.0);
            if opening % 10 == 0 {
                editor.until_drawn(SIZE, ThemeChoice::Day);
            } else {
                // The wordmark is there.
                let part = GuiSize { width: 100, height: 50 };
                let water = ThemeChoice::Day.palette().water.to_array();
                editor.until(20, "a first frame", |editor| {
                    editor.picture(part).pixels().any(|pixel| pixel == water)
                });
            }
            host = Some(editor.close());
        });
        println!("{ours} bytes stay of {STEP} editors, {bare} of as many bare windows");
        assert!(ours <= bare + MAX_OF_OURS_BYTES, "{ours}, {bare}");
        measures_on(&mut host.unwrap(), 6);
    });
}
