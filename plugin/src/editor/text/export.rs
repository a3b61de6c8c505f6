//! Words for snapshots.

/// Button: save a snapshot.
pub const SNAPSHOT: &str = "Snapshot";
/// Hint of that button.
pub const SNAPSHOT_HINT: &str = "Save everything that was measured until now: a page to read and \
     print, and files for programs.";
/// Heading.
pub const SNAPSHOT_HEADING: &str = "Snapshot of the measurement";
/// Under that heading.
pub const SNAPSHOT_EXPLAINED: &str = "Its files are named after the song and the time. Files that \
     are there already stay as they are.";
/// Field.
pub const SNAPSHOT_SONG: &str = "Name of the song";
/// Field.
pub const SNAPSHOT_FOLDER: &str = "Folder";
/// Button: the summary.
pub const COPY_SUMMARY: &str = "Copy summary";
/// Hint of that button.
pub const COPY_SUMMARY_HINT: &str = "Puts a short summary as text into the clipboard.";
/// The summary was copied.
pub const COPIED: &str = "A summary of the measurement is in the clipboard.";
/// Button of the note that a snapshot could not be saved.
pub const DROP_SNAPSHOT: &str = "Drop it";

/// A form of a snapshot.
pub const fn format(format: crate::snapshot::Format) -> &'static str {
    use crate::snapshot::Format;
    match format {
        Format::Json => "JSON",
        Format::Html => "Page (HTML)",
        Format::SectionsCsv => "Section log (CSV)",
        Format::LoudnessCsv => "Loudness series (CSV)",
        Format::Text => "Summary (text)",
    }
}

/// A snapshot was saved.
pub fn saved(paths: &[std::path::PathBuf]) -> String {
    match paths {
        [path] => format!("Saved: {}", path.display()),
        [path, rest @ ..] => format!("Saved: {} and {} more", path.display(), rest.len()),
        [] => "Saved.".to_owned(),
    }
}

/// A snapshot could not be saved.
pub fn not_saved(why: &str) -> String {
    format!("Not saved: {why}. The snapshot is kept: press Snapshot to save it elsewhere.")
}
