//! The system packages that tests need, on Debian and what descends from it.

use std::process::{Command, Stdio};

use crate::failure::Failure;

/// What a test with a real window needs, an X server that draws into memory and the program that
/// lets clients in, what counts instructions, and a library with filters to compare bands with.
const PACKAGES: [&str; 4] = ["xvfb", "xauth", "valgrind", "python3-scipy"];

/// Installs what is missing where that is possible; says what is missing, and what that means,
/// where it is not. Never fails: a test that misses something says itself that it is skipped.
pub(crate) fn provide() {
    if !cfg!(target_os = "linux") {
        say("this system has no X server in memory and counts no instructions: the tests of the \
             editor's window and of speed are skipped");
        return;
    }
    if !succeeds(Command::new("apt-get").arg("--version")) {
        say("no apt-get here: the tests of the editor's window are skipped unless Xvfb and xauth \
             are installed, those of speed unless valgrind is, those on real songs unless the \
             songs are there");
        return;
    }
    let missing: Vec<&str> = PACKAGES.into_iter().filter(|name| !installed(name)).collect();
    if missing.is_empty() {
        return;
    }
    let list = missing.join(" ");
    if !is_root() {
        say(&format!(
            "missing: {list}; the tests that need them are skipped. \
             To run them: sudo apt-get install --no-install-recommends {list}"
        ));
        return;
    }
    say(&format!("installing {list}"));
    // The lists of a fresh machine are empty or old; most machines can do without this step.
    let done = install(&missing) || (succeeds(&mut update()) && install(&missing));
    if !done {
        say(&format!(
            "apt-get could not install {list}: the tests of the editor's window are skipped"
        ));
    }
}

/// One line of the command's own.
fn say(line: &str) {
    eprintln!("xtask test: {line}");
}

fn installed(package: &str) -> bool {
    Command::new("dpkg-query")
        .args(["--show", "--showformat", "${db:Status-Status}", package])
        .stderr(Stdio::null())
        .output()
        .is_ok_and(|output| output.stdout == b"installed")
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

fn update() -> Command {
    let mut command = Command::new("apt-get");
    command.args(["--quiet=2", "update"]);
    command
}

fn install(packages: &[&str]) -> bool {
    let mut command = Command::new("apt-get");
    command
        .args(["--quiet=2", "--yes", "--no-install-recommends", "install"])
        .args(packages)
        .env("DEBIAN_FRONTEND", "noninteractive");
    succeeds(&mut command)
}

/// Runs `command` silently.
pub(crate) fn succeeds(command: &mut Command) -> bool {
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// The first line that `program` prints about its version.
pub(crate) fn version_line(program: &str) -> Result<String, Failure> {
    let output = Command::new(program).arg("--version").output();
    let output = output.map_err(|source| Failure::Start { program: program.to_owned(), source })?;
    Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
}
