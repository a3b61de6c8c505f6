//! `cargo xtask test`: everything that CI runs. The test runner comes last, so that its closing
//! lines are the last ones and its exit status is ours.

use std::ffi::OsString;
use std::process::Command;

use crate::bundle;
use crate::cargo::{self, Profile};
use crate::check;
use crate::failure::Failure;
use crate::packages;

/// The toolchain that formatting and lints are held to; `rust-version` of the workspace.
const RUST_VERSION: &str = env!("CARGO_PKG_RUST_VERSION");

/// System packages, formatting, lints, bundle, tests.
pub(crate) fn run(runner_args: &[OsString]) -> Result<(), Failure> {
    packages::provide();
    format_and_lints()?;
    dependencies()?;

    // The bundle under test is the one that is installed: the release build. The linked plugin in
    // the same tests has debug assertions, so that both builds are covered.
    step("bundle");
    let built = cargo::build_with_bench(Profile::Release)?;
    let bundle = bundle::write(&built, Profile::Release)?.clap;
    step("headless check");
    let check = check::build(Profile::Release)?;

    step("tests");
    let mut tests = cargo::command("test")?;
    tests.args(["--workspace", "--features", cargo::headless(), "--no-fail-fast"]);
    tests.args(runner_args);
    tests.env("PLIMSOLL_CLAP", bundle);
    tests.env("PLIMSOLL_CHECK", check);
    if let Some(bench) = built.bench_program {
        tests.env("PLIMSOLL_BENCH", bench);
    }
    cargo::run(&mut tests)
}

fn step(name: &str) {
    eprintln!("xtask test: {name}");
}

/// `cargo fmt` and `cargo clippy`, where they are installed. Warnings are errors with the stated
/// toolchain; another one has other opinions, which are printed and stop nothing.
fn format_and_lints() -> Result<(), Failure> {
    let stated = is_stated_toolchain(&packages::version_line("rustc")?);
    if has("fmt")? {
        step("formatting");
        let mut format = cargo::command("fmt")?;
        format.args(["--all", "--check"]);
        stop_if(stated, "formatting (cargo fmt mends it)", cargo::run(&mut format))?;
    } else {
        step("formatting skipped: cargo fmt is missing (rustup component add rustfmt)");
    }
    if has("clippy")? {
        step("lints");
        let mut lints = cargo::command("clippy")?;
        lints.args(["--quiet", "--workspace", "--all-targets", "--features", cargo::headless()]);
        if stated {
            lints.args(["--", "--deny", "warnings"]);
        }
        stop_if(stated, "lints", cargo::run(&mut lints))?;
    } else {
        step("lints skipped: cargo clippy is missing (rustup component add clippy)");
    }
    Ok(())
}

/// What comes into the build: licences and sources, and what nothing uses; where the tools are
/// installed.
fn dependencies() -> Result<(), Failure> {
    if has("deny")? {
        step("licences and sources");
        cargo::run(cargo::command("deny")?.args(["check", "licenses", "bans", "sources"]))?;
    } else {
        step("licences and sources skipped: cargo deny is missing (cargo install cargo-deny)");
    }
    if has("shear")? {
        step("unused dependencies");
        // It takes the folder, not the manifest.
        cargo::run(Command::new("cargo").arg("shear").arg(cargo::workspace_root()?))
    } else {
        step(
            "unused dependencies skipped: cargo shear is missing (cargo install --locked \
             cargo-shear@1.11.2; the newest needs a newer Rust)",
        );
        Ok(())
    }
}

fn has(subcommand: &str) -> Result<bool, Failure> {
    let program = std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo"));
    Ok(packages::succeeds(Command::new(program).args([subcommand, "--version"])))
}

fn is_stated_toolchain(version_line: &str) -> bool {
    version_line
        .strip_prefix("rustc ")
        .is_some_and(|version| version.starts_with(&format!("{RUST_VERSION}.")))
}

fn stop_if(stated: bool, what: &str, outcome: Result<(), Failure>) -> Result<(), Failure> {
    match outcome {
        Err(Failure::Child { .. }) if !stated => {
            step(&format!(
                "{what}: this toolchain objects; only Rust {RUST_VERSION} counts, going on"
            ));
            Ok(())
        }
        Err(Failure::Child { .. }) => {
            Err(Failure::Rule(format!("test stops at {what}: see above")))
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_stated_toolchain_is_strict() {
        assert!(is_stated_toolchain(&format!("rustc {RUST_VERSION}.0 (0123456 2026-01-01)")));
        assert!(!is_stated_toolchain(&format!("rustc {RUST_VERSION}0.0 (0123456 2026-01-01)")));
        assert!(!is_stated_toolchain("rustc 2.0.0"));
        assert!(!is_stated_toolchain(""));
    }

    #[test]
    fn a_finding_stops_the_run_with_the_stated_toolchain_only() {
        let finding = || Err(Failure::Child { program: "cargo".to_owned(), status: 1 });
        assert!(stop_if(true, "lints", finding()).is_err());
        assert!(stop_if(false, "lints", finding()).is_ok());
        assert!(stop_if(true, "lints", Ok(())).is_ok());
    }
}
