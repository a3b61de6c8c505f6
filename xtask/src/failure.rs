//! Why a command stops.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why a command stops. Every message is one line that names what failed, the value and the rule.
#[derive(Debug)]
pub(crate) enum Failure {
    /// A program could not be started.
    Start {
        /// The program.
        program: String,
        /// What the system says.
        source: io::Error,
    },
    /// A program ran, said why, and ended with this status.
    Child {
        /// The program.
        program: String,
        /// Its exit status, 1 to 255; 1 if a signal ended it.
        status: u8,
    },
    /// A file or folder could not be read, written, copied.
    Io {
        /// What was tried, for example "copy to".
        action: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Anything else, as one finished line.
    Rule(String),
}

impl Failure {
    /// For `map_err` after a call on `path`.
    pub(crate) fn io(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        move |source| Self::Io { action, path: path.to_owned(), source }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Start { program, source } => write!(f, "cannot start {program}: {source}"),
            Self::Child { program, status } => write!(f, "{program} ended with status {status}"),
            Self::Io { action, path, source } => {
                write!(f, "cannot {action} {}: {source}", path.display())
            }
            Self::Rule(line) => f.write_str(line),
        }
    }
}

impl std::error::Error for Failure {}
