//! The tree shows the data flow: no module uses one that comes after it.

#![allow(clippy::unwrap_used, clippy::panic, clippy::string_slice, clippy::indexing_slicing)]

use std::fs;
use std::path::{Path, PathBuf};

/// Modules of the plugin crate in flow order; a module may use those before it.
const FLOW: [&str; 21] = [
    "units",
    "palette",
    "meters",
    "record",
    "audio",
    "tone",
    "loudness",
    "target",
    "listening",
    "section",
    "reference",
    "snapshot",
    "state",
    "check",
    "shared",
    "worker",
    "editor",
    "params",
    "window",
    "plugin",
    "lib",
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

fn rank(module: &str) -> usize {
    FLOW.iter()
        .position(|&name| name == module)
        .unwrap_or_else(|| panic!("module `{module}` has no place in the flow: add it to FLOW"))
}

/// The part of a source file before its unit tests, which may look anywhere.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap_or_default()
}

#[test]
fn no_arrow_points_back() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("../plugin/src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > 20, "only {} files under {}", files.len(), src.display());
    let mut arrows = 0;
    for file in files {
        let inside = file.strip_prefix(&src).unwrap();
        let module = inside.iter().next().unwrap().to_str().unwrap().trim_end_matches(".rs");
        let is_tests = inside.file_stem().is_some_and(|stem| stem == "tests");
        if module == "bin" || is_tests {
            continue;
        }
        let text = fs::read_to_string(&file).unwrap();
        for used in without_tests(&text).split("crate::").skip(1) {
            let end = used.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(used.len());
            let used = &used[..end];
            if used.is_empty() || used.starts_with(char::is_uppercase) {
                continue;
            }
            arrows += 1;
            assert!(
                rank(used) <= rank(module),
                "{}: `{module}` uses `{used}`, which comes after it in the flow",
                inside.display()
            );
        }
    }
    assert!(arrows > 40, "only {arrows} arrows seen: the test looks in the wrong place");
}
