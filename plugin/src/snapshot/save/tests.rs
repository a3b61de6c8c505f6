//! Saving, on the real disk and on disks that fail at every step.

use super::super::testing::Song;
use super::disk::{Disk, RealDisk};
use super::{Existing, Format, SaveError};
use std::cell::Cell;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// A folder that goes when the test ends.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("plimsoll-save-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir(&path).unwrap();
        Self(path)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A disk that does the real thing until a step of the given kind comes for the n-th time.
#[derive(Default)]
struct Failing {
    write: Cell<Option<usize>>,
    claim: Cell<Option<usize>>,
    link: Cell<Option<usize>>,
    replace: Cell<Option<usize>>,
    /// Whether hard links are there at all.
    no_links: bool,
}

fn fails(counter: &Cell<Option<usize>>) -> bool {
    let left = counter.get();
    counter.set(left.and_then(|left| left.checked_sub(1)));
    left == Some(0)
}

fn error(kind: ErrorKind) -> io::Error {
    io::Error::from(kind)
}

impl Disk for Failing {
    fn exists(&self, path: &Path) -> bool {
        RealDisk.exists(path)
    }

    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if fails(&self.write) {
            // A disk that fills while it is written leaves a part.
            fs::write(path, &bytes[..bytes.len() / 2]).unwrap();
            return Err(error(ErrorKind::StorageFull));
        }
        RealDisk.write_new(path, bytes)
    }

    fn claim(&self, path: &Path) -> io::Result<()> {
        if fails(&self.claim) {
            return Err(error(ErrorKind::StorageFull));
        }
        RealDisk.claim(path)
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        if self.no_links {
            return Err(error(ErrorKind::Unsupported));
        }
        if fails(&self.link) {
            // Anything but "taken" makes it claim the name instead.
            return Err(error(ErrorKind::AlreadyExists));
        }
        RealDisk.link(from, to)
    }

    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        if fails(&self.replace) {
            return Err(error(ErrorKind::PermissionDenied));
        }
        RealDisk.replace(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        RealDisk.remove(path)
    }

    fn sync_folder(&self, folder: &Path) {
        RealDisk.sync_folder(folder);
    }
}

#[test]
fn every_form_is_written_under_the_name_and_nothing_else_is_left() {
    let folder = Folder::new("all");
    let snapshot = Song::new().snapshot();
    let name = snapshot.suggested_name();
    let paths = snapshot.write_all(&folder.0, &name, &Format::ALL, Existing::Keep).unwrap();
    assert_eq!(paths.len(), 5);
    let mut expected: Vec<String> =
        Format::ALL.iter().map(|format| format!("{name}{}", format.ending())).collect();
    expected.sort();
    assert_eq!(folder.names(), expected);
    for (path, format) in paths.iter().zip(Format::ALL) {
        assert_eq!(fs::read_to_string(path).unwrap(), format.written(&snapshot));
    }
}

#[test]
fn an_existing_file_is_kept_unless_it_may_be_replaced() {
    let folder = Folder::new("existing");
    let snapshot = Song::new().snapshot();
    fs::write(folder.0.join("song.html"), "mine").unwrap();
    let formats = [Format::Json, Format::Html];
    let error = snapshot.write_all(&folder.0, "song", &formats, Existing::Keep).unwrap_err();
    assert!(matches!(&error, SaveError::Exists { path } if path.ends_with("song.html")));
    assert_eq!(folder.names(), ["song.html"]);
    assert_eq!(fs::read_to_string(folder.0.join("song.html")).unwrap(), "mine");

    snapshot.write_all(&folder.0, "song", &formats, Existing::Replace).unwrap();
    assert_eq!(folder.names(), ["song.html", "song.json"]);
    assert_eq!(fs::read_to_string(folder.0.join("song.html")).unwrap(), snapshot.html());
}

#[test]
fn a_file_that_comes_between_looking_and_writing_is_kept_too() {
    // The look before finds nothing; the link then finds the name taken, and so does the claim of
    // a file system without links.
    for no_links in [false, true] {
        struct Late {
            inner: Failing,
        }
        impl Disk for Late {
            fn exists(&self, _: &Path) -> bool {
                false
            }
            fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
                self.inner.write_new(path, bytes)
            }
            fn claim(&self, path: &Path) -> io::Result<()> {
                self.inner.claim(path)
            }
            fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
                self.inner.link(from, to)
            }
            fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
                self.inner.replace(from, to)
            }
            fn remove(&self, path: &Path) -> io::Result<()> {
                self.inner.remove(path)
            }
            fn sync_folder(&self, _: &Path) {}
        }
        let folder = Folder::new(if no_links { "late-claim" } else { "late-link" });
        fs::write(folder.0.join("song.html"), "mine").unwrap();
        let disk = Late { inner: Failing { no_links, ..Failing::default() } };
        let formats = [Format::Json, Format::Html];
        let done =
            Song::new().snapshot().write_to(&disk, &folder.0, "song", &formats, Existing::Keep);
        assert!(matches!(done, Err(SaveError::Exists { .. })), "{done:?}");
        // The JSON, which had its name already, is taken back.
        assert_eq!(folder.names(), ["song.html"]);
        assert_eq!(fs::read_to_string(folder.0.join("song.html")).unwrap(), "mine");
    }
}

#[test]
fn a_disk_without_links_is_written_to_as_well() {
    let folder = Folder::new("no-links");
    let snapshot = Song::new().snapshot();
    let disk = Failing { no_links: true, ..Failing::default() };
    let formats = [Format::Json, Format::Text];
    snapshot.write_to(&disk, &folder.0, "song", &formats, Existing::Keep).unwrap();
    assert_eq!(folder.names(), ["song.json", "song.txt"]);
    assert_eq!(fs::read_to_string(folder.0.join("song.json")).unwrap(), snapshot.json());
}

#[test]
fn a_failure_at_any_step_leaves_nothing_behind() {
    let snapshot = Song::new().snapshot();
    let formats = [Format::Json, Format::Html, Format::Text];
    let at = |n| Cell::new(Some(n));
    for n in 0..3 {
        let disks = [
            ("write", Failing { write: at(n), ..Failing::default() }),
            ("link", Failing { link: at(n), ..Failing::default() }),
            ("claim", Failing { no_links: true, claim: at(n), ..Failing::default() }),
            ("rename", Failing { no_links: true, replace: at(n), ..Failing::default() }),
        ];
        for (step, disk) in disks {
            let folder = Folder::new(&format!("failing-{step}-{n}"));
            let done = snapshot.write_to(&disk, &folder.0, "song", &formats, Existing::Keep);
            let path = folder.0.join(format!("song{}", formats[n].ending()));
            let message = done.unwrap_err().to_string();
            assert!(message.starts_with(&path.display().to_string()), "{step} {n}: {message}");
            assert_eq!(folder.names(), Vec::<String>::new(), "{step} {n}");
        }
    }
}

#[test]
fn a_failure_while_replacing_leaves_whole_files_only() {
    let snapshot = Song::new().snapshot();
    let folder = Folder::new("failing-replace");
    for name in ["song.json", "song.html"] {
        fs::write(folder.0.join(name), "old").unwrap();
    }
    let disk = Failing { replace: Cell::new(Some(1)), ..Failing::default() };
    let formats = [Format::Json, Format::Html];
    let done = snapshot.write_to(&disk, &folder.0, "song", &formats, Existing::Replace);
    assert!(matches!(done, Err(SaveError::NotAllowed { .. })));
    assert_eq!(folder.names(), ["song.html", "song.json"]);
    assert_eq!(fs::read_to_string(folder.0.join("song.json")).unwrap(), snapshot.json());
    assert_eq!(fs::read_to_string(folder.0.join("song.html")).unwrap(), "old");
}

#[test]
fn what_is_wrong_with_a_folder_is_told_with_the_path() {
    let snapshot = Song::new().snapshot();
    let folder = Folder::new("wrong");
    let write = |folder: &Path, name: &str| {
        snapshot.write_all(folder, name, &[Format::Text], Existing::Keep).unwrap_err()
    };
    let missing = folder.0.join("missing");
    let error = write(&missing, "song");
    assert!(matches!(error, SaveError::NoFolder { .. }));
    let message = error.to_string();
    let expected = format!("{}: there is no such folder (", missing.join("song.txt").display());
    assert!(message.starts_with(&expected), "{message}");

    let file = folder.0.join("file");
    fs::write(&file, "").unwrap();
    assert!(matches!(write(&file, "song"), SaveError::NoFolder { .. }));
    assert!(matches!(write(&folder.0, "a/b"), SaveError::BadName { .. }));
    assert_eq!(folder.names(), ["file"]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_even_root_may_not_write_to_is_told() {
    // Tests may run as root, whom permission bits do not stop; the kernel's own folder does.
    if !Path::new("/sys/kernel").is_dir() {
        println!("snapshot: skipped, the kernel's folder /sys is not mounted here");
        return;
    }
    let snapshot = Song::new().snapshot();
    let done = snapshot.write_all(Path::new("/sys"), "song", &[Format::Text], Existing::Keep);
    assert!(matches!(done, Err(SaveError::NotAllowed { .. })), "{done:?}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_as_the_system_tells_it() {
    // What the system says of a device without room, taken through the same naming.
    let mut full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let error = io::Write::write_all(&mut full, b"x").unwrap_err();
    let told = SaveError::of(Path::new("song.json"), error);
    assert!(matches!(told, SaveError::Full { .. }), "{told:?}");
    assert!(told.to_string().starts_with("song.json: no room left ("), "{told}");
}

/// Wants a folder on a small disk that is full, which only root can make: its path stands in
/// `PLIMSOLL_FULL_FOLDER`. Without one there is the device without room, above.
#[test]
fn a_disk_that_is_really_full_keeps_nothing() {
    let Some(folder) = std::env::var_os("PLIMSOLL_FULL_FOLDER").map(PathBuf::from) else {
        return;
    };
    let before = fs::read_dir(&folder).unwrap().count();
    let done = Song::new().snapshot().write_all(&folder, "song", &Format::ALL, Existing::Keep);
    assert!(matches!(done, Err(SaveError::Full { .. })), "{done:?}");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), before);
}
