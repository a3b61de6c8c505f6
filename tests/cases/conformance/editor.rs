//! The editor as CLAP's gui extension has it: sizes, scales, order of calls. What is drawn is
//! `window.rs`' concern.

use super::{RATE_HZ, library, play};
use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui, Window};
use plimsoll_tests::child;
use plimsoll_tests::display::ParentWindow;
use plimsoll_tests::host::Host;
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::play_once;
use std::process::Command;
use std::time::Duration;

const EMBEDDED: GuiConfiguration<'static> =
    GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };

fn gui(host: &mut Host) -> PluginGui {
    host.instance().plugin_handle().get_extension().expect("a gui")
}

/// Lets the host and the window's thread go on.
fn idle(host: &mut Host) {
    for _ in 0..5 {
        host.idle();
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn set_parent(host: &mut Host, parent: &ParentWindow) {
    let plugin = host.instance().plugin_handle();
    let gui: PluginGui = plugin.get_extension().unwrap();
    // SAFETY: every case destroys the editor or the plugin before its parent window.
    #[allow(unsafe_code)]
    unsafe {
        gui.set_parent(&plugin, Window::from_x11_handle(u64::from(parent.id))).unwrap();
    }
}

fn open(host: &mut Host, parent: &ParentWindow, scale: f64) {
    let gui = gui(host);
    let plugin = host.instance().plugin_handle();
    gui.create(&plugin, EMBEDDED).unwrap();
    gui.set_scale(&plugin, scale).unwrap();
    set_parent(host, parent);
    let _ = gui.show(&host.instance().plugin_handle());
    idle(host);
}

fn destroy(host: &mut Host) {
    let gui = gui(host);
    gui.destroy(&host.instance().plugin_handle());
    // The window library may return before its thread has ended.
    idle(host);
}

/// Runs `work` on an instance and a parent window, on a screen of its own.
fn case(name: &str, work: impl FnOnce(Host, &ParentWindow)) {
    child::on_a_screen(name, || {
        let parent = ParentWindow::open(1920, 1200).unwrap();
        work(Host::new(&library()).unwrap(), &parent);
    });
}

#[test]
fn only_an_embedded_window_of_this_system_is_offered() {
    case("editor::only_an_embedded_window_of_this_system_is_offered", |mut host, _| {
        let gui = gui(&mut host);
        let plugin = host.instance().plugin_handle();
        assert!(gui.is_api_supported(&plugin, EMBEDDED));
        let floating = GuiConfiguration { is_floating: true, ..EMBEDDED };
        let foreign = GuiConfiguration { api_type: GuiApiType::WIN32, ..EMBEDDED };
        for how in [floating, foreign] {
            assert!(!gui.is_api_supported(&plugin, how));
            assert!(gui.create(&plugin, how).is_err());
        }
        let preferred = gui.get_preferred_api(&plugin).unwrap();
        assert!(gui.is_api_supported(&plugin, preferred));
    });
}

#[test]
fn every_size_at_every_scale_is_taken_or_made_one_that_is() {
    case("editor::every_size_at_every_scale_is_taken_or_made_one_that_is", |mut host, parent| {
        for scale in [1.0, 1.25, 1.5, 2.0] {
            open(&mut host, parent, scale);
            let gui = gui(&mut host);
            for (width, height) in
                [(1_200, 700), (1, 1), (640, 400), (1_919, 1_199), (333, 1_000), (1_800, 120)]
            {
                let plugin = host.instance().plugin_handle();
                assert!(gui.can_resize(&plugin));
                let asked = GuiSize { width, height };
                let size = gui.adjust_size(&plugin, asked).unwrap_or(asked);
                assert!(size.width >= width.min(640) && size.height >= height.min(400));
                // A size that was adjusted once needs no second time.
                assert_eq!(gui.adjust_size(&plugin, size).unwrap_or(size), size);
                gui.set_size(&plugin, size).unwrap();
                idle(&mut host);
                let plugin = host.instance().plugin_handle();
                assert_eq!(gui.get_size(&plugin), Some(size), "asked for {asked:?} at {scale}");
            }
            destroy(&mut host);
        }
    });
}

#[test]
fn hidden_and_shown_again_it_lives_and_the_plugin_measures() {
    case("editor::hidden_and_shown_again_it_lives_and_the_plugin_measures", |mut host, parent| {
        let song = song_like(151, RATE_HZ, 2.0);
        host.activate(RATE_HZ, 512).unwrap();
        open(&mut host, parent, 1.0);
        let gui = gui(&mut host);
        for _ in 0..5 {
            let _ = gui.hide(&host.instance().plugin_handle());
            play(&mut host, &song, &play_once(&song));
            idle(&mut host);
            let _ = gui.show(&host.instance().plugin_handle());
            play(&mut host, &song, &play_once(&song));
            idle(&mut host);
        }
        destroy(&mut host);
        assert_eq!(host.measurement().unwrap().figures.measured_hops, Some(200.0));
        assert_eq!(host.violations(), [""; 0]);
    });
}

#[test]
fn it_is_destroyed_before_the_plugin_at_any_moment() {
    case("editor::it_is_destroyed_before_the_plugin_at_any_moment", |mut host, parent| {
        let gui = gui(&mut host);
        // Nothing is there yet.
        gui.destroy(&host.instance().plugin_handle());
        for moment in 0..4 {
            let plugin = host.instance().plugin_handle();
            gui.create(&plugin, EMBEDDED).unwrap();
            // There is one already.
            assert!(gui.create(&plugin, EMBEDDED).is_err());
            if moment >= 1 {
                set_parent(&mut host, parent);
            }
            if moment >= 2 {
                let _ = gui.show(&host.instance().plugin_handle());
            }
            if moment >= 3 {
                idle(&mut host);
            }
            destroy(&mut host);
        }
        // Opened while it is not active, closed while it is, and the other way round.
        open(&mut host, parent, 1.0);
        host.activate(RATE_HZ, 512).unwrap();
        destroy(&mut host);
        open(&mut host, parent, 1.0);
        host.deactivate();
        destroy(&mut host);
    });
}

/// A window whose thread has only just begun misses the call to end, if nothing waits for the
/// thread to listen: one in some thousands, but soon where both share a processor.
#[test]
fn it_is_destroyed_at_once_again_and_again() {
    case("editor::it_is_destroyed_at_once_again_and_again", |mut host, _| {
        let itself = std::process::id().to_string();
        // Where it fails, the threads have all processors.
        let one = Command::new("taskset").args(["-a", "-p", "-c", "0", &itself]).output();
        println!("{one:?}");
        let gui = gui(&mut host);
        for _ in 0..300 {
            let plugin = host.instance().plugin_handle();
            gui.create(&plugin, EMBEDDED).unwrap();
            gui.destroy(&plugin);
        }
    });
}

#[test]
fn the_plugin_is_destroyed_with_its_editor_open() {
    case("editor::the_plugin_is_destroyed_with_its_editor_open", |mut host, parent| {
        host.activate(RATE_HZ, 512).unwrap();
        let song = song_like(152, RATE_HZ, 2.0);
        play(&mut host, &song, &play_once(&song));
        open(&mut host, parent, 1.0);
        drop(host);
        std::thread::sleep(Duration::from_millis(200));
        // The next one does not mind.
        let mut host = Host::new(&library()).unwrap();
        open(&mut host, parent, 1.0);
        destroy(&mut host);
    });
}
