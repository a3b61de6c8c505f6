//! Real songs for the tests: freely licensed music out of a Debian package, fetched with the
//! package client and unpacked, never installed.

use crate::audio_file::{self, Audio};
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

/// The package: three songs of 66 to 323 s, Ogg Vorbis, stereo, 44.1 kHz; the music is under
/// CC-BY-SA-3.0 by the package's copyright file. It is measured, not passed on.
pub const PACKAGE: &str = "hex-a-hop-data";
/// A song is at least this long, in s; what is shorter is an effect.
pub const MIN_SONG_S: f64 = 60.0;

/// Why there are no songs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Skipped {
    /// The reason, to follow the word "because".
    pub because: String,
}

impl fmt::Display for Skipped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "skipped because {}", self.because)
    }
}

impl std::error::Error for Skipped {}

/// One fetch at a time within a process.
static FETCH: Mutex<()> = Mutex::new(());

/// The audio files of [`PACKAGE`], sorted by name, fetched at the first call and kept below the
/// cargo target folder. Short effects are among them: see [`MIN_SONG_S`].
///
/// # Errors
/// [`Skipped`] where there is no Debian package client or it does not get the package.
pub fn files() -> Result<Vec<PathBuf>, Skipped> {
    let _one_at_a_time = FETCH.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let folder = target_folder().join("music").join(PACKAGE);
    let unpacked = folder.join("unpacked");
    if !unpacked.is_dir() {
        fetch(&folder, &unpacked)?;
    }
    let mut files = Vec::new();
    collect(&unpacked, &mut files);
    files.sort();
    if files.is_empty() {
        return Err(Skipped {
            because: format!("{PACKAGE} holds no audio file that is read here"),
        });
    }
    Ok(files)
}

/// The package's songs, each with the name of its file; `None`, with the reason printed, where they
/// cannot be had.
///
/// # Panics
/// If a file cannot be read, or if there are fewer than three songs.
#[must_use]
pub fn songs() -> Option<Vec<(String, Audio)>> {
    let files = match files() {
        Ok(files) => files,
        Err(skipped) => {
            println!("real songs: {skipped}");
            return None;
        }
    };
    let songs: Vec<(String, Audio)> = files
        .iter()
        .map(|file| {
            let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
            (name, audio_file::read(file).unwrap_or_else(|error| panic!("{error}")))
        })
        .filter(|(_, audio)| audio.len_s() >= MIN_SONG_S)
        .collect();
    assert!(songs.len() >= 3, "{PACKAGE} has only {} songs", songs.len());
    Some(songs)
}

fn fetch(folder: &Path, unpacked: &Path) -> Result<(), Skipped> {
    let failed =
        |what: &str, error: &dyn fmt::Display| Skipped { because: format!("{what}: {error}") };
    std::fs::create_dir_all(folder).map_err(|e| failed("the cache folder cannot be made", &e))?;
    let download = || run("apt-get", &["download", PACKAGE], folder);
    if let Err(first) = download() {
        if first.is_absent {
            return Err(Skipped {
                because: "this system has no apt-get to fetch the music package with".to_owned(),
            });
        }
        // Empty package lists are the usual reason; filling them needs no package installed.
        run("apt-get", &["update"], folder).map_err(|e| failed("apt-get update failed", &e))?;
        download().map_err(|e| failed("apt-get download failed", &e))?;
    }
    let package = std::fs::read_dir(folder)
        .map_err(|e| failed("the cache folder cannot be read", &e))?
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .find(|path| path.extension().is_some_and(|extension| extension == "deb"))
        .ok_or_else(|| failed("apt-get download left no package", &PACKAGE))?;
    // Unpack beside and rename: an unpacked folder is a whole one.
    let half = folder.join("half");
    let _ = std::fs::remove_dir_all(&half);
    let (package, half_text) = (package.to_string_lossy(), half.to_string_lossy());
    run("dpkg-deb", &["-x", &package, &half_text], folder)
        .map_err(|e| failed("dpkg-deb -x failed", &e))?;
    std::fs::rename(&half, unpacked).map_err(|e| failed("the unpacked folder cannot be moved", &e))
}

/// Why a command did not do its work.
struct CommandFailed {
    /// The program is not there.
    is_absent: bool,
    message: String,
}

impl fmt::Display for CommandFailed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> Result<(), CommandFailed> {
    let output =
        Command::new(program).args(arguments).current_dir(folder).output().map_err(|error| {
            CommandFailed {
                is_absent: error.kind() == std::io::ErrorKind::NotFound,
                message: error.to_string(),
            }
        })?;
    if output.status.success() {
        return Ok(());
    }
    let text = String::from_utf8_lossy(&output.stderr);
    Err(CommandFailed {
        is_absent: false,
        message: text.lines().last().unwrap_or("no message").to_owned(),
    })
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for path in entries.filter_map(Result::ok).map(|entry| entry.path()) {
        if path.is_dir() && !path.is_symlink() {
            collect(&path, files);
        } else if path
            .extension()
            .is_some_and(|extension| ["ogg", "flac", "wav"].iter().any(|&kind| extension == kind))
        {
            files.push(path);
        }
    }
}

/// The cargo target folder this binary was built into: the nearest folder above it that cargo
/// marked as its own, else `target` in the workspace.
#[must_use]
pub fn target_folder() -> PathBuf {
    std::env::current_exe()
        .ok()
        .and_then(|binary| {
            binary
                .ancestors()
                .find(|folder| folder.join("CACHEDIR.TAG").is_file())
                .map(Path::to_owned)
        })
        .unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../target"))
}
