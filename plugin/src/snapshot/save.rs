//! A snapshot into files: each as a whole or not at all, and never over another one by mistake.
//!
//! **Whole or not at all.** Every form is first written to a temporary file of its own in the same
//! folder and flushed to the disk (fsync). Only when all of them lie there, each takes its name in
//! one step, so that no reader ever finds half a file under it. Then the folder itself is flushed,
//! where a system can do that (not on Windows).
//!
//! **Never over an existing file** unless told so. The step that gives the name is then a hard
//! link, which the system itself refuses if the name is taken: between looking and writing there
//! is no moment in which another program could come. Where a file system has no hard links (FAT,
//! some network folders) the name is claimed with an empty file made by `create_new`, which is
//! refused just as surely, and the temporary file is renamed over our own claim: then a reader may
//! see the empty file for a moment, and a crash in that moment leaves it.
//!
//! **After a failure** no temporary file stays, nor any file that this call made new; the snapshot
//! is untouched and can be saved elsewhere. With [`Existing::Replace`] files that were replaced
//! before the failure stay replaced: each is whole.

mod disk;
mod error;
mod name;

pub use error::SaveError;
pub use name::is_device_name;

use super::Snapshot;
use disk::{Disk, RealDisk};
use std::path::{Path, PathBuf};

/// A form that a snapshot is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Everything, for programs.
    Json,
    /// One page, for people.
    Html,
    /// The section log as a table.
    SectionsCsv,
    /// The loudness series as a table.
    LoudnessCsv,
    /// The short summary.
    Text,
}

impl Format {
    /// Every form.
    pub const ALL: [Self; 5] =
        [Self::Json, Self::Html, Self::SectionsCsv, Self::LoudnessCsv, Self::Text];

    /// What is put behind the name that the files share.
    #[must_use]
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Json => ".json",
            Self::Html => ".html",
            Self::SectionsCsv => "-sections.csv",
            Self::LoudnessCsv => "-loudness.csv",
            Self::Text => ".txt",
        }
    }

    fn written(self, snapshot: &Snapshot) -> String {
        match self {
            Self::Json => snapshot.json(),
            Self::Html => snapshot.html(),
            Self::SectionsCsv => snapshot.sections_csv(),
            Self::LoudnessCsv => snapshot.loudness_csv(),
            Self::Text => snapshot.summary(),
        }
    }
}

/// What becomes of files that have the name already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// They stay; saving fails.
    Keep,
    /// They are replaced: the user was asked.
    Replace,
}

impl Snapshot {
    /// A name for the files, without an ending: the song's name, or its track's, and the date and
    /// time; a name of a file on all three systems.
    #[must_use]
    pub fn suggested_name(&self) -> String {
        name::suggested(&self.title(), self.about.taken)
    }

    /// Writes `formats` into `folder`, each under `name` with [`Format::ending`] behind it. Gives
    /// the paths, in the order of `formats`. Blocks: for a thread of its own.
    ///
    /// # Errors
    /// The file that could not be written and why; see the top of this module for what then stays.
    pub fn write_all(
        &self,
        folder: &Path,
        name: &str,
        formats: &[Format],
        existing: Existing,
    ) -> Result<Vec<PathBuf>, SaveError> {
        self.write_to(&RealDisk, folder, name, formats, existing)
    }

    fn write_to(
        &self,
        disk: &impl Disk,
        folder: &Path,
        name: &str,
        formats: &[Format],
        existing: Existing,
    ) -> Result<Vec<PathBuf>, SaveError> {
        name::check(name)?;
        let path = |format: &Format| folder.join(format!("{name}{}", format.ending()));
        let files = formats.iter().map(|format| (path(format), || format.written(self)));
        write(disk, files, existing)
    }
}

/// Writes `files`, each path with its text: all of them or none, as the top of this module says.
/// Blocks.
///
/// # Errors
/// The file that could not be written and why.
pub fn write_files(files: Vec<(PathBuf, String)>, existing: Existing) -> Result<(), SaveError> {
    let files = files.into_iter().map(|(path, text)| (path, || text));
    write(&RealDisk, files, existing).map(drop)
}

fn write(
    disk: &impl Disk,
    files: impl Iterator<Item = (PathBuf, impl FnOnce() -> String)>,
    existing: Existing,
) -> Result<Vec<PathBuf>, SaveError> {
    let mut pending = Vec::new();
    let done = { files }.try_for_each(|(path, text)| {
        // Told before anything is written; that it still holds is made sure below.
        if existing == Existing::Keep && disk.exists(&path) {
            return Err(SaveError::Exists { path });
        }
        let written = disk::write_temporary(disk, folder_of(&path), text().as_bytes());
        let temporary = written.map_err(|error| SaveError::of(&path, error))?;
        pending.push(Pending { path, temporary, is_placed: false });
        Ok(())
    });
    let done = done.and_then(|()| place_all(disk, &mut pending, existing));
    for file in &pending {
        // A file that was renamed is gone from its temporary name; one that was linked is not.
        let _ = disk.remove(&file.temporary);
        if done.is_err() && file.is_placed && existing == Existing::Keep {
            let _ = disk.remove(&file.path);
        }
    }
    done?;
    let paths: Vec<PathBuf> = pending.into_iter().map(|file| file.path).collect();
    let mut folders: Vec<&Path> = paths.iter().map(|path| folder_of(path)).collect();
    folders.dedup();
    folders.into_iter().for_each(|folder| disk.sync_folder(folder));
    Ok(paths)
}

/// The folder that a file lies in.
#[must_use]
pub fn folder_of(path: &Path) -> &Path {
    let parent = path.parent().unwrap_or(Path::new("."));
    if parent.as_os_str().is_empty() { Path::new(".") } else { parent }
}

/// A file that lies under its temporary name, flushed.
struct Pending {
    path: PathBuf,
    temporary: PathBuf,
    /// Whether it has its own name.
    is_placed: bool,
}

fn place_all(disk: &impl Disk, files: &mut [Pending], existing: Existing) -> Result<(), SaveError> {
    for file in files {
        let placed = match existing {
            Existing::Replace => disk.replace(&file.temporary, &file.path),
            Existing::Keep => disk::place_new(disk, &file.temporary, &file.path),
        };
        placed.map_err(|error| SaveError::of(&file.path, error))?;
        file.is_placed = true;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
