//! Calls to cargo, and what it says about the files that it built.

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::failure::Failure;
use crate::packages;

/// How to build.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Profile {
    /// Quick to build, with debug assertions.
    Debug,
    /// What is installed.
    Release,
}

/// The files of one build that the commands need.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Built {
    /// The plugin's shared library.
    pub plugin_library: Option<PathBuf>,
    /// The demo program.
    pub demo_program: Option<PathBuf>,
    /// The bench program, if it was asked for.
    pub bench_program: Option<PathBuf>,
    /// The headless check, if it was asked for.
    pub check_program: Option<PathBuf>,
}

/// The folder that holds the workspace's `Cargo.toml`.
pub(crate) fn workspace_root() -> Result<PathBuf, Failure> {
    // Set by `cargo run`; the compiled-in value serves a program that is started by hand.
    let manifest_dir = std::env::var_os("CARGO_MANIFEST_DIR")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")), PathBuf::from);
    match manifest_dir.parent() {
        Some(root) if root.join("Cargo.toml").is_file() => Ok(root.to_owned()),
        _ => Err(Failure::Rule(format!(
            "{}: the folder above must hold the workspace's Cargo.toml; run this as `cargo xtask`",
            manifest_dir.display()
        ))),
    }
}

/// A cargo call on the workspace; the caller's folder stays the current one.
pub(crate) fn command(subcommand: &str) -> Result<Command, Failure> {
    let program = std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo"));
    let mut command = Command::new(program);
    command.arg(subcommand).arg("--manifest-path").arg(workspace_root()?.join("Cargo.toml"));
    Ok(command)
}

/// Runs `command` with our own output; a status other than 0 is a failure.
pub(crate) fn run(command: &mut Command) -> Result<(), Failure> {
    let program = command.get_program().to_string_lossy().into_owned();
    match command.status() {
        Err(source) => Err(Failure::Start { program, source }),
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(Failure::Child { program, status: exit_status(status.code()) }),
    }
}

fn exit_status(code: Option<i32>) -> u8 {
    code.and_then(|code| u8::try_from(code).ok()).filter(|code| *code != 0).unwrap_or(1)
}

pub(crate) fn output(command: &mut Command) -> Result<String, Failure> {
    let program = command.get_program().to_string_lossy().into_owned();
    let output = match command.stderr(Stdio::inherit()).output() {
        Err(source) => return Err(Failure::Start { program, source }),
        Ok(output) => output,
    };
    if !output.status.success() {
        let status = exit_status(output.status.code());
        return Err(Failure::Child { program, status });
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// Builds plugin and demo program. Progress and compiler messages go to stderr.
///
/// Both in one call, even where only the plugin is wanted: cargo then settles on one set of
/// features for what both depend on, and every command shares one build of it. Built apart, the
/// graphics libraries would be compiled twice, which takes minutes.
pub(crate) fn build(profile: Profile) -> Result<Built, Failure> {
    build_with(profile, &[])
}

/// The same and the bench program, which takes another half minute to link.
pub(crate) fn build_with_bench(profile: Profile) -> Result<Built, Failure> {
    build_with(profile, &["--bin", "bench"])
}

/// The headless check alone. Its feature is never asked for together with the plugin: cargo would
/// build the plugin with it.
pub(crate) fn build_check(profile: Profile) -> Result<Built, Failure> {
    let mut command = command("build")?;
    // The tests' package only settles the features of what is shared, as in `build`.
    command.args(["--package", "plimsoll", "--package", "plimsoll-tests"]);
    command.args(["--features", headless(), "--bin", "plimsoll"]);
    finish_build(command, profile)
}

/// The feature of the check that is handed on. Without the MP3 encoder: what its licence asks of who
/// hands it on, no archive does.
pub(crate) const HANDED_ON: &str = "plimsoll/headless";

/// The feature of the headless check, as seen from the workspace; with the MP3 encoder wherever it
/// can be built: its build runs `make`, except on Windows.
pub(crate) fn headless() -> &'static str {
    if cfg!(windows) || packages::succeeds(Command::new("make").arg("--version")) {
        return "plimsoll/mp3";
    }
    eprintln!("xtask: there is no make here: the check is built without its MP3 encoder");
    "plimsoll/headless"
}

fn build_with(profile: Profile, more: &[&str]) -> Result<Built, Failure> {
    let mut command = command("build")?;
    command.args(["--package", "plimsoll", "--package", "plimsoll-tests"]);
    command.args(["--lib", "--bin", "demo"]).args(more);
    finish_build(command, profile)
}

/// The plugin's library for another processor, by the compiler's name of it.
pub(crate) fn build_library_for(target: &str, profile: Profile) -> Result<Built, Failure> {
    let mut command = command("build")?;
    command.args(["--package", "plimsoll", "--lib", "--target", target]);
    finish_build(command, profile)
}

/// Runs `command`, a build that names its profile unless it is [`Profile::Release`], and says what it
/// built.
pub(crate) fn finish_build(mut command: Command, profile: Profile) -> Result<Built, Failure> {
    command.args(["--message-format", "json-render-diagnostics"]);
    if profile == Profile::Release {
        command.arg("--release");
    }
    Ok(built_files(&output(&mut command)?))
}

/// Picks the files out of cargo's messages, one JSON object a line.
fn built_files(messages: &str) -> Built {
    let mut built = Built::default();
    for line in messages.lines() {
        let Ok(message) = serde_json::from_str::<Value>(line) else {
            continue;
        };
        let name = message.pointer("/target/name").and_then(Value::as_str);
        if name == Some("plimsoll") {
            let files = message.get("filenames").and_then(Value::as_array);
            let library =
                files.into_iter().flatten().filter_map(Value::as_str).map(Path::new).find(|file| {
                    file.extension() == Some(OsStr::new(std::env::consts::DLL_EXTENSION))
                });
            if let Some(library) = library {
                built.plugin_library = Some(library.to_owned());
            }
        }
        let program = message.get("executable").and_then(Value::as_str).map(PathBuf::from);
        match name {
            Some("demo") => built.demo_program = program.or(built.demo_program),
            Some("plimsoll") => built.check_program = program.or(built.check_program),
            Some("bench") => built.bench_program = program.or(built.bench_program),
            _ => {}
        }
    }
    built
}

/// The folder for everything that is built, wherever the user's configuration puts it.
pub(crate) fn target_directory() -> Result<PathBuf, Failure> {
    let mut command = command("metadata")?;
    command.args(["--no-deps", "--format-version", "1"]);
    let metadata = output(&mut command)?;
    serde_json::from_str::<Value>(&metadata)
        .ok()
        .as_ref()
        .and_then(|metadata| metadata.get("target_directory"))
        .and_then(Value::as_str)
        .map(PathBuf::from)
        .ok_or_else(|| Failure::Rule("cargo metadata names no target_directory".to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_found_in_the_messages_and_everything_else_is_passed_over() {
        let library = format!("/t/release/libplimsoll.{}", std::env::consts::DLL_EXTENSION);
        let messages = format!(
            "not json\n\
             {{\"reason\":\"compiler-artifact\",\"target\":{{\"name\":\"plimsoll\"}},\
             \"filenames\":[\"/t/release/libplimsoll.rlib\",\"{library}\"],\"executable\":null}}\n\
             {{\"reason\":\"compiler-artifact\",\"target\":{{\"name\":\"demo\"}},\
             \"filenames\":[\"/t/release/demo\"],\"executable\":\"/t/release/demo\"}}\n\
             {{\"reason\":\"compiler-artifact\",\"target\":{{\"name\":\"plimsoll\"}},\
             \"filenames\":[\"/t/release/plimsoll\"],\"executable\":\"/t/release/plimsoll\"}}\n\
             {{\"reason\":\"build-finished\",\"success\":true}}\n"
        );
        let expected = Built {
            plugin_library: Some(PathBuf::from(library)),
            demo_program: Some(PathBuf::from("/t/release/demo")),
            bench_program: None,
            check_program: Some(PathBuf::from("/t/release/plimsoll")),
        };
        assert_eq!(built_files(&messages), expected);
    }

    #[test]
    fn a_status_that_is_not_zero_never_becomes_zero() {
        assert_eq!(exit_status(Some(101)), 101);
        assert_eq!(exit_status(Some(256)), 1);
        assert_eq!(exit_status(None), 1);
    }
}
