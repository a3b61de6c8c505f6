//! Why the bench stops, or leaves a row out.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// What everything here returns.
pub type Outcome<T> = Result<T, Failure>;

/// Why the bench stops: one line.
#[derive(Debug)]
pub enum Failure {
    /// The command line means nothing; how it should be.
    Usage(&'static str),
    /// A peer or tool is not installed: rows are left out.
    Missing {
        /// What is missing.
        what: &'static str,
        /// How to install it.
        install: &'static str,
    },
    /// A file or folder could not be read or written.
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A program could not be run, or failed, or said what cannot be understood.
    Program {
        /// The program.
        program: String,
        /// What is wrong.
        message: String,
    },
    /// A figure is not what the other side measured, so a comparison of times means nothing.
    Rule(String),
}

impl Failure {
    /// For `map_err` after a call on `path`.
    pub fn io(path: &Path) -> impl FnOnce(io::Error) -> Self {
        move |source| Self::Io { path: path.to_owned(), source }
    }

    /// For `map_err` after a call on `program`.
    pub fn program<E: fmt::Display>(program: &str) -> impl FnOnce(E) -> Self {
        move |error| Self::Program { program: program.to_owned(), message: error.to_string() }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Usage(usage) => write!(f, "usage: {usage}"),
            Self::Missing { what, install } => {
                write!(f, "{what} is not installed, its rows are left out: {install}")
            }
            Self::Io { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Program { program, message } => write!(f, "{program}: {message}"),
            Self::Rule(line) => f.write_str(line),
        }
    }
}

impl std::error::Error for Failure {}
