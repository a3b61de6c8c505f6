//! Tests in a process of their own: one that takes its host down must not take the tests down, one
//! that hangs must end, and a plugin finds its screen and its log in the environment.

#[cfg(target_os = "linux")]
use crate::display::{Like, XServer};
use std::io::Read;
use std::process::{Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// Tells a process that it is the child, and of which test.
const CHILD: &str = "PLIMSOLL_TEST_CHILD";

/// Far longer than any of them takes, on a machine that does other things too.
const TIME_LIMIT: Duration = Duration::from_secs(300);

/// Whoever asks for hours sits beside it.
fn time_limit() -> Duration {
    std::env::var_os("PLIMSOLL_SOAK_H").map_or(TIME_LIMIT, |_| Duration::MAX)
}

/// Says that a test is skipped, and why; fails where everything was to be there (`cargo xtask
/// hosts`).
///
/// # Panics
/// See there.
pub fn skip(why: &str) {
    assert!(std::env::var_os("PLIMSOLL_SKIP_NOTHING").is_none(), "{why}");
    println!("skipped: {why}");
}

/// What became of a child.
pub struct Outcome {
    /// How it ended; `None` if it had to be ended.
    pub status: Option<ExitStatus>,
    /// The end of what it wrote to its output, and of what to its error output.
    pub said: [String; 2],
}

/// Runs `work` in a child process, in which the test `name`, with the path of its modules, calls
/// this again; gives what became of it. `None` in the child.
///
/// # Panics
/// The child cannot be started.
pub fn outcome(name: &str, environment: &[(&str, &str)], work: impl FnOnce()) -> Option<Outcome> {
    if std::env::var_os(CHILD).is_some_and(|child| child == name) {
        work();
        return None;
    }
    let program = std::env::current_exe().unwrap_or_else(|error| panic!("{error}"));
    let mut command = Command::new(program);
    command.args(["--exact", name, "--nocapture", "--test-threads=1"]).env(CHILD, name);
    Some(end(command.envs(environment.iter().copied())))
}

/// The same for a child that must end well; gives what it wrote to its error output.
///
/// # Panics
/// The child fails, crashes, or does not end.
pub fn run(name: &str, environment: &[(&str, &str)], work: impl FnOnce()) -> Option<String> {
    let Outcome { status, said: [out, log] } = outcome(name, environment, work)?;
    let tail: Vec<&str> = log.lines().rev().take(30).collect();
    let tail: Vec<&str> = tail.into_iter().rev().collect();
    match status {
        Some(status) if status.success() => {
            print!("{out}");
            Some(log)
        }
        Some(status) => panic!("{name} ended with {status}:\n{out}{}", tail.join("\n")),
        None => panic!("{name} did not end within {TIME_LIMIT:?}:\n{out}{}", tail.join("\n")),
    }
}

/// Runs a program to its end or to the end of our patience.
///
/// # Panics
/// It cannot be started.
pub fn end(command: &mut Command) -> Outcome {
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    let readers = [
        child.stdout.take().map(|pipe| std::thread::spawn(|| text(pipe))),
        child.stderr.take().map(|pipe| std::thread::spawn(|| text(pipe))),
    ];
    let start = Instant::now();
    let status = loop {
        match child.try_wait() {
            Ok(Some(status)) => break Some(status),
            _ if start.elapsed() > time_limit() => {
                let _ = child.kill();
                let _ = child.wait();
                break None;
            }
            _ => std::thread::sleep(Duration::from_millis(5)),
        }
    };
    let said =
        readers.map(|reader| reader.and_then(|reader| reader.join().ok()).unwrap_or_default());
    Outcome { status, said }
}

fn text(mut pipe: impl Read) -> String {
    let mut bytes = Vec::new();
    let _ = pipe.read_to_end(&mut bytes);
    String::from_utf8_lossy(&bytes).into_owned()
}

/// [`run`] with a screen of its own. Where there is none, says that `name` is skipped.
///
/// # Panics
/// See [`run`].
#[cfg(target_os = "linux")]
pub fn on_a_screen(name: &str, work: impl FnOnce()) {
    on_a_screen_like(name, Like::default(), &[], work);
}

/// The same on such a screen. Gives what the child wrote to its error output.
///
/// # Panics
/// See [`run`].
#[cfg(target_os = "linux")]
pub fn on_a_screen_like(
    name: &str,
    like: Like,
    environment: &[(&str, &str)],
    work: impl FnOnce(),
) -> Option<String> {
    match screen(like) {
        Ok(screen) => screen.run(name, environment, work),
        Err(error) => {
            skip(&format!("{name}: no X server in memory ({error}); install xvfb"));
            None
        }
    }
}

/// [`run`] with a screen of its own, or without one where there is none. What is freed goes back to
/// the system, so that memory shows what is held; it takes its time, and only glibc listens.
///
/// # Panics
/// See [`run`].
#[cfg(target_os = "linux")]
pub fn on_a_screen_if_any(name: &str, work: impl FnOnce()) {
    let environment = [("MALLOC_ARENA_MAX", "1"), ("MALLOC_MMAP_THRESHOLD_", "65536")];
    screen(Like::default()).unwrap_or(Screen(None)).run(name, &environment, work);
}

/// Where a child finds its screen.
#[cfg(target_os = "linux")]
struct Screen(Option<XServer>);

/// A screen for a child; a child has its own.
#[cfg(target_os = "linux")]
fn screen(like: Like) -> Result<Screen, String> {
    if std::env::var_os(CHILD).is_some() {
        return Ok(Screen(None));
    }
    let server = XServer::start(like).map_err(|error| error.to_string())?;
    Ok(Screen(Some(server)))
}

#[cfg(target_os = "linux")]
impl Screen {
    fn run(self, name: &str, environment: &[(&str, &str)], work: impl FnOnce()) -> Option<String> {
        let display = self.0.as_ref().map(|server| ("DISPLAY", server.display.as_str()));
        run(name, &[environment, display.as_slice()].concat(), work)
    }
}
