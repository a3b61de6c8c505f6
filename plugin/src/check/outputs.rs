//! Where the report is written besides the text. Paths are looked at before anything is measured,
//! and all files are written at the end: each whole, all or none ([`write_files`]).

use super::{CheckReport, to_csv, to_html, to_json};
use crate::snapshot::{Existing, SaveError, folder_of, is_device_name, write_files};
use clap::Args;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// Stands for the standard output.
const STANDARD_OUTPUT: &str = "-";

/// The files that a report is written to. "-" is the standard output, in place of the text.
#[derive(Debug, Args)]
pub struct Outputs {
    /// Write every figure, unrounded, as JSON to the file OUT; "-" is the standard output, in place
    /// of the text
    #[arg(long, value_name = "OUT")]
    json: Option<PathBuf>,
    /// Write a table to the file OUT, or to "-": a row for each file and for each of its sections
    #[arg(long, value_name = "OUT")]
    csv: Option<PathBuf>,
    /// Write a page to read and print to the file OUT, or to "-": one for all files
    #[arg(long, value_name = "OUT")]
    html: Option<PathBuf>,
    /// Replace files OUT that are there already; the files that are measured never are
    #[arg(long)]
    replace: bool,
}

/// One form of the report: its option, and its writer.
type Form = (&'static str, fn(&CheckReport) -> String);

impl Outputs {
    /// Whether a page is written.
    #[must_use]
    pub const fn has_page(&self) -> bool {
        self.html.is_some()
    }

    fn wanted(&self) -> impl Iterator<Item = (Form, &Path)> {
        let forms: [(Form, &Option<PathBuf>); 3] = [
            (("--json", to_json), &self.json),
            (("--csv", to_csv), &self.csv),
            (("--html", to_html), &self.html),
        ];
        forms.into_iter().filter_map(|(form, path)| Some((form, path.as_deref()?)))
    }

    /// Whether all of it can be written without harm to `inputs` or to what is there.
    ///
    /// # Errors
    /// The first rule that is broken, in one line.
    pub fn check(&self, inputs: &[&Path]) -> Result<(), String> {
        let wanted: Vec<_> = self.wanted().collect();
        for (index, ((option, _), path)) in wanted.iter().enumerate() {
            let before = wanted.iter().take(index).find(|(_, other)| is_same(path, other));
            if let Some(((other, _), _)) = before {
                return Err(format!("{other} and {option}: both are {}", path.display()));
            }
            if !is_standard_output(path) {
                check_output(option, path, inputs, self.replace)?;
            }
        }
        Ok(())
    }

    /// Writes the files; gives what the standard output is to be told.
    ///
    /// # Errors
    /// See [`SaveError`].
    pub fn write(&self, report: &CheckReport) -> Result<Option<String>, SaveError> {
        let mut files = Vec::new();
        let mut told = None;
        for ((_, write), path) in self.wanted() {
            if is_standard_output(path) {
                told = Some(write(report));
            } else {
                files.push((path.to_owned(), write(report)));
            }
        }
        write_files(files, if self.replace { Existing::Replace } else { Existing::Keep })?;
        Ok(told)
    }
}

/// Whether the file that `option` asks for can be written without harm to `inputs` or, unless
/// `replace`, to what is there.
///
/// # Errors
/// The rule that is broken, in one line.
pub fn check_output(
    option: &str,
    path: &Path,
    inputs: &[&Path],
    replace: bool,
) -> Result<(), String> {
    rule_broken_by(path, inputs, replace)
        .map_or(Ok(()), |rule| Err(format!("{option}: {}: {rule}", path.display())))
}

fn rule_broken_by(path: &Path, inputs: &[&Path], replace: bool) -> Option<&'static str> {
    if inputs.iter().any(|input| is_same(path, input)) {
        return Some("is one of the files that are read");
    }
    if path.file_name().is_none() || !folder_of(path).is_dir() {
        return Some("there is no such folder");
    }
    if cfg!(windows) && path.file_name().and_then(OsStr::to_str).is_some_and(is_device_name) {
        return Some("is the name of a device");
    }
    match path.symlink_metadata() {
        Err(_) => None,
        // A device or a link would be gone, with a file in its place.
        Ok(found) if !found.is_file() => Some("is no plain file, which alone is replaced"),
        Ok(_) if !replace => {
            Some("there is a file of this name already; --replace puts the new one in its place")
        }
        Ok(_) => None,
    }
}

/// Whether `path` stands for the standard output.
#[must_use]
pub fn is_standard_output(path: &Path) -> bool {
    path == Path::new(STANDARD_OUTPUT)
}

/// Whether both are one file, whatever it is called, or would be.
fn is_same(one: &Path, other: &Path) -> bool {
    let name = |path: &Path| {
        let name = path.file_name()?;
        // There two names that differ in capitals alone are mostly one.
        let is_folded = cfg!(any(windows, target_os = "macos"));
        Some(if is_folded { name.to_string_lossy().to_lowercase().into() } else { name.to_owned() })
    };
    let place = |path: &Path| Some((folder_of(path).canonicalize().ok()?, name(path)?));
    one == other
        || same_file::is_same_file(one, other).unwrap_or(false)
        || place(one).is_some_and(|place_of_one| Some(place_of_one) == place(other))
}
