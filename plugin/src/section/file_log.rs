//! The sections of a file, out of its markers or out of what its sound proposes.

use super::{
    Edit, LogEntry, Marker, MarkerImport, NewSection, SectionError, SectionLog, Sections, propose,
};
use crate::loudness::Analysis;
use crate::units::song_time;

/// Borders less sure than this are not taken for a file. The project's own choice, no source.
const LEAST_SURE: f64 = 0.3;

/// The log of the sections that begin at `markers` in a file of `length_s` seconds, and what became of
/// the markers. Sections without a measured frame are not in it.
///
/// # Errors
/// Sections that break a rule.
pub fn log_markers(
    markers: &[Marker],
    length_s: f64,
    analysis: &mut Analysis,
) -> Result<(Vec<LogEntry>, MarkerImport), SectionError> {
    let import = MarkerImport::new(markers, 0.0);
    let entries = log(Edit::TakeMarkers, import.sections.clone(), length_s, analysis)?;
    Ok((entries, import))
}

/// The log of the sections that [`propose`] finds in a file, each named by the time of its start.
///
/// # Errors
/// Sections that break a rule.
pub fn log_proposal(length_s: f64, analysis: &mut Analysis) -> Result<Vec<LogEntry>, SectionError> {
    let mut proposed = propose(analysis, None).sections(LEAST_SURE);
    for section in &mut proposed {
        section.name = Some(song_time(section.start.at_s, false));
    }
    log(Edit::TakeProposal, proposed, length_s, analysis)
}

fn log(
    edit: Edit,
    new: Vec<NewSection>,
    length_s: f64,
    analysis: &mut Analysis,
) -> Result<Vec<LogEntry>, SectionError> {
    let mut sections = Sections::default();
    sections.follow_song_end(Some(length_s));
    sections.replace_all(edit, new)?;
    let mut log = SectionLog::default();
    log.update(sections.as_slice(), analysis);
    let entries = log.entries().iter().filter(|entry| entry.measured.figures.frames > 0);
    Ok(entries.cloned().collect())
}
