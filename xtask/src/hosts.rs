//! `cargo xtask hosts`: the plugin in real hosts, whose windows are drawn into memory. A test that
//! finds its host missing fails here, where in `cargo xtask test` it is skipped.

use std::path::Path;
use std::process::Command;

use crate::bundle;
use crate::cargo::{self, Profile};
use crate::failure::Failure;
use crate::packages;

/// Hosts of VST3 that come as Python packages.
const PYTHON_HOSTS: [&str; 3] = ["pedalboard", "dawdreamer", "numpy"];

/// Installs the hosts, builds the bundles, runs the tests in them.
pub(crate) fn run() -> Result<(), Failure> {
    packages::provide_hosts();
    let folder = cargo::target_directory()?.join("hosts");
    provide_python(&folder.join("venv"))?;
    eprintln!("Building (the first time takes some minutes) …");
    let bundles = bundle::build(Profile::Release)?;
    let mut tests = cargo::command("test")?;
    tests.args(["--package", "plimsoll-tests", "--no-fail-fast"]);
    tests.args(["--test", "real_host", "--test", "vst3", "--", "--nocapture"]);
    tests.env("PLIMSOLL_CLAP", bundles.clap).env("PLIMSOLL_SKIP_NOTHING", "1");
    cargo::run(&mut tests)?;
    println!("Screenshots and sessions: {}", folder.display());
    Ok(())
}

/// A Python of our own with the hosts in it.
fn provide_python(venv: &Path) -> Result<(), Failure> {
    let python = venv.join("bin").join("python");
    if !python.exists() {
        cargo::run(Command::new("python3").args(["-m", "venv"]).arg(venv))?;
    }
    let has_all = PYTHON_HOSTS.map(|name| format!("import {name}")).join(";");
    if packages::succeeds(Command::new(&python).args(["-c", &has_all])) {
        return Ok(());
    }
    eprintln!("xtask: installing {}", PYTHON_HOSTS.join(" "));
    cargo::run(Command::new(&python).args(["-m", "pip", "--quiet", "install"]).args(PYTHON_HOSTS))
}
