//! A desktop without a screen or a sound card: an X server in memory with a window manager, an
//! audio server that plays into nothing, and a home of its own. For tests in real hosts.

use crate::display::{self, Like, XServer};
use crate::raster::Picture;
use std::fs::File;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What did not work, in words.
pub type Failed = String;

/// A program that ends with this value.
pub struct Running {
    /// The program.
    pub process: Child,
}

impl Drop for Running {
    fn drop(&mut self) {
        // Nothing is left to be done where it has ended before.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// See the module.
pub struct Desktop {
    /// In the order in which they have to end.
    _servers: [Running; 2],
    screen: XServer,
    folder: PathBuf,
}

/// Programs that have to be installed, and the packages of Debian that bring them.
const PROGRAMS: [(&str, &str); 5] = [
    ("Xvfb", "xvfb"),
    ("openbox", "openbox"),
    ("xdotool", "xdotool"),
    ("jackd", "jackd2"),
    ("jack_transport", "jackd2"),
];

/// Sample rate of the audio server, in Hz.
pub const RATE_HZ: u32 = 48_000;

/// Time goes so much faster in the audio server, as far as the machine can: nobody listens.
pub const SPEED: u32 = 2;

const PERIOD_FRAMES: u32 = 1_024;

impl Desktop {
    /// The packages that are missing here, `more` programs included.
    #[must_use]
    pub fn missing(more: &[(&'static str, &'static str)]) -> Vec<&'static str> {
        let path = std::env::var_os("PATH").unwrap_or_default();
        let has = |program: &str| {
            std::env::split_paths(&path).any(|folder| folder.join(program).is_file())
        };
        let programs = PROGRAMS.iter().chain(more);
        let mut missing: Vec<_> =
            programs.filter(|(program, _)| !has(program)).map(|(_, package)| *package).collect();
        missing.dedup();
        missing
    }

    /// Starts it; files of the programs lie in `folder`.
    ///
    /// # Errors
    /// A program is missing or does not come up.
    pub fn start(folder: &Path) -> Result<Self, Failed> {
        for folder in [folder.join("home"), folder.join("run")] {
            let made = std::fs::DirBuilder::new().recursive(true).mode(0o700).create(&folder);
            made.map_err(|error| format!("{}: {error}", folder.display()))?;
        }
        let screen = XServer::start(Like::default()).map_err(|error| format!("Xvfb: {error}"))?;
        let folder = folder.to_owned();
        let start = |command: &mut Command| start(command, &folder);
        let windows = start(command("openbox", &screen, &folder).arg("--sm-disable"))?;
        let wait_us = u64::from(PERIOD_FRAMES) * 1_000_000 / u64::from(RATE_HZ * SPEED);
        let audio = start(
            command("jackd", &screen, &folder)
                .args(["--no-realtime", "--name", NAME, "-d", "dummy"])
                .args(["--rate", &RATE_HZ.to_string(), "--period", &PERIOD_FRAMES.to_string()])
                .args(["--wait", &wait_us.to_string(), "--capture", "2", "--playback", "2"]),
        )?;
        let desktop = Self { _servers: [audio, windows], screen, folder };
        until("the audio server to answer", || {
            let listed = desktop.command("jack_lsp").output();
            listed.is_ok_and(|output| output.status.success()).then_some(())
        })?;
        Ok(desktop)
    }

    /// A program on this desktop.
    #[must_use]
    pub fn command(&self, program: &str) -> Command {
        command(program, &self.screen, &self.folder)
    }

    /// Starts a program; what it says goes to a file named after it.
    ///
    /// # Errors
    /// It does not start.
    pub fn start_program(&self, command: &mut Command) -> Result<Running, Failed> {
        start(command, &self.folder)
    }

    /// Does what xdotool does when given these words; gives what it says.
    ///
    /// # Errors
    /// It fails.
    pub fn hand(&self, words: &[&str]) -> Result<String, Failed> {
        let output = self.command("xdotool").args(words).output();
        let output = output.map_err(|error| format!("xdotool: {error}"))?;
        if !output.status.success() {
            let said = String::from_utf8_lossy(&output.stderr);
            return Err(format!("xdotool {words:?}: {} {said}", output.status));
        }
        Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
    }

    /// The visible window of process `pid` whose title begins with `title`, if there is one.
    #[must_use]
    pub fn visible_window(&self, pid: u32, title: &str) -> Option<String> {
        let (pid, name) = (pid.to_string(), format!("^{title}"));
        let words = ["search", "--all", "--onlyvisible", "--pid", &pid, "--name", &name];
        self.hand(&words).ok()?.lines().last().map(str::to_owned)
    }

    /// The same, once it is there.
    ///
    /// # Errors
    /// It does not come.
    pub fn window(&self, pid: u32, title: &str) -> Result<String, Failed> {
        until(&format!("a window \"{title}\""), || self.visible_window(pid, title))
    }

    /// Brings a window to the front and presses a key.
    ///
    /// # Errors
    /// The window is gone.
    pub fn key(&self, window: &str, key: &str) -> Result<(), Failed> {
        self.hand(&["windowactivate", "--sync", window])?;
        pause();
        self.hand(&["key", key]).map(drop)
    }

    /// Presses the first button at `x`, `y` of a window, `times` times.
    ///
    /// # Errors
    /// The window is gone.
    pub fn click(&self, window: &str, (x, y): (i32, i32), times: u32) -> Result<(), Failed> {
        self.hand(&["windowactivate", "--sync", window])?;
        // On its way there, as a hand does: what only jumps may be taken for nothing.
        for x in [x - 1, x] {
            self.hand(&["mousemove", "--window", window, &x.to_string(), &y.to_string()])?;
            pause();
        }
        self.hand(&["click", "--repeat", &times.to_string(), "--delay", "60", "1"])?;
        pause();
        Ok(())
    }

    /// A window's title.
    ///
    /// # Errors
    /// The window is gone.
    pub fn title(&self, window: &str) -> Result<String, Failed> {
        self.hand(&["getwindowname", window])
    }

    /// What the screen shows where a window lies.
    ///
    /// # Errors
    /// The window is gone or lies partly outside of the screen.
    pub fn picture(&self, window: &str) -> Result<Picture, Failed> {
        self.hand(&["windowactivate", "--sync", window])?;
        pause();
        let number: u32 = window.parse().map_err(|_| format!("{window} is no window"))?;
        display::picture(&self.screen.display, number).map_err(|error| error.to_string())
    }

    /// Tells the transport to `play`, `stop`, or `locate 0`.
    ///
    /// # Errors
    /// The audio server is gone.
    pub fn transport(&self, order: &str) -> Result<(), Failed> {
        let mut transport = self.command("jack_transport");
        let words = self.folder.join("transport.txt");
        std::fs::write(&words, format!("{order}\nquit\n")).map_err(|error| error.to_string())?;
        transport.stdin(File::open(&words).map_err(|error| error.to_string())?);
        let status = transport.stdout(Stdio::null()).stderr(Stdio::null()).status();
        status.map(drop).map_err(|error| format!("jack_transport: {error}"))
    }
}

/// The audio server's name: not the one of a server that someone uses here.
const NAME: &str = "plimsoll-hosts";

fn command(program: &str, screen: &XServer, folder: &Path) -> Command {
    let mut command = Command::new(program);
    command
        .env("DISPLAY", &screen.display)
        .env("HOME", folder.join("home"))
        .env("XDG_CONFIG_HOME", folder.join("home/.config"))
        .env("XDG_RUNTIME_DIR", folder.join("run"))
        .env("JACK_DEFAULT_SERVER", NAME)
        .env("JACK_NO_AUDIO_RESERVATION", "1")
        .env("JACK_NO_START_SERVER", "1")
        .env("LC_ALL", "C.UTF-8")
        .stdin(Stdio::null());
    command
}

fn start(command: &mut Command, folder: &Path) -> Result<Running, Failed> {
    let program = Path::new(command.get_program()).file_name().unwrap_or_default();
    let log = folder.join(program).with_extension("log");
    let program = program.to_owned();
    let file = File::options().create(true).append(true).open(&log);
    let failed = |error: std::io::Error| format!("{}: {error}", program.display());
    let file = file.map_err(failed)?;
    command.stdout(file.try_clone().map_err(failed)?).stderr(file);
    Ok(Running { process: command.spawn().map_err(failed)? })
}

/// Long enough for a frame of whatever program, on a machine that does other things too.
fn pause() {
    std::thread::sleep(Duration::from_millis(150));
}

/// Asks again and again until there is something.
///
/// # Errors
/// There is nothing for a minute.
pub fn until<T>(what: &str, mut ask: impl FnMut() -> Option<T>) -> Result<T, Failed> {
    let start = Instant::now();
    loop {
        if let Some(found) = ask() {
            return Ok(found);
        }
        if start.elapsed() > Duration::from_secs(60) {
            return Err(format!("waited in vain for {what}"));
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}
