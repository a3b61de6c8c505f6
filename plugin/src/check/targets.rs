//! Targets by name or out of a file.
//!
//! A file holds one target as JSON, or a list of them, with the fields that the plugin keeps:
//! `name`, `source`, `integrated` (`loudness`, `below`, `above`), `true_peak_ceiling`,
//! `max_short_term`, `max_momentary`, `max_loudness_range`, `peak_window` (`lowest`, `highest`).
//! Limits may be missing; a field that is not one of these is refused, for it may be a limit
//! that was misspelt.

use crate::target::{Target, TargetError, built_in_targets};
use serde_json::Value;
use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Longest target file, bytes. The project's own choice, no source.
const MAX_BYTES: u64 = 1 << 20;

const FIELDS: [&str; 8] = [
    "name",
    "source",
    "integrated",
    "true_peak_ceiling",
    "max_short_term",
    "max_momentary",
    "max_loudness_range",
    "peak_window",
];
const GOAL_FIELDS: [&str; 3] = ["loudness", "below", "above"];
const WINDOW_FIELDS: [&str; 2] = ["lowest", "highest"];

/// Why there is no such target.
#[derive(Debug)]
pub enum TargetFileError {
    /// No built-in target is meant by this name, and it is no file.
    Unknown {
        /// The name.
        name: String,
    },
    /// Several built-in targets may be meant.
    Ambiguous {
        /// The name.
        name: String,
        /// The targets.
        found: Vec<String>,
    },
    /// The file cannot be read.
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file is no target.
    Malformed {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// A target breaks a rule.
    Invalid {
        /// The file.
        path: PathBuf,
        /// The target's name.
        name: String,
        /// The rule.
        error: TargetError,
    },
}

impl fmt::Display for TargetFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown { name } => write!(
                f,
                "target \"{name}\": neither a file nor a built-in target (plimsoll targets lists \
                 them)"
            ),
            Self::Ambiguous { name, found } => {
                write!(f, "target \"{name}\" may mean: {}", found.join("; "))
            }
            Self::Io { path, source } => write!(f, "{}: {source}", path.display()),
            Self::Malformed { path, why } => write!(f, "{}: {why}", path.display()),
            Self::Invalid { path, name, error } => {
                write!(f, "{}: target \"{name}\": {error}", path.display())
            }
        }
    }
}

impl std::error::Error for TargetFileError {}

/// The targets that `wanted` means: those in a file of this name, or the built-in one whose name
/// it is, or begins with it, or alone holds it. Case does not matter, and "-" may stand for "−".
///
/// # Errors
/// See [`TargetFileError`].
pub fn find_target(wanted: &str) -> Result<Vec<Target>, TargetFileError> {
    let path = Path::new(wanted);
    if path.extension().is_some_and(|extension| extension == "json") || path.is_file() {
        return read_targets(path);
    }
    let plain = |name: &str| name.trim().to_lowercase().replace('−', "-");
    let name = plain(wanted);
    let fits: [&dyn Fn(&str) -> bool; 3] =
        [&|other| other == name, &|other| other.starts_with(&name), &|other| other.contains(&name)];
    for fits in fits {
        let mut found = built_in_targets();
        found.retain(|target| !name.is_empty() && fits(&plain(&target.name)));
        match found.len() {
            0 => {}
            1 => return Ok(found),
            _ => {
                let found = found.into_iter().map(|target| target.name).collect();
                return Err(TargetFileError::Ambiguous { name: wanted.to_owned(), found });
            }
        }
    }
    Err(TargetFileError::Unknown { name: wanted.to_owned() })
}

/// Reads a file of targets.
///
/// # Errors
/// A file that cannot be read, is no target, or holds one that breaks a rule.
pub fn read_targets(path: &Path) -> Result<Vec<Target>, TargetFileError> {
    let io = |source| TargetFileError::Io { path: path.to_owned(), source };
    let malformed = |why: String| TargetFileError::Malformed { path: path.to_owned(), why };
    let mut text = String::new();
    let file = File::open(path).map_err(io)?;
    file.take(MAX_BYTES + 1).read_to_string(&mut text).map_err(io)?;
    if text.len() as u64 > MAX_BYTES {
        return Err(malformed(format!("longer than {MAX_BYTES} bytes: no file of targets")));
    }
    let value: Value = serde_json::from_str(text.trim_start_matches('\u{feff}'))
        .map_err(|error| malformed(format!("no JSON: {error}")))?;
    let values = match value {
        Value::Array(values) => values,
        value => vec![value],
    };
    if values.is_empty() {
        return Err(malformed("an empty list: at least one target is needed".to_owned()));
    }
    values
        .into_iter()
        .map(|value| {
            known_fields(&value, "a target", &FIELDS).map_err(malformed)?;
            for (field, fields) in
                [("integrated", &GOAL_FIELDS[..]), ("peak_window", &WINDOW_FIELDS[..])]
            {
                if let Some(value) = value.get(field).filter(|value| !value.is_null()) {
                    known_fields(value, field, fields).map_err(malformed)?;
                }
            }
            let target: Target = serde_json::from_value(value)
                .map_err(|error| malformed(format!("no target: {error}")))?;
            match target.validate() {
                Ok(()) => Ok(target),
                Err(error) => Err(TargetFileError::Invalid {
                    path: path.to_owned(),
                    name: target.name,
                    error,
                }),
            }
        })
        .collect()
}

fn known_fields(value: &Value, what: &str, fields: &[&str]) -> Result<(), String> {
    let Value::Object(object) = value else {
        return Err(format!("{what}: must be an object in braces"));
    };
    match object.keys().find(|key| !fields.contains(&key.as_str())) {
        Some(key) => {
            Err(format!("{what} has no field \"{key}\": the fields are {}", fields.join(", ")))
        }
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests;
