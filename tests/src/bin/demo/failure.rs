//! Why the demo stops.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use plimsoll::snapshot::SaveError;
use plimsoll_tests::audio_file::AudioFileError;
use plimsoll_tests::host::HostError;
use plimsoll_tests::raster::PictureError;

/// Why the demo stops: one line that names the file, the value and the rule.
#[derive(Debug)]
pub enum Failure {
    /// A word on the command line that means nothing.
    Usage(String),
    /// No built-in target has this name.
    UnknownTarget {
        /// The name that was asked for.
        name: String,
        /// The names there are.
        known: Vec<String>,
    },
    /// The song could not be read or written.
    Audio(AudioFileError),
    /// A file or folder could not be written.
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The editor's picture could not be written.
    Picture {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: PictureError,
    },
    /// The snapshot could not be written.
    Snapshot(SaveError),
    /// The host could not play the plugin; what it says.
    Host(HostError),
    /// The plugin changed the audio.
    Changed {
        /// The plugin.
        plugin: PathBuf,
        /// Samples that came out other than they went in.
        samples: u64,
    },
    /// The plugin's state holds no measurement that can be read.
    NoMeasurement {
        /// The plugin.
        plugin: PathBuf,
        /// What is wrong with it.
        message: String,
    },
    /// The plugin in the host and the meters without a host disagree.
    Disagree {
        /// What the plugin saved.
        plugin: String,
        /// What the direct path measured.
        direct: String,
    },
}

impl Failure {
    /// For `map_err` after writing to `path`.
    pub fn io(path: &Path) -> impl FnOnce(io::Error) -> Self {
        move |source| Self::Io { path: path.to_owned(), source }
    }
}

impl From<AudioFileError> for Failure {
    fn from(error: AudioFileError) -> Self {
        Self::Audio(error)
    }
}

impl From<HostError> for Failure {
    fn from(error: HostError) -> Self {
        Self::Host(error)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Usage(line) => f.write_str(line),
            Self::UnknownTarget { name, known } => {
                let known = known.join("\", \"");
                write!(f, "no target \"{name}\"; there are \"{known}\"")
            }
            Self::Audio(error) => error.fmt(f),
            Self::Io { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Picture { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Snapshot(error) => error.fmt(f),
            Self::Host(error) => write!(f, "playing the plugin: {error}"),
            Self::Changed { plugin, samples } => write!(
                f,
                "{}: {samples} samples came out other than they went in; it must change none",
                plugin.display()
            ),
            Self::NoMeasurement { plugin, message } => {
                write!(f, "{}: no measurement in the plugin's state: {message}", plugin.display())
            }
            Self::Disagree { plugin, direct } => write!(
                f,
                "the plugin in the host and the meters without a host must agree bit for bit; \
                 host: {plugin}; direct: {direct}"
            ),
        }
    }
}

impl std::error::Error for Failure {}
