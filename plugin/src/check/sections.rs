//! Sections out of a list, or out of the file's own markers.

use super::CheckError;
use crate::loudness::Analysis;
use crate::section::{
    Edit, LogEntry, Marker, MarkerImport, SectionLog, Sections, WhyLeftOut, read_file_markers,
    read_marker_list,
};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// Reads a list of sections.
///
/// # Errors
/// A file that cannot be read or is no list.
pub fn read_list(path: &Path) -> Result<Vec<Marker>, CheckError> {
    let file = File::open(path).map_err(CheckError::Io)?;
    read_marker_list(file).map_err(CheckError::Markers)
}

/// The markers of a WAV or AIFF file; none where it has none or is another file.
pub fn own_markers(path: &Path, warnings: &mut Vec<String>) -> Vec<Marker> {
    let Ok(file) = File::open(path) else {
        return Vec::new();
    };
    match read_file_markers(&mut BufReader::new(file)) {
        Ok(markers) => markers.unwrap_or_default(),
        Err(error) => {
            warnings.push(format!("markers: {error}"));
            Vec::new()
        }
    }
}

/// The sections that begin at `markers` and before the end of the file.
///
/// # Errors
/// Sections that break a rule.
pub fn begin_at(
    markers: &[Marker],
    length_s: f64,
    warnings: &mut Vec<String>,
) -> Result<Sections, CheckError> {
    let mut import = MarkerImport::new(markers, 0.0);
    for left_out in &import.left_out {
        let why = match left_out.why {
            WhyLeftOut::OutOfRange => "its time is not in the range of two hours",
            WhyLeftOut::TooClose => "less than 0.4 s after the one before",
            WhyLeftOut::TooMany => "there are too many",
        };
        let marker = &left_out.marker;
        warnings.push(format!("marker \"{}\" at {} s left out: {why}", marker.name, marker.at_s));
    }
    let all = import.sections.len();
    import.sections.retain(|section| section.start.at_s < length_s);
    let beyond = all - import.sections.len();
    if beyond > 0 {
        warnings.push(format!("{beyond} sections begin behind the end of the file"));
    }
    let mut sections = Sections::default();
    sections.follow_song_end(Some(length_s));
    sections.replace_all(Edit::TakeMarkers, import.sections).map_err(CheckError::Sections)?;
    Ok(sections)
}

/// What each of `sections` measures.
#[must_use]
pub fn log(sections: &Sections, analysis: &mut Analysis) -> Vec<LogEntry> {
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), analysis);
    log.entries().to_vec()
}
