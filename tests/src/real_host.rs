//! The host of Debian that loads CLAP: a session with the plugin on its master, played, saved and
//! opened again. Where its windows' parts lie was found by looking, for version 0.9.31.

use crate::desktop::{Desktop, Failed, Running, until};
use crate::raster::Picture;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

const PROGRAM: &str = "qtractor";
const PLUGIN: &str = "Plimsoll";

/// What has to be installed beside the desktop.
pub const PROGRAMS: [(&str, &str); 2] = [(PROGRAM, "qtractor"), ("cc", "gcc libc6-dev")];

/// Pretends a sequencer without which the host does not start.
const NOSEQ: &str = include_str!("real_host/noseq.c");

/// A session file with one track, and perhaps the plugin on its master.
pub struct Session {
    /// The session file.
    pub path: PathBuf,
}

impl Session {
    /// Writes one that plays the stereo file `wav` of `len_frames` frames.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn write(
        path: &Path,
        wav: &Path,
        len_frames: usize,
        plugin: Option<&Path>,
    ) -> Result<Self, Failed> {
        let rate_hz = crate::desktop::RATE_HZ;
        let [folder, wav] = [path.parent().unwrap_or(path), wav].map(Path::display);
        let plugin = plugin.map_or(String::new(), |plugin| {
            format!(
                "<plugin type=\"CLAP\"><filename>{}</filename><index>0</index>\
                 <activated>1</activated><configs/><params/></plugin>",
                plugin.display()
            )
        });
        let text = format!(
            r#"<!DOCTYPE qtractor-session>
<session name="hosttest" version="Qtractor 0.9.31">
 <properties><directory>{folder}</directory><sample-rate>{rate_hz}</sample-rate><tempo>120</tempo>
  <ticks-per-beat>960</ticks-per-beat><beats-per-bar>4</beats-per-bar></properties>
 <files><audio-list><file name="song">{wav}</file></audio-list><midi-list/></files>
 <devices><audio-engine><audio-control><transport-mode>duplex</transport-mode></audio-control>
   <audio-bus name="Master" mode="duplex"><channels>2</channels><auto-connect>1</auto-connect>
    <output-gain>1</output-gain><output-panning>0</output-panning>
    <output-plugins>{plugin}</output-plugins></audio-bus></audio-engine><midi-engine/></devices>
 <tracks>
  <track name="Song" type="audio">
   <properties><input-bus>Master</input-bus><output-bus>Master</output-bus></properties>
   <state><gain>1</gain><panning>0</panning></state>
   <clips><clip name="song"><properties><name>song</name><start>0</start><offset>0</offset>
     <length>{len_frames}</length><gain>1</gain><panning>0</panning></properties>
     <audio-clip><filename>{wav}</filename><time-stretch>1</time-stretch></audio-clip></clip></clips>
  </track>
 </tracks>
</session>
"#
        );
        std::fs::write(path, text).map_err(|error| format!("{}: {error}", path.display()))?;
        Ok(Self { path: path.to_owned() })
    }

    /// The plugin's state in the session file.
    ///
    /// # Errors
    /// There is none, or it is not packed as this host packs it.
    pub fn plugin_state(&self) -> Result<Vec<u8>, Failed> {
        let text = std::fs::read_to_string(&self.path).map_err(|error| error.to_string())?;
        let packed = text
            .split_once("<config key=\"state\">")
            .and_then(|(_, rest)| rest.split_once("</config>"))
            .ok_or("the session file holds no state of the plugin")?
            .0;
        let packed: String = packed.split_whitespace().collect();
        let packed = BASE64_STANDARD.decode(packed).map_err(|error| error.to_string())?;
        // Qt: the length in four bytes, and zlib's format.
        let packed = packed.get(4..).ok_or("the state is cut short")?;
        miniz_oxide::inflate::decompress_to_vec_zlib(packed).map_err(|error| error.to_string())
    }
}

/// The host with a session.
pub struct RealHost<'a> {
    desktop: &'a Desktop,
    running: Running,
    main: String,
    mixer: String,
}

impl<'a> RealHost<'a> {
    /// Builds the shim into `folder`.
    ///
    /// # Errors
    /// There is no C compiler, or it fails.
    pub fn build_shim(folder: &Path) -> Result<PathBuf, Failed> {
        let [source, library] = ["noseq.c", "noseq.so"].map(|name| folder.join(name));
        std::fs::write(&source, NOSEQ).map_err(|error| error.to_string())?;
        let output = Command::new("cc")
            .args(["-shared", "-fPIC", "-O1", "-o"])
            .args([&library, &source])
            .output()
            .map_err(|error| format!("cc: {error}"))?;
        if output.status.success() {
            Ok(library)
        } else {
            Err(String::from_utf8_lossy(&output.stderr).into_owned())
        }
    }

    /// Starts it with a session; `plugins` is the folder in which it finds the plugin.
    ///
    /// # Errors
    /// It does not come up.
    pub fn start(
        desktop: &'a Desktop,
        shim: &Path,
        plugins: &Path,
        session: &Session,
    ) -> Result<Self, Failed> {
        let mut command = desktop.command(PROGRAM);
        command
            .arg(&session.path)
            .env("LD_PRELOAD", shim)
            .env("CLAP_PATH", plugins)
            .env("QT_QPA_PLATFORM", "xcb")
            .env("QT_X11_NO_MITSHM", "1");
        let running = desktop.start_program(&mut command)?;
        let pid = running.process.id();
        let main = desktop.window(pid, &session.path.display().to_string())?;
        // It remembers whether the mixer was open; the key opens and closes it.
        std::thread::sleep(Duration::from_secs(1));
        if desktop.visible_window(pid, "Mixer").is_none() {
            desktop.key(&main, "F9")?;
        }
        let mixer = desktop.window(pid, "Mixer")?;
        desktop.hand(&["windowsize", "--sync", &mixer, "640", "420"])?;
        Ok(Self { desktop, running, main, mixer })
    }

    /// Whether it takes the session for modified.
    ///
    /// # Errors
    /// Its window is gone.
    pub fn is_modified(&self) -> Result<bool, Failed> {
        Ok(self.desktop.title(&self.main)?.contains("[modified]"))
    }

    /// Opens the editor of the first plugin on the master.
    ///
    /// # Errors
    /// No editor appears.
    pub fn open_editor(&self) -> Result<String, Failed> {
        until("the editor", || {
            self.desktop.click(&self.mixer, (521, 47), 2).ok()?;
            self.desktop.visible_window(self.running.process.id(), PLUGIN)
        })
    }

    /// Mutes the track and lets it sound again, which only tells the host that something changed.
    ///
    /// # Errors
    /// Its window is gone.
    pub fn touch(&self) -> Result<(), Failed> {
        self.desktop.click(&self.mixer, (206, 134), 1)?;
        self.desktop.click(&self.mixer, (206, 134), 1)
    }

    /// Saves the session.
    ///
    /// # Errors
    /// It stays modified.
    pub fn save(&self) -> Result<(), Failed> {
        until("the session to be saved", || {
            self.desktop.key(&self.main, "ctrl+s").ok()?;
            (!self.is_modified().ok()?).then_some(())
        })
    }

    /// A picture of a window.
    ///
    /// # Errors
    /// The window is gone.
    pub fn picture(&self, window: &str) -> Result<Picture, Failed> {
        self.desktop.picture(window)
    }

    /// Its main window.
    #[must_use]
    pub fn main_window(&self) -> &str {
        &self.main
    }

    /// Closes the host as a user does who has saved.
    ///
    /// # Errors
    /// It does not end, or not well.
    pub fn quit(mut self) -> Result<(), Failed> {
        self.desktop.key(&self.main, "alt+F4")?;
        let status = until("the host to end", || self.running.process.try_wait().ok()?)?;
        if status.success() { Ok(()) } else { Err(format!("the host ended with {status}")) }
    }
}
