//! The audio files of a folder, and of a pattern where the shell leaves patterns to programs.

use crate::snapshot::folder_of;
use std::path::{Path, PathBuf};

/// Extensions of files that are taken out of a folder.
const EXTENSIONS: [&str; 15] = [
    "wav", "wave", "bwf", "rf64", "w64", "aif", "aiff", "aifc", "flac", "mp3", "m4a", "aac", "mp4",
    "ogg", "caf",
];

/// `paths` with each folder replaced by the audio files in it, in order of their names, and on
/// Windows each pattern by the files that it names.
///
/// # Errors
/// A folder that cannot be read or holds no audio file, or a pattern of no file, in one line.
pub fn expand(paths: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
    let mut files = Vec::new();
    for path in paths {
        // Elsewhere the shell has done it, and `*` may stand in a name.
        if cfg!(windows)
            && let Some(pattern) = pattern(path)
        {
            files.append(&mut named_by(path, pattern)?);
            continue;
        }
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let mut inside = inside(path, path, is_audio)?;
        if inside.is_empty() {
            return Err(format!(
                "{}: no audio file in this folder ({})",
                path.display(),
                EXTENSIONS.join(", ")
            ));
        }
        files.append(&mut inside);
    }
    Ok(files)
}

/// What lies in `folder` and is wanted, in order; `asked` is what an error is about.
fn inside(
    folder: &Path,
    asked: &Path,
    is_wanted: impl Fn(&Path) -> bool,
) -> Result<Vec<PathBuf>, String> {
    let entries = folder.read_dir().map_err(|error| format!("{}: {error}", asked.display()))?;
    let inside = entries.filter_map(Result::ok).map(|entry| entry.path());
    let mut inside: Vec<PathBuf> = inside.filter(|path| is_wanted(path)).collect();
    inside.sort();
    Ok(inside)
}

/// The last part of `path`, if it is a pattern.
fn pattern(path: &Path) -> Option<&str> {
    path.file_name()?.to_str().filter(|name| name.contains(['*', '?']))
}

/// The files beside `path` whose names `pattern` fits.
fn named_by(path: &Path, pattern: &str) -> Result<Vec<PathBuf>, String> {
    let pattern: Vec<char> = pattern.to_lowercase().chars().collect();
    let is_wanted = |path: &Path| {
        let name = path.file_name().and_then(|name| name.to_str()).map(str::to_lowercase);
        name.is_some_and(|name| fits(&pattern, &name.chars().collect::<Vec<_>>())) && path.is_file()
    };
    let found = inside(folder_of(path), path, is_wanted)?;
    if found.is_empty() {
        return Err(format!("{}: no file has such a name", path.display()));
    }
    // With the folder as it was written, if there was one.
    let named = found.iter().filter_map(|file| Some(path.with_file_name(file.file_name()?)));
    Ok(named.collect())
}

/// `*` stands for any letters, `?` for one.
fn fits(pattern: &[char], name: &[char]) -> bool {
    match (pattern.split_first(), name.split_first()) {
        (None, None) => true,
        (Some(('*', rest)), None) => fits(rest, name),
        (Some(('*', rest)), Some((_, after))) => fits(rest, name) || fits(pattern, after),
        (Some((wanted, rest)), Some((letter, after))) => {
            (*wanted == '?' || wanted == letter) && fits(rest, after)
        }
        _ => false,
    }
}

fn is_audio(path: &Path) -> bool {
    let extension = path.extension().and_then(|extension| extension.to_str());
    let extension = extension.map(str::to_lowercase);
    path.is_file() && extension.is_some_and(|extension| EXTENSIONS.contains(&extension.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_gives_the_files_that_it_fits_in_order() {
        let folder = std::env::temp_dir().join(format!("plimsoll-pattern-{}", std::process::id()));
        std::fs::create_dir_all(folder.join("d.wav")).unwrap();
        for name in ["b.wav", "A.WAV", "b.wav.txt", "ab.wav", "c.flac"] {
            std::fs::write(folder.join(name), "").unwrap();
        }
        let names = |wanted: &str| -> Vec<String> {
            let path = folder.join(wanted);
            let found = named_by(&path, pattern(&path).unwrap()).unwrap();
            let name = |path: &PathBuf| path.strip_prefix(&folder).unwrap().display().to_string();
            found.iter().map(name).collect()
        };
        assert_eq!(names("*.wav"), ["A.WAV", "ab.wav", "b.wav"]);
        assert_eq!(names("?.wav"), ["A.WAV", "b.wav"]);
        assert_eq!(names("*b*w*"), ["ab.wav", "b.wav", "b.wav.txt"]);
        assert_eq!(names("c.*"), ["c.flac"]);
        let none = folder.join("*.aiff");
        assert!(named_by(&none, "*.aiff").unwrap_err().ends_with("no file has such a name"));
        assert_eq!(pattern(Path::new("*/song.wav")), None);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
