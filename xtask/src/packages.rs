//! The system packages that tests need, on Debian and what descends from it.

use std::process::{Command, Stdio};

use crate::failure::Failure;

/// What a test with a real window needs, an X server that draws into memory and the program that
/// lets clients in, what counts instructions, what sees system calls, what the MP3 encoder is built
/// with, a library with filters to compare bands with, and what writes FLAC files.
const PACKAGES: [&str; 7] =
    ["xvfb", "xauth", "valgrind", "strace", "make", "python3-scipy", "flac"];

/// What the tests in real hosts need beside: a host, an audio server, a window manager, a hand, a
/// C compiler, and a Python of its own for hosts that come as Python packages.
const HOSTS: [&str; 7] =
    ["qtractor", "jackd2", "openbox", "xdotool", "gcc", "libc6-dev", "python3-venv"];

/// Installs what the tests need where that is possible; says what is missing, and what that means,
/// where it is not. Never fails: a test that misses something says itself that it is skipped.
pub(crate) fn provide() {
    if !cfg!(target_os = "linux") {
        say("this system has no X server in memory, counts no instructions and shows no system \
             calls: the tests of the editor's window, of speed and of files are skipped");
        return;
    }
    provide_packages(&PACKAGES);
}

/// The same for the tests in real hosts.
pub(crate) fn provide_hosts() {
    provide();
    provide_packages(&HOSTS);
}

fn provide_packages(packages: &[&str]) {
    if !succeeds(Command::new("apt-get").arg("--version")) {
        say(&format!(
            "no apt-get here: tests that need one of these and do not find it are skipped: {}",
            packages.join(" ")
        ));
        return;
    }
    let missing: Vec<&str> = packages.iter().copied().filter(|name| !installed(name)).collect();
    if missing.is_empty() {
        return;
    }
    let list = missing.join(" ");
    if !is_root() {
        say(&format!(
            "missing: {list}; the tests that need them are skipped. \
             To run them, as root: apt-get update && \
             apt-get install --no-install-recommends {list}"
        ));
        return;
    }
    say(&format!("installing {list}"));
    // The lists of a fresh machine are empty or old; most machines can do without this step.
    let done = install(&missing) || (succeeds(&mut update()) && install(&missing));
    if !done {
        say(&format!("apt-get could not install {list}: the tests that need them are skipped"));
    }
}

/// One line of the command's own.
fn say(line: &str) {
    eprintln!("xtask: {line}");
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readme_and_workflow_name_every_package_that_the_tests_need() {
        let readme = include_str!("../../README.md");
        let workflow = include_str!("../../.github/workflows/ci.yml");
        for text in [readme, workflow] {
            let words: Vec<&str> = text.split([' ', '\n', ',', '(', ')']).collect();
            for package in PACKAGES {
                assert!(words.contains(&package), "{package}");
            }
        }
    }
}
