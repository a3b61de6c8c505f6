//! `cargo xtask check` and `compare`: builds the headless check and runs it.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::Command;

use crate::cargo::{self, Profile};
use crate::failure::Failure;

/// Builds and runs it; its output and exit status are ours.
pub(crate) fn run(subcommand: &str, words: &[OsString]) -> Result<(), Failure> {
    let program = build(Profile::Release)?;
    cargo::run(Command::new(program).arg(subcommand).args(words))
}

/// Builds the program and says where it is.
pub(crate) fn build(profile: Profile) -> Result<PathBuf, Failure> {
    let built = cargo::build_check(profile)?;
    built.check_program.ok_or_else(|| {
        Failure::Rule(
            "cargo built no program \"plimsoll\"; plugin/Cargo.toml must list it".to_owned(),
        )
    })
}
