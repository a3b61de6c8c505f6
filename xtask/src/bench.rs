//! `cargo xtask bench`: builds the bench program and runs it.

use std::process::Command;

use crate::cargo::{self, Profile};
use crate::check;
use crate::failure::Failure;

/// Builds and runs the bench; the table goes to stdout and to a file in `target/bench`.
pub(crate) fn run() -> Result<(), Failure> {
    eprintln!("Building the bench (the first time takes minutes) …");
    let built = cargo::build_with_bench(Profile::Release)?;
    let Some(program) = built.bench_program else {
        return Err(Failure::Rule(
            "cargo built no program \"bench\"; tests/src/bin must hold it".to_owned(),
        ));
    };
    let check = check::build(Profile::Release)?;
    let out = cargo::target_directory()?.join("bench");
    cargo::run(Command::new(program).arg("--out").arg(out).arg("--check").arg(check))
}
