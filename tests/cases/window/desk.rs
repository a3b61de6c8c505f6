//! A host's editor window to work in: opened, looked at, used by hand, closed.

use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui, Window};
use plimsoll::editor::theme::ThemeChoice;
use plimsoll_tests::audio_file::Audio;
use plimsoll_tests::display::ParentWindow;
use plimsoll_tests::host::{Buffers, Host, Library, built_bundle, field};
use plimsoll_tests::raster::Picture;
use plimsoll_tests::song;
use plimsoll_tests::transport::{Blocks, Step, Telling, Tells};
use std::collections::HashSet;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

pub const RATE_HZ: usize = 48_000;
pub const SIZE: GuiSize = GuiSize { width: 1200, height: 700 };

const EMBEDDED: GuiConfiguration<'static> =
    GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };

/// The built bundle in a host, active.
pub fn active_host() -> Host {
    host_of(&Library::load(&built_bundle()).unwrap())
}

/// A plugin of a library in a host, active.
pub fn host_of(library: &Library) -> Host {
    let mut host = Host::new(library).unwrap();
    host.activate(RATE_HZ as u32, 512).unwrap();
    host
}

/// Plays the demo song from its start.
pub fn play(host: &mut Host, seconds: usize) {
    run(host, &[Step::Play { len_frames: seconds * RATE_HZ }]);
}

/// Does `steps` in the demo song, as fast as it goes.
pub fn run(host: &mut Host, steps: &[Step]) {
    let telling = Telling::new(Tells::Everything);
    host.run(demo_song(), steps, &telling, &Blocks::Fixed(512), Buffers::InPlace).unwrap();
}

/// Rendered once.
pub fn demo_song() -> &'static Audio {
    static SONG: OnceLock<Audio> = OnceLock::new();
    SONG.get_or_init(|| song::render(RATE_HZ as u32))
}

/// The plugin measures still: after the first `seconds` of the song, that is what it has measured,
/// if nothing was played behind them.
pub fn measures_on(host: &mut Host, seconds: usize) {
    play(host, seconds);
    host.stop_processing().unwrap();
    let measured = host.measurement().unwrap().figures.measured_hops;
    assert_eq!(measured, Some(seconds as f64 * 100.0));
    host.start_processing().unwrap();
}

/// Whether the plugin makes an editor. It is not opened.
pub fn can_open(host: &mut Host) -> bool {
    let plugin = host.instance().plugin_handle();
    let gui: PluginGui = plugin.get_extension().expect("a gui");
    let is_made = gui.create(&plugin, EMBEDDED).is_ok();
    if is_made {
        gui.destroy(&plugin);
    }
    is_made
}

pub struct Editor {
    pub host: Host,
    gui: PluginGui,
    pub parent: ParentWindow,
}

impl Editor {
    /// Opens the editor of `host` at 1200×700 points.
    pub fn open(host: Host, scale: f64) -> Self {
        let parent = ParentWindow::open(1920, 1200).unwrap();
        Self::open_in(host, parent, SIZE, scale)
    }

    /// Opens it in `parent`, `size` in points.
    pub fn open_in(host: Host, parent: ParentWindow, size: GuiSize, scale: f64) -> Self {
        let mut editor = Self::create(host, parent);
        editor.rescale(scale);
        let scaled = |points: u32| (f64::from(points) * scale).round() as u32;
        editor.resize(GuiSize { width: scaled(size.width), height: scaled(size.height) });
        editor.embed();
        editor
    }

    /// Opens it as the project keeps it.
    pub fn open_as_kept(host: Host) -> Self {
        let parent = ParentWindow::open(1920, 1200).unwrap();
        let mut editor = Self::create(host, parent);
        editor.embed();
        editor
    }

    fn create(mut host: Host, parent: ParentWindow) -> Self {
        let plugin = host.instance().plugin_handle();
        let gui: PluginGui = plugin.get_extension().expect("a gui");
        gui.create(&plugin, EMBEDDED).expect("an editor");
        assert!(gui.can_resize(&plugin));
        Self { host, gui, parent }
    }

    fn embed(&mut self) {
        let plugin = self.host.instance().plugin_handle();
        // SAFETY: the window lives as long as this struct, which destroys the editor first.
        #[allow(unsafe_code)]
        unsafe {
            let window = Window::from_x11_handle(u64::from(self.parent.id));
            self.gui.set_parent(&plugin, window).unwrap();
        }
        self.show();
    }

    /// Tells the scale of the screen.
    pub fn rescale(&mut self, scale: f64) {
        self.gui.set_scale(&self.host.instance().plugin_handle(), scale).unwrap();
    }

    pub fn show(&mut self) {
        // Some hosts' plugins answer `show` with nothing to do.
        let _ = self.gui.show(&self.host.instance().plugin_handle());
    }

    pub fn hide(&mut self) {
        let _ = self.gui.hide(&self.host.instance().plugin_handle());
    }

    pub fn resize(&mut self, size: GuiSize) {
        let plugin = self.host.instance().plugin_handle();
        let size = self.gui.adjust_size(&plugin, size).unwrap_or(size);
        self.gui.set_size(&plugin, size).unwrap();
    }

    /// The size that the plugin tells, in pixels.
    pub fn size(&mut self) -> GuiSize {
        self.gui.get_size(&self.host.instance().plugin_handle()).expect("a size")
    }

    /// Lets the host idle until `done`, at most `seconds`.
    pub fn until(&mut self, seconds: u64, what: &str, mut done: impl FnMut(&mut Self) -> bool) {
        let start = Instant::now();
        while !done(self) {
            assert!(start.elapsed() < Duration::from_secs(seconds), "waited in vain: {what}");
            self.host.idle();
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    pub fn picture(&self, size: GuiSize) -> Picture {
        let side = |pixels: u32| u16::try_from(pixels).unwrap();
        self.parent.picture(side(size.width), side(size.height)).unwrap()
    }

    pub fn until_drawn(&mut self, size: GuiSize, theme: ThemeChoice) -> Picture {
        self.until(20, "the editor to be drawn", |editor| is_drawn(&editor.picture(size), theme));
        self.picture(size)
    }

    /// Until no frame comes any more, for a quarter of a second.
    pub fn until_still(&mut self) {
        let frames = self.parent.frames().unwrap();
        self.until(20, "the editor to stand still", |_| {
            std::thread::sleep(Duration::from_millis(250));
            frames.drawn().unwrap() == 0
        });
    }

    /// What of it is kept in the project, as text.
    pub fn view(&mut self) -> String {
        field(&self.host.save_state().unwrap(), "view").unwrap()
    }

    /// A field of what is kept in the project.
    pub fn kept(&mut self, name: &str) -> serde_json::Value {
        let text = field(&self.host.save_state().unwrap(), name).unwrap();
        serde_json::from_str(&text).unwrap()
    }

    pub fn close(mut self) -> Host {
        self.gui.destroy(&self.host.instance().plugin_handle());
        self.host.idle();
        self.host
    }
}

/// Whether most of the picture is paper, with ink of many shades on it, out to its corners.
fn is_drawn(picture: &Picture, theme: ThemeChoice) -> bool {
    let paper = theme.palette().paper.to_array();
    let count = picture.pixels().filter(|&pixel| pixel == paper).count();
    let shades: HashSet<_> = picture.pixels().collect();
    let (right, bottom) = (picture.width() - 3, picture.height() - 3);
    let corners = [(2, 2), (right, 2), (2, bottom), (right, bottom - 20)];
    count * 5 > picture.width() * picture.height()
        && shades.len() > 40
        && corners.iter().all(|&(x, y)| picture.pixel(x, y) == Some(paper))
}

/// Keeps what a screenshot shows, to be looked at.
pub fn keep(picture: &Picture, name: &str) {
    let folder = plimsoll_tests::music::target_folder().join("window-test");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(format!("{name}.png")), picture.to_png().unwrap()).unwrap();
}
