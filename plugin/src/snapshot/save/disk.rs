//! What saving asks of a disk, so that a test can put one there that is full or breaks.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Names that are tried before giving up on a folder full of temporary files of others. The
/// project's own choice, no source.
const TRIES: u32 = 100;

/// Steps on files.
pub(super) trait Disk {
    /// Whether there is something of this name, be it a link to nowhere.
    fn exists(&self, path: &Path) -> bool;
    /// Makes a file that must not be there, writes it and flushes it to the disk. A file that
    /// could not be written in full may stay.
    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Makes an empty file that must not be there.
    fn claim(&self, path: &Path) -> io::Result<()>;
    /// Gives a file a second name, which must not be there.
    fn link(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Gives a file another name, in place of whatever has it.
    fn replace(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Flushes the names in a folder, as far as the system can.
    fn sync_folder(&self, folder: &Path);
}

/// The system's own.
pub(super) struct RealDisk;

impl Disk for RealDisk {
    fn exists(&self, path: &Path) -> bool {
        path.symlink_metadata().is_ok()
    }

    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    }

    fn claim(&self, path: &Path) -> io::Result<()> {
        OpenOptions::new().write(true).create_new(true).open(path).map(drop)
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::hard_link(from, to)
    }

    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn sync_folder(&self, folder: &Path) {
        // The files are there and whole; that their names outlive a power cut is a bonus.
        if cfg!(unix)
            && let Ok(folder) = File::open(folder)
        {
            let _ = folder.sync_all();
        }
    }
}

/// Writes `bytes` under a name of its own in `folder`; leaves nothing behind if that fails.
pub(super) fn write_temporary(
    disk: &impl Disk,
    folder: &Path,
    bytes: &[u8],
) -> io::Result<PathBuf> {
    static COUNTER: AtomicU32 = AtomicU32::new(0);
    let mut tries = 0;
    loop {
        let number = COUNTER.fetch_add(1, Ordering::Relaxed);
        let path = folder.join(format!(".plimsoll-{}-{number}.tmp", std::process::id()));
        match disk.write_new(&path, bytes) {
            Ok(()) => return Ok(path),
            // Left by a process of the same number that was killed.
            Err(error) if error.kind() == ErrorKind::AlreadyExists && tries < TRIES => tries += 1,
            Err(error) => {
                if error.kind() != ErrorKind::AlreadyExists {
                    let _ = disk.remove(&path);
                }
                return Err(error);
            }
        }
    }
}

/// Gives a file its name if nothing has it; see the top of [`super`].
pub(super) fn place_new(disk: &impl Disk, from: &Path, to: &Path) -> io::Result<()> {
    match disk.link(from, to) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => {
            disk.claim(to)?;
            disk.replace(from, to).inspect_err(|_| {
                let _ = disk.remove(to);
            })
        }
        linked => linked,
    }
}
