//! The headless program, run as a user runs it.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What one run of the program said.
pub struct Said {
    /// Exit status.
    pub status: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Said {
    /// The standard output as JSON.
    ///
    /// # Panics
    /// If it is none.
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}", self.out))
    }
}

/// The built program; `None`, with the reason printed, where there is none: `cargo xtask test`
/// builds it and says where it is.
#[must_use]
pub fn program() -> Option<PathBuf> {
    let path = std::env::var_os("PLIMSOLL_CHECK").map(PathBuf::from);
    if path.is_none() {
        println!("skipped because PLIMSOLL_CHECK names no built program (cargo xtask test)");
    }
    path
}

/// Runs the program with `words`, then `files`.
///
/// # Panics
/// If it does not start, ends by a signal, or says what is no text.
#[must_use]
pub fn run(program: &Path, words: &[&str], files: &[&Path]) -> Said {
    let mut command = Command::new(program);
    command.args(words).args(files).stdin(Stdio::null());
    let output = command.output().unwrap_or_else(|error| panic!("{}: {error}", program.display()));
    let text = |bytes: Vec<u8>| {
        String::from_utf8(bytes).unwrap_or_else(|error| panic!("not UTF-8: {error}"))
    };
    Said {
        status: output.status.code().unwrap_or_else(|| panic!("ended by a signal")),
        out: text(output.stdout),
        err: text(output.stderr),
    }
}

/// A folder of its own for each test of a program, below the system's temporary folder.
///
/// # Panics
/// If it cannot be made.
#[must_use]
pub fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("plimsoll-{}-{name}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap_or_else(|error| panic!("{error}"));
    folder
}
