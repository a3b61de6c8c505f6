//! The audio files of a folder.

use std::path::{Path, PathBuf};

/// Extensions of files that are taken out of a folder.
const EXTENSIONS: [&str; 15] = [
    "wav", "wave", "bwf", "rf64", "w64", "aif", "aiff", "aifc", "flac", "mp3", "m4a", "aac", "mp4",
    "ogg", "caf",
];

/// `paths` with each folder replaced by the audio files in it, in order of their names.
///
/// # Errors
/// A folder that cannot be read or holds no audio file, in one line.
pub fn expand(paths: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
    let mut files = Vec::new();
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let entries = path.read_dir().map_err(|error| format!("{}: {error}", path.display()))?;
        let inside = entries.filter_map(Result::ok).map(|entry| entry.path());
        let mut inside: Vec<PathBuf> = inside.filter(|path| is_audio(path)).collect();
        if inside.is_empty() {
            return Err(format!(
                "{}: no audio file in this folder ({})",
                path.display(),
                EXTENSIONS.join(", ")
            ));
        }
        inside.sort();
        files.append(&mut inside);
    }
    Ok(files)
}

fn is_audio(path: &Path) -> bool {
    let extension = path.extension().and_then(|extension| extension.to_str());
    let extension = extension.map(str::to_lowercase);
    path.is_file() && extension.is_some_and(|extension| EXTENSIONS.contains(&extension.as_str()))
}
