//! Why a snapshot could not be saved.

use std::fmt;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Why a snapshot could not be saved. It is still there to be saved elsewhere.
#[derive(Debug)]
pub enum SaveError {
    /// A name that is no name of a file on all three systems.
    BadName {
        /// The name.
        name: String,
        /// The rule that it breaks.
        rule: &'static str,
    },
    /// There is a file of this name already.
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The folder is not there, or is no folder.
    NoFolder {
        /// The file that was to be written in it.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The folder or the file may not be written to.
    NotAllowed {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The disk, or the share of it that one may use, is full.
    Full {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Anything else.
    Other {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

impl SaveError {
    /// What went wrong with the file at `path`.
    pub(super) fn of(path: &Path, source: io::Error) -> Self {
        let path = path.to_owned();
        match source.kind() {
            ErrorKind::AlreadyExists => Self::Exists { path },
            ErrorKind::NotFound | ErrorKind::NotADirectory => Self::NoFolder { path, source },
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                Self::NotAllowed { path, source }
            }
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => Self::Full { path, source },
            _ => Self::Other { path, source },
        }
    }
}

impl fmt::Display for SaveError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadName { name, rule } => write!(f, "name \"{}\": {rule}", name.escape_debug()),
            Self::Exists { path } => {
                write!(f, "{}: there is a file of this name already", path.display())
            }
            Self::NoFolder { path, source } => {
                write!(f, "{}: there is no such folder ({source})", path.display())
            }
            Self::NotAllowed { path, source } => {
                write!(f, "{}: may not be written ({source})", path.display())
            }
            Self::Full { path, source } => write!(f, "{}: no room left ({source})", path.display()),
            Self::Other { path, source } => write!(f, "{}: {source}", path.display()),
        }
    }
}

impl std::error::Error for SaveError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::BadName { .. } | Self::Exists { .. } => None,
            Self::NoFolder { source, .. }
            | Self::NotAllowed { source, .. }
            | Self::Full { source, .. }
            | Self::Other { source, .. } => Some(source),
        }
    }
}
