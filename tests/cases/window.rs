//! The real thing: the editor of the built bundle in a window, as a host embeds it. Needs an X
//! server in memory (Xvfb); where there is none, the tests say that they are skipped.
#![cfg(target_os = "linux")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test"
)]

use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui, Window};
use plimsoll::editor::theme::{Palette, ThemeChoice};
use plimsoll::snapshot::Document;
use plimsoll_tests::display::{ParentWindow, XServer};
use plimsoll_tests::host::{Buffers, Host, Library, TRACK_NAME, built_bundle, field, with_field};
use plimsoll_tests::raster::Picture;
use plimsoll_tests::song;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::collections::HashSet;
use std::process::Command;
use std::time::{Duration, Instant};

/// Tells a test that it is the child with a screen.
const CHILD: &str = "PLIMSOLL_WINDOW_TEST";
/// Where the form of a snapshot has its button.
const SAVE: (i16, i16) = (400, 460);
const SIZE: GuiSize = GuiSize { width: 1200, height: 700 };

/// Runs `body` in a child process whose screen is an X server of its own: a plugin finds its
/// screen in the environment, and one that takes its host down must not take the tests down.
fn on_a_screen(test: &str, body: impl FnOnce()) {
    if std::env::var_os(CHILD).is_some() {
        body();
        return;
    }
    let server = match XServer::start() {
        Ok(server) => server,
        Err(error) => {
            println!("{test} skipped: no X server in memory ({error}); install xvfb");
            return;
        }
    };
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", test, "--nocapture", "--test-threads=1"])
        .env(CHILD, "1")
        .env("DISPLAY", &server.display)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{test} ended with {}:\n{}{}",
        output.status,
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
}

struct Editor {
    host: Host,
    gui: PluginGui,
    parent: ParentWindow,
}

impl Editor {
    fn open(mut host: Host, scale: f64) -> Self {
        let parent = ParentWindow::open(1920, 1200).unwrap();
        let plugin = host.instance().plugin_handle();
        let gui: PluginGui = plugin.get_extension().expect("a gui");
        let how = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
        assert!(gui.is_api_supported(&plugin, how));
        gui.create(&plugin, how).unwrap();
        gui.set_scale(&plugin, scale).unwrap();
        assert!(gui.can_resize(&plugin));
        let mut editor = Self { host, gui, parent };
        let scaled = |points: u32| (f64::from(points) * scale).round() as u32;
        editor.resize(GuiSize { width: scaled(SIZE.width), height: scaled(SIZE.height) });
        let plugin = editor.host.instance().plugin_handle();
        // SAFETY: the window lives as long as this struct, which destroys the editor first.
        #[allow(unsafe_code)]
        unsafe {
            let window = Window::from_x11_handle(u64::from(editor.parent.id));
            editor.gui.set_parent(&plugin, window).unwrap();
        }
        // Some hosts' plugins answer `show` with nothing to do.
        let _ = editor.gui.show(&plugin);
        editor
    }

    fn resize(&mut self, size: GuiSize) {
        let plugin = self.host.instance().plugin_handle();
        let size = self.gui.adjust_size(&plugin, size).unwrap_or(size);
        self.gui.set_size(&plugin, size).unwrap();
    }

    /// Lets the host idle until `done`, at most `seconds`.
    fn until(&mut self, seconds: u64, what: &str, mut done: impl FnMut(&mut Self) -> bool) {
        let start = Instant::now();
        while !done(self) {
            assert!(start.elapsed() < Duration::from_secs(seconds), "waited in vain: {what}");
            self.host.idle();
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn picture(&self, size: GuiSize) -> Picture {
        let side = |pixels: u32| u16::try_from(pixels).unwrap();
        self.parent.picture(side(size.width), side(size.height)).unwrap()
    }

    fn until_drawn(&mut self, size: GuiSize, theme: ThemeChoice) -> Picture {
        self.until(20, "the editor to be drawn", |editor| is_drawn(&editor.picture(size), theme));
        self.picture(size)
    }

    fn theme(&mut self) -> String {
        field(&self.host.save_state().unwrap(), "view").unwrap()
    }

    fn close(mut self) -> Host {
        let plugin = self.host.instance().plugin_handle();
        self.gui.destroy(&plugin);
        // The window library may return before its thread has ended.
        std::thread::sleep(Duration::from_millis(100));
        self.host.idle();
        self.host
    }
}

/// Whether most of the picture is paper, with ink of many shades on it, out to its corners.
fn is_drawn(picture: &Picture, theme: ThemeChoice) -> bool {
    let paper = theme.palette().paper.to_array();
    let count = picture.pixels().filter(|&pixel| pixel == paper).count();
    let shades: HashSet<_> = picture.pixels().collect();
    let corners = [
        (2, 2),
        (picture.width() - 3, 2),
        (2, picture.height() - 3),
        (picture.width() - 3, picture.height() - 3),
    ];
    count * 5 > picture.width() * picture.height()
        && shades.len() > 40
        && corners.iter().all(|&(x, y)| picture.pixel(x, y) == Some(paper))
}

fn play(host: &mut Host, seconds: usize) {
    let song = song::render(48_000);
    let telling = Telling::new(Tells::Everything);
    let steps = [Step::Play { len_frames: seconds * 48_000 }];
    host.run(&song, &steps, &telling, &Blocks::Fixed(512), Buffers::InPlace).unwrap();
}

fn active_host() -> Host {
    let mut host = Host::new(&Library::load(&built_bundle()).unwrap()).unwrap();
    host.activate(48_000, 512).unwrap();
    host
}

/// Keeps what a screenshot shows, to be looked at.
fn keep(picture: &Picture, name: &str) {
    let folder = built_bundle().parent().unwrap().join("../window-test");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name), picture.to_png().unwrap()).unwrap();
}

#[test]
fn the_editor_is_drawn_follows_the_song_and_takes_clicks() {
    on_a_screen("the_editor_is_drawn_follows_the_song_and_takes_clicks", || {
        let mut editor = Editor::open(active_host(), 1.0);
        let empty = editor.until_drawn(SIZE, ThemeChoice::Day);
        keep(&empty, "1-empty.png");

        play(&mut editor.host, 92);
        let water = Palette::DAY.water;
        editor.until(10, "the song to appear", |editor| {
            let picture = editor.picture(SIZE);
            let shown = empty.difference(&picture).unwrap().pixels;
            shown > 100_000 && picture.pixels().any(|pixel| pixel == water.to_array())
        });
        keep(&editor.picture(SIZE), "2-played.png");

        // The button that changes to night, and what it changes is kept in the project.
        assert!(editor.theme().contains("Day"));
        editor.parent.click(1080, 33).unwrap();
        let night = editor.until_drawn(SIZE, ThemeChoice::Night);
        keep(&night, "3-night.png");
        editor.until(5, "the theme to be kept", |editor| editor.theme().contains("Night"));

        // From the smallest to a large window.
        for (width, height) in [(640, 400), (1600, 1000), (900, 500)] {
            let size = GuiSize { width, height };
            editor.resize(size);
            let picture = editor.until_drawn(size, ThemeChoice::Night);
            keep(&picture, &format!("4-{width}x{height}.png"));
        }
        drop(editor.close());
    });
}

/// The song as it stands in the project.
fn saved_song(editor: &mut Editor) -> serde_json::Value {
    let text = field(&editor.host.save_state().unwrap(), "song").unwrap();
    serde_json::from_str(&text).unwrap()
}

#[test]
fn a_section_is_marked_dragged_and_undone_and_the_log_shows_it() {
    on_a_screen("a_section_is_marked_dragged_and_undone_and_the_log_shows_it", || {
        let mut editor = Editor::open(active_host(), 1.0);
        let empty = editor.until_drawn(SIZE, ThemeChoice::Day);
        play(&mut editor.host, 25);
        editor.until(10, "the song to appear", |editor| {
            empty.difference(&editor.picture(SIZE)).unwrap().pixels > 50_000
        });
        let told = editor.host.calls().flush;

        // The button left of the lane, under the bars.
        editor.parent.click(40, 532).unwrap();
        editor.until(5, "a section to be kept", |editor| {
            saved_song(editor)["sections"].as_array().unwrap().len() == 1
        });
        let start_s = saved_song(&mut editor)["sections"][0]["start_s"].as_f64().unwrap();
        assert!((24.0..=26.0).contains(&start_s), "the playhead stands at 25 s: {start_s}");
        // The host is told that its project changed.
        editor.until(5, "the host to be told", |editor| editor.host.calls().flush > told);
        // 0 s to 30 s lie from 70 to 1 068 across: the edge goes to about 10 s.
        let x = |at_s: f64| (70.0 + at_s / 30.0 * 998.0).round() as i16;
        editor.parent.drag((x(start_s), 532), (x(10.0), 532)).unwrap();
        editor.until(5, "the edge to have moved", |editor| {
            let at_s = saved_song(editor)["sections"][0]["start_s"].as_f64().unwrap();
            (8.0..=12.0).contains(&at_s)
        });
        keep(&editor.picture(SIZE), "6-section.png");

        // The log, from its button in the header.
        let chart = editor.picture(SIZE);
        editor.parent.click(725, 33).unwrap();
        editor.until(5, "the section log", |editor| {
            chart.difference(&editor.picture(SIZE)).unwrap().pixels > 20_000
        });
        keep(&editor.picture(SIZE), "7-log.png");
        assert!(editor.theme().contains("Log"));
        drop(editor.close());
    });
}

/// The snapshot as it is written by a click, against the host's own track name and against what the
/// state holds unrounded, which `check` of the same song gives too (`check/same_as_plugin.rs`).
#[test]
fn a_snapshot_has_the_hosts_track_and_the_figures_of_the_state() {
    on_a_screen("a_snapshot_has_the_hosts_track_and_the_figures_of_the_state", || {
        let folder = std::env::temp_dir().join(format!("plimsoll-window-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let mut host = active_host();
        let state = host.save_state().unwrap();
        let mut song: serde_json::Value =
            serde_json::from_str(&field(&state, "song").unwrap()).unwrap();
        song["folder"] = folder.to_str().unwrap().into();
        host.load_state(&with_field(&state, "song", &song.to_string()).unwrap()).unwrap();
        play(&mut host, 92);
        let mut editor = Editor::open(host, 1.0);
        let chart = editor.until_drawn(SIZE, ThemeChoice::Day);
        editor.until(5, "the host to be asked for its track", |editor| {
            editor.host.calls().track_info > 0
        });
        // The button at the right of the axes, then Save.
        editor.parent.click(1144, 503).unwrap();
        editor.until(5, "the form of the snapshot", |editor| {
            chart.difference(&editor.picture(SIZE)).unwrap().pixels > 20_000
        });
        keep(&editor.picture(SIZE), "8-snapshot.png");
        editor.parent.click(SAVE.0, SAVE.1).unwrap();
        let written = |folder: &std::path::Path| {
            let names = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
            names.into_iter().find(|path| path.extension().is_some_and(|ending| ending == "json"))
        };
        editor.until(20, "the snapshot to be written", |_| written(&folder).is_some());
        let text = std::fs::read(written(&folder).unwrap()).unwrap();
        let document: Document = serde_json::from_slice(&text).unwrap();
        assert_eq!(document.track.as_deref(), Some(TRACK_NAME));
        let figures = editor.host.measurement().unwrap().figures;
        let found = document.figures;
        assert_eq!(found.integrated_lufs, figures.integrated_lufs);
        assert_eq!(found.loudness_range_lu, figures.loudness_range_lu);
        assert_eq!(found.max_momentary_lufs, figures.max_momentary_lufs);
        assert_eq!(found.max_short_term_lufs, figures.max_short_term_lufs);
        assert_eq!(found.max_true_peak_dbtp, figures.max_true_peak_dbtp);
        assert_eq!(found.sample_peak_dbfs, figures.sample_peak_dbfs);
        std::fs::remove_dir_all(&folder).unwrap();
        drop(editor.close());
    });
}

#[test]
fn a_display_of_double_density_is_honoured() {
    on_a_screen("a_display_of_double_density_is_honoured", || {
        let mut host = active_host();
        play(&mut host, 30);
        let mut editor = Editor::open(host, 1.5);
        let size = GuiSize { width: 1800, height: 1050 };
        let picture = editor.until_drawn(size, ThemeChoice::Day);
        keep(&picture, "5-scale-1.5.png");
        drop(editor.close());
    });
}

#[test]
fn an_editor_opens_again_and_again_and_never_blank() {
    on_a_screen("an_editor_opens_again_and_again_and_never_blank", || {
        let mut host = active_host();
        play(&mut host, 5);
        for _ in 0..10 {
            let mut editor = Editor::open(host, 1.0);
            editor.until_drawn(SIZE, ThemeChoice::Day);
            host = editor.close();
            play(&mut host, 1);
        }
    });
}

#[test]
fn without_a_screen_the_editor_is_refused_and_metering_goes_on() {
    if std::env::var_os(CHILD).is_none() {
        let test = "without_a_screen_the_editor_is_refused_and_metering_goes_on";
        let status = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", test, "--nocapture"])
            .env(CHILD, "1")
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY")
            .status()
            .unwrap();
        assert!(status.success());
        return;
    }
    let mut host = active_host();
    let plugin = host.instance().plugin_handle();
    let gui: PluginGui = plugin.get_extension().expect("a gui");
    let how = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
    if gui.create(&plugin, how).is_ok() {
        #[allow(unsafe_code)]
        // SAFETY: there is no screen, so there is no window that this number could name.
        let embedded = unsafe { gui.set_parent(&plugin, Window::from_x11_handle(1)) };
        assert!(embedded.is_err());
        gui.destroy(&plugin);
    }
    play(&mut host, 5);
    host.stop_processing().unwrap();
    assert_eq!(host.measurement().unwrap().figures.measured_hops, Some(500.0));
}
